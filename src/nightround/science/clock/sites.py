"""The likelihood of one interval, averaged over a normal doubt about its expected log length.

Each interval says something about its linear predictor eta through

    log D = eta + e,   e a mixture: the usual spread, a missed moult (two intervals in one), a wrong date.

Given eta ~ N(m, v), everything here is a closed form in normal distribution functions:

    window          P(lo < D <= hi)
    still waiting   p + (1 - p) P(D > lo),   p the chance that the last moult was the final one
    renewal         G(lo) - G(hi),  G(a) = E[(D - a)+] / E[D]: an arrival whose last moult is not known

`Moved` carries log Z and its first two derivatives in m, from which expectation propagation takes its
moments.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.clock.priors import (
    MISSED_EXTRA_SD,
    MISSED_SHIFT,
    WRONG_DATE_SD,
    WRONG_DATE_SHARE,
)
from nightround.science.thermal import FloatArray

_TINY: Final = 1e-250
_ROOT_TWO_PI: Final = float(np.sqrt(2.0 * np.pi))
_Z_LIMIT: Final = 30.0
_UNEXPLAINED: Final = 1e-12
_STEEPEST: Final = 1e4


@dataclass(frozen=True)
class Noise:
    """The mixture of e: weight, shift and variance of each component [C]."""

    weight: FloatArray
    shift: FloatArray
    variance: FloatArray

    @staticmethod
    def of(sigma: float, missed: float) -> Noise:
        """sigma: usual spread of log D; missed: share of intervals that hide a moult."""
        weight = np.array([1.0 - missed - WRONG_DATE_SHARE, missed, WRONG_DATE_SHARE])
        variance = np.array([sigma**2, sigma**2 / 2.0 + MISSED_EXTRA_SD**2, sigma**2 + WRONG_DATE_SD**2])
        return Noise(weight, np.array([0.0, MISSED_SHIFT, 0.0]), variance)


@dataclass(frozen=True)
class Sums:
    """Z and its first two derivatives with respect to the mean of eta (any shape)."""

    value: FloatArray
    first: FloatArray
    second: FloatArray


def phi(z: FloatArray) -> FloatArray:
    """Standard normal density."""
    return np.asarray(np.exp(-0.5 * z * z) / _ROOT_TWO_PI)


def ndtr(z: FloatArray) -> FloatArray:
    """Standard normal distribution function."""
    from scipy.special import ndtr as scipy_ndtr

    return np.asarray(scipy_ndtr(z), dtype=np.float64)


def between(low: FloatArray, high: FloatArray) -> FloatArray:
    """P(low < z <= high) without cancellation in the upper tail."""
    flip = low > 0.0
    return ndtr(np.where(flip, -low, high)) - ndtr(np.where(flip, -high, low))


def _clip(z: FloatArray) -> FloatArray:
    return np.minimum(np.maximum(z, -_Z_LIMIT), _Z_LIMIT)


def _stacked(noise: Noise, dimensions: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weights, shifts and variances of the components along a new first axis."""
    shape = (noise.weight.size,) + (1,) * dimensions
    return noise.weight.reshape(shape), noise.shift.reshape(shape), noise.variance.reshape(shape)


# Two-point Gauss-Legendre is exact to 1e-5 for windows narrower than this many standard deviations.
_NARROW: Final = 0.6
_GAUSS: Final = 0.5 / float(np.sqrt(3.0))


def narrow_window(
    log_low: FloatArray, log_high: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise
) -> Sums:
    """As `window`, but rows whose windows are all narrow take the density at two points."""
    least = np.sqrt(variance + noise.variance.min())
    width = (log_high - log_low) / least
    wide = np.max(width.reshape(width.shape[0], -1), axis=1, initial=0.0) > _NARROW
    if not wide.any():
        return _two_points(log_low, log_high, mean, variance, noise)
    if wide.mean() > 0.7:
        return window(log_low, log_high, mean, variance, noise)
    out = Sums(*(np.empty(log_low.shape) for _ in range(3)))
    for rows, form in ((wide, window), (~wide, _two_points)):
        part = form(log_low[rows], log_high[rows], mean[rows], variance[rows], noise)
        out.value[rows], out.first[rows], out.second[rows] = part.value, part.first, part.second
    return out


