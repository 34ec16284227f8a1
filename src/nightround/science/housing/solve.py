"""The best rehousing plan in the time there is: exactly when small, by courses when large, with its gap."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from nightround.science.housing.columns import Heard, Search, search
from nightround.science.housing.exact import solve_exactly
from nightround.science.housing.paths import best_paths, through
from nightround.science.housing.problem import OWN, HousingPlan, HousingProblem

WORTH_LOOKING = 40_000
"""Ways of being housed, by animal and period, up to which the rest is solved exactly."""


def solve(
    problem: HousingProblem,
    *,
    seconds: float = 8.0,
    heard: Heard | None = None,
    stop: Callable[[], bool] | None = None,
) -> HousingPlan:
    """Return the best plan found in about `seconds`, with the cost that no plan goes under.

    There is always one: everybody stays. `heard` is told the best cost and the bound while it runs; when
    `stop` says so, or the keyboard interrupts, the best so far is returned with the gap proven so far.
    """
    began = time.perf_counter()
    reachable = np.asarray(np.isfinite(problem.enter).any(axis=(0, 2)))
    if not reachable.any():
        way = np.full((problem.animals, problem.periods), OWN, dtype=np.int64)
        cost = float(problem.own.sum())
        return HousingPlan(way, np.zeros(problem.kinds, dtype=np.int64), cost, cost, "nothing to choose")
    if not reachable.all():
        return _widened(solve(_only(problem, reachable), seconds=seconds, heard=heard, stop=stop), reachable)
    found, stopped = search(problem, seconds, heard, stop)
    left = seconds - (time.perf_counter() - began)
    if not stopped and not found.close() and left > 0.5:
        _finish(found, left)
        if heard is not None:
            heard(found.value, found.bound)
    assert found.best is not None and found.bought is not None
    method = "priced courses"
    took = time.perf_counter() - began
    bound = min(found.bound, found.value)
    return HousingPlan(found.best, found.bought, found.value, bound, method, took, stopped, found.prices)


def _only(problem: HousingProblem, ways: np.ndarray) -> HousingProblem:
    """Leave out ways that nobody may ever move into."""
    return replace(problem, stay=problem.stay[:, ways], enter=problem.enter[:, ways], kind=problem.kind[ways])


def _widened(plan: HousingPlan, ways: np.ndarray) -> HousingPlan:
    """Return a plan in the numbering of all ways."""
    numbers = np.flatnonzero(ways)
    return replace(plan, way=np.where(plan.way == OWN, OWN, numbers[np.maximum(plan.way, 0)]))


def _finish(found: Search, seconds: float) -> None:
    """Solve what is left exactly: only ways that could be part of a cheaper plan, by their reduced costs."""
    problem, prices = found.problem, found.prices
    if prices is None:
        return
    slack = through(problem, prices) - best_paths(problem, prices)[0][:, None, None]
    keep = slack <= (found.value - found.bound) + 1e-7
    if int(keep.sum()) > WORTH_LOOKING:
        return
    try:
        exact = solve_exactly(problem, seconds, keep)
    except KeyboardInterrupt:
        return
    if exact is None:
        return
    found.offer(exact.way)
    # What was left out costs at least the plan in hand, so the bound of the rest holds for all.
    found.bound = max(found.bound, min(exact.bound, found.value))
