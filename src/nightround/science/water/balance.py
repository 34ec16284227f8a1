"""The water of many homes, hour by hour: what leaves is what the air asks for, or what the substrate can
give.

    loss = min(demand, liquid to the surface + vapour through the dry crust)

For each column (see `columns`), with demand E0 [mm/h], F flows [mm/h] and dryness d of a layer (0 wet, 1
dry):

    liquid   = min(E0, surface F(top))
    vapour   = min(E0 - liquid, E0 / (1 + k (d_top depth_top + d_top d_rest depth_rest)))
    d top    = F_eq(rest) - F(top) - liquid - (1 - d_top) vapour
    d rest   = F(top) - F_eq(rest) - d_top vapour

k is the home's conductance per area over the crust's diffusivity; neither share of the vapour takes more
than 0.3 of its layer's water an hour, so that nothing becomes negative. Water beyond saturation stands in
its layer and is counted. What is lost is a state of its own, integrated with the others by
the classical fourth-order Runge-Kutta step: the balance closes to rounding. All columns go together, an
hour or some hours a step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water.columns import LAST_PER_HOUR, LONGEST_STEP_HOURS, POINTS, Columns

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOP: Final = 0
REST: Final = 1


@dataclass(frozen=True)
class Watering:
    """Water given at the start of `hour` [mm] to one column or an array of columns (each once).

    `deep` goes to the rest, otherwise to the top.
    """

    hour: int
    column: int | IntArray
    water_mm: float | FloatArray
    deep: bool = False


@dataclass(frozen=True)
class Course:
    """What became of the water.

    hour [K]        hours at whose end the water stands; the last one always among them
    water [K, 2, C] top and rest, above air-dry [mm]
    lost [K, C]     water lost since the start [mm]
    given [C]       water given since the start [mm]
    """

    hour: IntArray
    water: FloatArray
    lost: FloatArray
    given: FloatArray


class _Step:
    """One explicit fourth-order step of an hour for all columns, in memory set aside once."""

    def __init__(self, columns: Columns, crust_per_mm: FloatArray) -> None:
        count = columns.count
        self.to_index = (POINTS - 1) / columns.full
        self.base = (np.arange(2 * count) * POINTS).reshape(2, count)
        padded = np.concatenate([np.diff(columns.table, axis=2), np.zeros((2, count, 1))], axis=2)
        self.value, self.rise = columns.table.ravel(), padded.ravel()
        self.surface = columns.surface
        self.to_share = 1.0 / np.maximum(columns.critical, 1e-9)
        self.crust = crust_per_mm * columns.depth
        self.a, self.b, self.c, self.d = (np.empty((2, count)) for _ in range(4))
        self.index = np.empty((2, count), dtype=np.int64)
        self.p, self.q, self.r = (np.empty(count) for _ in range(3))
        self.rates = [np.empty((3, count)) for _ in range(4)]
        self.state = np.empty((3, count))

    def rate(self, state: FloatArray, demand: FloatArray, out: FloatArray) -> None:
        """Change per hour of top, rest and lost water [3, C] at a state [3, C] and a demand [C]."""
        water, a, b, flow = state[:2], self.a, self.b, self.c
        np.multiply(water, self.to_index, out=a)
        np.maximum(a, 0.0, out=a)
        np.minimum(a, POINTS - 1.0, out=a)
        np.copyto(self.index, a, casting="unsafe")
        np.subtract(a, self.index, out=a)
        np.add(self.index, self.base, out=self.index)
        np.take(self.rise, self.index, out=b, mode="clip")
        np.take(self.value, self.index, out=flow, mode="clip")
        np.multiply(a, b, out=a)
        np.add(flow, a, out=flow)
        self._losses(water, demand, flow, out)

    def _losses(self, water: FloatArray, demand: FloatArray, flow: FloatArray, out: FloatArray) -> None:
        wet, p, q, r = self.a, self.p, self.q, self.r
        np.multiply(water, self.to_share, out=wet)
        np.maximum(wet, 0.0, out=wet)
        np.minimum(wet, 1.0, out=wet)
        dry = np.subtract(1.0, wet, out=self.b)
        np.multiply(dry[REST], self.crust[REST], out=p)
        np.add(p, self.crust[TOP], out=p)
        np.multiply(p, dry[TOP], out=p)
        np.add(p, 1.0, out=p)
        np.divide(demand, p, out=p)
        np.multiply(flow[TOP], self.surface, out=q)
        np.minimum(q, demand, out=q)
        np.subtract(demand, q, out=r)
        np.minimum(p, r, out=p)
        np.multiply(dry[TOP], p, out=r)
        np.multiply(p, wet[TOP], out=p)
        left = np.multiply(water, LAST_PER_HOUR, out=self.d)
        np.maximum(left, 0.0, out=left)
        np.minimum(p, left[TOP], out=p)
        np.minimum(r, left[REST], out=r)
        np.add(q, p, out=q)
        lifted = np.subtract(flow[REST], flow[TOP], out=p)
        np.subtract(lifted, q, out=out[TOP])
        np.add(lifted, r, out=out[REST])
        np.negative(out[REST], out=out[REST])
        np.add(q, r, out=out[2])

    def forward(self, state: FloatArray, demand: FloatArray, hours: float) -> None:
        """Move the state on by one step under one demand."""
        k1, k2, k3, k4 = self.rates
        self.rate(state, demand, k1)
        for rate, following, part in ((k1, k2, 0.5 * hours), (k2, k3, 0.5 * hours), (k3, k4, hours)):
            np.multiply(rate, part, out=self.state)
            np.add(self.state, state, out=self.state)
            self.rate(self.state, demand, following)
        np.add(k2, k3, out=k2)
        np.multiply(k2, 2.0, out=k2)
        np.add(k1, k4, out=k1)
        np.add(k1, k2, out=k1)
        np.multiply(k1, hours / 6.0, out=k1)
        np.add(state, k1, out=state)


Demand = Callable[[int, int], FloatArray]


def run(
    columns: Columns,
    water_mm: FloatArray,
    demand: FloatArray | Demand,
    crust_per_mm: FloatArray,
    hours: int,
    waterings: tuple[Watering, ...] = (),
    keep_every: int = 24,
    hours_a_step: int = 1,
) -> Course:
    """Follow columns through `hours` hours.

    water_mm [2, C]     top and rest at the start, above air-dry [mm]
    demand              loss of wet substrate [mm/h], a row [C] a step, or a function of the steps (from, to)
                        that gives such rows
    crust_per_mm [C]    share of the demand's own resistance that a millimetre of dry substrate is worth:
                        conductance per area [m/s] over diffusivity of vapour in the crust [m2/s], times 1e-3
    waterings           at the start of their hour, after what that hour's beginning holds
    keep_every          hours between kept rows
    hours_a_step        1 or 2; the last step may be shorter

    Unknown demand (NaN) is refused: weather is never invented.
    """
    _checked(columns, water_mm, crust_per_mm, hours, waterings)
    if not 1 <= hours_a_step <= LONGEST_STEP_HOURS:
        raise Refusal(f"steps of 1 to {LONGEST_STEP_HOURS} hours were wanted", got=f"{hours_a_step}")
    state = np.concatenate([water_mm, np.zeros((1, columns.count))])
    given, kept = np.zeros(columns.count), []
    step = _Step(columns, crust_per_mm)
    events = sorted(waterings, key=lambda watering: watering.hour)
    block, block_start, block_end, following = np.empty((0, 0)), 0, 0, 0
    steps = -(-hours // hours_a_step)
    for number in range(steps):
        hour = number * hours_a_step
        while following < len(events) and events[following].hour < hour + hours_a_step:
            _pour(state, given, events[following])
            following += 1
        if number >= block_end:
            block_start, block_end = number, min(steps, number + 240)
            block = _demand_block(demand, block_start, block_end, columns.count)
        ended = min(hours, hour + hours_a_step)
        step.forward(state, block[number - block_start], float(ended - hour))
        if ended % keep_every == 0 or ended == hours:
            kept.append((ended, state.copy()))
    states = np.stack([row for _, row in kept])
    return Course(np.array([hour for hour, _ in kept]), states[:, :2], states[:, 2], given)


def _pour(state: FloatArray, given: FloatArray, watering: Watering) -> None:
    state[REST if watering.deep else TOP, watering.column] += watering.water_mm
    given[watering.column] += watering.water_mm


def _demand_block(demand: FloatArray | Demand, start: int, end: int, columns: int) -> FloatArray:
    rows = demand(start, end) if callable(demand) else demand[start:end]
    if rows.shape != (end - start, columns):
        raise Refusal(
            f"demand of {end - start} steps and {columns} columns was wanted", got=f"shape {rows.shape}"
        )
    if not np.isfinite(rows).all() or (rows < 0.0).any():
        raise Refusal(
            "a known demand of 0 or more was wanted for every step",
            got=f"{int((~np.isfinite(rows)).sum())} unknown and {int((rows < 0).sum())} below 0",
            todo="Give the hours without readings an expected climate.",
        )
    return np.asarray(rows, dtype=np.float64)


def _checked(
    columns: Columns,
    water_mm: FloatArray,
    crust_per_mm: FloatArray,
    hours: int,
    waterings: tuple[Watering, ...],
) -> None:
    if water_mm.shape != (2, columns.count) or crust_per_mm.shape != (columns.count,) or hours < 1:
        raise Refusal(
            f"water [2, {columns.count}], crust [{columns.count}] and an hour or more were wanted",
            got=f"{water_mm.shape}, {crust_per_mm.shape} and {hours} hours",
        )
    if not (np.isfinite(water_mm).all() and (water_mm >= 0.0).all() and (crust_per_mm >= 0.0).all()):
        raise Refusal("water and crust of 0 or more were wanted", got="unknown or negative ones")
    for watering in waterings:
        column = np.asarray(watering.column)
        inside = 0 <= watering.hour < hours and (column >= 0).all() and (column < columns.count).all()
        if not inside or not (np.asarray(watering.water_mm) >= 0.0).all():
            raise Refusal(
                "waterings of 0 mm or more within the hours and columns were wanted", got=str(watering)
            )
