"""How lots of feeders grow, die and grow out of size, week by week.

Share of development u runs from 0 at hatching to 1 at the last moult; body length follows it in equal
ratios, as moult by moult in arthropods (Dyar's rule): length = hatch * (adult / hatch) ** u. A lot starts at
its length with a spread (of what is sold as one grade) and each feeder has its own pace (`pace_sd_log`):

    u ~ normal(u0 + D, sqrt(g^2 + (s D)^2)),   D = sum over days of rate(temperature)

Before adulthood a constant share dies each day; adults live a gamma-distributed time from their last moult
on. A lot bought as adults counts as fresh: their age is unknown, and that is the kind end of the guess.
A feeder is outgrown once it is longer than every class asked for, or adult where adults are not offered.
What is eaten is taken as a random sample of the lot, so eating does not change how the rest grows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.larder.development import outside
from nightround.science.larder.kinds import FeederKind
from nightround.science.parameters import feeders_from_memory
from nightround.science.thermal import UNREAD_PLACE_C, BoolArray, FloatArray, IntArray

DAYS_A_WEEK = 7


@dataclass(frozen=True)
class SizeClasses:
    """Classes of prey length [mm], ascending: class c serves low_mm[c] <= length < high_mm[c]."""

    low_mm: FloatArray
    high_mm: FloatArray

    def __post_init__(self) -> None:
        low, high = self.low_mm, self.high_mm
        if low.ndim != 1 or low.shape != high.shape or not low.size:
            raise Refusal(
                "one lower and one upper length a class were wanted", got=f"{low.shape} {high.shape}"
            )
        if not (np.all(low >= 0) and np.all(low < high) and np.all(high[:-1] <= low[1:])):
            raise Refusal("classes of prey run from small to large without overlap", got=f"{low} to {high}")

    @property
    def count(self) -> int:
        return int(self.low_mm.size)


@dataclass(frozen=True)
class Lots:
    """Lots of feeders, one row each.

    kinds [L]
    length_mm [L]    typical body length on the lot's first day; NaN unknown: it then serves no class
    spread_log [L]   sd of log length within the lot; NaN: that of one grade as sold (from memory)
    start_day [L]    day the lot is there, counted from the first day of the temperatures; never negative
    """

    kinds: tuple[FeederKind, ...]
    length_mm: FloatArray
    spread_log: FloatArray
    start_day: IntArray

    def __post_init__(self) -> None:
        shape = (len(self.kinds),)
        if not (self.length_mm.shape == self.spread_log.shape == self.start_day.shape == shape):
            raise Refusal(
                "one length, spread and first day a lot were wanted", got=f"{len(self.kinds)} kinds"
            )
        if np.any(self.start_day < 0):
            raise Refusal(
                "a lot in the house starts on day 0, with its length of that day", got="a day before"
            )
        if np.any(self.length_mm <= 0):
            raise Refusal("a feeder's length is above 0 mm", got=f"{np.nanmin(self.length_mm):g} mm")


@dataclass(frozen=True)
class Profiles:
    """What becomes of one feeder of each lot, sampled at the start of each week; shares, not numbers.

    arrives [L, W]    share of the lot's number that comes into use in that week
    stays [L, W]      share of those in use and not eaten that still is in use a week later
    dies [L, W]       share that died within the week
    outgrows [L, W]   share that grew out of size within the week; the three add up to 1
    fits [L, W, C]    share of those in use whose length falls into class c
    length_mm [L, W]  median length of those living (NaN before the lot is there or unknown)
    adult [L, W]      share of those in use that is adult
    outside_days [L]  days on which the temperature lay outside the range the law was seen in
    unread_days [L]   days without a known temperature, taken at 23 C
    unknown [L]       lots of unknown length: they serve nothing here
    """

    arrives: FloatArray
    stays: FloatArray
    dies: FloatArray
    outgrows: FloatArray
    fits: FloatArray
    length_mm: FloatArray
    adult: FloatArray
    outside_days: IntArray
    unread_days: IntArray
    unknown: BoolArray


def development_share(kind: FeederKind, length_mm: float) -> float:
    """Share of development of a feeder of this length [mm]; kinds sold as adults only: 1; NaN: unknown."""
    if not kind.grows:
        return 1.0
    if math.isnan(length_mm):
        return math.nan
    share = math.log(length_mm / kind.hatch_mm) / math.log(kind.adult_mm / kind.hatch_mm)
    return min(max(share, 0.0), 1.0)


def length_at(kind: FeederKind, share: FloatArray) -> FloatArray:
    """Body length [mm] at a share of development, any shape; adults have the adult length."""
    ratio = kind.adult_mm / kind.hatch_mm
    return np.asarray(kind.hatch_mm * ratio ** np.clip(share, 0.0, 1.0))


def project(lots: Lots, temperature_c: FloatArray, classes: SizeClasses, weeks: int) -> Profiles:
    """Grow every lot for so many weeks.

    temperature_c [L, D]   daily mean where the lot stands [C], D >= 7 weeks; NaN unknown: taken at 23 C
                           (as `science.thermal`) and counted in `unread_days`
    """
    days = DAYS_A_WEEK * weeks + 1
    if (
        temperature_c.ndim != 2
        or temperature_c.shape[0] != len(lots.kinds)
        or temperature_c.shape[1] < days - 1
    ):
        raise Refusal(f"{days - 1} days of temperature a lot were wanted", got=f"shape {temperature_c.shape}")
    rows = [_one(lots, row, temperature_c[row, : days - 1], classes, weeks) for row in range(len(lots.kinds))]
    return stack(rows) if rows else _empty(weeks, classes.count)


def stack(rows: Sequence[Profiles]) -> Profiles:
    """Join profiles of the same weeks and classes, lot after lot."""
    names = Profiles.__dataclass_fields__
    return Profiles(**{name: np.concatenate([getattr(row, name) for row in rows]) for name in names})


def _empty(weeks: int, classes: int) -> Profiles:
    flat, none = np.zeros((0, weeks)), np.zeros(0, dtype=np.int64)
    return Profiles(
        flat, flat, flat, flat, np.zeros((0, weeks, classes)), flat, flat, none, none, none.astype(np.bool_)
    )


def _normal_cdf(value: FloatArray) -> FloatArray:
    from scipy.special import ndtr

    return np.asarray(ndtr(value), dtype=np.float64)


def _adult_survival(kind: FeederKind, days: int) -> FloatArray:
    """Share of adults alive 0, 1, 2 ... days after the last moult: gamma with the kind's mean and sd."""
    from scipy.special import gammaincc

    mean, sd = kind.adult_days
    shape = (mean / sd) ** 2
    return np.asarray(gammaincc(shape, np.arange(days) * shape / mean), dtype=np.float64)


