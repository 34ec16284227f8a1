"""Multiply a forecast's distribution by evidence and make it a distribution again."""

from __future__ import annotations

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.thermal import FloatArray


def middles(grid_days: FloatArray) -> FloatArray:
    """Days at which the evidence of each step is wanted [H]: between grid days, and the last one for never.

    grid_days [H]   ascending from 0; step h runs from grid day h - 1 to h (the first has no width)
    """
    return np.concatenate([grid_days[:1], (grid_days[1:] + grid_days[:-1]) / 2.0, grid_days[-1:]])[1:]


def tilted(cumulative: FloatArray, log_likelihood: FloatArray) -> FloatArray:
    """Return P(moulted by each grid day) once the evidence has multiplied every step.

    cumulative [N, H]       before; what is missing from 1 at the end is 'later, or never'
    log_likelihood [N, H]   at `middles`; column h: the step from grid day h on, the last: later
    A row whose evidence is the same everywhere comes back untouched, to the last digit.
    """
    if cumulative.shape != log_likelihood.shape:
        raise Refusal(f"evidence of shape {cumulative.shape} was wanted", got=f"{log_likelihood.shape}")
    out = cumulative.copy()
    says = np.flatnonzero(np.ptp(log_likelihood, axis=1) > 0.0)
    if not says.size:
        return out
    before, ours = cumulative[says], log_likelihood[says]
    steps = np.concatenate([np.diff(before, axis=1), 1.0 - before[:, -1:]], axis=1)
    weight = np.maximum(steps, 0.0) * np.exp(ours - ours.max(axis=1, keepdims=True))
    total = weight.sum(axis=1, keepdims=True)
    # Evidence that leaves nothing of the distribution leaves the distribution.
    usable = total[:, 0] > 1e-200
    sums = np.cumsum(weight[:, :-1], axis=1) / np.maximum(total, 1e-200)
    tail = np.concatenate([np.zeros((says.size, 1)), sums], axis=1) + before[:, :1]
    out[says[usable]] = np.clip(tail[usable], 0.0, 1.0)
    return out


def quantiles(grid_days: FloatArray, cumulative: FloatArray, levels: FloatArray) -> FloatArray:
    """Days at which each level is reached, linear between grid days; NaN where it never is [N, Q]."""
    rising = np.maximum.accumulate(cumulative, axis=1)
    out = np.full((cumulative.shape[0], levels.size), np.nan)
    for column, level in enumerate(levels):
        reached = rising[:, -1] >= level
        after = np.maximum(np.argmax(rising >= level, axis=1), 1)
        rows = np.arange(after.size)
        low, high = rising[rows, after - 1], rising[rows, after]
        share = np.clip((level - low) / np.maximum(high - low, 1e-300), 0.0, 1.0)
        days = grid_days[after - 1] + share * (grid_days[after] - grid_days[after - 1])
        out[:, column] = np.where(reached, days, np.nan)
    return out
