"""Large rehousing problems: courses priced one animal at a time, put together by HiGHS, with a proven bound.

The stock ties the animals together. Its prices come from a linear programme over the courses known so far
(a course for each animal, homes bought); at these prices the best course of every animal is found by itself
(`paths`), and joins the programme when it is cheaper. At any prices the sum of the animals' best courses
is a bound that no plan goes under (Lagrangian relaxation), so a gap is proven whenever the search stops.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from nightround.science.housing.paths import best_paths
from nightround.science.housing.problem import (
    OWN,
    Floats,
    HousingProblem,
    Integers,
    path_costs,
    to_buy,
    usage,
)

MOST_ROUNDS = 120
CLOSE = 1e-4
"""Share of the cost at which bound and linear programme count as the same."""

Heard = Callable[[float, float], None]


@dataclass
class Search:
    """Courses found so far, the best plan put together of them, and the best bound."""

    problem: HousingProblem
    animal: list[int] = field(default_factory=list)
    way: list[Integers] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    used: list[tuple[Integers, Integers]] = field(default_factory=list)
    seen: set[tuple[int, bytes]] = field(default_factory=set)
    best: Integers | None = None
    bought: Integers | None = None
    value: float = np.inf
    bound: float = -np.inf
    prices: Floats | None = None

    def add(self, way: Integers) -> int:
        """Take in a course of every animal; return how many are new."""
        costs, used = path_costs(self.problem, way), usage(self.problem, way)
        new = 0
        for at in range(self.problem.animals):
            key = (at, way[at].tobytes())
            if key in self.seen or not np.isfinite(costs[at]):
                continue
            self.seen.add(key)
            self.animal.append(at)
            self.way.append(way[at])
            self.cost.append(float(costs[at]))
            taken = used[at].ravel()
            rows = np.flatnonzero(taken)
            self.used.append((rows, taken[rows]))
            new += 1
        return new

    def offer(self, way: Integers) -> None:
        """Keep a plan when it can be carried out and is the cheapest so far."""
        bought = to_buy(self.problem, usage(self.problem, way).sum(axis=0))
        if bought is None:
            return
        value = float(path_costs(self.problem, way).sum()) + _paid(self.problem, bought)
        if value < self.value - 1e-12:
            self.best, self.bought, self.value = way.copy(), bought, value

    def repair(self, way: Integers) -> None:
        """Put a plan together of these courses, the greatest saving first, as far as homes go round."""
        problem = self.problem
        stay = np.full_like(way, OWN)
        staying = path_costs(problem, stay)
        saving = staying - path_costs(problem, way)
        kept, wanted = usage(problem, stay), usage(problem, way)
        limit = problem.there[:, None] + np.where(
            np.arange(problem.periods)[None] >= problem.ready[:, None], problem.most[:, None], 0
        )
        total, made = kept.sum(axis=0), stay
        for at in np.argsort(-saving, kind="stable"):
            after = total - kept[at] + wanted[at]
            if saving[at] > 0 and (after <= limit).all():
                total, made[at] = after, way[at]
        self.offer(made)

    def close(self) -> bool:
        """Whether the best plan is proven best."""
        return self.value <= self.bound + 1e-7 * max(1.0, abs(self.value))


def _paid(problem: HousingProblem, bought: Integers) -> float:
    some = bought > 0
    return float(bought[some] @ problem.price[some])


def lagrangian(problem: HousingProblem, prices: Floats) -> tuple[float, Integers]:
    """Return the bound at prices (K, T) from 0 on, and each animal's best course there."""
    costs, way = best_paths(problem, prices)
    late = np.arange(problem.periods)[None, :] >= problem.ready[:, None]
    worth = np.where(problem.most > 0, problem.price, 0.0) - (prices * late).sum(axis=1)
    bought = np.minimum(worth, 0.0) * problem.most
    return float(costs.sum() + bought.sum() - (prices.sum(axis=1) * problem.there).sum()), way


