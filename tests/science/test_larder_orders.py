"""The order plan against every possible order, and properties it must have. All cases are invented."""

from __future__ import annotations

import itertools
import threading
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.larder.growth import Profiles
from nightround.science.larder.orders import Progress, plan
from nightround.science.larder.problem import (
    OrderProblem,
    Pack,
    fewer_courses,
    several_small,
)

from .larder_cases import cheapest, cost_of, every_order, order_table, random_problem, random_rows

CASES = 200


@pytest.mark.parametrize("block", range(8))
def test_optimal_against_every_order(block: int) -> None:
    """The plan costs what the best of all possible orders costs; 200 cases, a third with paid deliveries."""
    for seed in range(block * CASES // 8, (block + 1) * CASES // 8):
        problem = random_problem(seed, deliveries=seed % 3 == 0)
        found = plan(problem, seconds=30.0, gap=0.0)
        assert cheapest(problem) == pytest.approx(found.cost, abs=1e-6), seed
        assert found.finished
        assert found.gap <= 1e-6
        # The plan's own packs, costed from outside, cost what the plan says.
        assert cost_of(problem, found.packs) == pytest.approx(found.cost, abs=1e-6), seed


def by_hand(problem: OrderProblem, packs: np.ndarray) -> float:
    """One class, nothing dies or outgrows: walk through every whole use of the stock, week by week."""
    demand, weeks = problem.demand[0, :, 0].astype(int), problem.weeks
    animals = np.array([pack.animals for pack in problem.packs])
    price = np.array([pack.price for pack in problem.packs])

    def best(week: int, stock: int) -> float:
        if week == weeks:
            return 0.0
        stock += int(packs[:, week] @ animals)
        return min(
            float(problem.shortage_price[0]) * (demand[week] - eaten) + best(week + 1, stock - eaten)
            for eaten in range(min(stock, demand[week]) + 1)
        )

    return best(0, int(problem.stock_animals.sum())) + float(price @ packs.sum(axis=1))


def lasting(starts: list[int], weeks: int) -> Profiles:
    rows = random_rows(np.random.default_rng(0), starts, weeks, 1)
    ones = np.ones((len(starts), weeks))
    return replace(rows, stays=ones, dies=0 * ones, outgrows=0 * ones, fits=ones[:, :, None])


@pytest.mark.parametrize("seed", range(40))
def test_optimal_against_whole_feeders_one_by_one(seed: int) -> None:
    """Where feeders last, every whole use of every order is tried without any programme: same cost."""
    rng = np.random.default_rng(1000 + seed)
    weeks, offers = 3, int(rng.integers(1, 3))
    packs = tuple(
        Pack(float(rng.integers(1, 5)), float(rng.integers(1, 6)), np.arange(weeks) >= rng.integers(0, 2),
             lasting(list(range(weeks)), weeks), most=2)
        for _ in range(offers)
    )  # fmt: skip
    problem = OrderProblem(
        rng.integers(0, 5, (1, weeks, 1)).astype(float), lasting([0], weeks),
        rng.integers(0, 4, 1).astype(float), packs, np.ones((1, 1)), np.zeros((1, 1)),
        rng.uniform(0.5, 3.0, 1),
    )  # fmt: skip
    best = min(by_hand(problem, order_table(problem, numbers)) for numbers in every_order(problem))
    assert best == pytest.approx(plan(problem, gap=0.0).cost, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_feeders_balance_and_nothing_is_negative(seed: int) -> None:
    """Bought = laid aside + died + outgrown + left, for every source; no number is under 0."""
    problem = random_problem(seed)
    found = plan(problem, seconds=30.0)
    flows = found.flows
    bought = np.concatenate(
        [problem.stock_animals,
         [problem.packs[pack].animals * found.packs[pack, week]
          for pack, week in zip(flows.pack, flows.week, strict=True) if pack >= 0]]
    )  # fmt: skip
    parts = (flows.laid_aside, flows.died, flows.outgrown)
    gone = sum(part.sum(axis=1) for part in parts)
    np.testing.assert_allclose(bought, gone + flows.left, atol=1e-9)
    for part in (*parts, flows.left, found.covered, found.missing, found.served, found.in_house):
        assert part.min(initial=0.0) >= -1e-7
    assert found.packs.min(initial=0) >= 0
    assert found.bound <= found.cost + 1e-9


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), factor=st.floats(1.05, 5.0))
def test_a_dearer_pack_is_never_ordered_more(seed: int, factor: float) -> None:
    """Raising the price of one pack never raises how many of it are ordered."""
    problem = random_problem(seed)
    dearer = replace(problem.packs[0], price=problem.packs[0].price * factor)
    before = plan(problem, seconds=30.0, gap=0.0).packs[0].sum()
    after = plan(replace(problem, packs=(dearer, *problem.packs[1:])), seconds=30.0, gap=0.0).packs[0].sum()
    assert after <= before


