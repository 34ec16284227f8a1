"""Do the intervals of a home's multiplier hold what they say? Homes are drawn, weighed, and calibrated.

    python benchmarks/water_calibration.py --homes 4000
    python benchmarks/water_calibration.py --homes 1000 --broken      # the model itself is wrong
    python benchmarks/water_calibration.py --speed                    # 120 homes, 10 weighings, 180 days

Every home has its own multiplier (from the prior), vessel, openings, substrate, climate and keeper: weighings
with scale error, 3 % misread and 2 % after an unrecorded step, waterings poured with 5 % error, mistings
nobody measured, lids covered, felt moisture with a noisy finger. The truth runs through `balance` at two
hours a step and with every day's loss 10 % off; the calibration sees only what a keeper would write down.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nightround.science.water import evidence
from nightround.science.water.balance import Watering, run
from nightround.science.water.calibrate import (
    Calibrated,
    Felt,
    Given,
    HomeEvidence,
    Spell,
    Weighing,
    calibrate,
)
from nightround.science.water.columns import balanced_water_mm, make_columns
from nightround.science.water.demand import Climate, Demand, homes_air
from nightround.science.water.openings import Opening
from nightround.science.water.predicted import drained_mm, wettest_content
from nightround.science.water.substrate import SUBSTRATES, curves
from nightround.science.water.ventilation import Ventilation
from nightround.science.water.vessels import Fill, Vessel, ends_mm
from nightround.science.water.weighed import felt_chance

PLACES = 8
LOOK_DAYS = (20, 150)
MIXES: tuple[Any, ...] = (
    (("peat", 1.0),), (("coir", 1.0),), (("topsoil", 1.0),), (("coir", 2.0), ("vermiculite", 1.0)),
    (("topsoil", 3.0), ("sand", 1.0)), (("peat", 1.0), ("sand", 1.0)),
)  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """What is true of a drawn home: multiplier, start, and what befell the weighings (0 good, 1 misread, 2
    step before it), and the water given by hour [ml] as it really was.
    """

    multiplier: float
    content: float
    daily: Any
    poured: tuple[tuple[int, float, int | None, bool], ...]
    present_g: float = 0.0
    dried: bool = False
    befell: tuple[int, ...] = ()


def drawn_climate(rng: np.random.Generator, hours: int) -> Climate:
    """Eight invented places: seasons, days, and slow weather."""
    hour = np.arange(hours)
    phase = rng.uniform(0.0, 1.0, (PLACES, 1))
    season, day = np.cos(2 * np.pi * (hour / 8760 - phase)), np.cos(2 * np.pi * (hour / 24 - 0.6))
    slow = np.cumsum(rng.normal(0.0, 0.05, (PLACES, hours)), axis=1)
    slow -= np.linspace(0.0, 1.0, hours) * slow[:, -1:]
    temperature = np.clip(rng.uniform(20.0, 26.0, (PLACES, 1)) + 2.0 * season + 1.2 * day + slow, 10.0, 38.0)
    return Climate(temperature, np.clip(0.5 + 0.1 * season - 0.04 * day - 0.02 * slow, 0.25, 0.85))


def drawn_home(rng: np.random.Generator) -> Spell:
    """A vessel with openings and substrate; a fifth are sloped."""
    length = float(rng.choice([60.0, 100.0, 150.0, 200.0, 300.0]))
    vessel = Vessel("box", length, length * float(rng.uniform(0.6, 1.0)), length)
    low = round(float(rng.uniform(0.15, 0.4)) * length, -1) or 10.0
    fill = Fill(low, low + (0.2 * length if rng.uniform() < 0.2 else 0.0))
    if rng.uniform() < 0.3:
        side = 0.6 * vessel.width_mm
        openings: tuple[Opening, ...] = (Opening("mesh", 1, side, side, 0.5, open_fraction=0.5),)
    else:
        openings = (
            Opening("hole", int(rng.integers(4, 40)), float(rng.choice([2.0, 3.0, 5.0])), thickness_mm=1.5),
        )
    if rng.uniform() < 0.3:
        openings += (Opening("hole", int(rng.integers(2, 8)), 3.0, thickness_mm=1.5, at="side_low"),)
    area = vessel.area_at(0.0)
    air = Ventilation(
        openings, area, area, length - fill.mean_mm, vessel.outside_area_mm2, rim_mm=vessel.rim_mm
    )
    mix = MIXES[int(rng.integers(len(MIXES)))]
    return Spell(mix, ends_mm(fill), area, ((0, air),), place=int(rng.integers(PLACES)))


def halfway(hours: int) -> int:
    """When lids are covered in a room, an even hour."""
    return 2 * (hours // 4)


def drawn_keeper(rng: np.random.Generator, spell: Spell, hours: int) -> tuple[Spell, Truth]:
    """When the keeper waters, mists, covers, weighs and feels (weighings still without grams), and what is
    true.
    """
    tables, wettest = curves(spell.parts), wettest_content(spell)
    content = float(rng.uniform(tables.air_dry + 0.02 * (wettest - tables.air_dry), wettest))
    told = None
    if rng.uniform() < 0.3:
        mean = float(rng.uniform(0.4, 1.0)) * wettest
        told = (mean, 0.1 * wettest)
        low, high = max(mean - 0.4 * wettest, tables.air_dry), min(mean + 0.4 * wettest, tables.saturated)
        while not low < (content := float(rng.normal(*told))) < high:
            pass
    holds = (wettest - tables.air_dry) * spell.area_mm2 * 1e-3 * sum(a * d for a, d in spell.ends)
    given, poured = _drawn_water(rng, spell, hours, holds)
    air = spell.air
    if rng.uniform() < 0.2:
        air += ((halfway(hours), air[0][1].covered(float(rng.choice([0.5, 0.8])))),)
    sd = float(rng.choice([0.1, 0.3, 1.0]))
    times = np.sort(rng.choice(np.arange(12, hours), int(rng.choice([2, 3, 4, 6, 8, 12])), replace=False))
    weighings = tuple(Weighing(int(hour), 1.0, sd) for hour in times)
    felt = tuple(Felt(int(hour)) for hour in rng.choice(hours, int(rng.poisson(1.5))))
    spell = replace(spell, air=air, start_content=told, given=tuple(given), weighings=weighings, felt=felt)
    daily = np.exp(rng.normal(0.0, evidence.DAY_SPREAD, hours // 24 + 1))
    low_m, high_m = np.log(evidence.MULTIPLIERS)
    log_m = np.clip(rng.normal(0.0, evidence.PRIOR_SD_LOG), low_m, high_m)
    return spell, Truth(float(np.exp(log_m)), content, daily, tuple(poured))


def _drawn_water(rng: np.random.Generator, spell: Spell, hours: int, holds: float) -> tuple[Any, Any]:
    given, poured = [], []
    if rng.uniform() < 0.6:
        spacing = rng.uniform(7.0, 30.0) * 24
        for hour in np.arange(rng.uniform(0.0, spacing), hours, spacing):
            ml = max(1.0, round(float(rng.uniform(0.03, 0.15)) * holds))
            column = int(rng.integers(len(spell.ends))) if rng.uniform() < 0.3 else None
            one = Given(int(hour), ml, column, bool(rng.uniform() < 0.3))
            true = max(0.0, ml + rng.normal(0.0, one.amount(spell.area_mm2)[1]))
            given.append(one)
            poured.append((one.hour, true, one.column, one.deep))
    if rng.uniform() < 0.25:
        for hour in rng.choice(hours, int(rng.integers(1, 6)), replace=False):
            one = Given(int(hour), None)
            given.append(one)
            poured.append((one.hour, float(rng.exponential(one.amount(spell.area_mm2)[0])), None, False))
    return given, poured


def observed(
    rng: np.random.Generator, spells: list[Spell], truths: list[Truth], climate: Climate, hours: int,
    dried_below: float,
    substrate: Callable[[Any], Any] = lambda parts: parts,
) -> tuple[list[Spell], list[Truth]]:  # fmt: skip
    """The truth of all homes by `balance`, and what scales and fingers made of it."""
    befell = [rng.choice(3, len(s.weighings), p=[0.95, 0.03, 0.02]) for s in spells]
    for kinds in befell:
        kinds[:1] = np.where(kinds[:1] == 2, 0, kinds[:1])
    wides = [_wide(spell) for spell in spells]
    jumps = [rng.normal(0.0, wide, len(kinds)) for wide, kinds in zip(wides, befell, strict=True)]
    truths = [
        replace(truth, befell=tuple(kinds), poured=truth.poured + _unrecorded(rng, spell, kinds, jump))
        for truth, spell, kinds, jump in zip(truths, spells, befell, jumps, strict=True)
    ]
    total, given, layers, spell_of, lost_share = _true_course(spells, truths, climate, hours, substrate)
    seen, told = [], []
    for number, spell in enumerate(spells):
        of = np.flatnonzero(spell_of == number)
        empty, step, weighed = float(rng.uniform(200.0, 3000.0)), 0.0, []
        for one, kind, jump in zip(spell.weighings, befell[number], jumps[number], strict=True):
            step += jump if kind == 2 and jump < 0.0 else 0.0
            water = _between(total[:, number] - given[:, number], one.hour) + sum(
                ml for hour, ml, _, _ in truths[number].poured if hour < one.hour
            )
            grams = empty + step + water + rng.normal(0.0, one.sd_g) + (jump if kind == 1 else 0.0)
            weighed.append(replace(one, g=max(1.0, float(grams))))
        felt = tuple(_felt(rng, spell, layers[:, :, of], one.hour) for one in spell.felt)
        seen.append(replace(spell, weighings=tuple(weighed), felt=felt))
        present = float(total[-1, number])
        told.append(replace(truths[number], present_g=present, dried=bool(lost_share[number] < dried_below)))
    return seen, told


def _wide(spell: Spell) -> float:
    from nightround.science.water.calibrate import _wide_g

    return _wide_g(spell)


def _unrecorded(rng: np.random.Generator, spell: Spell, kinds: Any, jump: Any) -> tuple[Any, ...]:
    """Steps upwards are waterings that nobody wrote down, somewhere since the last weighing."""
    found, hours = [], [one.hour for one in spell.weighings]
    for at in np.flatnonzero((np.asarray(kinds) == 2) & (np.asarray(jump) > 0.0)):
        hour = int(rng.integers(hours[at - 1], hours[at]))
        found.append((hour, float(jump[at]), None, False))
    return tuple(found)


def _between(values: Any, hour: float) -> float:
    """Values every two hours, read at an hour."""
    return float(np.interp(hour, np.arange(len(values)) * 2.0, values))


def _felt(rng: np.random.Generator, spell: Spell, layers: Any, hour: int) -> Felt:
    at = min(int(np.ceil(hour / 2)), len(layers) - 1)
    drained = np.array([drained_mm(spell.parts, depth) for _, depth in spell.ends]).T
    share = np.array([share for share, _ in spell.ends])
    words = []
    for wetness in (layers[at] / drained) @ share:
        chances = [float(felt_chance(feel, np.array(wetness))) for feel in ("dry", "damp", "wet")]
        words.append(str(rng.choice(["dry", "damp", "wet"], p=np.array(chances) / sum(chances))))
    both = rng.uniform() < 0.5
    return Felt(hour, words[0], words[1] if both else None)  # type: ignore[arg-type]


def _true_course(
    spells: list[Spell], truths: list[Truth], climate: Climate, hours: int, substrate: Callable[[Any], Any]
) -> tuple[Any, ...]:
    """Water [K, homes] and given so far [g], layers [K, 2, C], and how much of the demand was met."""
    spell_of = np.array([n for n, spell in enumerate(spells) for _ in spell.ends])
    depths = [depth for spell in spells for _, depth in spell.ends]
    share = np.array([share for spell in spells for share, _ in spell.ends])
    area = np.array([spells[n].area_mm2 for n in spell_of]) * share * 1e-3
    parts = [substrate(spells[n].parts) for n in spell_of]
    columns = make_columns(parts, depths)
    multiplier = np.array([truth.multiplier for truth in truths])[spell_of]
    start = np.stack([
        balanced_water_mm(mix, depth, min(truths[n].content, curves(mix).saturated))
        for mix, depth, n in zip(parts, depths, spell_of, strict=True)
    ], axis=1)  # fmt: skip
    waterings, by_hour = [], np.zeros((hours // 2 + 1, len(spells)))
    first = np.searchsorted(spell_of, np.arange(len(spells)))
    for n, truth in enumerate(truths):
        for hour, ml, column, deep in truth.poured:
            step = 2 * (hour // 2)
            by_hour[hour // 2 + 1 :, n] += ml
            for end in range(len(spells[n].ends)) if column is None else (column,):
                of = first[n] + end
                mm = ml / (spells[n].area_mm2 * 1e-3) if column is None else ml / area[of]
                waterings.append(Watering(step, int(of), mm, deep))
    factor = np.stack([np.repeat(truth.daily, 24)[:hours] for truth in truths], axis=1)
    state, kept, lost, wanted = start, [start[None]], [], []
    for at, begin, end in ((0, 0, halfway(hours)), (-1, halfway(hours), hours)):
        homes = homes_air([s.air[at][1] for s in spells], [s.place for s in spells])
        asked = (Demand(homes, climate)(begin, end) * factor[begin:end])[:, spell_of] * multiplier
        crust = homes.crust_per_mm(np.ones(len(spells)))[spell_of] * multiplier * columns.crust_mm
        asked = asked.reshape((end - begin) // 2, 2, -1).mean(axis=1)
        events = tuple(replace(w, hour=w.hour - begin) for w in waterings if begin <= w.hour < end)
        course = run(columns, state, asked, crust, end - begin, events, keep_every=2, hours_a_step=2)
        state = course.water[-1]
        kept.append(course.water)
        lost.append(np.diff(np.concatenate([np.zeros((1, columns.count)), course.lost]), axis=0))
        wanted.append(asked * 2.0)
    layers = np.concatenate(kept)
    total = np.zeros((len(layers), len(spells)))
    np.add.at(total.T, spell_of, (layers.sum(axis=1) * area).T)
    met = np.concatenate(lost).sum(axis=0) / np.maximum(np.concatenate(wanted).sum(axis=0), 1e-12)
    low = np.full(len(spells), np.inf)
    np.minimum.at(low, spell_of, met)
    return total, by_hour, layers, spell_of, low


def drawn_homes(
    rng: np.random.Generator, count: int, broken: bool = False
) -> tuple[list[Spell], list[Truth], Climate, int]:
    """One room of `count` homes looked at for one stretch of days."""
    hours = 24 * int(rng.integers(*LOOK_DAYS))
    climate = drawn_climate(rng, hours)
    pairs = [drawn_keeper(rng, drawn_home(rng), hours) for _ in range(count)]
    spells, truths = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    if broken:
        truths = [replace(truth, daily=truth.daily * _weather(rng, hours)) for truth in truths]
    spells, truths = observed(
        rng, spells, truths, climate, hours, 0.95, _other_curves if broken else lambda parts: parts
    )
    return spells, truths, climate, hours


def _weather(rng: np.random.Generator, hours: int) -> Any:
    """A draught that nobody noted: a factor from day to day, standard deviation 30 %, with a memory."""
    days = hours // 24 + 1
    found, at = np.empty(days), rng.normal(0.0, 0.3)
    for day in range(days):
        at = 0.7 * at + np.sqrt(1.0 - 0.49) * rng.normal(0.0, 0.3)
        found[day] = at
    return np.exp(found)


def _other_curves(parts: Any) -> Any:
    """The same mix with wrong curves: alpha 20 % up, saturated content 10 % down, conductivity halved."""
    for name, _ in parts:
        one = SUBSTRATES[name]
        SUBSTRATES.setdefault(
            f"{name}, as it really is",
            replace(
                one,
                alpha_per_cm=replace(one.alpha_per_cm, value=1.2 * one.alpha_per_cm.value),
                saturated=replace(one.saturated, value=0.9 * one.saturated.value),
                conductivity_cm_h=replace(one.conductivity_cm_h, value=0.5 * one.conductivity_cm_h.value),
            ),
        )
    return tuple((f"{name}, as it really is", share) for name, share in parts)


@dataclass(frozen=True)
class Score:
    """One home's outcome: which intervals of m held the truth, and what kind of home it was."""

    in_80: bool
    in_95: bool
    rank: float
    width: float
    water_in_80: bool
    strata: tuple[str, ...]


