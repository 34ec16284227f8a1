"""A place by months and weeks, and the wave of its year: mean, swing, day of the coldest.

Nothing is filled in: a month's figures are those of its known days, and say how many these are. The wave is
least squares with errors that remember (`science.climate.levels`):

    T(d) = mean + a cos(2 pi d / 365.25) + b sin(2 pi d / 365.25) + e(d)

swing = sqrt(a2 + b2), half the way from the coldest to the hottest of the wave; the coldest day where it is
lowest. A heated place does not follow a wave in winter: `fits_share` tells how much of the spread of days it
explains.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from nightround.science.climate.levels import YEAR_DAYS, fit_levels, year_terms
from nightround.science.climate.offsets import covers_a_year
from nightround.science.thermal import BoolArray, FloatArray, IntArray, relative_rate

_LEAST_SWING_SD: Final = 2.0


@dataclass(frozen=True)
class DailyRange:
    """Days of one place: lowest, mean and highest [T] in C, NaN where not known; day numbers from first_day.

    Where no lowest or highest was read the mean stands in for it in `coldest` and `hottest`: a night was at
    least as cold as the day's mean.
    """

    first_day: int
    low: FloatArray
    mean: FloatArray
    high: FloatArray

    @property
    def coldest(self) -> FloatArray:
        """Lowest known of each day."""
        return np.asarray(np.fmin(self.low, self.mean))

    @property
    def hottest(self) -> FloatArray:
        """Highest known of each day."""
        return np.asarray(np.fmax(self.high, self.mean))

    @property
    def known(self) -> BoolArray:
        """Whether anything was read that day."""
        return np.asarray(np.isfinite(self.coldest) | np.isfinite(self.hottest))


@dataclass(frozen=True)
class Stretch:
    """One month or week of a place; figures are None where no day says them.

    first, last          day numbers, both in
    days, known          how many days it has, and how many were read
    low, mean, high      lowest known, mean of the known daily means, highest known [C]
    coldest, hottest     day numbers of the lowest and the highest
    under, over          known days colder than the one and hotter than the other threshold
    short_degree_days    sum of degrees by which days' means lay under the cold threshold [C day]
    thermal_days         known days' worth in days at 25 C
    """

    first: int
    last: int
    days: int
    known: int
    low: float | None
    mean: float | None
    high: float | None
    coldest: int | None
    hottest: int | None
    under: int
    over: int
    short_degree_days: float
    thermal_days: float


def months_of(first_day: int, days: int) -> IntArray:
    """Year times twelve plus month (0 to 11) of each day [T]."""
    numbers = (date.fromordinal(first_day + at) for at in range(days))
    return np.array([day.year * 12 + day.month - 1 for day in numbers], dtype=np.int64)


def weeks_of(first_day: int, days: int) -> IntArray:
    """Number of the week, Monday first, of each day [T]."""
    return np.asarray((first_day + np.arange(days) - 1) // 7, dtype=np.int64)


def stretches(
    days: DailyRange, label: IntArray, *, cold_c: float, heat_c: float, log_q10: float
) -> tuple[Stretch, ...]:
    """Sum the days of each label up, in order; `label` [T] is sorted, one value a month or week."""
    if not label.size:
        return ()
    begin = np.concatenate([[0], np.flatnonzero(np.diff(label)) + 1])
    end = np.append(begin[1:], label.size)
    coldest, hottest, mean = days.coldest, days.hottest, days.mean
    is_mean = np.isfinite(mean)

    def total(values: FloatArray | BoolArray) -> list[float]:
        told: list[float] = np.add.reduceat(np.asarray(values, dtype=np.float64), begin).tolist()
        return told

    low, low_at = _least(coldest, begin, end)
    high, high_at = _least(-hottest, begin, end)
    known, number = total(days.known), total(is_mean)
    warmth = total(np.where(is_mean, mean, 0.0))
    under, over = total(coldest < cold_c), total(hottest > heat_c)
    short = total(np.where(mean < cold_c, cold_c - np.minimum(mean, cold_c), 0.0))
    thermal = total(np.nan_to_num(relative_rate(mean, log_q10)))
    first = days.first_day
    return tuple(
        Stretch(
            first=first + a,
            last=first + b - 1,
            days=b - a,
            known=int(known[at]),
            low=low[at],
            mean=warmth[at] / number[at] if number[at] else None,
            high=None if high[at] is None else -float(high[at] or 0.0),
            coldest=None if low[at] is None else first + low_at[at],
            hottest=None if high[at] is None else first + high_at[at],
            under=int(under[at]),
            over=int(over[at]),
            short_degree_days=short[at],
            thermal_days=thermal[at],
        )
        for at, (a, b) in enumerate(zip(begin.tolist(), end.tolist(), strict=True))
    )


def _least(values: FloatArray, begin: IntArray, end: IntArray) -> tuple[list[float | None], list[int]]:
    """Least value of each stretch of columns (None: nothing known) and the first column that has it."""
    filled = np.where(np.isfinite(values), values, np.inf)
    least = np.minimum.reduceat(filled, begin)
    at = np.where(filled == np.repeat(least, end - begin), np.arange(values.size), values.size)
    told = [None if each == np.inf else float(each) for each in least.tolist()]
    return told, np.minimum.reduceat(at, begin).tolist()


@dataclass(frozen=True)
class Wave:
    """The wave of a place's year, each as (value, low, high), 80 times in 100.

    coldest, hottest   days of the year cycle (day number modulo 365.25); (value, days of doubt each way)
    flat               whether the swing cannot be told from none: then there is no coldest day
    fits_share         share of the days' variance that the wave explains
    """

    mean: tuple[float, float, float]
    swing: tuple[float, float, float]
    coldest: tuple[float, float]
    flat: bool
    fits_share: float
    n: int


@dataclass(frozen=True)
class NotEnough:
    """Too few days for a wave: how many there are, over how many days from first to last."""

    days: int
    span: int


def fit_wave(first_day: int, mean: FloatArray) -> Wave | NotEnough:
    """Fit the year's wave to daily means [T]; NotEnough before the days cover a year."""
    return fit_waves(first_day, mean[None, :])[0]