def search(
    problem: HousingProblem,
    seconds: float,
    heard: Heard | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[Search, bool]:
    """Look for a plan for at most `seconds`; return what was found and whether it was stopped early.

    heard   is told the best cost and the bound after each round
    """
    began = time.perf_counter()
    found = Search(problem)
    stay = np.full((problem.animals, problem.periods), OWN, dtype=np.int64)
    found.add(stay)
    found.offer(stay)
    prices, stopped = np.zeros((problem.kinds, problem.periods)), False
    try:
        for rounds in range(MOST_ROUNDS):
            bound, way = lagrangian(problem, prices)
            if bound > found.bound:
                found.bound, found.prices = bound, prices
            new = found.add(way)
            found.offer(way)
            if rounds % 4 == 0:
                found.repair(way)
            if heard is not None:
                heard(found.value, found.bound)
            stopped = stop is not None and stop()
            out_of_time = time.perf_counter() - began > 0.6 * seconds
            if stopped or out_of_time or found.close() or not new:
                break
            value, prices = _relaxed(found)
            if value - found.bound <= CLOSE * max(1.0, abs(value)):
                break
        left = seconds - (time.perf_counter() - began)
        if not stopped and not found.close() and left > 0.2:
            _whole(found, left)
    except KeyboardInterrupt:
        stopped = True
    return found, stopped


def _programme(found: Search) -> tuple[Floats, Any, Floats, Any, Floats]:
    """Costs, stock rows and their limits, one-course rows, and upper ends of the programme of courses."""
    from scipy.sparse import csc_array, hstack

    problem = found.problem
    many, kinds, periods = len(found.cost), problem.kinds, problem.periods
    price = np.where(problem.most > 0, problem.price, 0.0)
    cost = np.concatenate([np.array(found.cost), price])
    starts = np.concatenate([[0], np.cumsum([len(rows) for rows, _ in found.used])])
    rows, taken = (np.concatenate([each[part] for each in found.used]) for part in (0, 1))
    used = csc_array((taken.astype(np.float64), rows, starts), shape=(kinds * periods, many))
    late = np.arange(periods)[None, :] >= problem.ready[:, None]
    relief = np.zeros((kinds * periods, kinds))
    for kind in range(kinds):
        relief[kind * periods : (kind + 1) * periods, kind] = -1.0 * late[kind]
    stock = hstack([used, csc_array(relief)], format="csr")
    one = csc_array(
        (np.ones(many), (np.array(found.animal), np.arange(many))), shape=(problem.animals, many + kinds)
    )
    limit = np.repeat(problem.there.astype(np.float64), periods)
    return cost, stock, limit, one, np.concatenate([np.ones(many), problem.most.astype(np.float64)])


def _relaxed(found: Search) -> tuple[float, Floats]:
    """Value of the linear programme of the courses so far, and the prices (K, T) of the stock."""
    from scipy.optimize import linprog

    cost, stock, limit, one, high = _programme(found)
    high[: len(found.cost)] = np.inf
    ends = np.stack([np.zeros(len(cost)), high], axis=1).tolist()
    solved = linprog(
        cost, A_ub=stock, b_ub=limit, A_eq=one, b_eq=np.ones(found.problem.animals),
        bounds=ends, method="highs",
    )  # fmt: skip
    prices = np.maximum(-np.asarray(solved.ineqlin.marginals), 0.0)
    assert solved.fun is not None
    return float(solved.fun), prices.reshape(found.problem.kinds, found.problem.periods)


def _whole(found: Search, seconds: float) -> None:
    """Choose one course for each animal of those found, by a mixed-integer programme."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    cost, stock, limit, one, high = _programme(found)
    solved = milp(
        cost,
        integrality=np.ones(len(cost), dtype=np.int64),
        bounds=Bounds(0.0, high),
        constraints=[LinearConstraint(stock, -np.inf, limit), LinearConstraint(one, 1.0, 1.0)],
        options={"time_limit": seconds, "mip_rel_gap": 1e-6},
    )
    if solved.x is None:
        return
    way = np.full((found.problem.animals, found.problem.periods), OWN, dtype=np.int64)
    for column in np.flatnonzero(solved.x[: len(found.cost)] > 0.5):
        way[found.animal[column]] = found.way[column]
    found.offer(way)
