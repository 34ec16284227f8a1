"""When will each animal moult next: the moult clock applied to a room's record.

Uses the record as of its day and nothing later. Odds count from the close of that day and hold for "not
moulted up to and including it"; the chance that it has moulted unseen since the last look stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import astuple, dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np

from nightround.findings.appetite import Weighed, weigh, weigh_again
from nightround.findings.clock_climate import expected_climate, past_climate
from nightround.findings.clock_effects import q10_of
from nightround.findings.clock_rows import Row, intervals_of, ration, rows_of, sizes_of, stays_of
from nightround.findings.moult_report import animal_forecast, notices
from nightround.findings.size import ClockSize, chance_last_for_clock, sizes_for_clock
from nightround.findings.widen import widen
from nightround.record.histories import DailyClimate as PlaceClimate
from nightround.record.histories import MoultHistory
from nightround.record.make_histories import daily_climate, moult_histories, moult_history
from nightround.record.model import Record
from nightround.reports.forecast import ForecastReport, WarmthEffect
from nightround.reports.size import SizeReport
from nightround.reports.track_record import Widening
from nightround.science.appetite.fit import AppetiteFit
from nightround.science.clock.data import ClockData
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.forecast import ClockForecast
from nightround.science.clock.forecast import forecast as clock_forecast
from nightround.science.clock.priors import UNKNOWN_TAXON_SIZE_SD
from nightround.science.clock.refit import refit
from nightround.science.thermal import (
    DailyClimate,
    FloatArray,
    IntArray,
    Stays,
    clock_at,
    locate,
    make_paths,
    prepare_warmth,
    thermal_table,
)

# Warmth of earlier intervals is counted with the usual Q10 when rations are compared.
_USUAL_LOG_Q10: Final = float(np.log(2.5))


@dataclass(frozen=True)
class ClockRoom:
    """A room as the clock sees it, with the words to speak about it.

    codes [A]   animals in the clock's order; places, taxa, groups: names in the clock's order
    asked [A']  animals with a running interval that are alive and here
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

    @cached_property
    def index_of(self) -> Mapping[str, int]:
        """Place of each animal in the clock's order, by code."""
        return {code: index for index, code in enumerate(self.codes)}

    @cached_property
    def row_of(self) -> Mapping[str, int]:
        """Row of each animal asked about in the forecast, by code."""
        return {self.codes[animal]: row for row, animal in enumerate(self.asked)}


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
    """A room, its fits, and the whole distribution of every running interval.

    result     what is shown: the clock's forecast with everything weighed in (`adjust`)
    plain      the clock's own forecast
    weighed    appetite and signs: the fit, the notes, and which animals they moved
    sizes      as given to the clock
    widenings  by group, by what past forecasts were too sure
    """

    room: ClockRoom
    fitted: ClockFit
    result: ClockForecast
    plain: ClockForecast
    weighed: Weighed
    sizes: Mapping[str, ClockSize]
    widenings: Mapping[str, Widening] = field(default_factory=dict)


def clock_odds(
    record: Record,
    *,
    appetite: AppetiteFit | None = None,
    widenings: Mapping[str, Widening] | None = None,
    earlier: ClockOdds | None = None,
) -> ClockOdds | None:
    """Fit the clock to the record and forecast every running interval; None in a room without animals.

    appetite    an earlier fit of the same room's appetite, to be used again; else it is fitted too
    earlier     odds of the same day before a few entries: the fit takes these in without a new search, and
                the fit of appetite stands
    widenings   what the room's track record asks for (`findings.track_record.widenings`)
    """
    histories = moult_histories(record)
    if not histories:
        return None
    sizes = sizes_for_clock(record)
    room = clock_room(
        histories, daily_climate(record), sizes, record.on.toordinal(), chance_last_for_clock(record)
    )
    fitted = fit(room.data) if earlier is None else refit(earlier.fitted, room.data)
    if appetite is None and earlier is not None and _ate_alike(earlier.room, room):
        appetite = earlier.weighed.fit
    return odds_of(record, room, fitted, sizes, appetite=appetite, widenings=widenings)


def _ate_alike(before: ClockRoom, now: ClockRoom) -> bool:
    """Whether a fit of appetite may stand: the same taxa, hardly more intervals and offers than before."""

    def told(room: ClockRoom) -> tuple[int, int]:
        offers = sum(len(history.offered) for history in room.histories)
        return sum(intervals for _, intervals in room.counts.values()), offers

    pairs = zip(told(before), told(now), strict=True)
    return before.taxa == now.taxa and all(abs(new - old) <= 0.02 * old for old, new in pairs)


def odds_of(
    record: Record,
    room: ClockRoom,
    fitted: ClockFit,
    sizes: Mapping[str, ClockSize],
    *,
    appetite: AppetiteFit | None = None,
    widenings: Mapping[str, Widening] | None = None,
) -> ClockOdds:
    """Forecast every running interval of a room whose clock is already fitted."""
    plain = clock_forecast(fitted, room.asked, room.on, room.expected)
    weighed = weigh(record, room, fitted, plain, sizes, fit=appetite)
    asked = widenings or {}
    return ClockOdds(room, fitted, adjust(room, weighed, asked), plain, weighed, sizes, asked)


def odds_again(record: Record, odds: ClockOdds, changed: Set[str]) -> ClockOdds | None:
    """Weigh the changed animals anew with the fits of the day; None where the clock must hear of the change.

    record    the same day's record with new entries; changed: codes of the animals they may concern
    A look on the day itself leaves nothing unseen; an earlier one, and all that changes an interval, needs a
    fit.
    """
    row_of = odds.room.row_of
    codes = [code for code in sorted(changed) if code in row_of]
    if not codes:
        return odds
    histories = list(odds.room.histories)
    unseen = odds.plain.unseen.copy()
    for code in codes:
        animal = int(odds.room.asked[row_of[code]])
        now = moult_history(record, record.animals[code])
        looked = _looked_since(animal, histories[animal], now, odds.room.on)
        if looked is None:
            return None
        histories[animal] = now
        if looked:
            unseen[row_of[code]] = 0.0
    room = replace(odds.room, histories=tuple(histories))
    plain = replace(odds.plain, unseen=unseen)
    at = np.array([row_of[code] for code in codes], dtype=np.int64)
    weighed = weigh_again(record, room, odds.fitted, plain, odds.sizes, odds.weighed, at)
    result = adjust(room, weighed, odds.widenings)
    return replace(odds, room=room, result=result, plain=plain, weighed=weighed)


def _looked_since(animal: int, before: MoultHistory, now: MoultHistory, on: int) -> bool | None:
    """Whether the only news for the clock is a look on the day itself; None where there is other news."""
    old, new = rows_of(animal, before, on), rows_of(animal, now, on)
    if len(old) != len(new):
        return None
    if all(map(_alike, old, new)):
        return False
    same = all(_alike(replace(a, looked=on), replace(b, looked=on)) for a, b in zip(old, new, strict=True))
    return True if same and new[-1].looked == on else None


def _alike(row: Row, other: Row) -> bool:
    """Whether two rows say the same; what is not known of either is the same."""
    return all(a == b or (a != a and b != b) for a, b in zip(astuple(row), astuple(other), strict=True))


def adjust(room: ClockRoom, weighed: Weighed, widenings: Mapping[str, Widening]) -> ClockForecast:
    """The one place where a forecast gets its last shape before it is shown: as wide as past errors ask."""
    return widen(room, weighed.result, widenings)


def forecast(
    record: Record,
    *,
    sizes: Mapping[str, SizeReport] | None = None,
    keep: Callable[[ClockOdds], None] | None = None,
    widenings: Mapping[str, Widening] | None = None,
    earlier: ClockOdds | None = None,
) -> ForecastReport:
    """Forecast the next moult of every living animal as of the record's day.

    sizes       pages of sizes, for `next_size`; the clock itself takes its sizes from the record
    keep        is called with the odds behind the report, for `reuse.refreshed`
    widenings   what the room's track record asks for
    earlier     odds of the same day before a few entries, see `clock_odds`
    """
    odds = clock_odds(record, widenings=widenings, earlier=earlier)
    if odds is None:
        return ForecastReport(record.on, (), ())
    if keep is not None:
        keep(odds)
    return report_of(record, odds, sizes)


def report_of(
    record: Record, odds: ClockOdds, sizes: Mapping[str, SizeReport] | None = None
) -> ForecastReport:
    """Return the odds of every living animal as the report that faces show."""
    pages = sizes or {}
    animals = tuple(
        animal_forecast(record, odds, animal.code, pages.get(animal.code)) for animal in record.living()
    )
    said = tuple(f"{group or 'Animals of no group'}: {each.words}." for group, each in _applied(odds))
    climate = notices(odds.room, odds.fitted)
    return ForecastReport(record.on, animals, (*climate, *said), climate, _warmth(odds))


def _warmth(odds: ClockOdds) -> WarmthEffect:
    q10 = q10_of(odds.fitted)
    animals = sum(animals for animals, _ in odds.room.counts.values())
    intervals = sum(intervals for _, intervals in odds.room.counts.values())
    return WarmthEffect(q10.log_mean, q10.log_sd, animals, intervals)


def _applied(odds: ClockOdds) -> list[tuple[str, Widening]]:
    """The widenings of groups that have an animal with odds."""
    here = {odds.room.histories[animal].group for animal in odds.room.asked}
    return [(group, each) for group, each in sorted(odds.widenings.items()) if group in here]
