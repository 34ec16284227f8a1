"""The level of a daily series with gaps, and its yearly swing, with a doubt that knows of memory.

    y(d) = x(d)' beta + e(d),   cov(e(d), e(d + k)) = s2 * ((1 - w) * phi**k + w * [k = 0])

x is 1, or 1, cos and sin of the year. Errors remember (phi) and carry some noise of their own each day (w:
a reading's rounding, a draught). phi and w are not known: they are averaged over a grid, each point weighted
by its restricted likelihood (beta and s2 integrated out, s2 with the scale prior). At each point beta is
Student distributed with n - k degrees of freedom, so the answer is a mixture of Student laws. The likelihood
comes from Kalman's recursion for an AR(1) state seen with noise; a missing day is a step without a reading.

Sources: Harvey & Phillips 1979 (Biometrika 66:49) for regression with such errors by Kalman's recursion;
Harville 1974 (Biometrika 61:383) for the restricted likelihood. Prior: phi and w uniform from
0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.thermal import FloatArray, IntArray

YEAR_DAYS: Final = 365.25
# Longer series are averaged over blocks of days: the recursion takes one step a block.
MOST_STEPS: Final = 420
_PHI: Final = np.array([0.0, 0.2, 0.4, 0.55, 0.68, 0.78, 0.86, 0.92, 0.96, 0.985])
_NOISE: Final = np.array([0.0, 0.2, 0.45, 0.7, 0.88])
_DRAWS: Final = 4000


def _edges(values: FloatArray) -> FloatArray:
    """Ends of the stretch from 0 to 1 that each point of a grid stands for."""
    return np.concatenate([[0.0], (values[1:] + values[:-1]) / 2.0, [1.0]])


def _grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """phi, w and log prior weight of each grid point [G]; without memory all error is noise."""
    phi, noise = np.meshgrid(_PHI[1:], _NOISE, indexing="ij")
    of_phi = np.diff(_edges(_PHI))
    weight = np.outer(of_phi[1:], np.diff(_edges(_NOISE)))
    return (
        np.concatenate([[0.0], phi.ravel()]),
        np.concatenate([[1.0], noise.ravel()]),
        np.log(np.concatenate([of_phi[:1], weight.ravel()])),
    )


GRID_PHI, GRID_NOISE, GRID_LOG_PRIOR = _grid()


@dataclass(frozen=True)
class Level:
    """What a series says of its level: a mixture of Student laws over the grid.

    beta [G, K], covariance [G, K, K]   location and squared scale of the coefficients at each grid point
    weight [G]                          posterior weight of the grid points
    freedom                             degrees of freedom
    error_sd                            sd of one day's error about the level
    memory                              posterior mean of phi (1 - w), per step of `block_days`
    n                                   days known
    """

    beta: FloatArray
    covariance: FloatArray
    weight: FloatArray
    freedom: int
    error_sd: float
    memory: float
    block_days: int
    n: int

    def mean(self, contrast: FloatArray) -> float:
        """Posterior mean of contrast' beta."""
        return float(self.weight @ (self.beta @ contrast))

    def sd(self, contrast: FloatArray) -> float:
        """Posterior sd of contrast' beta (of the mixture; finite from three degrees of freedom on)."""
        location, scale2 = self._law(contrast)
        inflate = self.freedom / (self.freedom - 2.0) if self.freedom > 2 else np.inf
        mean = float(self.weight @ location)
        return float(np.sqrt(self.weight @ (scale2 * inflate + (location - mean) ** 2)))

    def interval(self, contrast: FloatArray, level: float = 0.95) -> tuple[float, float]:
        """The central interval that holds contrast' beta with that chance."""
        from scipy.special import stdtr, stdtrit

        location, scale2 = self._law(contrast)
        scale = np.sqrt(np.maximum(scale2, 1e-18))
        ends = []
        for share in ((1.0 - level) / 2.0, (1.0 + level) / 2.0):
            # A mixture's quantile lies between those of its parts.
            parts = location + scale * stdtrit(self.freedom, share)
            low, high = float(parts.min()), float(parts.max())
            for _ in range(30):
                middle = (low + high) / 2.0
                below = float(self.weight @ stdtr(self.freedom, (middle - location) / scale))
                low, high = (middle, high) if below < share else (low, middle)
            ends.append((low + high) / 2.0)
        return ends[0], ends[1]

    def draws(self, number: int = _DRAWS, seed: int = 20261125) -> FloatArray:
        """Draws of beta [number, K], the same every time."""
        rng = np.random.default_rng(seed)
        point = rng.choice(self.weight.size, size=number, p=self.weight)
        root = np.linalg.cholesky(self.covariance + 1e-18 * np.eye(self.beta.shape[1]))
        normal = rng.standard_normal((number, self.beta.shape[1]))
        tail = np.sqrt(self.freedom / rng.chisquare(self.freedom, number))
        step = np.einsum("nij,nj->ni", root[point], normal)
        return np.asarray(self.beta[point] + step * tail[:, None])

    def _law(self, contrast: FloatArray) -> tuple[FloatArray, FloatArray]:
        return self.beta @ contrast, np.einsum("i,gij,j->g", contrast, self.covariance, contrast)


