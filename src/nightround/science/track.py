"""How forecasts did: levels, product-limit shares with censored waits, and by what windows must be widened.

The *level* of an outcome is the chance that the forecast had given to an earlier one: 0.5 is its median. If
forecasts are right, levels are uniform on (0, 1) (Dawid 1984, J. R. Statist. Soc. A 147:278). A wait that
still runs has a level of at least what its forecast gave to the days that have passed: it is censored there,
and the share of levels up to u follows from Kaplan & Meier's product limit (1958, J. Am. Statist. Ass.
53:457). Counting finished waits alone would be wrong: short ones finish first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.thermal import BoolArray, FloatArray

# Spread of the factor by which a room's errors differ from what its forecasts claim, on the log scale, and of
# its groups about it: most rooms within 0.6 to 1.8 times, groups within a fifth of their room.
SPREAD_SD: Final = 0.35
GROUP_SD: Final = 0.10
# Part of the error that forecasts of one group and month share (an assumption: one autumn that slows a whole
# room is one piece of evidence, not a hundred).
ALIKE: Final = 0.25
# Windows are widened when the chance that errors are wider than claimed is at least this.
SURE: Final = 0.90
_GRID: Final = np.linspace(-0.7, 1.1, 121)
# Levels outside what was told are known to lie beyond it, no more.
LEVEL_LIMITS: Final = (1e-4, 1.0 - 1e-4)


@dataclass(frozen=True)
class Curve:
    """Shares of outcomes up to each claimed level, with their doubt.

    claimed, share, low, high [U]   low to high: Wilson's interval for the effective number
    effective [U]                   binomial number with the same variance
    """

    claimed: FloatArray
    share: FloatArray
    low: FloatArray
    high: FloatArray
    effective: FloatArray


def wilson(share: FloatArray, number: FloatArray, confidence: float = 0.9) -> tuple[FloatArray, FloatArray]:
    """Return Wilson's score interval (1927, J. Am. Statist. Ass. 22:209) of shares of so many [U]."""
    from scipy.special import ndtri

    z = float(ndtri(0.5 + confidence / 2.0))
    number = np.maximum(np.asarray(number, dtype=np.float64), 1e-9)
    middle = (share + z * z / (2.0 * number)) / (1.0 + z * z / number)
    half = z * np.sqrt(share * (1.0 - share) / number + z * z / (4.0 * number**2)) / (1.0 + z * z / number)
    return np.maximum(middle - half, 0.0), np.minimum(middle + half, 1.0)


