"""Predicted courses of many homes on a coarse grid of multipliers and starts: what `calibrate` compares.

Loss over multiplier is interpolated between the knots: while the openings decide, that is exact.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water import evidence
from nightround.science.water.columns import (
    Columns,
    balanced_layers,
    balanced_water_mm,
    layer_depths_mm,
    make_columns,
)
from nightround.science.water.demand import Climate, Demand, homes_air
from nightround.science.water.evidence import Given, Spell
from nightround.science.water.long_steps import Poured, follow
from nightround.science.water.substrate import Parts, curves

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Medians of m differ from those by steps of two hours by 0.2 % at most over a room; steps of a day do not do.
STEP_HOURS: Final = 12
MM2_PER_MM_G: Final = 1e-3


@lru_cache(maxsize=2048)
def drained_mm(parts: Parts, depth_mm: float) -> tuple[float, float]:
    """Water of top and rest above air-dry [mm] that stays after draining: a wetness of 1."""
    tables = curves(parts)
    layers = balanced_layers(tables, depth_mm, np.array([0.1]))[:, 0]
    top, rest = (layers - tables.air_dry) * np.array(layer_depths_mm(depth_mm))
    return float(top), float(rest)


def wettest_content(spell: Spell) -> float:
    """Mean content that the deepest column keeps after draining."""
    depth = max(depth for _, depth in spell.ends)
    return curves(spell.parts).air_dry + sum(drained_mm(spell.parts, depth)) / depth


@dataclass(frozen=True)
class Stage:
    """All that a run needs and that does not depend on the knots. C columns of N spells, S steps.

    spell_of [C], share [C]    which spell a column belongs to, its share of the area
    """

    spells: tuple[Spell, ...]
    columns: Columns
    parts: tuple[Parts, ...]
    depths: tuple[float, ...]
    spell_of: IntArray
    share: FloatArray
    starts: IntArray
    demand: FloatArray
    crust: FloatArray
    hours: FloatArray
    borders: FloatArray
    poured: list[Poured]

    def only(self, rows: IntArray) -> Stage:
        """The same for some of the spells, in rising order."""
        of = np.flatnonzero(np.isin(self.spell_of, rows))
        renamed = {int(column): place for place, column in enumerate(of)}
        return Stage(
            tuple(self.spells[row] for row in rows),
            self.columns.pick(of),
            tuple(self.parts[column] for column in of),
            tuple(self.depths[column] for column in of),
            np.searchsorted(rows, self.spell_of[of]),
            self.share[of],
            self.starts[of],
            self.demand[:, of],
            self.crust[:, of],
            self.hours,
            self.borders,
            [replace(one, column=renamed[one.column]) for one in self.poured if one.column in renamed],
        )


def set_stage(spells: tuple[Spell, ...], climate: Climate, now: int) -> Stage:
    """Columns, demand and waterings of all spells on one grid of steps from hour 0 to `now`.

    Refuses a climate that is unknown within a spell.
    """
    columns_of = [
        (number, share, depth) for number, spell in enumerate(spells) for share, depth in spell.ends
    ]
    spell_of = np.array([number for number, _, _ in columns_of])
    parts = tuple(spells[number].parts for number in spell_of)
    depths = tuple(depth for _, _, depth in columns_of)
    columns = make_columns(list(parts), list(depths))
    borders = np.append(np.arange(0, now, STEP_HOURS), now).astype(np.float64)
    demand, conductance = _asked(spells, climate, borders)
    crust = conductance[:, spell_of] * columns.crust_mm
    starts = np.array([_border(spells[number].start, borders) for number in spell_of])
    poured = [
        one
        for number, spell in enumerate(spells)
        for given in spell.given
        for one in _poured(spell, given, number, spell_of, borders, given.amount(spell.area_mm2)[0])
    ]
    return Stage(
        spells, columns, parts, depths, spell_of, np.array([share for _, share, _ in columns_of]), starts,
        demand[:, spell_of], crust, np.diff(borders), borders, poured,
    )  # fmt: skip


def _border(hour: int, borders: FloatArray) -> int:
    return int(np.argmin(np.abs(borders - hour)))


def _poured(
    spell: Spell, given: Given, number: int, spell_of: IntArray, borders: FloatArray, ml: float | FloatArray
) -> list[Poured]:
    first = int(np.flatnonzero(spell_of == number)[0])
    water = ml / (spell.area_mm2 * MM2_PER_MM_G)
    step = max(_border(given.hour, borders), _border(spell.start, borders))
    if given.column is None:
        return [Poured(step, first + end, water, given.deep) for end in range(len(spell.ends))]
    return [Poured(step, first + given.column, water / spell.ends[given.column][0], given.deep)]


def _asked(spells: tuple[Spell, ...], climate: Climate, borders: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean demand [S, N] of the steps at m = 1, and what a millimetre of free air is worth to the crust."""
    entries = [
        (number, hour, air)
        for number, spell in enumerate(spells)
        for hour, air in sorted(spell.air, key=_hour)
    ]
    homes = homes_air(
        [air for _, _, air in entries],
        [spells[number].place for number, _, _ in entries],
        [spells[number].warmer_c for number, _, _ in entries],
    )
    now = int(borders[-1])
    whole = Demand(homes, climate)
    hourly = np.concatenate([whole(hour, min(now, hour + 960)) for hour in range(0, now, 960)])
    per_mm = homes.crust_per_mm(np.ones(len(entries)))
    demand = np.zeros((now, len(spells)))
    crust = np.zeros((len(borders) - 1, len(spells)))
    for entry, (number, hour, _) in enumerate(entries):
        spell = spells[number]
        begin = spell.start if hour <= spell.start else hour
        demand[begin : spell.end, number] = hourly[begin : spell.end, entry]
        crust[borders[:-1] >= begin - STEP_HOURS / 2, number] = per_mm[entry]
    if np.isnan(demand).any():
        at, number = np.argwhere(np.isnan(demand))[0]
        raise Refusal(
            "a known climate for every hour of a home was wanted",
            got=f"hour {at} of home {number} unknown",
            todo="Give the hours without readings an expected climate.",
        )
    steps = np.add.reduceat(demand, borders[:-1].astype(np.int64), axis=0) / np.diff(borders)[:, None]
    return steps, crust


