"""The plan of 400 animals over 26 weeks and 18 months: seconds of one processor, a small proven gap."""

from __future__ import annotations

import time

import pytest

from benchmarks.homes_plan import invented
from nightround.science.housing.solve import solve


@pytest.mark.parametrize("periods", [13, 39])
def test_four_hundred_animals_in_time(periods: int) -> None:
    """Five kinds of home: under 10 s of one processor, and no plan more than 1 % cheaper (proven)."""
    problem = invented(400, periods, 5)
    began = time.process_time()
    plan = solve(problem, seconds=60.0)
    assert time.process_time() - began < 10.0
    assert plan.gap < 0.01


def test_progress_is_told() -> None:
    """The best cost never rises, the bound never falls, and both enclose the best plan."""
    told: list[tuple[float, float]] = []
    plan = solve(invented(100, 26, 5), seconds=60.0, heard=lambda cost, bound: told.append((cost, bound)))
    costs, bounds = [cost for cost, _ in told], [bound for _, bound in told]
    assert len(told) >= 2
    assert costs == sorted(costs, reverse=True)
    assert bounds == sorted(bounds)
    assert all(bound <= plan.cost + 1e-6 <= cost + 2e-6 for cost, bound in told)
