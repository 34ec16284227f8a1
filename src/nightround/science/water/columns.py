"""The substrate of homes as two layers each: what the hourly balance needs, worked out once.

The top layer is at most 10 mm thick, the rest lies below it. Both hold water above air-dry, [mm]. A home
with a sloped fill has two columns, its shallow and its deep end. Liquid moves by differences of the
potential of flow (the integral of the conductivity):

    rest to top     (F_eq(rest) - F(top)) / (LIFT depth_rest + depth_top / 2)
    top to surface  F(top) / (SURFACE depth_top)

F_eq(rest) is the potential the top would have in balance with gravity over the rest, so a column at rest
stays at rest. Vapour leaves through what is dry: a layer is dry as far as its water is below what still
conducts liquid as well as vapour (critical content, where F is the vapour's own potential). LIFT, SURFACE
and CRITICAL were set against the reference solution of Richards' equation with vapour
(tests/science/richards.py).

Where F rises steeply its slope is held down so that one explicit step of two hours is stable and no layer
gives more than it has: the top then follows the rest within some hours instead of minutes. Both flows are
held by the same slope, so that balance with gravity stays balance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water import air
from nightround.science.water.substrate import SUCTION_MM, Curves, Parts, checked_parts, curves

FloatArray = NDArray[np.float64]

TOP_MM: Final = 10.0
LIFT: Final = 0.35
SURFACE: Final = 0.5
CRITICAL: Final = 1.0
# Table points a layer; fastest relaxation by liquid and by vapour [1/h]: together at most 1 / h, so that an
# explicit step of two hours takes no more than there is; conditions the critical content is taken at.
POINTS: Final = 129
LONGEST_STEP_HOURS: Final = 2
FASTEST_PER_HOUR: Final = 0.7
LAST_PER_HOUR: Final = 0.3
USUAL_C: Final = 22.0
USUAL_HUMIDITY: Final = 0.5


@dataclass(frozen=True)
class Columns:
    """Two-layer columns side by side; row 0 of the pairs is the top, row 1 the rest. Water is [mm] above
    air-dry.

    depth [2, C]        thickness [mm]
    air_dry [2, C]      water left when air-dry [mm]
    full [2, C]         water above air-dry when saturated [mm]
    table [2, C, P]     flow [mm/h]: F(top) and F_eq(rest), over the lift, at P even steps of water from 0
    to full surface [C]         flow to a dry surface over flow from top to rest
    critical [2, C]     water below which a layer counts as partly dry [mm]
    crust_mm [C]        depth of free air that 1 mm of dry substrate is worth to vapour, and so its resistance
    """

    depth: FloatArray
    air_dry: FloatArray
    full: FloatArray
    table: FloatArray
    surface: FloatArray
    critical: FloatArray
    crust_mm: FloatArray

    @property
    def count(self) -> int:
        return int(self.depth.shape[1])

    def pick(self, rows: NDArray[np.int64]) -> Columns:
        """Some of the columns, in the order asked for, each as often as asked."""
        return Columns(
            **{
                field.name: getattr(self, field.name)[
                    (slice(None), rows) if field.name in _PAIRS else (rows,)
                ]
                for field in fields(self)
            }
        )


_PAIRS: Final = {"depth", "air_dry", "full", "table", "critical"}


def make_columns(parts: list[Parts], depth_mm: list[float]) -> Columns:
    """Columns of substrates and depths [mm], one each; equal ones are worked out once."""
    if len(parts) != len(depth_mm) or not parts:
        raise Refusal("one mix and one depth a column were wanted", got=f"{len(parts)} and {len(depth_mm)}")
    keys = [(checked_parts(mix), float(depth)) for mix, depth in zip(parts, depth_mm, strict=True)]
    distinct = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    whole = side_by_side([_one_column(curves(mix), depth) for mix, depth in distinct])
    return whole.pick(np.array([distinct[key] for key in keys]))


def side_by_side(parts: Sequence[Columns]) -> Columns:
    """Columns of several, in their order."""
    return Columns(
        **{
            field.name: np.concatenate(
                [getattr(each, field.name) for each in parts], axis=1 if field.name in _PAIRS else 0
            )
            for field in fields(Columns)
        }
    )


def layer_depths_mm(depth_mm: float) -> tuple[float, float]:
    """Top and rest: the top is 10 mm, or a third of a shallower fill."""
    if not 3.0 <= depth_mm <= 1000.0:
        raise Refusal("a depth of substrate from 3 to 1000 mm was wanted", got=f"{depth_mm:g} mm")
    top = min(TOP_MM, depth_mm / 3.0)
    return top, depth_mm - top


def balanced_layers(tables: Curves, depth_mm: float, foot_suction_mm: FloatArray) -> FloatArray:
    """Mean content of top and rest [2, N] of columns in balance with gravity, by the suction at their foot
    [mm].
    """
    top, rest = layer_depths_mm(depth_mm)
    share = (np.arange(24) + 0.5) / 24.0
    lower = foot_suction_mm[:, None] + rest * share
    upper = foot_suction_mm[:, None] + rest + top * share
    return np.stack([tables.content_at(upper).mean(axis=1), tables.content_at(lower).mean(axis=1)])


def _held_slope(values: FloatArray, step_mm: float, steepest: float) -> FloatArray:
    """The same rising table, nowhere steeper [mm/h per mm] than allowed."""
    return np.concatenate([[0.0], np.cumsum(np.minimum(np.diff(values), steepest * step_mm))])


def _held_flows(
    flow: FloatArray, grid: FloatArray, top_in_balance: FloatArray, step_mm: FloatArray, to_surface: float
) -> tuple[FloatArray, FloatArray]:
    """F(top) and F_eq(rest), held to the fastest relaxation of the top and of the rest."""
    steepest = FASTEST_PER_HOUR / (1.0 + to_surface)
    for _ in range(2):
        own = _held_slope(flow, float(step_mm[0]), steepest)
        lifted = np.interp(top_in_balance, grid, own)
        lifted[0] = 0.0
        fastest = float(np.diff(lifted).max() / step_mm[1])
        steepest *= min(1.0, 0.999 * FASTEST_PER_HOUR / max(fastest, 1e-12))
    return own, lifted


def _one_column(tables: Curves, depth_mm: float) -> Columns:
    top, rest = layer_depths_mm(depth_mm)
    depth = np.array([top, rest])
    air_dry, full = tables.air_dry * depth, (tables.saturated - tables.air_dry) * depth
    lift, surface = LIFT * rest + 0.5 * top, SURFACE * top
    grid = np.linspace(0.0, 1.0, POINTS) * (tables.saturated - tables.air_dry) + tables.air_dry
    dry = float(tables.potential_at(tables.air_dry))
    flow = np.maximum(tables.potential_at(grid) - dry, 0.0) / lift
    above, below = balanced_layers(tables, depth_mm, SUCTION_MM)
    top_in_balance = np.interp(grid, below[::-1], above[::-1])
    own, lifted = _held_flows(flow, grid, top_in_balance, full / (POINTS - 1), lift / surface)
    vapour = _vapour_potential_mm2_h(tables) * CRITICAL
    share = np.interp(vapour + dry, tables.potential_at(grid), grid) - tables.air_dry
    return Columns(
        depth=depth[:, None],
        air_dry=air_dry[:, None],
        full=full[:, None],
        table=np.stack([own, lifted])[:, None],
        surface=np.array([lift / surface]),
        critical=(share * depth)[:, None],
        crust_mm=np.array([1.0 / tables.crust]),
    )


def _vapour_potential_mm2_h(tables: Curves) -> float:
    """Flow of vapour times depth through dry substrate in a usual room [mm2/h]."""
    drier = float(air.vapour_density_kg_m3(USUAL_C)) * (1.0 - USUAL_HUMIDITY)
    return tables.crust * float(air.diffusivity_m2_s(USUAL_C)) * drier * 3600.0 * 1e3


@lru_cache(maxsize=2048)
def _balanced_table(parts: Parts, depth_mm: float) -> tuple[FloatArray, FloatArray]:
    """Layers in balance [2, N] over `SUCTION_MM` at the foot, and their mean content [N]."""
    layers = balanced_layers(curves(parts), depth_mm, SUCTION_MM)
    return layers, np.array(layer_depths_mm(depth_mm)) @ layers / depth_mm


def balanced_water_mm(parts: Parts, depth_mm: float, mean_content: float) -> FloatArray:
    """Water of top and rest above air-dry [2], with that mean content spread as gravity leaves it."""
    tables = curves(checked_parts(parts))
    depth = np.array(layer_depths_mm(depth_mm))
    if not 0.0 <= mean_content <= tables.saturated:
        raise Refusal(
            f"a water content between 0 and {tables.saturated:.2f} was wanted", got=f"{mean_content:g}"
        )
    layers, means = _balanced_table(checked_parts(parts), depth_mm)
    if mean_content >= means[0]:
        layers_here = np.full(2, mean_content)
    else:
        layers_here = np.array([np.interp(mean_content, means[::-1], layer[::-1]) for layer in layers])
    return np.asarray(np.maximum(layers_here - tables.air_dry, 0.0) * depth, dtype=np.float64)
