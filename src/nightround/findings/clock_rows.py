"""From the record's histories to the rows of the moult clock: what opened, closed and watched intervals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np

from nightround.findings.size import ClockSize
from nightround.record.histories import MoultHistory
from nightround.science.clock.data import NO_DAY, Intervals
from nightround.science.thermal import FloatArray, IntArray, Stays

# Older dates than this before the as-of day are not used: climate tables would grow without end.
OLDEST_DAYS: Final = 40 * 366
# A hatching date vaguer than this opens no interval.
VAGUE_DAYS: Final = 60
# Fewer known outcomes than this in an interval say nothing about the ration.
MIN_OFFERS: Final = 3
MIN_RATIONS: Final = 10
RATION_SCALE: Final = 0.5
# An interval with a larger share of days of which nobody said whether they were wintering is unknown.
MOST_UNKNOWN: Final = 0.2
# Doubt of an animal's size where its taxon was never measured.
UNMEASURED_SIZE_SD: Final = 0.5


@dataclass(frozen=True, slots=True)
class Row:
    """One interval of one animal, in day numbers; NO_DAY where there is none. `instar` is the animal's.

    winter   share of its days spent in wintering, of a running one of those so far; NaN where it is not known
    """

    animal: int
    start: tuple[int, int]
    end: tuple[int, int]
    looked: int
    watched: int
    instar: int
    newcomer: float
    legs_lost: float
    previous: tuple[int, int]
    offers: int
    taken: int
    winter: float = np.nan


NEVER: Final = (NO_DAY, NO_DAY)


def rows_of(index: int, history: MoultHistory, on: int) -> list[Row]:
    """Return the intervals of one animal, the running one last (none for a male after his ultimate moult)."""
    openings, instar = _openings(history, on)
    watch = history.under_watch.toordinal() if history.under_watch is not None else None
    rows = []
    for place, opening in enumerate(openings):
        end = openings[place + 1] if place + 1 < len(openings) else NEVER
        if end is NEVER and history.sex == "male" and history.mature_since is not None:
            continue
        row = _row(index, history, opening, end, watch, on)
        if row is None:
            continue
        before = openings[place - 1] if place and openings[place - 1] is not NEVER else NEVER
        first_under_watch = place == _first_seen(openings, watch)
        finished = _finish(row, history, instar + place, before, watch, first_under_watch)
        rows.append(replace(finished, winter=winter_share(history, finished, on)))
    return rows


def _openings(history: MoultHistory, on: int) -> tuple[list[tuple[int, int]], int]:
    """What opened each interval, oldest first, and the instar of the first: hatching, moults, or unknown."""
    moults = [
        (window.first.toordinal(), window.last.toordinal())
        for window in sorted(history.moults, key=lambda window: (window.last, window.first))
        if on - window.first.toordinal() < OLDEST_DAYS
    ]
    missed_out = len(history.moults) - len(moults)
    hatched = _days(history.hatched_first, history.hatched_last)
    usable = hatched is not None and hatched[1] - hatched[0] <= VAGUE_DAYS and on - hatched[0] < OLDEST_DAYS
    if hatched is not None and usable and missed_out == 0 and (not moults or hatched[1] < moults[0][0]):
        return [hatched, *moults], 0
    watch = history.under_watch.toordinal() if history.under_watch is not None else None
    if moults and (watch is None or watch > moults[0][1] or missed_out):
        return moults, 1 + missed_out
    return [NEVER, *moults], missed_out


def _days(first: date | None, last: date | None) -> tuple[int, int] | None:
    return None if first is None or last is None else (first.toordinal(), last.toordinal())


def _first_seen(openings: Sequence[tuple[int, int]], watch: int | None) -> int:
    """Place of the first opening that happened under watch."""
    if watch is None:
        return -1
    return next((place for place, days in enumerate(openings) if days[1] >= watch), -1)


def _row(
    index: int,
    history: MoultHistory,
    start: tuple[int, int],
    end: tuple[int, int],
    watch: int | None,
    on: int,
) -> Row | None:
    """The bare interval, or None where the days contradict each other (the record raises the problem)."""
    begun = start[1]
    if start is NEVER:
        begun = watch if watch is not None else min(_look(history, on) or on, on)
    watched = begun if start is NEVER else NO_DAY
    if start is not NEVER and watch is not None and watch > start[1]:
        watched = watch
    if end is not NEVER:
        if end[1] <= (start[0] if start is not NEVER else begun - 1):
            return None
        # Both ends before arrival: somebody else watched it all.
        watched = NO_DAY if start is not NEVER and watched > end[0] else min(watched, end[1])
        return Row(index, start, end, NO_DAY, watched, 0, 0.0, 0.0, NEVER, 0, 0)
    looked = min(_look(history, on) or begun, on)
    looked = max(looked, begun if start is NEVER else start[0], watched)
    return Row(index, start, NEVER, looked, watched, 0, 0.0, 0.0, NEVER, 0, 0)


def _look(history: MoultHistory, on: int) -> int | None:
    return None if history.last_look is None else min(history.last_look.toordinal(), on)


def _finish(
    row: Row,
    history: MoultHistory,
    instar: int,
    before: tuple[int, int],
    watch: int | None,
    first_under_watch: bool,
) -> Row:
    """Add instar, newcomer, injuries and what was eaten in the interval before."""
    begun = row.start[0] if row.start != NEVER else row.watched
    until = row.end[1] if row.end != NEVER else row.looked
    hurt = any(begun <= day.toordinal() <= until for day, _ in history.legs_lost)
    old = before[1] != NO_DAY and row.start != NEVER
    offers, taken = (_meals(history, before[1], row.start[0])) if old else (0, 0)
    newcomer = np.nan
    if watch is not None:
        own_bred = history.hatched_last is not None and history.hatched_last.toordinal() >= watch
        elsewhere = row.start == NEVER or row.start[1] < watch
        newcomer = float(not own_bred and (elsewhere or first_under_watch))
    previous = (before[1], row.start[0]) if old else NEVER
    return Row(
        row.animal,
        row.start,
        row.end,
        row.looked,
        row.watched,
        instar,
        newcomer,
        float(hurt),
        previous,
        offers,
        taken,
    )


def winter_share(history: MoultHistory, row: Row, on: int) -> float:
    """Share of an interval's days that were wintering, as far as the keeper said so.

    Counted from the middle of a moult found late; NaN where more than a fifth of the days is not known.
    """
    if not history.wintered or row.start == NEVER:
        return np.nan
    first = (row.start[0] + row.start[1] + 1) // 2
    last = on if row.end == NEVER else (row.end[0] + row.end[1]) // 2
    known = wintering = 0
    for begun, ended, state in history.wintered:
        days = max(0, min(ended.toordinal(), last) - max(begun.toordinal(), first) + 1)
        known += days
        wintering += days * state
    length = max(last - first + 1, 1)
    return wintering / known if known > (1.0 - MOST_UNKNOWN) * length else np.nan


def _meals(history: MoultHistory, first: int, last: int) -> tuple[int, int]:
    """Offers with a known outcome, and meals taken, between two days."""
    outcomes = [outcome for day, outcome in history.offered if first <= day.toordinal() <= last]
    return len(outcomes), sum(outcome == "taken" for outcome in outcomes)


def ration(rows: Sequence[Row], taxon: IntArray, warmth_before: FloatArray) -> FloatArray:
    """Meals taken per warmth in the interval before, as deviations from the taxon's mean [N]; NaN unknown.

    warmth_before [N]   days at 25 C of the interval before. A taxon needs ten known rations.
    """
    offers = np.array([row.offers for row in rows])
    taken = np.array([row.taken for row in rows], dtype=np.float64)
    known = (offers >= MIN_OFFERS) & (warmth_before > 0.0)
    value = np.where(known, np.log((taken + 0.5) / np.where(known, warmth_before, 1.0)), np.nan)
    for index in np.unique(taxon):
        own = taxon == index
        enough = int((own & known).sum()) >= MIN_RATIONS
        centre = value[own & known].mean() if enough else np.nan
        value[own] = (value[own] - centre) / RATION_SCALE
    return np.clip(value, -3.0, 3.0)


def sizes_of(
    rows: Sequence[Row], codes: Sequence[str], sizes: Mapping[str, ClockSize]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log size of each row with its own doubt [N], [N], and the doubt each animal's rows share [A]."""
    mean = np.full(len(rows), np.nan)
    sd = np.zeros(len(rows))
    for place, row in enumerate(rows):
        size = sizes.get(codes[row.animal])
        if size is not None and size.mean:
            instar = min(row.instar, len(size.mean) - 1)
            mean[place], sd[place] = size.mean[instar], size.sd[instar]
    shared = np.full(len(codes), np.inf)
    known = np.isfinite(mean)
    animal = np.array([row.animal for row in rows], dtype=np.int64)
    np.minimum.at(shared, animal[known], sd[known])
    shared = np.where(np.isfinite(shared), shared, 0.0)
    own = np.sqrt(np.maximum(sd**2 - shared[animal] ** 2, 0.0))
    unmeasured = np.array([_unmeasured(sizes.get(code)) for code in codes])
    shared = np.where(unmeasured, np.maximum(shared, UNMEASURED_SIZE_SD), shared)
    # Growth from instar to instar is known well enough where the level is not.
    own = np.where(unmeasured[animal], 0.0, own)
    return mean, own, np.minimum(shared, 1.0)