def year_terms(day: FloatArray | IntArray) -> FloatArray:
    """1, cos and sin of the year [T, 3] for day numbers; the phase counts from day number 0."""
    angle = 2.0 * np.pi * np.asarray(day, dtype=np.float64) / YEAR_DAYS
    return np.stack([np.ones_like(angle), np.cos(angle), np.sin(angle)], axis=-1)


def fit_levels(first_day: int, series: FloatArray, *, with_year: bool) -> tuple[Level | None, ...]:
    """Fit each row of `series` [P, T] (NaN where unknown); None for rows with too few days.

    Row by row the model of this module; rows share one recursion for speed only. A row needs four known
    days more than it has coefficients.
    """
    if series.ndim != 2:
        raise Refusal("a table of one row a series and one column a day", got=f"shape {series.shape}")
    if series.shape[1] == 0:
        return tuple(None for _ in series)
    size = max(1, -(-series.shape[1] // MOST_STEPS))
    values, counts, design = _blocks(first_day, series, size, with_year)
    scaled, log_f = _filtered(values, counts, design)
    return tuple(
        _posterior(scaled[:, row], log_f[row], counts[:, row], series[row], size)
        for row in range(series.shape[0])
    )


def _blocks(
    first_day: int, series: FloatArray, size: int, with_year: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Means [B, P] of the known days of each block, how many they were, and the mean regressors [B, P, K]."""
    days = first_day + np.arange(series.shape[1])
    terms = year_terms(days) if with_year else np.ones((days.size, 1))
    pad = -series.shape[1] % size
    known = np.pad(np.isfinite(series), ((0, 0), (0, pad)))
    filled = np.where(known, np.pad(series, ((0, 0), (0, pad)), constant_values=0.0), 0.0)
    terms = np.pad(terms, ((0, pad), (0, 0)))
    shape = (series.shape[0], -1, size)
    known_in = known.reshape(shape)
    counts = known_in.sum(axis=2).astype(np.float64)
    divisor = np.maximum(counts, 1.0)
    means = filled.reshape(shape).sum(axis=2) / divisor
    design = np.einsum("pbs,bsk->pbk", known_in.astype(np.float64), terms.reshape(-1, size, terms.shape[1]))
    design = design / divisor[:, :, None]
    return means.T, counts.T, np.swapaxes(design, 0, 1)


def _filtered(values: FloatArray, counts: FloatArray, design: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Whitened columns (y, x) [B, P, G, K + 1] and the sum of log innovation variances [P, G].

    Blocks without a reading give zeros, which add nothing.
    """
    columns = np.concatenate([values[:, :, None], design], axis=2)
    blocks, rows, width = columns.shape
    grid = GRID_PHI.size
    whitened = np.zeros((blocks, rows, grid, width))
    log_f = np.zeros((rows, grid))
    state = np.zeros((rows, grid, width))
    spread = np.broadcast_to(1.0 - GRID_NOISE, (rows, grid)).copy()
    shock = (1.0 - GRID_PHI**2) * (1.0 - GRID_NOISE)
    for block in range(blocks):
        seen = (counts[block] > 0)[:, None]
        variance = spread + GRID_NOISE / np.maximum(counts[block], 1.0)[:, None]
        gain = np.where(seen, spread / variance, 0.0)
        innovation = columns[block][:, None, :] - state
        whitened[block] = np.where(seen, 1.0 / np.sqrt(variance), 0.0)[:, :, None] * innovation
        log_f += np.where(seen, np.log(variance), 0.0)
        state = GRID_PHI[:, None] * (state + gain[:, :, None] * innovation)
        spread = GRID_PHI**2 * spread * (1.0 - gain) + shock
    return whitened, log_f


def _posterior(
    whitened: FloatArray, log_f: FloatArray, counts: FloatArray, series: FloatArray, size: int
) -> Level | None:
    width = whitened.shape[2] - 1
    n = int((counts > 0).sum())
    freedom = n - width
    if freedom < 4:
        return None
    products = np.einsum("bgi,bgj->gij", whitened, whitened)
    xx, xy, yy = products[:, 1:, 1:], products[:, 1:, 0], products[:, 0, 0]
    inverse = np.linalg.inv(xx + 1e-12 * np.eye(width))
    beta = np.einsum("gij,gj->gi", inverse, xy)
    # Readings are rounded: a series without any scatter still has the scatter of rounding to 0.1.
    rest = np.maximum(yy - np.einsum("gi,gi->g", xy, beta), freedom * (0.1 / np.sqrt(12.0)) ** 2)
    log_weight = GRID_LOG_PRIOR - 0.5 * log_f - 0.5 * np.linalg.slogdet(xx)[1] - 0.5 * freedom * np.log(rest)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    scale2 = rest / freedom
    known = int(np.isfinite(series).sum())
    return Level(
        beta,
        scale2[:, None, None] * inverse,
        weight,
        freedom,
        float(np.sqrt(weight @ scale2)),
        float(weight @ (GRID_PHI * (1.0 - GRID_NOISE))),
        size,
        known,
    )
