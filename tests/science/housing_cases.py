"""Small random rehousing problems, and the best plan of one by trying all."""

from __future__ import annotations

from itertools import product

import numpy as np

from nightround.science.housing.problem import OWN, HousingProblem, path_costs, to_buy, usage


def small_case(seed: int) -> HousingProblem:
    """A random problem of up to 3 animals, 3 ways, 2 kinds and 4 periods; tight stock, some not for sale."""
    rng = np.random.default_rng(seed)
    n, periods = int(rng.integers(1, 4)), int(rng.integers(2, 5))
    ways, kinds = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    if n == 3:
        ways, periods = min(ways, 2), min(periods, 3)
    return random_problem(rng, n, ways, kinds, periods)


def random_problem(rng: np.random.Generator, n: int, ways: int, kinds: int, periods: int) -> HousingProblem:
    """A random problem of that size."""
    enter = rng.uniform(0.5, 6.0, (n, ways, periods))
    enter[rng.random(enter.shape) < 0.2] = np.inf
    return HousingProblem(
        stay=rng.choice([0.0, 0.2, 1.0, 2.0], (n, ways, periods)) * rng.uniform(0.5, 2.0, (n, ways, periods)),
        own=np.cumsum(rng.uniform(0.0, 2.0, (n, periods)), axis=1),
        enter=enter,
        kind=rng.integers(0, kinds, ways),
        own_kind=rng.integers(-1, kinds, n),
        empty=rng.integers(0, 2, kinds),
        price=rng.uniform(0.0, 4.0, kinds),
        most=rng.integers(0, 3, kinds),
        ready=rng.integers(0, 2, kinds),
    )


def least_cost(problem: HousingProblem) -> float:
    """The cost of the best plan, by trying every course of every animal together."""
    courses, costs, used = [], [], []
    ways = [OWN, *range(problem.stay.shape[1])]
    every = np.array(list(product(ways, repeat=problem.periods)), dtype=np.int64)
    for animal in range(problem.animals):
        room = np.full((len(every), problem.animals, problem.periods), OWN, dtype=np.int64)
        room[:, animal] = every
        cost = np.array([path_costs(problem, way)[animal] for way in room])
        fine = np.isfinite(cost)
        courses.append(np.flatnonzero(fine))
        costs.append(cost[fine])
        used.append(np.array([usage(problem, way)[animal] for way in room[fine]]))
    best = np.inf
    for chosen in product(*(range(len(each)) for each in courses)):
        cost = sum(costs[animal][course] for animal, course in enumerate(chosen))
        if cost >= best:
            continue
        bought = to_buy(problem, sum(used[animal][course] for animal, course in enumerate(chosen)))
        if bought is not None:
            best = min(best, cost + float(bought @ problem.price))
    return float(best)