@dataclass(frozen=True)
class _Course:
    """One lot day by day from its first day: mean and sd of u, share surviving as young, adults alive."""

    mean: FloatArray
    sd: FloatArray
    young: FloatArray
    adults: FloatArray

    def below(self, share: float) -> FloatArray:
        """Share of feeders whose development is below `share`, never rising."""
        if share == math.inf:
            return np.ones_like(self.mean)
        spread = np.maximum(self.sd, 1e-9)
        return np.asarray(np.minimum.accumulate(_normal_cdf((share - self.mean) / spread)))


def _course(kind: FeederKind, share: float, spread_log: float, daily_rate: FloatArray) -> _Course:
    progress = np.concatenate([[0.0], np.cumsum(daily_rate)])
    days = progress.size
    young = np.exp(np.log1p(-kind.deaths_per_day) * np.arange(days))
    if not kind.grows:
        adults = _adult_survival(kind, days)
        return _Course(np.full(days, 2.0), np.zeros(days), np.zeros(days), adults)
    grade = spread_log / math.log(kind.adult_mm / kind.hatch_mm)
    course = _Course(share + progress, np.sqrt(grade**2 + (kind.pace_sd_log * progress) ** 2), young, young)
    matured = young * -np.diff(course.below(1.0), prepend=1.0)
    adults = np.convolve(matured, _adult_survival(kind, days))[:days]
    return _Course(course.mean, course.sd, young, adults)


def _edge_share(kind: FeederKind, length_mm: float) -> float:
    """Development at which this length is reached; infinite when no feeder of the kind ever reaches it."""
    if length_mm > kind.adult_mm:
        return math.inf
    if not kind.grows or length_mm <= 0.0:
        return -math.inf
    return math.log(length_mm / kind.hatch_mm) / math.log(kind.adult_mm / kind.hatch_mm)


def _exit_share(kind: FeederKind, classes: SizeClasses) -> float:
    """Development from which a feeder serves no class any more."""
    top = _edge_share(kind, float(classes.high_mm[-1]))
    return min(top, 1.0) if not kind.adults_offered or top != math.inf else math.inf


def _one(lots: Lots, row: int, temperature_c: FloatArray, classes: SizeClasses, weeks: int) -> Profiles:
    kind, start = lots.kinds[row], int(lots.start_day[row])
    unread = np.isnan(temperature_c)
    filled = np.where(unread, UNREAD_PLACE_C, temperature_c)
    share = development_share(kind, float(lots.length_mm[row]))
    first_week = -(-start // DAYS_A_WEEK)
    out = _blank(weeks, classes.count)
    out.outside_days[0] = int(outside(kind.law, filled[start:]).sum()) if kind.grows else 0
    out.unread_days[0] = int(unread[start:].sum())
    if math.isnan(share):
        out.unknown[0] = True
    if math.isnan(share) or first_week >= weeks:
        return out
    spread = float(lots.spread_log[row])
    spread = feeders_from_memory.GRADE_SD_LOG if math.isnan(spread) else spread
    course = _course(kind, share, spread, kind.law.rate(filled[start:]))
    at = np.arange(first_week, weeks + 1) * DAYS_A_WEEK - start
    out.arrives[0, first_week] = 1.0
    _fill(out, kind, classes, course, at, first_week)
    return out


def _blank(weeks: int, classes: int) -> Profiles:
    flat = np.zeros((1, weeks))
    return Profiles(
        flat.copy(), flat.copy(), np.ones((1, weeks)), flat.copy(), np.zeros((1, weeks, classes)),
        np.full((1, weeks), np.nan), flat.copy(),
        np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.bool_),
    )  # fmt: skip


