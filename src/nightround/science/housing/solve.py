"""The best rehousing plan in the time there is: exactly when small, by courses when large, with its gap."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from nightround.science.housing.columns import Heard, Search, search
from nightround.science.housing.exact import solve_exactly
from nightround.science.housing.paths import best_paths, through
from nightround.science.housing.problem import OWN, HousingPlan, HousingProblem, cost_of

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
    if problem.stay.size == 0:
        way = np.full((problem.animals, problem.periods), OWN, dtype=np.int64)
        cost, bought = cost_of(problem, way)
        return HousingPlan(way, bought, cost, cost, "nothing to choose")
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
