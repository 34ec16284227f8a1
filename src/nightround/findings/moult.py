"""When will each animal moult next: the moult clock applied to a room's record.

Uses the record as of its day and nothing later. Odds count from the close of that day and hold for "not
moulted up to and including it"; the chance that it has moulted unseen since the last look stands beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.findings.clock_climate import expected_climate, past_climate, spans
from nightround.findings.clock_rows import Row, intervals_of, ration, rows_of, sizes_of, stays_of
from nightround.findings.size import ClockSize, chance_last_for_clock, sizes_for_clock
from nightround.foundation.wording import counted
from nightround.record.histories import DailyClimate as PlaceClimate
from nightround.record.histories import MoultHistory
from nightround.record.make_histories import daily_climate, moult_histories
from nightround.record.model import Record
from nightround.reports.forecast import QUANTILES, WITHIN_DAYS, AnimalForecast, ForecastReport, NextMoult
from nightround.reports.size import SizeReport
from nightround.science.clock.data import ClockData
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.forecast import ClockForecast
from nightround.science.clock.forecast import forecast as clock_forecast
from nightround.science.clock.priors import UNKNOWN_TAXON_SIZE_SD
from nightround.science.thermal import (
    UNREAD_PLACE_C,
    DailyClimate,
    FloatArray,
    IntArray,
    Stays,
    clock_at,
    locate,
    make_paths,
    missing_days,
    prepare_warmth,
    thermal_table,
)

METHOD: Final = "moult clock: thermal time, animals pooled in taxa and groups"
METHOD_PRIOR: Final = "moult clock: published prior only, no moult interval of this taxon recorded yet"
# Warmth of earlier intervals is counted with the usual Q10 when rations are compared.
_USUAL_LOG_Q10: Final = float(np.log(2.5))


@dataclass(frozen=True)
class ClockRoom:
    """A room as the clock sees it, with the words to speak about it.

    codes [A]   animals in the clock's order; places, taxa, groups: names in the clock's order
    asked       animals with a running interval that are alive and here
    counts      taxon -> (animals, intervals) that stand behind it
    """

    codes: tuple[str, ...]
    histories: tuple[MoultHistory, ...]
    places: tuple[str, ...]
    taxa: tuple[str, ...]
    on: int
    data: ClockData
    expected: DailyClimate
    asked: IntArray
    counts: Mapping[str, tuple[int, int]]


def clock_room(
    histories: Mapping[str, MoultHistory],
    climate: Mapping[str, PlaceClimate],
    sizes: Mapping[str, ClockSize],
    on: int,
    chance_last: Mapping[str, float] | None = None,
) -> ClockRoom:
    """Turn histories, climate and sizes into what the clock is given. `on` is the as-of day's ordinal.

    chance_last   by animal, the chance that its latest moult was its last (unnoticed males); 0 where absent
    """
    codes = tuple(sorted(histories))
    ordered = tuple(histories[code] for code in codes)
    taxa = tuple(sorted({history.taxon for history in ordered}))
    group_of = {history.taxon: history.group for history in ordered}
    groups = sorted(set(group_of.values()))
    taxon_of = np.array([taxa.index(history.taxon) for history in ordered], dtype=np.int64)
    places = _places(ordered, climate)
    rows = [row for index, history in enumerate(ordered) for row in rows_of(index, history, on)]
    stays = stays_of(ordered, {name: index for index, name in enumerate(places)})
    past = past_climate(places, climate, _first_day(rows, on), on)
    size, size_sd, animal_sd = sizes_of(rows, codes, sizes)
    row_taxon = taxon_of[[row.animal for row in rows]] if rows else np.zeros(0, dtype=np.int64)
    eaten = ration(rows, row_taxon, _warmth_before(rows, stays, past, len(codes)))
    measured = {code: found.n_readings_of_taxon > 0 for code, found in sizes.items()}
    known = {history.taxon for code, history in zip(codes, ordered, strict=True) if measured.get(code)}
    data = ClockData(
        taxon_of,
        np.array([groups.index(group_of[name]) for name in taxa], dtype=np.int64),
        np.array([0.0 if name in known else UNKNOWN_TAXON_SIZE_SD for name in taxa]),
        animal_sd,
        np.array([(chance_last or {}).get(code, 0.0) for code in codes]),
        past,
        stays,
        intervals_of(rows, size, size_sd, eaten),
    )
    running = {row.animal for row in rows if row.end[0] < 0}
    asked = [
        index for index, history in enumerate(ordered) if index in running and history.ending == "running"
    ]
    return ClockRoom(
        codes,
        ordered,
        places,
        taxa,
        on,
        data,
        expected_climate(places, climate, on, past),
        np.array(asked, dtype=np.int64),
        _counts(rows, ordered),
    )


def _places(histories: Sequence[MoultHistory], climate: Mapping[str, PlaceClimate]) -> tuple[str, ...]:
    named = {name for history in histories for name, _, _ in history.stays} | {""}
    return tuple(sorted(named))


def _first_day(rows: Sequence[Row], on: int) -> int:
    """The earliest day that any interval touches."""
    days = [day for row in rows for day in (row.start[0], row.watched, row.previous[0]) if day > 0]
    return min(min(days, default=on), on)


def _warmth_before(rows: Sequence[Row], stays: Stays, past: DailyClimate, animals: int) -> FloatArray:
    """Days at 25 C of the interval before each row, at the usual Q10 [N]; 0 where there is none."""
    if not rows:
        return np.zeros(0)
    warmth = prepare_warmth(past)
    table = thermal_table(warmth, _USUAL_LOG_Q10)
    paths = make_paths(stays, animals)
    animal = np.array([row.animal for row in rows], dtype=np.int64)

    def at(days: FloatArray) -> FloatArray:
        moments = locate(paths, animal, days, table.first_day, table.elapsed.shape[1])
        return clock_at(paths, table.elapsed, table.first_day, moments)

    first = np.array([float(row.previous[0]) for row in rows])
    last = np.array([float(row.previous[1]) for row in rows])
    return np.where(first > 0, at(last) - at(first), 0.0)


def _counts(rows: Sequence[Row], histories: Sequence[MoultHistory]) -> dict[str, tuple[int, int]]:
    """Animals and closed intervals of each taxon."""
    animals: dict[str, set[int]] = {}
    intervals: dict[str, int] = {}
    for row in rows:
        if row.end[0] > 0 and row.start[0] > 0:
            taxon = histories[row.animal].taxon
            animals.setdefault(taxon, set()).add(row.animal)
            intervals[taxon] = intervals.get(taxon, 0) + 1
    return {taxon: (len(found), intervals[taxon]) for taxon, found in animals.items()}


@dataclass(frozen=True)
class ClockOdds:
    """A room, its fit, and the whole distribution of every running interval."""

    room: ClockRoom
    fitted: ClockFit
    result: ClockForecast


def clock_odds(record: Record) -> ClockOdds | None:
    """Fit the clock to the record and forecast every running interval; None in a room without animals."""
    histories = moult_histories(record)
    if not histories:
        return None
    room = clock_room(
        histories,
        daily_climate(record),
        sizes_for_clock(record),
        record.on.toordinal(),
        chance_last_for_clock(record),
    )
    fitted = fit(room.data)
    return ClockOdds(room, fitted, clock_forecast(fitted, room.asked, room.on, room.expected))


def forecast(record: Record, *, sizes: Mapping[str, SizeReport] | None = None) -> ForecastReport:
    """Forecast the next moult of every living animal as of the record's day.

    sizes   pages of sizes, for `next_size`; the clock itself takes its sizes from the record
    """
    odds = clock_odds(record)
    if odds is None:
        return ForecastReport(record.on, (), ())
    room, fitted, result = odds.room, odds.fitted, odds.result
    row_of = {int(animal): row for row, animal in enumerate(room.asked)}
    living = [animal.code for animal in record.living()]
    index_of = {code: index for index, code in enumerate(room.codes)}
    animals = tuple(
        _animal(record, room, result, index_of[code], row_of.get(index_of[code]), sizes) for code in living
    )
    return ForecastReport(record.on, animals, _notices(room, fitted))


def _animal(
    record: Record,
    room: ClockRoom,
    result: ClockForecast,
    index: int,
    row: int | None,
    sizes: Mapping[str, SizeReport] | None,
) -> AnimalForecast:
    history = room.histories[index]
    last = max((window.last for window in history.moults), default=None)
    report = sizes.get(history.animal) if sizes is not None else None
    level = None if row is None else float(result.elapsed_level[row])
    return AnimalForecast(
        animal=history.animal,
        taxon=history.taxon,
        last_moult=last,
        days_since=None if last is None else (record.on - last).days,
        last_look=history.last_look,
        may_have_moulted_unseen=0.0 if row is None else float(result.unseen[row]),
        next_moult=None if row is None else _next_moult(room, result, index, row),
        next_size=None if report is None or row is None else report.next_size,
        mature=None if report is None else report.mature,
        elapsed_level=None if level is None or np.isnan(level) else level,
    )


def _next_moult(room: ClockRoom, result: ClockForecast, index: int, row: int) -> NextMoult:
    animals, intervals = room.counts.get(room.histories[index].taxon, (0, 0))
    quantiles = result.quantile_days[row]
    return NextMoult(
        quantiles_days={
            level: None if np.isnan(value) else float(value)
            for level, value in zip(QUANTILES, quantiles, strict=True)
        },
        within_days={days: float(value) for days, value in zip(WITHIN_DAYS, result.within[row], strict=True)},
        n_animals=animals,
        n_intervals=intervals,
        method=METHOD if intervals else METHOD_PRIOR,
        reasons=_reasons(room, result, index, row, animals, intervals),
    )


def _reasons(
    room: ClockRoom, result: ClockForecast, index: int, row: int, animals: int, intervals: int
) -> tuple[str, ...]:
    history = room.histories[index]
    words = []
    share = float(result.usual_share[row])
    if np.isnan(share):
        since = history.under_watch
        words.append("last moult not known" + (f", none seen since {since}" if since is not None else ""))
    else:
        opened = "the last moult" if history.moults else "hatching"
        words.append(f"{100 * share:.0f} % of the usual warmth since {opened}")
    if intervals:
        words.append(f"{counted(animals, 'animal')} like it, {counted(intervals, 'interval')}")
    else:
        words.append("no interval of its taxon recorded yet: the published prior, wide")
    place = history.stays[-1][0] if history.stays else ""
    if _unread(room, place):
        words.append(
            f"no temperature readings for {place or 'its place'}: calendar days at {UNREAD_PLACE_C:.0f} °C"
        )
    if result.unseen[row] >= 0.05 and history.last_look is not None:
        words.append(f"{100 * result.unseen[row]:.0f} % that it moulted unseen after {history.last_look}")
    return tuple(words)


def _unread(room: ClockRoom, place: str) -> bool:
    return not bool(np.isfinite(room.data.climate.temperature_c[room.places.index(place)]).any())


def _notices(room: ClockRoom, fitted: ClockFit) -> tuple[str, ...]:
    """What the fit says of itself: Q10, places without readings, days without readings."""
    q10 = np.exp(fitted.hyper()[:, 0])
    middle = float(fitted.weight @ q10)
    spread = float(np.sqrt(fitted.weight @ (q10 - middle) ** 2))
    notices = [f"Q10 {middle:.1f} (give or take {spread:.1f}), from {_closed(room)} and the published prior."]
    warmth = prepare_warmth(room.data.climate)
    for index, name in enumerate(room.places):
        here = [h for h in room.histories if h.ending == "running" and h.stays and h.stays[-1][0] == name]
        if not here:
            continue
        if warmth.unread[index]:
            notices.append(
                f"{name or 'Animals of unknown place'}: no temperature readings; calendar days at an assumed"
                f" {UNREAD_PLACE_C:.0f} °C, give or take 2.7 °C."
            )
            continue
        since = min(_since(history, room.on) for history in here)
        gaps = missing_days(warmth, index, since, room.on)
        if gaps:
            notices.append(
                f"{name}: {counted(len(gaps), 'day')} without a temperature ({spans(gaps)}); taken as the"
                " mean of the days around, with that much more doubt."
            )
    return tuple(notices)


def _closed(room: ClockRoom) -> str:
    return counted(sum(intervals for _, intervals in room.counts.values()), "interval")


def _since(history: MoultHistory, on: int) -> int:
    """First day of the running interval as far as it was under watch."""
    days = [window.first.toordinal() for window in history.moults[-1:]]
    days += [history.under_watch.toordinal()] if history.under_watch is not None and not days else []
    return min(max(days, default=on), on)