def scored(spell: Spell, truth: Truth, found: Calibrated) -> Score:
    """Intervals against the truth."""
    low80, high80, low95, high95 = (found.quantile(level) for level in (0.1, 0.9, 0.025, 0.975))
    step = found.log_m[1] - found.log_m[0]
    borders = np.append(found.log_m - 0.5 * step, found.log_m[-1] + 0.5 * step)
    rank = float(np.interp(np.log(truth.multiplier), borders, np.append(0.0, np.cumsum(found.weight))))
    area = np.array([share for share, _ in spell.ends]) * spell.area_mm2 * 1e-3
    water = np.einsum("lce,c->e", found.members.water_mm, area)
    low, high = np.quantile(water, [0.1, 0.9], method="hazen")
    bad = any(truth.befell)
    strata = [
        "all",
        "dried out" if truth.dried else "vent-limited",
        "few weighings (2-3)" if len(spell.weighings) < 4 else "4 or more weighings",
        "with outliers" if bad else "no outliers",
        "sloped" if len(spell.ends) > 1 else "level",
        "start told" if spell.start_content else "start unknown",
    ]
    strata += ["watered"] if spell.given else ["never watered"]
    strata += ["felt"] if spell.felt else []
    strata += ["lid covered halfway"] if len(spell.air) > 1 else []
    strata += ["misted unmeasured"] if any(one.ml is None for one in spell.given) else []
    held80, held95 = low80 <= truth.multiplier <= high80, low95 <= truth.multiplier <= high95
    inside = low - 1e-9 <= truth.present_g <= high + 1e-9
    return Score(held80, held95, rank, float(np.log(high80 / low80)), bool(inside), tuple(strata))


