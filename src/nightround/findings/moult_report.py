"""The moult clock's answers in the words and shape of the forecast report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.clock_climate import spans
from nightround.findings.clock_effects import q10_of, winter_of
from nightround.foundation.wording import counted, joined
from nightround.record.histories import MoultHistory
from nightround.record.model import Record
from nightround.reports.forecast import QUANTILES, WITHIN_DAYS, AnimalForecast, NextMoult
from nightround.reports.size import SizeReport
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.forecast import ClockForecast
from nightround.science.thermal import UNREAD_PLACE_C, Warmth, missing_days

if TYPE_CHECKING:
    from nightround.findings.moult import ClockOdds, ClockRoom

METHOD: Final = "moult clock: thermal time, animals pooled in taxa and groups"
METHOD_PRIOR: Final = "moult clock: published prior only, no moult interval of this taxon recorded yet"
# From here on two effects are said to be hard to tell apart.
STRONG_CORRELATION: Final = 0.5
# Where more places than this miss days, only their numbers are told.
FEW_PLACES: Final = 2
_TAKEN_AS: Final = "taken as the mean of the days around, with that much more doubt"
WITH_APPETITE: Final = "; appetite and signs weighed in"
WIDENED: Final = "; windows widened by what past forecasts were too sure"


def animal_forecast(record: Record, odds: ClockOdds, code: str, page: SizeReport | None) -> AnimalForecast:
    """Return one living animal's forecast. page: its sizes, for the size after the next moult."""
    room, result = odds.room, odds.result
    index, row = room.index_of[code], room.row_of.get(code)
    history = room.histories[index]
    last = max((window.last for window in history.moults), default=None)
    level = None if row is None else float(result.elapsed_level[row])
    return AnimalForecast(
        animal=code,
        taxon=history.taxon,
        last_moult=last,
        days_since=None if last is None else (record.on - last).days,
        last_look=history.last_look,
        may_have_moulted_unseen=0.0 if row is None else float(result.unseen[row]),
        next_moult=None if row is None else _next_moult(odds, index, row),
        next_size=None if page is None or row is None else page.next_size,
        mature=None if page is None else page.mature,
        elapsed_level=None if level is None or np.isnan(level) else level,
        appetite=None if row is None else odds.weighed.notes.get(code),
    )


def _next_moult(odds: ClockOdds, index: int, row: int) -> NextMoult:
    room, result = odds.room, odds.result
    animals, intervals = room.counts.get(room.histories[index].taxon, (0, 0))
    quantiles = result.quantile_days[row]
    method = METHOD if intervals else METHOD_PRIOR
    note = odds.weighed.notes.get(room.codes[index])
    words = note.words if note is not None else ()
    if odds.weighed.moved[row]:
        method += WITH_APPETITE
    widening = odds.widenings.get(room.histories[index].group)
    factor = widening.applied if widening is not None else 1.0
    late = (widening.words,) if widening is not None and factor > 1.0 else ()
    return NextMoult(
        quantiles_days={
            level: None if np.isnan(value) else float(value)
            for level, value in zip(QUANTILES, quantiles, strict=True)
        },
        within_days={days: float(value) for days, value in zip(WITHIN_DAYS, result.within[row], strict=True)},
        n_animals=animals,
        n_intervals=intervals,
        method=method + WIDENED if late else method,
        reasons=(*words, *_reasons(room, result, index, row, animals, intervals), *late),
        widened=factor,
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


def notices(room: ClockRoom, fitted: ClockFit) -> tuple[str, ...]:
    """Return what the fit says of itself: warmth, wintering, places and days without readings."""
    return (*_effects(room, fitted), *_unread_places(room), *_gaps(room, fitted.design.warmth))


def _effects(room: ClockRoom, fitted: ClockFit) -> list[str]:
    """What warmth and wintering do here, in words; the two compete, so their correlation is told."""
    q10 = q10_of(fitted)
    low, high = q10.range
    words = [
        f"Ten degrees Celsius (18 °F) more make growth {q10.middle:.1f} times as fast here"
        f" ({low:.1f} to {high:.1f} four times in five), from {_closed(room)} and the published prior."
    ]
    winter = winter_of(fitted)
    if winter is not None:
        low, high = winter.ratio.range
        told = f"{counted(winter.n_wintered, 'interval')} of wintering and {winter.n_not} without"
        together = ""
        if winter.correlation is not None:
            together = f"; correlation with the effect of warmth {winter.correlation:+.1f}"
            if abs(winter.correlation) > STRONG_CORRELATION:
                together += ", so warmth and wintering can hardly be told apart here"
        words.append(
            f"Wintering makes intervals {winter.ratio.middle:.1f} times as long at the same warmth"
            f" ({low:.1f} to {high:.1f} four times in five), from {told}{together}."
        )
    return words


def _here(room: ClockRoom) -> dict[str, list[MoultHistory]]:
    """The animals whose intervals run, by the place where they stand; places in the clock's order."""
    found: dict[str, list[MoultHistory]] = {}
    for name in room.places:
        here = [h for h in room.histories if h.ending == "running" and h.stays and h.stays[-1][0] == name]
        if here:
            found[name] = here
    return found


def _unread_places(room: ClockRoom) -> list[str]:
    """One notice for all places without a thermometer."""
    names = [name for name in _here(room) if _unread(room, name)]
    if not names:
        return []
    said = joined([name or "animals of unknown place" for name in names])
    return [
        f"No temperature readings: {said}. Forecasts there are in calendar days at an assumed"
        f" {UNREAD_PLACE_C:.0f} °C ({UNREAD_PLACE_C * 1.8 + 32.0:.0f} °F), give or take 2.7 °C (5 °F)."
    ]


def _gaps(room: ClockRoom, warmth: Warmth) -> list[str]:
    """One notice for all days without a reading; places that miss the same days stand together."""
    by_days: dict[tuple[int, ...], list[str]] = {}
    for name, here in _here(room).items():
        if _unread(room, name):
            continue
        since = min(_since(history, room.on) for history in here)
        days = missing_days(warmth, room.places.index(name), since, room.on)
        if days:
            by_days.setdefault(tuple(days), []).append(name or "unknown place")
    if not by_days:
        return []
    if len(by_days) > FEW_PLACES:
        numbers = [f"{joined(names)} {len(days)}" for days, names in by_days.items()]
        return [f"Days without a temperature, {_TAKEN_AS}: {', '.join(numbers)}."]
    said = [
        f"{counted(len(days), 'day')} without a temperature at {joined(names)} ({spans(days)})"
        for days, names in by_days.items()
    ]
    return [f"{'; '.join(said)}: {_TAKEN_AS}."]


def _closed(room: ClockRoom) -> str:
    return counted(sum(intervals for _, intervals in room.counts.values()), "interval")


def _since(history: MoultHistory, on: int) -> int:
    """First day of the running interval as far as it was under watch."""
    days = [window.first.toordinal() for window in history.moults[-1:]]
    days += [history.under_watch.toordinal()] if history.under_watch is not None and not days else []
    return min(max(days, default=on), on)