def test_more_worth_of_shortage_never_misses_more() -> None:
    """The higher a missing prey is weighed, the fewer are missing (60 cases)."""
    for seed in range(60):
        problem = random_problem(seed)
        little = plan(problem, seconds=30.0, gap=0.0)
        weighed = replace(problem, shortage_price=problem.shortage_price * 3.0)
        much = plan(weighed, seconds=30.0, gap=0.0)
        before = float(problem.shortage_price @ little.missing.sum(axis=0))
        assert float(problem.shortage_price @ much.missing.sum(axis=0)) <= before + 1e-6, seed


def test_same_question_same_plan() -> None:
    """Nothing is drawn: asked twice, the plan is the same."""
    problem = random_problem(7)
    one, two = plan(problem), plan(problem)
    np.testing.assert_array_equal(one.packs, two.packs)
    np.testing.assert_array_equal(one.served, two.served)


def wide(weeks: int) -> OrderProblem:
    """Many packs over many weeks: takes a while."""
    rng = np.random.default_rng(3)
    rows = [random_rows(rng, list(range(weeks)), weeks, 2) for _ in range(6)]
    packs = tuple(Pack(7.0 + n, 3.0 + n / 2.0, np.ones(weeks, dtype=bool), row) for n, row in enumerate(rows))
    return OrderProblem(
        rng.integers(5, 30, (4, weeks, 2)).astype(float), random_rows(rng, [0], weeks, 2), np.array([20.0]),
        packs, np.array([[1.0, 3.0], [1.0, 1.0]]), 0.1 * (1 - np.eye(2)), np.array([2.0, 2.0]), 0.01,
        delivery_price=np.array([4.0]),
    )  # fmt: skip


def test_ended_by_hand_it_has_a_plan_at_once() -> None:
    """Told to stop at its first word, it answers with a possible plan, whose cost is its cost."""
    problem = wide(14)
    seen: list[Progress] = []

    def stop(progress: Progress) -> bool:
        seen.append(progress)
        return False

    found = plan(problem, seconds=60.0, gap=0.0, watch=stop)
    assert seen
    assert not found.finished
    assert found.seconds < 20.0
    assert cost_of(problem, found.packs) == pytest.approx(_course_cost(problem, found.cost), rel=0.02)


def _course_cost(problem: OrderProblem, cost: float) -> float:
    """Four courses are at most five, so nothing is put into groups and the costs are the same."""
    assert fewer_courses(problem.demand, 5) is problem.demand
    return cost


def test_time_over_it_has_a_plan_and_a_bound() -> None:
    """After its seconds it answers, better or equal to the plan at once, and the bound is under the cost."""
    problem = wide(14)
    at_once = plan(problem, seconds=60.0, gap=0.0, watch=lambda progress: False)
    found = plan(problem, seconds=2.0, gap=0.0)
    assert found.cost <= at_once.cost + 1e-6
    assert 0.0 < found.bound <= found.cost + 1e-9
    assert found.gap == pytest.approx((found.cost - found.bound) / found.cost)


