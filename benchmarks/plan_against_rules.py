"""Plans against naive rules in invented rooms of the same true lives: homes and feeders over 18 months.

Run: python -m benchmarks.plan_against_rules --rooms 8 --seed 1

Each room is run twice from the same warm-up year: once with the plans of the program, made again and again
from nothing but the keeper's book, once with "rehouse when it looks small" and "same order every week". Fit
is counted by the program's own rules at the true size. Differences are paired by room, with 90 % bootstrap
intervals over rooms. A third run has a standing order for what was fed only, not for what died in the tubs.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from benchmarks.trial_judge import FitJudge
from benchmarks.trial_plans import Planned, planned
from nightround.simulate.policies import Shape, Tally, lives_of, naive, naive_fed, run_trial

RESAMPLED = 4000
PLAN, RULES, FED = "plan", "rules", "fed"


@dataclass(frozen=True)
class Row:
    """One line of the table: what is counted, by which naive rule it is held against, and how."""

    words: str
    against: str
    of: Callable[[dict[str, float], int], float]


ROWS = (
    Row("moves per animal", "when it looks small", lambda t, n: t["moves"] / n),
    Row("weeks in a home that does not fit, per animal", "when it looks small",
        lambda t, n: t["misfit_weeks"] / n),
    Row("  of these too small", "when it looks small", lambda t, n: t["small_weeks"] / n),
    Row("  of these too large or too tall", "when it looks small", lambda t, n: t["large_weeks"] / n),
    Row("  of these with gaps to leave by", "when it looks small", lambda t, n: t["gap_weeks"] / n),
    Row("homes bought, cost per room", "when it looks small", lambda t, n: t["homes_cost"]),
    Row("days without prey on an evening that is due, per animal", "same order every week",
        lambda t, n: t["shortage_days"] / n),
    Row("meals of prey too long, killed and cut, per animal", "same order every week",
        lambda t, n: t["cut_meals"] / n),
    Row("feeders wasted per room", "same order every week", lambda t, n: t["wasted"]),
    Row("feeders fed per room", "same order every week", lambda t, n: t["fed"]),
    Row("feeders bought, cost per room", "same order every week", lambda t, n: t["feeders_cost"]),
    Row("cost of both per room", "both", lambda t, n: t["homes_cost"] + t["feeders_cost"]),
)  # fmt: skip


@dataclass(frozen=True)
class Result:
    """What one room gave."""

    seed: int
    animals: int
    tallies: dict[str, dict[str, float]]
    gaps: dict[str, list[float]]
    seconds: float


def run_room(seed: int, shape: Shape, judge: FitJudge, planner: Planned) -> Result:
    """Run one room under both."""
    began = time.perf_counter()
    lives = lives_of(seed, shape)
    tallies: dict[str, Tally] = {}
    for name, make in ((RULES, naive), (FED, naive_fed), (PLAN, planner.make)):
        tallies[name] = run_trial(seed, lives, judge, make, shape, judge.feeding())
    plain = {
        name: {key: float(each) for key, each in asdict(tally).items()} for name, tally in tallies.items()
    }
    return Result(seed, lives.animals, plain, planner.gaps_taken(), time.perf_counter() - began)


def _numbers(tally: Tally) -> dict[str, float]:
    return {key: float(each) for key, each in asdict(tally).items()}


def interval(differences: np.ndarray) -> tuple[float, float]:
    """A 90 % bootstrap interval of the mean over rooms."""
    rng = np.random.default_rng(1)
    picked = rng.integers(0, len(differences), (RESAMPLED, len(differences)))
    low, high = np.quantile(differences[picked].mean(axis=1), (0.05, 0.95))
    return float(low), float(high)


def table(results: Sequence[Result]) -> str:
    """The table: plan, naive rule, the paired difference, and the standing order for what was fed only."""
    head = "| mean over rooms | plan | naive rule | | plan less rule (90 %) | order as fed |"
    lines = [head, "|---|--:|--:|---|--:|--:|"]
    for row in ROWS:
        plan, rules, fed = (
            np.array([row.of(result.tallies[name], result.animals) for result in results])
            for name in (PLAN, RULES, FED)
        )
        low, high = interval(plan - rules)
        told = f"| {row.words} | {plan.mean():.2f} | {rules.mean():.2f} | {row.against} "
        told += f"| {np.mean(plan - rules):+.2f} ({low:+.2f} to {high:+.2f}) "
        lines.append(f"{told}| {fed.mean():.2f} |")
    return "\n".join(lines)


def gap_words(results: Sequence[Result]) -> str:
    """The gaps that the plans proved."""
    lines = []
    for name in sorted({name for result in results for name in result.gaps}):
        gaps = np.array([gap for result in results for gap in result.gaps.get(name, [])])
        if not len(gaps):
            continue
        known = gaps[np.isfinite(gaps)]
        lines.append(
            f"{name}: {len(gaps)} plans, proven gap median {np.median(known) * 100:.2f} %, "
            f"nine in ten up to {np.quantile(known, 0.9) * 100:.2f} %, largest {known.max() * 100:.2f} %, "
            f"none proven in {len(gaps) - len(known)}"
            if len(known)
            else f"{name}: {len(gaps)} plans, no gap proven"
        )
    return "\n".join(lines)


def main() -> None:
    """Run the rooms asked for and print the table."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--rooms", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1, help="of the first room; the next count on from it")
    parser.add_argument("--animals", type=int, default=16)
    parser.add_argument("--weeks", type=int, default=78)
    parser.add_argument("--minutes", type=float, default=0.0, help="start no further room after so long")
    parser.add_argument("--keep", type=Path, help="a file of results to add to; its rooms are not run again")
    told = parser.parse_args()
    shape, judge = Shape(animals=told.animals, weeks=told.weeks), FitJudge()
    results = _kept(told.keep)
    began = time.perf_counter()
    for seed in range(told.seed, told.seed + told.rooms):
        if seed in {result.seed for result in results}:
            continue
        if told.minutes and time.perf_counter() - began > 60 * told.minutes:
            break
        results.append(run_room(seed, shape, judge, planned(judge)))
        print(f"room {seed}: {results[-1].seconds:.1f} s", flush=True)
        if told.keep:
            with told.keep.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(results[-1])) + "\n")
    seconds = sum(result.seconds for result in results)
    print(f"\n{len(results)} rooms of {told.animals} animals, {told.weeks} weeks, from seed {told.seed}")
    print(f"{seconds:.0f} s\n")
    print(table(results), gap_words(results), sep="\n\n")


def _kept(path: Path | None) -> list[Result]:
    if path is None or not path.exists():
        return []
    return [Result(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


if __name__ == "__main__":
    main()
