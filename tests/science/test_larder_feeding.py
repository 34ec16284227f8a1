"""Which tub is eaten first, in whole feeders. All cases are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.larder.feeding import Fed, feed, weeks_useful
from nightround.science.larder.growth import Lots, Profiles, SizeClasses, project
from nightround.science.larder.kinds import KINDS
from nightround.science.larder.orders import plan
from nightround.science.larder.problem import some, sources

from .larder_cases import random_problem, random_rows


def steady(fits: list[list[list[float]]]) -> Profiles:
    """Lots in the house that lose nobody, with these shares [N][W][C]."""
    share = np.array(fits)
    rows = random_rows(np.random.default_rng(0), [0] * share.shape[0], share.shape[1], share.shape[2])
    ones = np.ones(share.shape[:2])
    return replace(rows, stays=ones, dies=0 * ones, outgrows=0 * ones, fits=share)


def fed(rows: Profiles, animals: list[int], demand: list[list[int]], per_one: list[list[float]]) -> Fed:
    table = np.array(per_one)
    return feed(rows, np.array(animals), np.array(demand), table, 0.1 * (table != 1.0))


def test_the_tub_that_outgrows_soonest_is_eaten_first() -> None:
    """The second tub fits this week only, the first one next week too: the second is eaten now."""
    rows = steady([[[1.0], [1.0]], [[1.0], [0.0]]])
    done = fed(rows, [10, 10], [[6], [6]], [[1.0]])
    assert [[0, 6], [6, 0]] == done.eaten.tolist()
    assert 0 == done.short.sum()


def test_equal_tubs_are_eaten_in_order() -> None:
    """Two tubs alike: the first in the table first, then the other."""
    done = fed(steady([[[1.0]], [[1.0]]]), [4, 4], [[6]], [[1.0]])
    assert [[4], [2]] == done.eaten.tolist()


def test_right_size_before_another_size() -> None:
    """Big prey is not cut for the small ones before the big animals have eaten."""
    done = fed(steady([[[0.0, 1.0]]]), [5], [[3, 4]], [[1.0, np.inf], [1.0, 1.0]])
    assert [[0, 0], [1, 4]] == done.served[0].tolist()
    assert [[2, 0]] == done.short.tolist()


def test_several_small_only_whole() -> None:
    """Three small stand for one: of seven, six are eaten for two and one is kept."""
    done = fed(steady([[[1.0, 0.0]]]), [7], [[0, 5]], [[1.0, 3.0], [np.inf, 1.0]])
    assert 6 == done.served[0, 0, 1]
    assert [1] == done.left.tolist()
    assert [[0, 3]] == done.short.tolist()


def test_weeks_useful_counts_from_the_week_on() -> None:
    """A gap ends it: useful now for one week, later for two."""
    rows = steady([[[1.0], [0.0], [1.0], [1.0]]])
    assert [1, 0, 2, 1] == weeks_useful(rows)[0, :, 0].tolist()


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_no_feeder_is_lost(seed: int) -> None:
    """Came = eaten + died + outgrown + left, exactly, in whole feeders; nothing negative or eaten twice."""
    rng = np.random.default_rng(seed)
    lots, weeks, classes = int(rng.integers(1, 5)), int(rng.integers(1, 9)), int(rng.integers(1, 4))
    rows = random_rows(rng, rng.integers(0, weeks, lots).tolist(), weeks, classes)
    animals = rng.integers(0, 60, lots)
    demand = rng.integers(0, 15, (weeks, classes))
    table = np.where(rng.random((classes, classes)) < 0.5, np.inf, rng.integers(1, 4, (classes, classes)))
    np.fill_diagonal(table, 1.0)
    done = feed(rows, animals, demand, table, 0.1 * (table != 1.0))
    gone = done.eaten.sum(axis=1) + done.died.sum(axis=1) + done.outgrown.sum(axis=1)
    assert animals.tolist() == (gone + done.left).tolist()
    for part in (done.arrived, done.eaten, done.died, done.outgrown, done.left, done.short, done.served):
        assert part.min(initial=0) >= 0
    assert done.eaten.sum(axis=0).tolist() == done.served.sum(axis=(1, 2)).tolist()
    finite = np.where(np.isfinite(table), table, 1.0)
    met = np.floor(done.served / finite[None] + 1e-9).sum(axis=1)
    assert (demand - done.short).tolist() == met.tolist()


def test_parts_of_deaths_are_carried_on() -> None:
    """Ten per cent of 5 a week: somebody dies every other week or so, and all of them in the end."""
    rows = steady([[[0.0]] * 40])
    rows = replace(rows, stays=0.9 * np.ones((1, 40)), dies=0.1 * np.ones((1, 40)))
    done = fed(rows, [5], [[0]] * 40, [[1.0]])
    assert [0, 1] == done.died[0, :2].tolist()
    assert 5 == done.died.sum()


def test_a_lot_of_crickets_from_pinhead_to_adult() -> None:
    """Real growth: 100 crickets of 3 mm feed the small class first and the large one months later."""
    classes = SizeClasses(np.array([1.0, 8.0]), np.array([8.0, 30.0]))
    lots = Lots((KINDS["acheta"],), np.array([3.0]), np.array([np.nan]), np.zeros(1, dtype=int))
    rows = project(lots, np.full((1, 7 * 14), 26.0), classes, 14)
    done = fed(rows, [100], [[3, 3]] * 14, [[1.0, np.inf], [np.inf, 1.0]])
    assert 0 == done.short[:4, 0].sum()
    assert 3 == done.short[0, 1]
    assert 0 == done.short[12, 1]


def test_the_plan_held_against_the_rule() -> None:
    """With the plan's packs and its own courses, the rule misses little more than the plan expects.

    The plan looks ahead and parts feeders, the rule does neither: over 60 invented rooms it misses more by
    under three prey in a hundred on average (measured 0.7).
    """
    more, wanted = 0.0, 0.0
    for seed in range(60):
        problem = replace(random_problem(seed), waste_price=0.0)
        found = plan(problem, seconds=30.0, gap=0.0)
        table = sources(problem)
        here = some(table, found.packs[table.pack, table.week] > 0)
        packs = np.where(here.pack < 0, 1, found.packs[here.pack, here.week])
        for course in problem.demand.astype(int):
            done = feed(
                here.profiles,
                (packs * here.animals).astype(int),
                course,
                problem.per_one,
                problem.instead_price,
            )
            more += float((done.short - np.maximum(course - found.covered, 0.0)).sum())
            wanted += float(course.sum())
    assert 0.0 <= more / wanted < 0.03


def test_faults_are_named() -> None:
    """Demand of another shape is refused in words."""
    with pytest.raises(Refusal, match="whole prey"):
        feed(steady([[[1.0]]]), np.array([1]), np.zeros((2, 1), dtype=int), np.ones((1, 1)), np.zeros((1, 1)))