def test_unknown_price_is_not_zero() -> None:
    """A pack of unknown price is weighed as the dearest per animal, is not money, and is counted apart."""
    problem = random_problem(2)
    last = lasting(list(range(problem.weeks)), problem.weeks)
    known = Pack(10.0, 5.0, np.ones(problem.weeks, dtype=bool), last)
    unknown = replace(known, price=float("nan"), animals=20.0)
    one_class = replace(
        problem, demand=np.full((1, problem.weeks, 1), 6.0), stock=lasting([], problem.weeks),
        stock_animals=np.zeros(0), per_one=np.ones((1, 1)), instead_price=np.zeros((1, 1)),
        shortage_price=np.array([50.0]),
    )  # fmt: skip
    only = plan(replace(one_class, packs=(unknown,)), gap=0.0)
    assert 0.0 == only.known_price
    assert only.unpriced.tolist() == [only.packs.sum()] and only.packs.sum() > 0
    both = replace(one_class, packs=(known, unknown))
    np.testing.assert_allclose([5.0, 10.0], both.prices)


def test_what_keeps_for_ever_is_not_bought_sooner_than_needed() -> None:
    """Feeders that never die, wanted in the third week: a small price of keeping buys them for that week."""
    rows = lasting([0, 1, 2], 3)
    pack = Pack(10.0, 4.0, np.ones(3, dtype=bool), rows)
    wanted = np.zeros((1, 3, 1))
    wanted[0, 2] = 8.0
    problem = OrderProblem(
        wanted, lasting([], 3), np.zeros(0), (pack,), np.ones((1, 1)), np.zeros((1, 1)), np.array([5.0]),
        keep_price=0.001,
    )  # fmt: skip
    assert [[0, 0, 1]] == plan(problem, gap=0.0).packs.tolist()


def test_nothing_wanted_nothing_ordered() -> None:
    """No demand: no packs, no cost."""
    problem = random_problem(5)
    nothing = replace(problem, demand=np.zeros_like(problem.demand), waste_price=0.0, keep_price=0.0)
    found = plan(nothing)
    assert 0 == found.packs.sum()
    assert 0.0 == pytest.approx(found.cost)


def test_nothing_can_be_bought() -> None:
    """Without offers, the lots in the house are used as well as can be and the rest is missing."""
    problem = replace(random_problem(11), packs=())
    found = plan(problem)
    assert (0, problem.weeks) == found.packs.shape
    assert cost_of(problem, found.packs) == pytest.approx(found.cost, abs=1e-6)


def test_courses_in_groups_keep_their_mean() -> None:
    """Whatever their number, fewer courses have the same mean demand in every week and class."""
    rng = np.random.default_rng(1)
    for many, few in itertools.product((6, 7, 20, 33), (2, 3, 5)):
        demand = rng.integers(0, 30, (many, 3, 2)).astype(float)
        np.testing.assert_allclose(demand.mean(axis=0), fewer_courses(demand, few).mean(axis=0))


def test_several_small_for_one_big() -> None:
    """By bulk: classes of middle 2 and 3 mm, 3.4 small ones for one, so 4; twice as long would take 8: no."""
    table = several_small(np.array([1.5, 2.5, 3.5]), np.array([2.5, 3.5, 4.5]))
    assert [1.0, 4.0, np.inf] == table[0].tolist()
    assert [1.0, 1.0, 3.0] == table[1].tolist()
    assert [1.0, 1.0, 1.0] == table[2].tolist()


def test_faults_are_named() -> None:
    """A negative demand and a lot without a number are refused in words."""
    problem = random_problem(4)
    with pytest.raises(Refusal, match="demand wants"):
        replace(problem, demand=problem.demand - 100.0)
    with pytest.raises(Refusal, match="uncounted"):
        replace(problem, stock_animals=np.full(problem.stock_animals.shape[0] + 1, np.nan))


def test_no_thread_is_left() -> None:
    """After an answer that reached its gap no thread goes on."""
    plan(random_problem(3), seconds=30.0)
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("order-plan")]
