"""Survival of 10,000 lives by 50 groups and Turnbull's estimate of 2,000 intervals, beside other libraries.

    python benchmarks/survival_speed.py

lifelines and surpyval are timed on the same lives in the same run where they are installed (`pip install
lifelines surpyval`); the project needs neither. Invented lives, seeded.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from benchmarks.survival_coverage import SCALE_DAYS, SHAPE, invented_lives
from nightround.science.survival.data import Floats, Lives
from nightround.science.survival.parametric import fit
from nightround.science.survival.product_limit import product_limits
from nightround.science.survival.turnbull import log_likelihood_of, turnbull


def looked_at_lives(rng: np.random.Generator, n: int, *, late: bool = True, most_days: int = 60) -> Lives:
    """Lives looked at every 1 to `most_days - 1` days, death between two looks; three in five come late."""
    entry = np.zeros(n)
    if late:
        entry = np.where(rng.random(n) < 0.6, rng.integers(0, 900, n), 0).astype(np.float64)
    age = SCALE_DAYS * ((entry / SCALE_DAYS) ** SHAPE + rng.exponential(size=n)) ** (1.0 / SHAPE)
    seen = entry + np.floor(rng.uniform(0.0, 1500.0, n))
    left, right = np.empty(n), np.empty(n)
    for i in range(n):
        looks = entry[i] + np.concatenate(([0], np.cumsum(rng.integers(1, most_days, 1600))))
        looks = looks[looks <= seen[i]]
        before = int(np.searchsorted(looks, age[i])) - 1
        left[i] = looks[max(before, 0)]
        right[i] = looks[before + 1] if before + 1 < len(looks) else np.inf
    return Lives(entry, left, right)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Best seconds of three runs, and the result."""
    best, result = np.inf, None
    for _ in range(3):
        began = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - began)
    return best, result


def lifelines_curves(lives: Lives, group: Floats) -> Callable[[], Any] | None:
    """lifelines' Kaplan-Meier of every group, or None where it is not installed."""
    try:
        from lifelines import KaplanMeierFitter
    except ImportError:
        return None

    def work() -> None:
        for number in np.unique(group):
            one = lives.only(group == number)
            KaplanMeierFitter().fit(one.left_days + 0.5, one.died, entry=one.entry_days)

    return work


def lifelines_weibull(lives: Lives) -> Callable[[], Any] | None:
    """lifelines' Weibull fit, or None where it is not installed."""
    try:
        from lifelines import WeibullFitter
    except ImportError:
        return None
    return lambda: WeibullFitter().fit(lives.left_days + 0.5, lives.died, entry=lives.entry_days)


def surpyval_turnbull(lives: Lives) -> Callable[[], Any] | None:
    """surpyval's Turnbull estimate, or None where it is not installed."""
    try:
        import surpyval
    except ImportError:
        return None
    return lambda: surpyval.Turnbull.fit(xl=lives.left_days, xr=lives.right_days, tl=lives.entry_days - 0.5)


def steps_log_likelihood(lives: Lives, days: Floats, survival: Floats) -> float:
    """Log-likelihood of another program's steps: survival right after each day."""
    levels = np.concatenate(([1.0], survival))

    def at(asked: Floats) -> Floats:
        return np.asarray(levels[np.searchsorted(days, asked, side="right")], dtype=np.float64)

    after = np.where(lives.died, lives.right_days, 0.0)
    dated = lives.left_days == lives.right_days
    left = at(np.where(dated, lives.left_days - 0.5, lives.left_days))
    return log_likelihood_of(lives, left, at(after), at(lives.entry_days - 0.5))


def _row(work: str, ours: float, theirs: Callable[[], Any] | None, who: str) -> Any:
    if theirs is None:
        print(f"| {work} | {ours:.3f} s | {who} is not installed | |", flush=True)
        return None
    seconds, result = timed(theirs)
    print(f"| {work} | {ours:.3f} s | {who} {seconds:.3f} s | {seconds / ours:.1f} times |", flush=True)
    return result


def main() -> None:
    warnings.simplefilter("ignore")
    rng = np.random.default_rng(1)
    lives = invented_lives(rng, 10_000)
    group = rng.integers(0, 50, len(lives))
    print("| work | here | elsewhere | elsewhere over here |\n|---|---|---|---|")
    seconds, _ = timed(lambda: product_limits(lives, group))
    _row("10,000 lives by 50 groups", seconds, lifelines_curves(lives, group), "lifelines")
    seconds, _ = timed(lambda: fit(lives.whole_days()))
    _row("Weibull of 10,000 lives, profile intervals", seconds, lifelines_weibull(lives), "lifelines")
    for late, gap in ((False, 30), (True, 30), (True, 200)):
        looked = looked_at_lives(np.random.default_rng(1), 2000, late=late, most_days=gap)
        seconds, ours = timed(lambda looked=looked: turnbull(looked))  # type: ignore[misc]
        name = f"Turnbull, 2,000 intervals{', late entry' if late else ''}, looks up to {gap} days apart"
        theirs = _row(name, seconds, surpyval_turnbull(looked), "surpyval")
        if theirs is not None:
            other = steps_log_likelihood(looked, theirs.x, theirs.R)
            print(f"|   its log-likelihood | {ours.log_likelihood:.4f} | {other:.4f} | |", flush=True)


if __name__ == "__main__":
    main()
