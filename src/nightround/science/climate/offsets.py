"""By how much a shelf is warmer than the room's air: offsets from days on which both were read.

    T_place(d) = room(d) + o_place + a_place cos(year) + b_place sin(year) + e_place(d)

room(d) is free: whatever weather and heating did on the day, both places had it. e remembers from day to
day and carries noise of its own (`science.climate.levels`). The yearly terms are in the model when the
common days cover a year; without them the offset is that of the days it rests on. What two loggers would
read differently side by side is part of the offset: readings alone cannot tell it from warmth.

A place is compared with the reference place (the room's own logger) day by day where both were read. Where
they never overlap enough, and where there is no reference, days are compared with room(d) as the additive
two-way layout with missing cells has it (least squares; Yates 1933, Empire J. Exp. Agric. 1:129): offsets
then are against the mean of all places of the room, or go to the reference by way of the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.climate.levels import YEAR_DAYS, Level, fit_levels, year_terms
from nightround.science.thermal import BoolArray, FloatArray, IntArray

LEAST_DAYS: Final = 14
"""Common days under which no offset is told."""
YEAR_NEEDS_DAYS: Final = 300
YEAR_NEEDS_MONTHS: Final = 11
QUARTER: Final = float(np.sin(np.pi / 4.0) / (np.pi / 4.0))
"""A yearly wave averaged over the quarter of a year around its crest, as a share of the crest."""
SWING_LEAST_C: Final = 0.2


@dataclass(frozen=True)
class TwoWay:
    """Place and day effects of the additive layout with missing cells.

    place [P]   sum to zero within each group of places that common days connect; NaN for places never read
    day [T]     NaN on days without any reading; of the group that has most readings
    group [P]   which places are connected, -1 for places never read
    """

    place: FloatArray
    day: FloatArray
    group: tuple[int, ...]


@dataclass(frozen=True)
class Offset:
    """How much warmer a place is [C], with the interval that holds the truth 95 times in 100.

    winter, summer   the same for the quarter of the year around the room's coldest and hottest day
                     (value, low, high); None where the common days do not cover a year
    swings           whether it surely differs between winter and summer, by at least 0.2 C
    direct           whether both were read on the same days (else by way of the other places)
    days             common days behind it; first_day, last_day: day numbers of the first and last
    error_sd         sd of one day's difference about the offset
    """

    value: float
    low: float
    high: float
    sd: float
    winter: tuple[float, float, float] | None
    summer: tuple[float, float, float] | None
    swings: bool
    direct: bool
    days: int
    first_day: int
    last_day: int
    error_sd: float
    memory: float
    beta: FloatArray

    def on(self, day: IntArray) -> FloatArray:
        """The offset as it is expected on those day numbers."""
        return np.asarray(year_terms(day)[..., : self.beta.size] @ self.beta)


def two_way(table: FloatArray) -> TwoWay:
    """Least squares for place and day effects of `table` [P, T] with missing cells (NaN).

    Days are eliminated: each contributes its known places' deviations from their mean, which leaves P normal
    equations. Balanced, the effects are the row means less the grand mean.
    """
    known = np.isfinite(table)
    value = np.where(known, table, 0.0)
    count = known.sum(axis=0)
    share = known / np.sqrt(np.maximum(count, 1))
    normal = np.diag(known.sum(axis=1).astype(np.float64)) - share @ share.T
    mean = value.sum(axis=0) / np.maximum(count, 1)
    right = np.where(known, value - mean, 0.0).sum(axis=1)
    place = np.linalg.lstsq(normal, right, rcond=1e-10)[0]
    group = _connected(known)
    for each in set(group) - {-1}:
        members = np.array([one == each for one in group])
        place[members] -= place[members].mean()
    place[[one == -1 for one in group]] = np.nan
    best = max(set(group) - {-1}, key=lambda each: known[[one == each for one in group]].sum(), default=-1)
    inside = known & np.array([one == best for one in group])[:, None]
    left = np.where(inside, value - np.nan_to_num(place)[:, None], 0.0).sum(axis=0)
    number = inside.sum(axis=0)
    return TwoWay(place, np.where(number > 0, left / np.maximum(number, 1), np.nan), group)


def _connected(known: BoolArray) -> tuple[int, ...]:
    """Group of each place: places read on a common day belong together; -1 where never read."""
    common = (known.astype(np.float64) @ known.T.astype(np.float64)) > 0
    group = [-1] * known.shape[0]
    for start in range(known.shape[0]):
        if group[start] >= 0 or not common[start, start]:
            continue
        todo = [start]
        while todo:
            place = todo.pop()
            group[place] = start
            todo += [int(next_) for next_ in np.flatnonzero(common[place]) if group[next_] < 0]
    return tuple(group)


def covers_a_year(first_day: int, known: BoolArray) -> bool:
    """Whether known days are enough and spread over enough months of the year to tell its swing."""
    days = first_day + np.flatnonzero(known)
    if days.size < YEAR_NEEDS_DAYS:
        return False
    month = ((days % YEAR_DAYS) // (YEAR_DAYS / 12)).astype(np.int64)
    return int((np.bincount(np.minimum(month, 11), minlength=12) >= 5).sum()) >= YEAR_NEEDS_MONTHS


def coldest_phase(first_day: int, table: FloatArray) -> float:
    """Day of the year cycle (day number modulo the year) on which the mean of the rows is coldest."""
    known = np.isfinite(table)
    count = known.sum(axis=0)
    mean = np.where(known, table, 0.0).sum(axis=0) / np.maximum(count, 1)
    days = np.flatnonzero(count > 0)
    terms = year_terms(first_day + days)
    beta = np.linalg.lstsq(terms, mean[days], rcond=None)[0]
    return float((np.arctan2(-beta[2], -beta[1]) / (2 * np.pi) * YEAR_DAYS) % YEAR_DAYS)


def offsets(first_day: int, table: FloatArray, reference: int | None) -> tuple[Offset | None, ...]:
    """Offset of each place of `table` [P, T] (daily means, NaN where unknown) [C].

    reference   row of the place that the others are compared with (its own offset is None); None: each is
                compared with the mean of all places of the table
    None stands for fewer than `LEAST_DAYS` common days.
    """
    layout = two_way(table)
    # A day on which one place alone was read says nothing of how it differs from the others.
    shared = np.where(np.isfinite(table).sum(axis=0) > 1, layout.day, np.nan)
    rows: list[FloatArray] = []
    direct: list[bool] = []
    for place in range(table.shape[0]):
        against = shared if reference is None else table[reference]
        straight = table[place] - against
        enough = reference is None or np.isfinite(straight).sum() >= LEAST_DAYS
        joined = reference is not None and layout.group[place] == layout.group[reference] != -1
        rows.append(straight if enough or not joined else table[place] - shared)
        direct.append(bool(enough))
    differences = np.stack(rows) if rows else np.zeros((0, table.shape[1]))
    told = [
        place != reference and int(np.isfinite(differences[place]).sum()) >= LEAST_DAYS
        for place in range(table.shape[0])
    ]
    own = None if reference is None else table[reference] - shared
    return _fitted(first_day, table, differences, told, direct, own)


def _fitted(
    first_day: int,
    table: FloatArray,
    differences: FloatArray,
    told: list[bool],
    direct: list[bool],
    own: FloatArray | None,
) -> tuple[Offset | None, ...]:
    """Fit plain and yearly levels, each for the places that it fits, all of a kind in one go."""
    found: list[Offset | None] = [None] * len(told)
    yearly = [covers_a_year(first_day, np.isfinite(row)) for row in differences]
    phase = coldest_phase(first_day, table) if any(yearly) else 0.0
    for with_year in (False, True):
        chosen = [place for place, each in enumerate(told) if each and yearly[place] is with_year]
        if not chosen:
            continue
        levels = fit_levels(first_day, differences[chosen], with_year=with_year)
        for place, level in zip(chosen, levels, strict=True):
            if level is not None:
                known = first_day + np.flatnonzero(np.isfinite(differences[place]))
                found[place] = _offset(level, known, phase, direct[place])
    if own is not None and not all(direct):
        (reference,) = fit_levels(first_day, own[None, :], with_year=False)
        found = [each if each is None or each.direct else _by_way(each, reference) for each in found]
    return tuple(found)


def _offset(level: Level, known: IntArray, phase: float, direct: bool) -> Offset:
    width = level.beta.shape[1]
    whole = np.eye(width)[0]
    low, high = level.interval(whole)
    winter = summer = None
    swings = False
    if width == 3:
        angle = 2.0 * np.pi * phase / YEAR_DAYS
        crest = np.array([0.0, np.cos(angle), np.sin(angle)])
        winter, summer = (_told(level, whole + sign * QUARTER * crest) for sign in (1.0, -1.0))
        apart = level.interval(crest)
        swings = (apart[0] > 0 or apart[1] < 0) and abs(winter[0] - summer[0]) >= SWING_LEAST_C
    beta = np.asarray(level.weight @ level.beta)
    return Offset(
        level.mean(whole), low, high, level.sd(whole), winter, summer, swings, direct, level.n,
        int(known[0]), int(known[-1]), level.error_sd, level.memory, beta,
    )  # fmt: skip


def _told(level: Level, contrast: FloatArray) -> tuple[float, float, float]:
    return (level.mean(contrast), *level.interval(contrast))


def _by_way(offset: Offset, reference: Level | None) -> Offset | None:
    """An offset against the mean of all places, brought to the reference: doubts add as squares."""
    if reference is None:
        return None
    one = np.ones(1)
    middle, half = reference.mean(one), np.ptp(reference.interval(one)) / 2.0
    value = offset.value - middle
    reach = float(np.hypot((offset.high - offset.low) / 2.0, half))
    sd = float(np.hypot(offset.sd, reference.sd(one)))
    return Offset(
        value, value - reach, value + reach, sd, None, None, False, False, offset.days,
        offset.first_day, offset.last_day, float(np.hypot(offset.error_sd, reference.error_sd)),
        offset.memory, np.array([value]),
    )  # fmt: skip


def unread(
    first_day: int, table: FloatArray, found: tuple[Offset | None, ...], reference: int | None
) -> tuple[FloatArray, FloatArray]:
    """What each place was on its unread days, from the others: mean and sd [P, T]; NaN where nothing says.

    The reference's reading (else the day effect of the layout) plus the place's offset; sd of the offset and
    of a day's own error. An estimate: it never becomes a reading.
    """
    mean, sd = np.full(table.shape, np.nan), np.full(table.shape, np.nan)
    room: FloatArray = two_way(table).day if reference is None else table[reference]
    days = first_day + np.arange(table.shape[1])
    for place, offset in enumerate(found):
        if offset is not None:
            wanted = ~np.isfinite(table[place]) & np.isfinite(room)
            mean[place, wanted] = (room + offset.on(days))[wanted]
            sd[place, wanted] = np.hypot(offset.sd, offset.error_sd)
    return mean, sd