def _fill(
    out: Profiles, kind: FeederKind, classes: SizeClasses, course: _Course, at: IntArray, first: int
) -> None:
    """Write the weekly shares of one lot into its row; `at` are its days at the starts of weeks."""
    leave = _exit_share(kind, classes)
    below_exit = course.below(min(leave, 1.0))
    young = course.young * below_exit
    adults = course.adults if leave == math.inf else np.zeros_like(young)
    in_use = (young + adults)[at]
    gone = _outgrown(kind, course, below_exit, leave)[at]
    # On arrival everybody is alive and counts as in use; who is too long already leaves in the first week.
    in_use[0], gone[0] = 1.0, 0.0
    safe = np.maximum(in_use[:-1], 1e-300)
    stays = np.where(in_use[:-1] > 1e-9, np.minimum(in_use[1:] / safe, 1.0), 0.0)
    outgrows = np.where(in_use[:-1] > 1e-9, np.minimum(np.diff(gone) / safe, 1.0 - stays), 0.0)
    out.stays[0, first:], out.outgrows[0, first:] = stays, outgrows
    out.dies[0, first:] = 1.0 - stays - outgrows
    out.length_mm[0, first:] = length_at(kind, course.mean[at[:-1]])
    out.adult[0, first:] = np.where(in_use[:-1] > 1e-9, adults[at[:-1]] / safe, 0.0)
    for column, (low, high) in enumerate(zip(classes.low_mm, classes.high_mm, strict=True)):
        low_share, high_share = _edge_share(kind, float(low)), _edge_share(kind, float(high))
        reached = np.minimum(course.below(min(high_share, 1.0)), below_exit)
        inside = course.young * np.maximum(reached - course.below(min(low_share, 1.0)), 0.0)
        inside += adults if low <= kind.adult_mm < high else 0.0
        out.fits[0, first:, column] = np.where(in_use[:-1] > 1e-9, inside[at[:-1]] / safe, 0.0)


def _outgrown(kind: FeederKind, course: _Course, below_exit: FloatArray, leave: float) -> FloatArray:
    """Cumulative share that left by growing out of size, alive when it did."""
    if leave == math.inf:
        return np.zeros_like(below_exit)
    if not kind.grows:
        return np.ones_like(below_exit)
    leaving = np.diff(below_exit, prepend=1.0)
    return np.asarray(np.cumsum(course.young * -leaving))


def project_culture(
    kind: FeederKind, start_day: int, temperature_c: FloatArray, classes: SizeClasses, weeks: int
) -> Profiles:
    """Flies of one culture set up on `start_day` [day from the first temperature; may be negative].

    temperature_c [D]   daily mean from day 0 on [C]; before day 0 the first value stands; NaN: 23 C

    First flies come after the kind's `first_days` or once the egg-to-fly time has run at these temperatures,
    whichever is later; then evenly for `gives_days`. Flies in it die at a constant rate of 1 / `fly_days`.
    Shares are of the culture's whole yield: `arrives` adds up to less than 1 where it still gives, or gave
    before day 0.
    """
    culture = kind.culture
    if culture is None:
        raise Refusal("only flies are kept as cultures here", got=kind.name)
    unread = np.isnan(temperature_c)
    filled = np.where(unread, UNREAD_PLACE_C, temperature_c)
    first = start_day + max(culture.first_days, _days_to_fly(kind, start_day, filled))
    edges = np.arange(weeks + 1) * DAYS_A_WEEK
    out = _blank(weeks, classes.count)
    given = np.clip((edges - first) / culture.gives_days, 0.0, 1.0)
    # A week's flies are there to be fed in it: those that came before day 0 are counted by the keeper.
    out.arrives[0] = np.diff(given)
    out.stays[0] = math.exp(-DAYS_A_WEEK / culture.fly_days)
    out.dies[0] = 1.0 - out.stays[0]
    out.length_mm[0], out.adult[0] = kind.adult_mm, 1.0
    out.fits[0] = (classes.low_mm <= kind.adult_mm) & (kind.adult_mm < classes.high_mm)
    out.outside_days[0], out.unread_days[0] = int(outside(kind.law, filled).sum()), int(unread.sum())
    return out


def _days_to_fly(kind: FeederKind, start_day: int, temperature_c: FloatArray) -> float:
    """Days from set-up until development is done; the last temperature goes on for ever."""
    before = np.full(max(-start_day, 0), temperature_c[0])
    rate = kind.law.rate(np.concatenate([before, temperature_c[max(start_day, 0) :], temperature_c[-1:]]))
    done = np.concatenate([[0.0], np.cumsum(rate)])
    if done[-1] >= 1.0:
        return float(np.interp(1.0, done, np.arange(done.size)))
    return math.inf if rate[-1] <= 0.0 else done.size - 1 + float((1.0 - done[-1]) / rate[-1])