def _unmeasured(size: ClockSize | None) -> bool:
    return size is None or size.n_readings_of_taxon == 0


def intervals_of(rows: Sequence[Row], size: FloatArray, size_sd: FloatArray, eaten: FloatArray) -> Intervals:
    """The rows as the clock's arrays."""

    def column(values: Iterable[int]) -> IntArray:
        return np.fromiter(values, dtype=np.int64, count=len(rows))

    covariates = np.column_stack(
        [
            eaten,
            np.array([row.winter for row in rows]),
            np.array([row.legs_lost for row in rows]),
            np.array([row.newcomer for row in rows]),
        ]
    )
    return Intervals(
        column(row.animal for row in rows),
        column(row.start[0] for row in rows),
        column(row.start[1] for row in rows),
        column(row.end[0] for row in rows),
        column(row.end[1] for row in rows),
        column(row.looked for row in rows),
        column(row.watched for row in rows),
        size,
        size_sd,
        covariates,
    )


def stays_of(histories: Sequence[MoultHistory], places: Mapping[str, int]) -> Stays:
    """Where each animal lived; an animal of unknown whereabouts lives at the place named ''."""
    animal, place, first = [], [], []
    for index, history in enumerate(histories):
        for name, begun, _ in history.stays or (("", date.min, date.min),):
            animal.append(index)
            place.append(places[name])
            first.append(begun.toordinal())
    return Stays(np.array(animal), np.array(place), np.array(first))
