"""The rehousing programme against trying every plan, on small random problems."""

from __future__ import annotations

import numpy as np
import pytest

from nightround.science.housing.exact import solve_exactly
from nightround.science.housing.paths import best_paths
from nightround.science.housing.problem import OWN, cost_of
from nightround.science.housing.solve import solve
from science.housing_cases import least_cost, small_case

CASES = 240


@pytest.fixture(scope="module")
def least() -> list[float]:
    """The least cost of each case, by trying all."""
    return [least_cost(small_case(seed)) for seed in range(CASES)]


def test_the_programme_finds_the_best_plan(least: list[float]) -> None:
    """The whole programme by HiGHS costs exactly what trying all plans finds, in 240 random cases."""
    for seed, expected in enumerate(least):
        plan = solve_exactly(small_case(seed))
        assert plan is not None
        assert plan.cost == pytest.approx(expected, abs=1e-6), f"case {seed}"


def test_priced_courses_find_the_best_plan(least: list[float]) -> None:
    """Courses priced one animal at a time, then finished exactly, cost the same, and prove it."""
    for seed, expected in enumerate(least):
        plan = solve(small_case(seed), seconds=20.0)
        assert plan.cost == pytest.approx(expected, abs=1e-6), f"case {seed}"
        assert plan.bound <= expected + 1e-6, f"case {seed}"
        assert plan.gap < 1e-4, f"case {seed}"


def test_what_a_plan_says_it_costs_is_what_it_costs() -> None:
    """Cost and homes to buy are those that follow from the courses alone."""
    for seed in range(CASES):
        problem = small_case(seed)
        plan = solve(problem, seconds=20.0)
        cost, bought = cost_of(problem, plan.way)
        assert plan.cost == pytest.approx(cost)
        assert np.array_equal(plan.bought, bought)


def test_the_cases_are_no_easy_ones(least: list[float]) -> None:
    """In a third and more somebody moves, in some homes are bought, in some the stock stands in the way."""
    plans = [solve(small_case(seed), seconds=20.0) for seed in range(CASES)]
    moving = sum(bool((plan.way != OWN).any()) for plan in plans)
    buying = sum(bool(plan.bought.any()) for plan in plans)
    bound_by_stock = sum(
        float(best_paths(case, np.zeros((case.kinds, case.periods)))[0].sum()) < cost - 1e-6
        for case, cost in ((small_case(seed), least[seed]) for seed in range(CASES))
    )
    assert moving > CASES // 3
    assert buying > CASES // 20
    assert bound_by_stock > CASES // 10