def _two_points(
    log_low: FloatArray, log_high: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise
) -> Sums:
    weight, shift, extra = _stacked(noise, log_low.ndim)
    inverse = 1.0 / np.sqrt(variance + extra)
    width = log_high - log_low
    centre = (0.5 * (log_high + log_low) - mean - shift) * inverse
    half = _GAUSS * width * inverse
    left, right = _clip(centre - half), _clip(centre + half)
    at_left, at_right = phi(left), phi(right)
    share = 0.5 * weight * width * inverse
    moved = left * at_left + right * at_right
    curved = (left**2 - 1.0) * at_left + (right**2 - 1.0) * at_right
    return Sums(
        (share * (at_left + at_right)).sum(axis=0),
        (share * inverse * moved).sum(axis=0),
        (share * inverse**2 * curved).sum(axis=0),
    )


def window(
    log_low: FloatArray, log_high: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise
) -> Sums:
    """P(low < D <= high | eta ~ N(mean, variance)); arrays broadcast; log_low may be -inf, log_high inf."""
    weight, shift, extra = _stacked(noise, log_low.ndim)
    spread = np.sqrt(variance + extra)
    centre = mean + shift
    low, high = _clip((log_low - centre) / spread), _clip((log_high - centre) / spread)
    density_low, density_high = phi(low), phi(high)
    share = weight / spread
    return Sums(
        (weight * between(low, high)).sum(axis=0),
        (share * (density_low - density_high)).sum(axis=0),
        (share / spread * (low * density_low - high * density_high)).sum(axis=0),
    )


def waiting(
    log_low: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise, chance_last: FloatArray
) -> Sums:
    """P(not moulted by `low` | eta ~ N(mean, variance)), with the chance that there is no further moult."""
    weight, shift, extra = _stacked(noise, log_low.ndim)
    spread = np.sqrt(variance + extra)
    low = _clip((log_low - mean - shift) / spread)
    share = weight * phi(low) / spread
    go_on = 1.0 - chance_last
    return Sums(
        chance_last + go_on * (weight * ndtr(-low)).sum(axis=0),
        go_on * share.sum(axis=0),
        go_on * (share / spread * low).sum(axis=0),
    )


def renewal_tail(log_a: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise) -> Sums:
    """G(a) = E[(D - a)+ | eta] / E[D | eta] averaged over eta ~ N(mean, variance); log_a may be -inf."""
    weight, shift, extra = _stacked(noise, log_a.ndim)
    swell = weight * np.exp(shift + extra / 2.0)
    total = swell.sum()
    # A wait of e^40 times the usual is never reached; the bound keeps 0 * inf out of the second term.
    exponent = log_a - mean + variance / 2.0
    scale = (
        weight
        * np.where(exponent > 40.0, 0.0, np.exp(np.minimum(np.maximum(exponent, -700.0), 40.0)))
        / total
    )
    spread = np.sqrt(variance + extra)
    near = _clip((mean + shift + extra - log_a) / spread)
    far = _clip((mean - variance + shift - log_a) / spread)
    steep_near, steep_far, share, reach = phi(near) / spread, phi(far) / spread, swell / total, ndtr(far)
    return Sums(
        (share * ndtr(near) - scale * reach).sum(axis=0),
        (share * steep_near - scale * (steep_far - reach)).sum(axis=0),
        (
            -share * near * steep_near / spread - scale * (reach - 2.0 * steep_far - far * steep_far / spread)
        ).sum(axis=0),
    )


def renewal(
    log_low: FloatArray, log_high: FloatArray, mean: FloatArray, variance: FloatArray, noise: Noise
) -> Sums:
    """P(the wait from arrival ends between low and high) for an unknown last moult."""
    low = renewal_tail(log_low, mean, variance, noise)
    high = renewal_tail(log_high, mean, variance, noise)
    # The difference of two tails is known to about 1e-15; a floor well above it stands for the unexplained.
    value = np.maximum(low.value - high.value, 0.0) + _UNEXPLAINED
    return Sums(value, low.first - high.first, low.second - high.second)


def weigh(sums: Sums, weight: FloatArray) -> Sums:
    """Sum Z and its derivatives over all axes but the first, with weights of the same shape."""
    axes = tuple(range(1, weight.ndim))
    return Sums(
        (weight * sums.value).sum(axis=axes),
        (weight * sums.first).sum(axis=axes),
        (weight * sums.second).sum(axis=axes),
    )


def log_moments(sums: Sums) -> tuple[FloatArray, FloatArray, FloatArray]:
    """log Z and its first two derivatives in m."""
    value = np.maximum(sums.value, _TINY)
    slope = np.clip(sums.first / value, -_STEEPEST, _STEEPEST)
    return np.log(value), slope, np.clip(sums.second / value, -(_STEEPEST**2), _STEEPEST**2) - slope**2


@cache
def nodes() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gauss-Hermite nodes and weights for a standard normal [20]."""
    points, weights = np.polynomial.hermite_e.hermegauss(20)
    return points, weights / weights.sum()