def fit_waves(first_day: int, means: FloatArray) -> tuple[Wave | NotEnough, ...]:
    """The same for each row of a table [P, T], in one go."""
    known = np.isfinite(means)
    enough = [place for place in range(means.shape[0]) if covers_a_year(first_day, known[place])]
    levels = fit_levels(first_day, means[enough], with_year=True) if enough else ()
    found: list[Wave | NotEnough] = [_too_few(row) for row in known]
    for place, level in zip(enough, levels, strict=True):
        if level is not None:
            beta = np.asarray(level.weight @ level.beta)
            found[place] = _wave(level.draws(), beta, first_day, means[place])
    return tuple(found)


def _too_few(known: BoolArray) -> NotEnough:
    at = np.flatnonzero(known)
    return NotEnough(int(at.size), int(at[-1] - at[0] + 1) if at.size else 0)


def _wave(draws: FloatArray, beta: FloatArray, first_day: int, mean: FloatArray) -> Wave:
    swing = np.hypot(draws[:, 1], draws[:, 2])
    middle = float(np.hypot(beta[1], beta[2]))
    coldest = _phase(-beta[1], -beta[2])
    apart = (_phase(-draws[:, 1], -draws[:, 2]) - coldest + YEAR_DAYS / 2) % YEAR_DAYS - YEAR_DAYS / 2
    at = np.flatnonzero(np.isfinite(mean))
    left: FloatArray = mean[at] - year_terms(first_day + at) @ beta
    spread = float(np.var(mean[at]))
    sd = float(np.sqrt(np.mean(np.var(draws[:, 1:], axis=0))))
    return Wave(
        (float(beta[0]), *_eighty(draws[:, 0])),
        (middle, *_eighty(swing)),
        (float(coldest), float(np.quantile(np.abs(apart), 0.8))),
        middle < _LEAST_SWING_SD * sd,
        max(0.0, 1.0 - float(np.var(left)) / spread) if spread > 0 else 0.0,
        int(at.size),
    )


def _phase(cos: FloatArray | float, sin: FloatArray | float) -> FloatArray:
    return np.asarray((np.arctan2(sin, cos) / (2 * np.pi) * YEAR_DAYS) % YEAR_DAYS)


def _eighty(values: FloatArray) -> tuple[float, float]:
    low, high = np.quantile(values, (0.1, 0.9))
    return float(low), float(high)


def next_day_of_phase(phase: float, after: int) -> int:
    """The first day number from `after` on that stands at this phase of the year cycle."""
    return after + round((phase - after) % YEAR_DAYS)