def _hour(entry: tuple[int, object]) -> int:
    return entry[0]


@dataclass(frozen=True)
class Predicted:
    """What each spell would show at each knot. N spells, W weighings, F feelings, A multipliers, B starts.

    log_m [N, A], content [N, B]    the knots
    start_g [N, B]                  water at the start, above air-dry
    lost_over_m [N, W, A, B]        lost until each weighing, over the multiplier [g]
    surface, bottom [N, F, A, B]    wetness when felt
    """

    log_m: FloatArray
    content: FloatArray
    start_g: FloatArray
    lost_over_m: FloatArray
    surface: FloatArray
    bottom: FloatArray

    def only(self, rows: IntArray) -> Predicted:
        """Some of the spells."""
        return Predicted(*(getattr(self, field.name)[rows] for field in fields(self)))


def predict(stage: Stage, log_m: FloatArray, content: FloatArray) -> Predicted:
    """Run all columns at all knots [N, A] and [N, B]."""
    many_m, many_starts = log_m.shape[1], content.shape[1]
    start = start_mm(stage, content)
    cases = np.tile(start, (1, many_m, 1))
    multiplier = np.repeat(np.exp(log_m[stage.spell_of]).T, many_starts, axis=0)
    kept = follow(
        stage.columns, cases, stage.starts, stage.demand, stage.crust, multiplier, stage.hours, stage.poured
    )
    kept = kept.reshape(*kept.shape[:2], many_m, many_starts, -1)
    area = np.array([spell.area_mm2 for spell in stage.spells])[stage.spell_of] * stage.share * MM2_PER_MM_G
    start_g = np.zeros((len(stage.spells), many_starts))
    np.add.at(start_g, stage.spell_of, (start.sum(axis=0) * area).T)
    surface, bottom = _wetness_when_felt(stage, kept)
    return Predicted(log_m, content, start_g, _lost(stage, kept, start, area, log_m), surface, bottom)


def start_mm(stage: Stage, content: FloatArray) -> FloatArray:
    """Water of each column [2, B, C] at starts [N, B] of its spell."""
    start = [
        [balanced_water_mm(parts, depth, _possible(parts, value)) for value in content[number]]
        for parts, depth, number in zip(stage.parts, stage.depths, stage.spell_of, strict=True)
    ]
    return np.asarray(np.transpose(start, (2, 1, 0)), dtype=np.float64)


def _possible(parts: Parts, content: float) -> float:
    tables = curves(parts)
    return float(np.clip(content, tables.air_dry, tables.saturated))


