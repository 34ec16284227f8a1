"""The order plan of a large room: 400 invented animals, 26 weeks, 5 kinds of feeders.

    python benchmarks/larder_orders.py
    python benchmarks/larder_orders.py --animals 200 --weeks 12 --seconds 5 --watch

Everything is invented and seeded: animals between spiderling and adult that grow, are offered prey weekly or
every other week and sit out in premoult; packs, prices and tubs in the house of an invented shop.
"""

from __future__ import annotations

import argparse
import itertools
import os
import resource
import time
from typing import Any

import numpy as np

EDGES_MM = (1.0, 2.3, 2.9, 4.0, 6.0, 9.0, 13.0, 18.0, 30.0)
COURSES = 20
# kind, length [mm], feeders in a pack, invented price
SHOP = (
    ("melanogaster", 2.6, 150.0, 4.5),
    ("hydei", 3.0, 120.0, 5.0),
    ("acheta", 2.5, 500.0, 8.0),
    ("acheta", 5.0, 250.0, 7.0),
    ("acheta", 10.0, 100.0, 6.0),
    ("acheta", 18.0, 40.0, 6.0),
    ("gryllus", 8.0, 100.0, 7.5),
    ("gryllus", 24.0, 30.0, 7.5),
    ("lateralis", 4.0, 200.0, 12.0),
    ("lateralis", 9.0, 100.0, 12.0),
    ("lateralis", 16.0, 50.0, 11.0),
)


def invented_demand(animals: int, weeks: int, rng: np.random.Generator) -> np.ndarray:
    """Prey wanted by course, week and class: body grows by steps, prey is up to half the body."""
    body = np.exp(rng.uniform(np.log(4.0), np.log(55.0), animals))
    out = np.zeros((COURSES, weeks, len(EDGES_MM) - 1))
    for course in range(COURSES):
        grown = body.copy()
        gap = 4.0 + 0.5 * body * np.exp(rng.normal(0.0, 0.25, animals))
        since = rng.uniform(0.0, gap)
        for week in range(weeks):
            moults = since >= gap
            grown, since = np.where(moults, grown * 1.25, grown), np.where(moults, 0.0, since + 1.0)
            eats = (
                (since < 0.8 * gap) & (since >= 1.0) & (rng.random(animals) < np.where(grown < 25, 0.9, 0.5))
            )
            size = np.clip(0.5 * grown, 1.5, 29.0)
            out[course, week] = np.histogram(size[eats], EDGES_MM)[0]
    return out


def invented_problem(animals: int, weeks: int, seed: int, delivery: bool = True) -> Any:
    """Lots, packs and demand as `plans` hands them over."""
    from nightround.science.larder.growth import Lots, SizeClasses, project, project_culture, stack
    from nightround.science.larder.kinds import KINDS
    from nightround.science.larder.problem import OrderProblem, Pack, several_small

    rng = np.random.default_rng(seed)
    edges = np.array(EDGES_MM)
    classes = SizeClasses(edges[:-1], edges[1:])
    day = np.arange(7 * weeks)
    warmth = 24.0 + 2.5 * np.cos(2 * np.pi * (day / 365.0 - 0.1))
    packs = []
    for number, (key, length, animals_in, price) in enumerate(SHOP):
        kind, lead = KINDS[key], 1 + number % 2
        if kind.culture is not None:
            profiles = stack(
                [project_culture(kind, 7 * week, warmth, classes, weeks) for week in range(weeks)]
            )
        else:
            start = 7 * np.arange(weeks)
            lots = Lots((kind,) * weeks, np.full(weeks, length), np.full(weeks, np.nan), start)
            profiles = project(lots, np.tile(warmth, (weeks, 1)), classes, weeks)
        packs.append(Pack(animals_in, price, np.arange(weeks) >= lead, profiles, supplier=number % 2))
    kinds = tuple(KINDS[key] for key in ("acheta", "acheta", "lateralis", "melanogaster"))
    lots = Lots(kinds, np.array([4.0, 12.0, 7.0, 2.6]), np.full(4, np.nan), np.zeros(4, dtype=np.int64))
    stock = project(lots, np.tile(warmth, (4, 1)), classes, weeks)
    count = classes.count
    return OrderProblem(
        invented_demand(animals, weeks, rng), stock, np.array([180.0, 60.0, 150.0, 120.0]), tuple(packs),
        several_small(edges[:-1], edges[1:]), 0.02 * (1.0 - np.eye(count)), np.full(count, 1.0), 0.005,
        keep_price=0.0005, delivery_price=np.array([4.0, 6.0]) * delivery,
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--animals", type=int, default=400)
    parser.add_argument("--weeks", type=int, default=26)
    parser.add_argument("--seconds", type=float, default=7.0)
    parser.add_argument("--gap", type=float, default=0.005)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--watch", action="store_true", help="print progress")
    given = parser.parse_args()
    from nightround.science.larder.orders import Progress, plan

    def watch(progress: Progress) -> bool:
        if given.watch:
            print(
                f"    {progress.seconds:5.1f} s  {progress.stage:12} {progress.cost:9.2f}"
                f"  bound {progress.bound:9.2f}"
            )
        return True

    print(
        "seed  delivery  laid out  planned  all in  processor   cost  bound     gap  packs  wanted  missing"
    )
    for delivery, seed in itertools.product((False, True), range(given.seeds)):
        began, busy = time.perf_counter(), time.process_time()
        problem = invented_problem(given.animals, given.weeks, seed, delivery)
        laid = time.perf_counter() - began
        found = plan(problem, seconds=given.seconds, gap=given.gap, watch=watch)
        total = time.perf_counter() - began
        wanted = problem.demand.mean(axis=0).sum()
        busy = time.process_time() - busy
        print(
            f"{seed:4}  {'paid' if delivery else 'free':8}  {laid:6.2f} s {found.seconds:6.2f} s"
            f" {total:5.2f} s {busy:8.2f} s {found.cost:6.1f} {found.bound:6.1f}  {100 * found.gap:4.1f} %"
            f"  {found.packs.sum():5} {wanted:7.0f}  {found.missing.sum():7.1f}"
        )
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory {memory:.0f} MB, load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
