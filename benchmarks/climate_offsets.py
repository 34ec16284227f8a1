"""How often 95 % intervals of shelf offsets hold the truth, and how long the climate takes, on drawn rooms.

    .venv/bin/python benchmarks/climate_offsets.py

Takes about a minute. Rooms: a wave of 3 C, weather that remembers (0.75), five shelves each with errors of
its own (sd 0.1 to 0.5 C, memory 0 to 0.92, a share of 0 to 0.8 new each day), readings rounded to 0.1, 3 % of
days and one stretch missing. Second table: one known memory at a time.
"""

from __future__ import annotations

import time

import numpy as np

from nightround.science.climate.levels import fit_levels
from nightround.science.climate.offsets import offsets
from nightround.science.thermal import FloatArray

FIRST = 739_000
SHELVES = (1.1, 0.4, -1.0, 0.2, 0.0)
LENGTHS = ((30, 60, 250), (60, 200, 250), (200, 320, 250), (320, 700, 200), (700, 1100, 150))


def memory(rng: np.random.Generator, days: int, phi: float, noise: float) -> FloatArray:
    """A series of sd 1 that remembers with phi, a share `noise` of its variance being new each day."""
    shocks = np.sqrt(1.0 - phi**2) * rng.standard_normal(days)
    state, out = rng.standard_normal(), np.empty(days)
    for day in range(days):
        state = phi * state + shocks[day]
        out[day] = state
    return np.sqrt(1.0 - noise) * out + np.sqrt(noise) * rng.standard_normal(days)


def room(rng: np.random.Generator, days: int) -> FloatArray:
    """Readings of the shelves, and of the room in the last row, with gaps."""
    wave = np.cos(2 * np.pi * (FIRST + np.arange(days)) / 365.25)
    air = 22.0 + 3.0 * wave + memory(rng, days, 0.75, 0.1)
    rows = [
        air
        + warmer
        + rng.uniform(0.1, 0.5) * memory(rng, days, rng.uniform(0.0, 0.92), rng.uniform(0.0, 0.8))
        for warmer in SHELVES
    ]
    table = np.round(np.array([*rows, air]), 1)
    table[rng.random(table.shape) < 0.03] = np.nan
    gap = rng.integers(0, days - days // 6)
    table[:, gap : gap + days // 8] = np.nan
    return table


def by_length() -> None:
    """Rooms of drawn memory, by length."""
    print("| days | intervals | hold the truth |\n|---|---|---|")
    for low, high, number in LENGTHS:
        rng = np.random.default_rng(42)
        hits = []
        for _ in range(number):
            found = offsets(FIRST, room(rng, int(rng.integers(low, high))), len(SHELVES))
            hits += [
                each.low <= truth <= each.high
                for each, truth in zip(found, SHELVES, strict=False)
                if each is not None
            ]
        print(f"| {low} to {high} | {len(hits)} | {100 * np.mean(hits):.1f} % |")


def by_memory() -> None:
    """One memory at a time: short series cannot know how long they remember."""
    print("\n| memory | 20 days | 60 days | 200 days | 2,500 days |\n|---|---|---|---|---|")
    for phi in (0.0, 0.5, 0.8, 0.9, 0.95):
        cells = []
        for days, number in ((20, 500), (60, 500), (200, 400), (2500, 150)):
            rng = np.random.default_rng(7)
            series = np.array([memory(rng, days, phi, rng.uniform(0.0, 0.6)) for _ in range(number)])
            series[rng.random(series.shape) < 0.05] = np.nan
            levels = fit_levels(FIRST, series, with_year=False)
            ends = [level.interval(np.ones(1)) for level in levels if level is not None]
            cells.append(f"{100 * np.mean([low <= 0.0 <= high for low, high in ends]):.1f} %")
        print(f"| {phi:g} | {' | '.join(cells)} |")


def main() -> None:
    """Print both tables and how long they took."""
    began = time.perf_counter()
    by_length()
    by_memory()
    print(f"\n{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