def _given_until(stage: Stage) -> FloatArray:
    """Water given to each column before each border [S + 1, C], as the run gives it [mm]."""
    given = np.zeros((len(stage.borders), stage.columns.count))
    for one in stage.poured:
        given[one.step + 1 :, one.column] += one.water_mm
    return given


def _lost(
    stage: Stage, kept: FloatArray, start: FloatArray, area: FloatArray, log_m: FloatArray
) -> FloatArray:
    """Lost until each weighing over the multiplier [N, W, A, B]."""
    given = _given_until(stage)
    most = max((len(spell.weighings) for spell in stage.spells), default=0)
    lost = np.zeros((len(stage.spells), most, *kept.shape[2:4]))
    for number, spell in enumerate(stage.spells):
        if not spell.weighings:
            continue
        of = np.flatnonzero(stage.spell_of == number)
        hours = np.array([one.hour for one in spell.ordered], dtype=np.float64)
        before = np.clip(np.searchsorted(stage.borders, hours, side="right") - 1, 0, len(stage.hours) - 1)
        before = np.maximum(before, stage.starts[of[0]])
        before = np.minimum(before, len(stage.hours) - 1)
        part = np.clip((hours - stage.borders[before]) / stage.hours[before], 0.0, 1.0)
        ends = [
            (
                start[:, :, of].sum(axis=0)
                + given[border][:, None, None, of]
                - kept[border][..., of].sum(axis=1)
            )
            @ area[of]
            for border in (before, before + 1)
        ]
        part = part[:, None, None]
        lost[number, : len(hours)] = (1.0 - part) * ends[0] + part * ends[1]
    return np.asarray(lost / np.exp(log_m)[:, None, :, None], dtype=np.float64)


def _wetness_when_felt(stage: Stage, kept: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Wetness of surface and bottom, means over the columns, at each feeling [N, F, A, B]."""
    most = max((len(spell.felt) for spell in stage.spells), default=0)
    found = np.zeros((2, len(stage.spells), most, *kept.shape[2:4]))
    drained = np.array([drained_mm(p, d) for p, d in zip(stage.parts, stage.depths, strict=True)]).T
    for number, spell in enumerate(stage.spells):
        of = np.flatnonzero(stage.spell_of == number)
        for at, felt in enumerate(spell.felt):
            border = max(_border(felt.hour, stage.borders), int(stage.starts[of[0]]))
            if any(g.hour <= felt.hour and _border(g.hour, stage.borders) == border for g in spell.given):
                border = min(border + 1, len(stage.borders) - 1)
            share = stage.share[of] / drained[:, of]
            found[:, number, at] = np.einsum("labc,lc->lab", kept[border][..., of], share)
    return found[0], found[1]


def present_mm(stage: Stage, log_m: FloatArray, content: FloatArray, luck: np.random.Generator) -> FloatArray:
    """Water of top and rest of each column now [2, C, E], for pairs of multiplier and start [N, E].

    Poured amounts and days are as doubtful as `evidence` says, each pair with its own luck.
    """
    members = log_m.shape[1]
    poured = [one for number in range(len(stage.spells)) for one in _lucky(stage, number, members, luck)]
    days = luck.normal(0.0, evidence.DAY_SPREAD, (int(stage.borders[-1]) // 24 + 1, members))
    off = np.exp(days)[(stage.borders[:-1] // 24).astype(np.int64)]
    multiplier = np.exp(log_m[stage.spell_of]).T
    kept = follow(
        stage.columns, start_mm(stage, content), stage.starts, stage.demand, stage.crust, multiplier,
        stage.hours, poured, off,
    )  # fmt: skip
    last = len(stage.borders) - 1
    found: FloatArray = np.moveaxis(kept[last], -1, 1).copy()
    for column, number in enumerate(stage.spell_of):
        end = stage.spells[number].end
        if end is not None:
            found[:, column] = kept[_border(end, stage.borders)][..., column]
    for one in poured:
        if one.step == last:
            found[1 if one.deep else 0, one.column] += one.water_mm
    return found


def _lucky(stage: Stage, number: int, members: int, luck: np.random.Generator) -> list[Poured]:
    """A spell's waterings, each member's amount as it may really have been."""
    spell, found = stage.spells[number], []
    for given in spell.given:
        mean, sd = given.amount(spell.area_mm2)
        if given.ml is None:
            ml = luck.exponential(mean, members)
        else:
            ml = np.maximum(luck.normal(mean, sd, members), 0.0)
        found += _poured(spell, given, number, stage.spell_of, stage.borders, ml)
    return found
