"""The same two layers as `balance`, in steps of half a day, for many multipliers and starts at once.

Equations and tables are those of `balance`; each step is a linearly implicit one of second order (ROS2,
gamma = 1 - 1/sqrt 2, stable at any step), where `balance` takes several explicit ones. Of losses after ten
days and more 98 in 100 lie within 1 % of it, all within 8 % (tested; most where a home dries out). What is
lost is the difference of what is there, so the balance closes by itself.

Arrays are [A, C]: cases (multiplier and start) by columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.water.balance import REST, TOP
from nightround.science.water.columns import POINTS, Columns

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GAMMA: Final = 1.0 - 1.0 / np.sqrt(2.0)
# As in `balance` by steps of two hours.
LAST_PER_HOUR: Final = 0.3


class Layers:
    """Rates of change of the two layers and how they depend on the water in them."""

    def __init__(self, columns: Columns) -> None:
        count = columns.count
        self.to_index = ((POINTS - 1) / columns.full)[:, None, :]
        self.base = (np.arange(2 * count) * POINTS).reshape(2, 1, count)
        padded = np.concatenate([np.diff(columns.table, axis=2), np.zeros((2, count, 1))], axis=2)
        self.value, self.rise = columns.table.ravel(), padded.ravel()
        self.surface = columns.surface
        self.to_share = (1.0 / np.maximum(columns.critical, 1e-9))[:, None, :]
        self.depth = columns.depth

    def flows(self, water: FloatArray) -> tuple[FloatArray, FloatArray]:
        """F(top) and F_eq(rest) [2, A, C] and their slopes."""
        at = np.clip(water * self.to_index, 0.0, POINTS - 1.0)
        index = at.astype(np.int64)
        np.subtract(at, index, out=at)
        index += self.base
        rise = np.take(self.rise, index, mode="clip")
        at *= rise
        at += np.take(self.value, index, mode="clip")
        rise *= self.to_index
        return at, rise

    def rates(self, water: FloatArray, demand: FloatArray, crust: FloatArray) -> FloatArray:
        """Change per hour [2, A, C]."""
        flow, _ = self.flows(water)
        dry = 1.0 - np.clip(water * self.to_share, 0.0, 1.0)
        liquid = np.minimum(flow[TOP] * self.surface, demand)
        wall = crust * dry[TOP] * (self.depth[TOP] + dry[REST] * self.depth[REST])
        vapour = np.minimum(demand / (1.0 + wall), demand - liquid)
        left = np.maximum(water, 0.0) * LAST_PER_HOUR
        below = np.minimum(dry[TOP] * vapour, left[REST])
        above = np.minimum((1.0 - dry[TOP]) * vapour, left[TOP])
        lift = flow[REST] - flow[TOP]
        return np.stack([lift - liquid - above, -lift - below])

    def slopes(
        self, water: FloatArray, demand: FloatArray, crust: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Rates, and their derivatives by top and rest [4, A, C]: (top by top, top by rest, rest by top, by
        rest).
        """
        flow, slope = self.flows(water)
        share = water * self.to_share
        partly = (share > 0.0) & (share < 1.0)
        wet = np.clip(share, 0.0, 1.0)
        dry = 1.0 - wet
        asked = flow[TOP] * self.surface
        supplied = asked < demand
        liquid = np.where(supplied, asked, demand)
        liquid_by = np.where(supplied, slope[TOP] * self.surface, 0.0)
        path = self.depth[TOP] + dry[REST] * self.depth[REST]
        through = demand / (1.0 + crust * dry[TOP] * path)
        held = through < demand - liquid
        vapour = np.where(held, through, demand - liquid)
        dry_by = partly * self.to_share
        steep = np.where(held, through * through / np.maximum(demand, 1e-12) * crust, 0.0)
        vapour_by_top = np.where(held, steep * path * dry_by[TOP], -liquid_by)
        vapour_by_rest = steep * dry[TOP] * self.depth[REST] * dry_by[REST]
        left = np.maximum(water, 0.0) * LAST_PER_HOUR
        above, below = wet[TOP] * vapour, dry[TOP] * vapour
        last_above, last_below = above > left[TOP], below > left[REST]
        above_by_top = np.where(last_above, LAST_PER_HOUR, dry_by[TOP] * vapour + wet[TOP] * vapour_by_top)
        above_by_rest = np.where(last_above, 0.0, wet[TOP] * vapour_by_rest)
        below_by_top = np.where(last_below, 0.0, dry[TOP] * vapour_by_top - dry_by[TOP] * vapour)
        below_by_rest = np.where(last_below, LAST_PER_HOUR, dry[TOP] * vapour_by_rest)
        above, below = np.minimum(above, left[TOP]), np.minimum(below, left[REST])
        lift = flow[REST] - flow[TOP]
        change = np.stack([lift - liquid - above, -lift - below])
        by = np.stack([
            -slope[TOP] - liquid_by - above_by_top, slope[REST] - above_by_rest,
            slope[TOP] - below_by_top, -slope[REST] - below_by_rest,
        ])  # fmt: skip
        return change, by

    def forward(self, water: FloatArray, demand: FloatArray, crust: FloatArray, hours: float) -> FloatArray:
        """Water after one step of so many hours under one mean demand [mm/h]."""
        change, by = self.slopes(water, demand, crust)
        a, b, c, d = by * (-GAMMA * hours)
        a += 1.0
        d += 1.0
        scale = 1.0 / (a * d - b * c)
        first = _solved(a, b, c, d, scale, change)
        middle = np.maximum(water + hours * first, 0.0)
        second = _solved(a, b, c, d, scale, self.rates(middle, demand, crust) - 2.0 * first)
        return np.maximum(water + hours * (1.5 * first + 0.5 * second), 0.0)


