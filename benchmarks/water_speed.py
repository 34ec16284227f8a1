"""A year of hourly water in a thousand homes, against SciPy integrating each home by itself.

    python benchmarks/water_speed.py
    python benchmarks/water_speed.py --homes 200 --checked 2

The other side integrates the same equations with LSODA (rtol 1e-6, steps of an hour at most), in scalar
Python mathematics, with the loss as a state of its own, from the same hourly demands, handed to it ready.
It is timed on a few homes and counted up to all of them.
"""

from __future__ import annotations

import argparse
import math
import resource
import time
from typing import Any

import numpy as np

YEAR_HOURS = 8760
PLACES = 8


def climate_of_a_year(rng: np.random.Generator, hours: int) -> Any:
    """Eight invented places: seasons, days, and slow weather."""
    from nightround.science.water.demand import Climate

    hour = np.arange(hours)
    season, day = np.cos(2 * math.pi * (hour / 8760 - 0.55)), np.cos(2 * math.pi * (hour / 24 - 0.6))
    slow = np.cumsum(rng.normal(0.0, 0.05, (PLACES, hours)), axis=1)
    slow -= np.linspace(0.0, 1.0, hours) * slow[:, -1:]
    level = rng.uniform(21.0, 25.0, (PLACES, 1))
    temperature = np.clip(level + 2.0 * season + 1.2 * day + slow, 10.0, 38.0)
    humidity = np.clip(0.5 + 0.12 * season - 0.04 * day - 0.02 * slow, 0.2, 0.9)
    return Climate(temperature, humidity)


def invented_homes(
    rng: np.random.Generator, count: int
) -> tuple[list[Any], list[Any], list[float], list[int]]:
    """Ventilation, substrate and depth of each column, and the home it belongs to; a fifth are sloped."""
    from nightround.science.water.openings import Opening
    from nightround.science.water.ventilation import Ventilation
    from nightround.science.water.vessels import Fill, Vessel, ends_mm

    mixes = [(("peat", 1.0),), (("coir", 1.0),), (("topsoil", 1.0),), (("coir", 2.0), ("vermiculite", 1.0)),
             (("topsoil", 3.0), ("sand", 1.0))]  # fmt: skip
    airs, parts, depths, home_of = [], [], [], []
    for home in range(count):
        length = float(rng.choice([60.0, 100.0, 150.0, 200.0, 300.0]))
        vessel = Vessel("box", length, length, length)
        low = round(float(rng.uniform(0.2, 0.4)) * length, -1)
        fill = Fill(low, low + (0.2 * length if home % 5 == 0 else 0.0))
        if home % 4 == 0:
            openings: tuple[Any, ...] = (
                Opening("mesh", 1, 0.6 * length, 0.6 * length, 0.5, open_fraction=0.5),
            )
        else:
            number = int(rng.integers(2, 24))
            openings = (Opening("hole", number, float(rng.choice([1.0, 2.0, 3.0])), thickness_mm=1.5),)
        if home % 3 == 0:
            openings += (Opening("hole", int(rng.integers(2, 8)), 2.0, thickness_mm=1.5, at="side_low"),)
        area = vessel.area_at(0.0)
        air = Ventilation(
            openings, area, area, length - fill.mean_mm, vessel.outside_area_mm2, rim_mm=vessel.rim_mm
        )
        mix = mixes[int(rng.integers(len(mixes)))]
        for _, depth in ends_mm(fill):
            airs.append(air)
            parts.append(mix)
            depths.append(depth)
            home_of.append(home)
    return airs, parts, depths, home_of