def _limit(level: FloatArray, known: BoolArray, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return survival of levels past each of `at`, Greenwood's sum, and how many were known to reach it."""
    order = np.lexsort((~known, level))
    level, known = level[order], known[order]
    at_risk = np.arange(level.size, 0, -1, dtype=np.float64)
    alive = np.append(1.0, np.cumprod(np.where(known, 1.0 - 1.0 / at_risk, 1.0)))
    left = np.maximum(at_risk - 1.0, 1e-12)
    growth = np.append(0.0, np.cumsum(np.where(known, 1.0 / (at_risk * left), 0.0)))
    place = np.searchsorted(level, at, side="right")
    told = np.array([float(((level > value) | known).sum()) for value in at])
    return alive[place], growth[place], told


def _effective(share: FloatArray, variance: FloatArray, told: FloatArray) -> FloatArray:
    """Binomial number with that variance; where nothing varies, the number that was told of [U]."""
    varies = (share > 1e-9) & (share < 1.0 - 1e-9) & (variance > 0.0) & (variance < 1.0)
    return np.where(varies, share * (1.0 - share) / np.where(varies, variance, 1.0), told)


def product_limit(level: FloatArray, known: BoolArray, claimed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the share of levels up to each claimed one, and its effective number [U], [U].

    level [N]     level of each outcome, or the level that it is known to exceed where not `known`
    A tie counts the known before the censored. With no censoring it is the plain share of N.
    """
    survival, greenwood, told = _limit(level, known, claimed)
    share = 1.0 - survival
    return share, _effective(share, survival**2 * greenwood, told)


def window_share(
    level: FloatArray, known: BoolArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the share of outcomes with levels from `low` to `high`, and its effective number [W], [W].

    Variance by the delta method from Greenwood's sums at both ends.
    """
    below, sum_below, _ = _limit(level, known, low)
    above, sum_above, told = _limit(level, known, high)
    kept = np.divide(above, below, out=np.zeros_like(above), where=below > 0.0)
    variance = below**2 * (kept**2 * (sum_above - sum_below) + (1.0 - kept) ** 2 * sum_below)
    share = below - above
    return share, _effective(share, variance, told)


def calibration(level: FloatArray, known: BoolArray, claimed: FloatArray, confidence: float = 0.9) -> Curve:
    """Return the calibration curve of levels [N], censored where not `known`, at the claimed levels [U]."""
    share, effective = product_limit(level, known, claimed)
    low, high = wilson(share, effective, confidence)
    return Curve(claimed, share, low, high, effective)


def weights(interval: Sequence[Hashable], crowd: Sequence[Hashable]) -> FloatArray:
    """Return how much each forecast says of the spread of errors [N].

    interval [N]   forecasts of one interval share its one outcome: together they count once
    crowd [N]      forecasts of one group and month share their errors: m of them count m / (1 + (m - 1) / 4)
    """
    shared = Counter(interval)
    own = np.array([1.0 / shared[name] for name in interval])
    together: dict[Hashable, float] = {}
    for name, part in zip(crowd, own, strict=True):
        together[name] = together.get(name, 0.0) + part
    many = np.array([1.0 + max(together[name] - 1.0, 0.0) * ALIKE for name in crowd])
    return np.asarray(own / many)


@dataclass(frozen=True, slots=True)
class Spread:
    """By how much a group's errors are wider than its forecasts claim.

    factor       posterior median of the ratio, low to high its central 90 %
    sure         posterior chance that it is above 1
    intervals    how many intervals speak (two forecasts of one interval are one)
    """

    factor: float
    low: float
    high: float
    sure: float
    intervals: float

    @property
    def applied(self) -> float:
        """By what forecasts are widened: 1 unless their errors are surely wider than claimed."""
        return self.factor if self.sure >= SURE and self.factor > 1.0 else 1.0


def log_likelihood(low: FloatArray, high: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the log-likelihood of each factor on the grid [G], from levels between low and high [N].

    A factor s makes normal scores z of levels normal with spread s. An exact level has low == high.
    """
    from scipy.special import ndtr, ndtri

    scale = np.exp(_GRID)[:, None]
    exact = low == high
    z = ndtri(np.clip(low[exact], *LEVEL_LIMITS))
    total = np.asarray(-(0.5 * (z / scale) ** 2 + np.log(scale)) @ weight[exact])
    z_low, z_high = ndtri(low[~exact]) / scale, ndtri(high[~exact]) / scale
    between = np.log(np.maximum(ndtr(z_high) - ndtr(z_low), 1e-300))
    return np.asarray(total + between @ weight[~exact])


def spreads(
    low: FloatArray, high: FloatArray, weight: FloatArray, group: Sequence[str], wanted: Sequence[str]
) -> Mapping[str, Spread]:
    """Return by how much the errors of each wanted group are wider than claimed, groups pooled in the room.

    low, high [N]   between which levels each outcome lies (equal: known; high = 1: it still runs)
    weight [N]      how much each counts: half where an interval has two forecasts
    log factor = room + group, room ~ N(0, 0.35²), group about it with sd 0.10, on a grid.
    """
    names = np.array(group)
    by_group = {
        name: log_likelihood(low[names == name], high[names == name], weight[names == name])
        for name in sorted(set(group))
    }
    about = -0.5 * ((_GRID[:, None] - _GRID[None, :]) / GROUP_SD) ** 2  # [room, group]
    about -= _log_sum(about)[:, None]
    seen = {name: _log_sum(about + likelihood) for name, likelihood in by_group.items()}
    room = -0.5 * (_GRID / SPREAD_SD) ** 2 + sum(seen.values(), np.zeros(_GRID.size))
    answers = {}
    for name in wanted:
        others = room - seen[name] if name in seen else room
        own = by_group.get(name, np.zeros(_GRID.size))
        log_posterior = _log_sum((others[:, None] + about).T) + own
        number = float(weight[names == name].sum()) if len(group) else 0.0
        answers[name] = _spread(log_posterior, number)
    return answers


def _log_sum(values: FloatArray) -> FloatArray:
    """Log of the summed exponentials over the last axis."""
    top = values.max(axis=-1, keepdims=True)
    return np.asarray(top[..., 0] + np.log(np.exp(values - top).sum(axis=-1)))


def _spread(log_posterior: FloatArray, intervals: float) -> Spread:
    mass = np.exp(log_posterior - log_posterior.max())
    mass /= mass.sum()
    # Each grid value stands for its cell: the distribution function is linear inside.
    edges = np.append(_GRID - 0.5 * (_GRID[1] - _GRID[0]), _GRID[-1] + 0.5 * (_GRID[1] - _GRID[0]))
    total = np.append(0.0, np.cumsum(mass))
    low, middle, high = np.exp(np.interp((0.05, 0.5, 0.95), total, edges))
    sure = 1.0 - float(np.interp(0.0, edges, total))
    return Spread(float(middle), float(low), float(high), sure, intervals)


def widened(cumulative: FloatArray, factor: FloatArray) -> FloatArray:
    """Return distribution functions [A, H] with their spread multiplied by `factor` [A].

    Normal scores are divided by the factor around each distribution's own median. Nothing happens before the
    close of the day (0 stays 0), and the chance of no further moult stays what it is.
    """
    from scipy.special import ndtr, ndtri

    reached = cumulative[:, -1:]
    share = np.divide(cumulative, reached, out=np.zeros_like(cumulative), where=reached > 0.0)
    wider = ndtr(ndtri(np.clip(share, 0.0, 1.0)) / factor[:, None])
    return np.where(factor[:, None] == 1.0, cumulative, wider * reached)


def unwidened(level: FloatArray, factor: FloatArray) -> FloatArray:
    """Return the levels [N] that outcomes would have had without a widening by `factor` [N]."""
    from scipy.special import ndtr, ndtri

    return np.asarray(np.where(factor == 1.0, level, ndtr(ndtri(level) * factor)))


def crps(days: FloatArray, cumulative: FloatArray, truth: float) -> float:
    """Return the continuous ranked probability score, in days, of a distribution linear between its points.

    days, cumulative [P]   ascending from (0, 0); beyond the last day the chance stays what it is there
    The integral runs to the last day or to the truth, whichever is later.
    """
    points = np.unique(np.concatenate([days, [truth], [max(days[-1], truth)]]))
    level = np.interp(points, days, cumulative)
    step = np.diff(points)
    begun = points[:-1] >= truth
    left, right = level[:-1] - begun, level[1:] - begun
    return float((step * (left * left + left * right + right * right)).sum() / 3.0)