def _solved(
    a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray, scale: FloatArray, right: FloatArray
) -> FloatArray:
    return np.stack([(d * right[0] - b * right[1]) * scale, (a * right[1] - c * right[0]) * scale])


@dataclass(frozen=True)
class Poured:
    """Water given to a column at a step's start [mm]: in all cases alike, or [A]."""

    step: int
    column: int
    water_mm: float | FloatArray
    deep: bool


def follow(
    columns: Columns,
    start_mm: FloatArray,
    starts: IntArray,
    demand: FloatArray,
    crust_per_mm: FloatArray,
    multiplier: FloatArray,
    step_hours: FloatArray,
    poured: list[Poured],
    off: FloatArray | None = None,
) -> FloatArray:
    """Water of top and rest [S + 1, 2, A, C] at the borders of the steps; NaN before a column's start.

    start_mm [2, A, C], starts [C] (step), demand and crust_per_mm [S, C] at m = 1, multiplier [A, C],
    step_hours [S], off [S, A] factor of each step's demand
    """
    layers = Layers(columns)
    state = start_mm.copy()
    kept = np.empty((len(step_hours) + 1, *state.shape))
    by_step: dict[int, list[Poured]] = {}
    for one in poured:
        by_step.setdefault(one.step, []).append(one)
    begun = {int(step): np.flatnonzero(starts == step) for step in np.unique(starts)}
    started = np.zeros(columns.count, dtype=bool)
    for step in range(len(step_hours) + 1):
        if step in begun:
            fresh = begun[step]
            state[:, :, fresh] = start_mm[:, :, fresh]
            started[fresh] = True
        kept[step] = state if started.all() else np.where(started, state, np.nan)
        if step == len(step_hours):
            break
        for one in by_step.get(step, []):
            state[REST if one.deep else TOP, :, one.column] += one.water_mm
        asked = demand[step] * multiplier
        if off is not None:
            asked *= off[step][:, None]
        state = layers.forward(state, asked, crust_per_mm[step] * multiplier, float(step_hours[step]))
    return kept
