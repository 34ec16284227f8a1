"""What must hold of every rehousing plan: more choice costs no more, no home twice at once, always a plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.housing.paths import best_paths, with_moves
from nightround.science.housing.problem import (
    OWN,
    HousingPlan,
    HousingProblem,
    cost_of,
    moves_of,
    path_costs,
    usage,
)
from nightround.science.housing.solve import solve
from science.housing_cases import random_problem

seeds = st.integers(0, 10_000)


def middling(seed: int, n: int = 8) -> HousingProblem:
    """A random problem too large to try all plans of."""
    return random_problem(np.random.default_rng(seed), n, 4, 3, 6)


def used_and_there(problem: HousingProblem, plan: HousingPlan) -> tuple[np.ndarray, np.ndarray]:
    """Homes in use of each kind and period, counted one animal at a time; homes that are there then."""
    used = np.zeros((problem.kinds + 1, problem.periods), dtype=int)
    for animal in range(problem.animals):
        lived = int(problem.own_kind[animal])
        for period in range(problem.periods):
            way = int(plan.way[animal, period])
            kind = int(problem.own_kind[animal]) if way == OWN else int(problem.kind[way])
            used[kind, period] += 1
            moved = way != (plan.way[animal, period - 1] if period else OWN)
            if moved:
                used[lived, period] += 1
            lived = kind
    late = np.arange(problem.periods)[None] >= problem.ready[:, None]
    return used[:-1], problem.there[:, None] + plan.bought[:, None] * late


@given(seeds)
@settings(max_examples=25)
def test_no_home_is_used_twice_at_once(seed: int) -> None:
    """In every period there are enough homes of each kind, those being cleaned counted as in use."""
    problem = middling(seed)
    used, there = used_and_there(problem, solve(problem, seconds=5.0))
    assert (used <= there).all()


@given(seeds)
@settings(max_examples=20)
def test_more_stock_never_makes_it_worse(seed: int) -> None:
    """One more empty home of a kind leaves the least cost as it is or lowers it."""
    problem = middling(seed, 5)
    kind = seed % problem.kinds
    more = replace(problem, empty=problem.empty + np.eye(problem.kinds, dtype=np.int64)[kind])
    assert solve(more, seconds=10.0).cost <= solve(problem, seconds=10.0).cost + 1e-6


@given(seeds)
@settings(max_examples=20)
def test_another_kind_never_makes_it_worse(seed: int) -> None:
    """A kind of home that can be bought beside the others leaves the least cost as it is or lowers it."""
    whole = middling(seed, 5)
    fewer = replace(
        whole, stay=whole.stay[:, :-1], enter=whole.enter[:, :-1], kind=whole.kind[:-1],
    )  # fmt: skip
    assert solve(whole, seconds=10.0).cost <= solve(fewer, seconds=10.0).cost + 1e-6


@given(seeds)
@settings(max_examples=20)
def test_the_bound_is_never_over_any_plan(seed: int) -> None:
    """The bound proven holds for plans made at random too."""
    problem = middling(seed)
    plan = solve(problem, seconds=5.0)
    assert plan.bound <= plan.cost + 1e-9
    rng = np.random.default_rng(seed)
    for _ in range(30):
        way = np.full_like(plan.way, OWN)
        for animal in range(problem.animals):
            begin, kind = int(rng.integers(0, problem.periods + 1)), int(rng.integers(0, 4))
            way[animal, begin:] = kind
        try:
            cost, _ = cost_of(problem, way)
        except Refusal:
            continue
        assert plan.bound <= cost + 1e-6


def test_there_is_always_a_plan() -> None:
    """With nothing empty and nothing for sale everybody stays, at no gap."""
    problem = middling(3)
    none = np.zeros(problem.kinds, dtype=np.int64)
    closed = replace(problem, empty=none, most=none, own_kind=np.full(problem.animals, -1))
    plan = solve(closed, seconds=5.0)
    assert (plan.way == OWN).all()
    assert plan.gap == 0.0


def test_stopped_at_once_it_still_answers() -> None:
    """Stopped after the first round it returns a plan that can be carried out, with a true bound."""
    problem = random_problem(np.random.default_rng(1), 40, 5, 3, 10)
    early = solve(problem, seconds=20.0, stop=lambda: True)
    best = solve(problem, seconds=20.0)
    assert early.interrupted
    assert early.bound <= best.cost + 1e-6 <= early.cost + 2e-6
    assert cost_of(problem, early.way)[0] == pytest.approx(early.cost)


def test_an_interrupt_from_the_keyboard_still_answers() -> None:
    """Ctrl-C while it runs returns the best so far."""
    problem = random_problem(np.random.default_rng(2), 40, 5, 3, 10)

    def heard(cost: float, bound: float) -> None:
        raise KeyboardInterrupt

    plan = solve(problem, seconds=20.0, heard=heard)
    assert plan.interrupted
    assert np.isfinite(plan.cost)


@given(seeds)
@settings(max_examples=20)
def test_single_courses_are_the_cheapest(seed: int) -> None:
    """Shortest paths cost what their courses cost, and the cheapest over numbers of moves is the same."""
    problem = middling(seed)
    prices = np.zeros((problem.kinds, problem.periods))
    cost, way = best_paths(problem, prices)
    assert path_costs(problem, way) == pytest.approx(cost)
    by_moves, ways = with_moves(problem, prices, problem.periods)
    assert by_moves[:, -1] == pytest.approx(cost)
    assert by_moves[:, 0] == pytest.approx(problem.own.sum(axis=1))
    for moves in range(problem.periods + 1):
        assert (moves_of(ways[:, moves]).sum(axis=1) <= moves).all()
        assert path_costs(problem, ways[:, moves]) == pytest.approx(by_moves[:, moves])


def test_use_counts_what_is_being_cleaned() -> None:
    """A move takes the new home and, that period, the one left; later only the new one."""
    ones = np.ones((1, 2, 3))
    problem = HousingProblem(
        ones, ones[:, 0], ones, np.array([0, 1]), np.array([0]), np.array([0, 1]),
        np.zeros(2), np.zeros(2, dtype=np.int64), np.zeros(2, dtype=np.int64),
    )  # fmt: skip
    used = usage(problem, np.array([[OWN, 1, 1]]))[0]
    assert used.tolist() == [[1, 1, 0], [0, 1, 1]]


def test_costs_that_are_no_numbers_are_refused() -> None:
    """Unknown costs never enter a plan as zero."""
    problem = middling(1)
    with pytest.raises(Refusal):
        replace(problem, own=problem.own * np.nan)
    with pytest.raises(Refusal):
        replace(problem, enter=np.zeros_like(problem.enter))