def alone(
    columns: Any, water: Any, demand: list[float], crust: float, hours: int, poured: dict[int, float]
) -> float:
    """Water lost by one column [mm], by LSODA over the stretches between waterings, in scalar mathematics."""
    from scipy.integrate import solve_ivp

    from nightround.science.water.columns import LAST_PER_HOUR, POINTS

    own, lifted = columns.table[0, 0].tolist(), columns.table[1, 0].tolist()
    depth, critical, full = (pair[:, 0].tolist() for pair in (columns.depth, columns.critical, columns.full))
    surface = float(columns.surface[0])

    def between(table: list[float], water_mm: float, whole: float) -> float:
        at = min(max(water_mm * (POINTS - 1) / whole, 0.0), POINTS - 1.0)
        index = min(int(at), POINTS - 2)
        return table[index] + (at - index) * (table[index + 1] - table[index])

    def change(hour: float, state: Any) -> tuple[float, float, float]:
        top, rest = float(state[0]), float(state[1])
        asked = demand[min(int(hour), hours - 1)]
        flow_top, flow_rest = between(own, top, full[0]), between(lifted, rest, full[1])
        wet_top = min(max(top / critical[0], 0.0), 1.0)
        dry_rest = 1.0 - min(max(rest / critical[1], 0.0), 1.0)
        liquid = min(surface * flow_top, asked)
        resistance = 1.0 + (1.0 - wet_top) * crust * (depth[0] + dry_rest * depth[1])
        vapour = min(asked / resistance, asked - liquid)
        of_top = liquid + min(wet_top * vapour, LAST_PER_HOUR * max(top, 0.0))
        of_rest = min((1.0 - wet_top) * vapour, LAST_PER_HOUR * max(rest, 0.0))
        lift = flow_rest - flow_top
        return lift - of_top, -lift - of_rest, of_top + of_rest

    state = [float(water[0]), float(water[1]), 0.0]
    borders = sorted({0, hours, *poured})
    for start, end in zip(borders[:-1], borders[1:], strict=True):
        state[0] += poured.get(start, 0.0)
        done = solve_ivp(change, (start, end), state, method="LSODA", rtol=1e-6, atol=1e-9, max_step=1.0)
        state = done.y[:, -1].tolist()
    return float(state[2])


def main() -> None:
    """Time both, compare, and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--homes", type=int, default=1000)
    parser.add_argument("--hours", type=int, default=YEAR_HOURS)
    parser.add_argument("--checked", type=int, default=5)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--step", type=int, default=2, help="hours a step of ours, each with its mean demand")
    parser.add_argument("--dry", action="store_true", help="never water, so that substrates dry out")
    given = parser.parse_args()
    from nightround.science.water.balance import Watering, run
    from nightround.science.water.columns import balanced_water_mm, make_columns
    from nightround.science.water.demand import Demand, homes_air

    rng = np.random.default_rng(given.seed)
    climate = climate_of_a_year(rng, given.hours)
    airs, parts, depths, home_of = invented_homes(rng, given.homes)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began, used = time.perf_counter(), time.process_time()
    columns = make_columns(parts, depths)
    pairs = zip(parts, depths, strict=True)
    water = np.stack([balanced_water_mm(mix, depth, 0.3) for mix, depth in pairs], axis=1)
    homes = homes_air(airs, [home % PLACES for home in home_of])
    crust = homes.crust_per_mm(columns.crust_mm)
    ready = time.perf_counter() - began
    demand = Demand(homes, climate, given.step)
    weeks = range(168 * 3, given.hours, 168 * 3)
    dose = [] if given.dry else [
        Watering(hour, column, 0.08 * depth) for hour in weeks for column, depth in enumerate(depths)
    ]  # fmt: skip
    course = run(columns, water, demand, crust, given.hours, tuple(dose), hours_a_step=given.step)
    wall, processor = time.perf_counter() - began, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"{given.homes} homes, {columns.count} columns, {given.hours} hours: {wall:.2f} s"
        f" (processor {processor:.2f} s; {ready:.2f} s of it tables), memory {peak / 1024:.0f} MB"
        f" ({(peak - memory) / 1024:.0f} MB more than before)"
    )
    ended = course.water[-1].sum(axis=0)
    first = water.sum(axis=0)
    gap = np.abs(first + course.given - course.lost[-1] - ended)
    print(f"balance closes within {gap.max():.1e} mm; {np.mean(ended < 0.05 * first):.0%} of columns end dry")
    chosen = np.linspace(0, columns.count - 1, given.checked).astype(int)
    rows = np.concatenate(
        [Demand(homes, climate)(h, min(h + 240, given.hours))[:, chosen] for h in range(0, given.hours, 240)]
    )
    times, worst = [], 0.0
    for place, column in enumerate(chosen):
        poured = {event.hour: event.water_mm for event in dose if event.column == column}
        hourly = rows[:, place].tolist()
        began = time.perf_counter()
        lost = alone(
            columns.pick(np.array([column])),
            water[:, column],
            hourly,
            float(crust[column]),
            given.hours,
            poured,
        )
        times.append(time.perf_counter() - began)
        worst = max(worst, abs(float(course.lost[-1, column]) / lost - 1.0))
    whole = float(np.mean(times)) * columns.count
    print(
        f"LSODA, one column by itself: {np.mean(times):.2f} s, all of them {whole:.0f} s:"
        f" {whole / wall:.0f} times as long; largest difference of the year's loss {worst:.1e}"
    )


if __name__ == "__main__":
    main()