def scores(count: int, seed: int, broken: bool = False, at_once: int = 100) -> list[Score]:
    """Draw `count` homes in rooms of `at_once` and score them all."""
    rng, found = np.random.default_rng(seed), []
    while len(found) < count:
        spells, truths, climate, hours = drawn_homes(rng, at_once, broken)
        answers = calibrate([HomeEvidence((spell,)) for spell in spells], climate, hours)
        found += [scored(*three) for three in zip(spells, truths, answers, strict=True)]
    return found


def table(found: list[Score]) -> str:
    """Coverage by stratum, in Markdown."""
    rows = [
        "| homes | n | 95 % | 80 % | median width of 80 % | present water in its 80 % |",
        "|---|---|---|---|---|---|",
    ]
    for name in dict.fromkeys(word for one in found for word in one.strata):
        some = [one for one in found if name in one.strata]
        rows.append(
            f"| {name} | {len(some)} | {np.mean([s.in_95 for s in some]):.1%} |"
            f" {np.mean([s.in_80 for s in some]):.1%} | ×{np.exp(np.median([s.width for s in some])):.2f} |"
            f" {np.mean([s.water_in_80 for s in some]):.1%} |"
        )
    return "\n".join(rows)


def speed(seed: int) -> str:
    """120 homes with 10 weighings each over 180 days."""
    rng = np.random.default_rng(seed)
    hours = 180 * 24
    climate = drawn_climate(rng, hours)
    spells, truths = zip(*(drawn_keeper(rng, drawn_home(rng), hours) for _ in range(120)), strict=True)
    ten = tuple(Weighing(int(hour), 1.0, 0.3) for hour in np.linspace(24, hours - 24, 10))
    spells = [replace(spell, weighings=ten) for spell in spells]
    seen, _ = observed(rng, spells, list(truths), climate, hours, 0.95)
    began, used = time.perf_counter(), time.process_time()
    calibrate([HomeEvidence((spell,)) for spell in seen], climate, hours)
    wall, processor = time.perf_counter() - began, time.process_time() - used
    return f"120 homes, 10 weighings, 180 days: {wall:.2f} s (processor {processor:.2f} s)"


def main() -> None:
    """Print the table asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--homes", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--broken", action="store_true")
    parser.add_argument("--speed", action="store_true")
    given = parser.parse_args()
    if given.speed:
        print(speed(given.seed))
        return
    print(table(scores(given.homes, given.seed, given.broken)))


if __name__ == "__main__":
    main()
