"""How long the plan of homes takes, and the gap it proves: `python benchmarks/homes_plan.py [--seconds 8]`.

Invented problems: spiders of several growth rates under homes of growing size, few of them empty, all for
sale. With `--room 150` the whole plan of a demo room of so many animals, its fit of moults timed apart.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from nightround.science.housing.problem import HousingProblem, moves_of
from nightround.science.housing.solve import solve

SIZES = ((100, 26, 5), (400, 13, 5), (400, 26, 5), (400, 39, 5), (400, 39, 8), (1000, 39, 8))


def invented(animals: int, periods: int, kinds: int, seed: int = 1) -> HousingProblem:
    """Spans grow step by step; a home fits from a quarter to a half of its floor, each filled three ways."""
    rng = np.random.default_rng(seed)
    floors = np.geomspace(40.0, 400.0, kinds)
    kind = np.repeat(np.arange(kinds), 3)
    floor = floors[kind] * np.tile([0.9, 1.0, 1.1], kinds)
    start, rate = rng.uniform(8.0, 90.0, animals), rng.uniform(0.005, 0.06, animals)
    spread = rng.uniform(0.05, 0.25, animals)
    ahead = np.arange(periods)[None, :]
    log_span = np.minimum(np.log(start)[:, None] + rate[:, None] * ahead, np.log(180.0))
    noise = rng.standard_normal((60, animals, 1)) * spread[None, :, None]
    spans = np.exp(log_span[None] + noise * np.sqrt(1 + ahead) / 3)

    def misfit(size: np.ndarray) -> np.ndarray:
        high, low = size[None, :, :] / 2.2, size[None, :, :] / 12.0
        return np.asarray(2.0 * ((spans > high) | (spans < low)).mean(axis=0))

    stay = np.stack([misfit(np.full((animals, periods), size)) for size in floor], axis=1)
    own_kind = np.minimum(np.searchsorted(floors, 2.2 * start), kinds - 1)
    own = misfit(np.repeat(floors[own_kind][:, None], periods, axis=1))
    blocked = rng.random((animals, 1, periods))
    enter = np.where(stay > 1.0, np.inf, 6.0 * (1.0 + blocked))
    return HousingProblem(
        stay, own, enter, kind, own_kind, rng.integers(0, 6, kinds), np.linspace(0.5, 6.0, kinds),
        np.full(kinds, animals), np.full(kinds, 1),
    )  # fmt: skip


def whole_room(animals: int, seed: int, seconds: float) -> None:
    """Print the times of the whole plan of an invented room, from its entries on."""
    from datetime import date
    from pathlib import Path
    from tempfile import TemporaryDirectory

    from nightround.findings.moult import clock_odds, forecast
    from nightround.findings.size import sizes
    from nightround.findings.spans import room_spans
    from nightround.journal.store import Journal
    from nightround.plans.rehousing import DRAWS, fortnights, plan
    from nightround.record.fold import fold
    from nightround.simulate import room

    told = room(seed, animals=animals, years=2.0, end=date(2026, 11, 20))
    with TemporaryDirectory() as folder, Journal.create(Path(folder) / "r", time_zone="Europe/Paris") as book:
        book.append(told.drafts)
        record = fold(book.entries(), told.end, book.clock)
    began = time.perf_counter()
    odds = clock_odds(record)
    pages = sizes(record)
    tonight = forecast(record, sizes=pages)
    fitted, used = time.perf_counter(), time.process_time()
    spans = room_spans(record, odds, fortnights(record.on), DRAWS)
    report = plan(record, spans, pages, tonight, seconds=seconds)
    print(
        f"{report.planned} of {len(report.courses)} animals planned over {len(spans.days)} fortnights, "
        f"{len(report.moves)} moves, proven gap {report.gap:.2%}: fits {fitted - began:.1f} s, "
        f"spans and plan {time.perf_counter() - fitted:.1f} s ({time.process_time() - used:.1f} s of one)"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", type=int, default=0, metavar="ANIMALS")
    asked = parser.parse_args()
    if asked.room:
        whole_room(asked.room, asked.seed, asked.seconds)
        return
    print("animals periods kinds  moves bought      cost      gap      s")
    for animals, periods, kinds in SIZES:
        problem = invented(animals, periods, kinds, asked.seed)
        began = time.perf_counter()
        plan = solve(problem, seconds=asked.seconds)
        took = time.perf_counter() - began
        print(
            f"{animals:7d} {periods:7d} {kinds:5d} {int(moves_of(plan.way).sum()):6d} "
            f"{int(plan.bought.sum()):6d} {plan.cost:9.1f} {plan.gap:8.3%} {took:6.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
