"""How often survival intervals hold the truth, in invented rooms with late entry and censoring.

    python benchmarks/survival_coverage.py
    python benchmarks/survival_coverage.py --rooms 300 --animals 10 40

Each room draws n lives of a known law. Three in five are joined late, at up to 900 days, and are known only
because they lived to that day; all are followed for up to 1,500 days. Days are whole. A room counts on a day
if its curve knows survival there; the truth is that of lives which reached the curve's first day. Rooms that
know too little for a fitted law refuse it and are counted.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import Floats, Lives
from nightround.science.survival.limits import METHODS
from nightround.science.survival.parametric import fit
from nightround.science.survival.product_limit import product_limit

SHAPE, SCALE_DAYS = 2.5, 1500.0
ASKED = np.array([300.0, 600.0, 900.0, 1200.0, 1500.0, 1800.0, 2100.0])


def invented_lives(rng: np.random.Generator, n: int) -> Lives:
    """Lives of a Weibull law with late entry and censoring, in whole days."""
    entry = np.where(rng.random(n) < 0.6, rng.integers(0, 900, n), 0).astype(np.float64)
    age = SCALE_DAYS * ((entry / SCALE_DAYS) ** SHAPE + rng.exponential(size=n)) ** (1.0 / SHAPE)
    end = np.floor(age)
    seen = entry + np.floor(rng.uniform(0.0, 1500.0, n))
    left = np.minimum(end, seen)
    return Lives(entry, left, np.where(end <= seen, left, np.inf))


def true_survival(days: Floats, from_days: float) -> Floats:
    """Chance to live past the given whole days for lives that reached the morning of `from_days`."""
    reached = (from_days / SCALE_DAYS) ** SHAPE
    return np.asarray(np.exp(reached - ((days + 1.0) / SCALE_DAYS) ** SHAPE), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Held:
    """Share of intervals that hold the truth: by day (7,), and over all days of all rooms; and mean width."""

    by_day: Floats
    all: float
    width: float
    rooms: int
    refused: int = 0


def curve_coverage(n: int, rooms: int, methods: tuple[str, ...], seed: int = 5) -> dict[str, Held]:
    """Coverage of the product limit's intervals of 95 % in rooms of n animals."""
    rng = np.random.default_rng(seed)
    held = np.full((len(methods), rooms, len(ASKED)), np.nan)
    width = np.full_like(held, np.nan)
    for room in range(rooms):
        lives = invented_lives(rng, n)
        for k, method in enumerate(methods):
            curve = product_limit(lives, method=method)
            values = curve.at(ASKED)
            truth = true_survival(ASKED, curve.from_days)
            known = np.isfinite(values.survival)
            inside = (values.low <= truth) & (truth <= values.high)
            held[k, room, known] = inside[known]
            width[k, room] = values.high - values.low
    return {
        method: Held(
            np.nanmean(held[k], axis=0), float(np.nanmean(held[k])), float(np.nanmean(width[k])), rooms
        )
        for k, method in enumerate(methods)
    }


def law_coverage(n: int, rooms: int, seed: int = 6, *, for_few_deaths: bool = True) -> Held:
    """Coverage of the Weibull law's profile intervals of 95 % of survival on the same days."""
    rng = np.random.default_rng(seed)
    held = np.full((rooms, len(ASKED)), np.nan)
    width = np.full_like(held, np.nan)
    refused = 0
    for room in range(rooms):
        try:
            lives = invented_lives(rng, n).whole_days()
            told = fit(lives, for_few_deaths=for_few_deaths).survival(ASKED + 1.0)
        except Refusal:
            refused += 1
            continue
        truth = true_survival(ASKED, 0.0)
        held[room] = [one.low <= true <= one.high for one, true in zip(told, truth, strict=True)]
        width[room] = [one.high - one.low for one in told]
    by_day = np.nanmean(held, axis=0)
    return Held(by_day, float(np.nanmean(held)), float(np.nanmean(width)), rooms, refused)


def _row(n: int, name: str, held: Held) -> str:
    days = " | ".join(f"{share:.3f}" for share in held.by_day)
    return f"| {n} | {name} | {days} | {held.all:.3f} | {held.width:.2f} | {held.refused} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=1500)
    parser.add_argument("--law-rooms", type=int, default=400)
    parser.add_argument("--animals", type=int, nargs="+", default=[5, 10, 20, 40, 100])
    given = parser.parse_args()
    days = " | ".join(f"{day:.0f} d" for day in ASKED)
    print(f"| animals | interval | {days} | all | width | refused |\n|---|---|" + "---|" * (len(ASKED) + 3))
    for n in given.animals:
        curves = curve_coverage(n, given.rooms, tuple(METHODS)) if given.rooms else {}
        for name, held in curves.items():
            print(_row(n, name, held), flush=True)
        for few in (True, False):
            name = "weibull" if few else "weibull, chi-squared"
            print(_row(n, name, law_coverage(n, given.law_rooms, for_few_deaths=few)), flush=True)


if __name__ == "__main__":
    main()
