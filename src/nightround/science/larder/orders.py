"""Which packs to order for which week: cheapest in price, shortage and waste, with a proven gap.

The model is in `programme`. Solved by HiGHS; a first plan comes from the relaxed programme rounded, so that
there is an answer at any time; the gap is between the best plan found and the best that any plan could be.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.larder.problem import OrderProblem, Sources, fewer_courses, sources
from nightround.science.larder.programme import Programme, write
from nightround.science.thermal import FloatArray, IntArray

TICK_SECONDS = 0.25
# Groups that each week's courses of demand are put into: more change the plan by little and cost time.
MOST_COURSES = 5


@dataclass(frozen=True)
class Progress:
    """How far the search is: seconds since it began, cost of the best plan so far, and the proven bound."""

    stage: str
    seconds: float
    cost: float
    bound: float


# Called about four times a second; returning False ends the search with the best plan so far.
Watch = Callable[[Progress], bool]


@dataclass(frozen=True)
class Flows:
    """Feeders of each source by week, expected under the plan: lots in the house first, then deliveries.

    pack [N], week [N]   which pack and the week it arrives; -1 for lots in the house
    arrived, laid_aside, died, outgrown [N, W]
    left [N]             in use at the end, or still to hatch
    """

    pack: IntArray
    week: IntArray
    arrived: FloatArray
    laid_aside: FloatArray
    died: FloatArray
    outgrown: FloatArray
    left: FloatArray


@dataclass(frozen=True)
class OrderPlan:
    """The plan with what it rests on.

    packs [O, W]          packs of each offer that should be in the house at the start of a week
    cost                  objective: known and stand-in prices, deliveries, shortage, waste, instead
    bound, gap            no plan can cost less than `bound`; gap = (cost - bound) / cost
    known_price           money for packs of known price, deliveries included
    unpriced [O]          packs whose price nobody knows
    covered [W, C]        prey laid aside for each class, in prey of that class
    missing [W, C]        expected prey missing over the courses of demand
    risk [W, C]           share of the courses in which prey are missing
    served [W, C, C]      prey of size a (counted whole) for class c
    in_house [W, C]       feeders of each size at the start of a week
    flows                 where every feeder goes
    finished              False: ended by time or by hand before the gap was reached
    """

    packs: IntArray
    cost: float
    bound: float
    gap: float
    known_price: float
    unpriced: IntArray
    covered: FloatArray
    missing: FloatArray
    risk: FloatArray
    served: FloatArray
    in_house: FloatArray
    flows: Flows
    finished: bool
    seconds: float


def plan(
    problem: OrderProblem, *, seconds: float = 8.0, gap: float = 0.005, watch: Watch | None = None
) -> OrderPlan:
    """Plan the orders; stops at the proven gap (share of the cost), at the time, or when `watch` says so."""
    if not (seconds > 0.0 and gap >= 0.0):
        raise Refusal("a time above 0 s and a gap from 0 were wanted", got=f"{seconds:g} s, {gap:g}")
    search = _Search(problem, time.perf_counter(), seconds, gap, watch or (lambda progress: True))
    search.relaxed()
    search.rounded()
    search.whole()
    return _answer(problem, search)


class _Search:
    """The best plan so far and the proven bound."""

    def __init__(self, problem: OrderProblem, began: float, seconds: float, gap: float, watch: Watch) -> None:
        self.began, self.seconds, self.gap, self.watch = began, seconds, gap, watch
        self.problem = problem
        self.found: Sources = sources(problem)
        self.made: Programme = write(problem, self.found, fewer_courses(problem.demand, MOST_COURSES))
        self.cost_row = np.array(self.made.cost)
        self.matrix = self.made.matrix()
        self.low, self.high = np.array(self.made.low), np.array(self.made.high)
        self.upper = np.array(self.made.upper)
        self.integral = np.array(self.made.whole)
        self.best: FloatArray | None = None
        self.cost, self.bound = math.inf, -math.inf
        self.loose: FloatArray | None = None
        self.finished = self.stopped = False

    @property
    def elapsed(self) -> float:
        return time.perf_counter() - self.began

    def close(self) -> bool:
        return self.cost - self.bound <= self.gap * max(abs(self.cost), 1e-9) + 1e-9

    def offer(self, values: FloatArray) -> None:
        cost = float(self.cost_row @ values)
        if cost < self.cost:
            self.best, self.cost = values, cost

    def say(self, stage: str) -> None:
        progress = Progress(stage, self.elapsed, self.cost, min(self.bound, self.cost))
        if not self.stopped and not self.watch(progress):
            self.stopped = True

    def relaxed(self) -> None:
        """Packs in parts: what no plan can undercut."""
        solved = self.solve(np.zeros_like(self.integral), self.upper, math.inf, self.gap)
        if solved is None or solved.x is None:
            raise Refusal("the order plan could not be laid out", got="no answer of the solver")
        self.loose = np.asarray(solved.x)
        self.bound = float(self.cost_row @ self.loose)
        self.say("relaxed")

    def rounded(self) -> None:
        """Packs rounded in three ways, each with the best use of them: always possible."""
        assert self.loose is not None
        for shift in (0.5, 0.75, 0.25) if self.integral.any() else (0.5,):
            fixed = np.where(self.integral > 0, np.floor(self.loose + shift), 0.0)
            fixed = np.where(self.integral > 0, np.minimum(self._delivered(fixed), self.upper), self.upper)
            solved = self.solve(np.zeros_like(self.integral), fixed, math.inf, 0.0, fixed_packs=True)
            if solved is not None and solved.x is not None:
                self.offer(np.asarray(solved.x))
            self.say("rounded")
            if self.stopped or self.close() or (self.elapsed > self.seconds and self.best is not None):
                return

    def _delivered(self, fixed: FloatArray) -> FloatArray:
        """Deliveries follow the packs in them."""
        packs = self.made.pack_column[self.made.pack_column >= 0]
        deliveries = np.setdiff1d(np.flatnonzero(self.integral), packs)
        if deliveries.size:
            needed = self.matrix[:, packs] @ fixed[packs]
            for column in deliveries:
                rows = self.matrix[:, [column]].nonzero()[0]
                fixed[column] = float((needed[rows] > 0).any())
        return fixed

    def whole(self) -> None:
        """Whole packs, until the gap, the time or the keeper ends it."""
        if self.stopped or self.close():
            self.finished = self.close()
            return
        left = self.seconds - self.elapsed
        if left <= 0.0:
            return
        solved = self.solve(self.integral, self.upper, left, self.gap)
        if solved is None:
            return
        if solved.x is not None:
            values = np.asarray(solved.x)
            values[self.integral > 0] = np.round(values[self.integral > 0])
            self.offer(values)
        if solved.mip_dual_bound is not None and math.isfinite(solved.mip_dual_bound):
            self.bound = max(self.bound, float(solved.mip_dual_bound))
        self.finished = self.close() or solved.status == 0

    def solve(
        self, integral: IntArray, upper: FloatArray, seconds: float, gap: float, *, fixed_packs: bool = False
    ) -> Any:
        """Run HiGHS beside this thread and report while it runs; None when ended by hand."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        lower = np.where((self.integral > 0) & fixed_packs, upper, 0.0)
        limit = max(seconds, 0.05)
        answer: list[Any] = []

        def run() -> None:
            rows = LinearConstraint(self.matrix, self.low, self.high)
            box = Bounds(lower, upper)
            options: Any = {"mip_rel_gap": gap, "time_limit": limit}
            answer.append(
                milp(self.cost_row, integrality=integral, bounds=box, constraints=rows, options=options)
            )

        worker = threading.Thread(target=run, name="order-plan", daemon=True)
        worker.start()
        while worker.is_alive():
            worker.join(TICK_SECONDS)
            if worker.is_alive():
                self.say("whole packs" if integral.any() else "relaxed")
                if self.stopped and self.best is not None:
                    return None
        return answer[0] if answer else None


def _answer(problem: OrderProblem, search: _Search) -> OrderPlan:
    assert search.best is not None
    found, made = search.found, search.made
    packs = np.zeros((len(problem.packs), problem.weeks), dtype=np.int64)
    number = np.ones(found.pack.size)
    bought = made.pack_column >= 0
    number[bought] = np.round(search.best[made.pack_column[bought]])
    packs[found.pack[bought], found.week[bought]] = number[bought].astype(np.int64)
    flows, served, in_house = _flows(problem, search, number)
    with np.errstate(invalid="ignore"):
        covered = np.nansum(served / problem.per_one[None], axis=1)
    short = np.maximum(problem.demand - covered[None], 0.0)
    price = np.array([pack.price for pack in problem.packs])
    known = np.isfinite(price)
    total = packs.sum(axis=1)
    money = float(price[known] @ total[known]) + _delivery_money(problem, packs)
    bound = min(search.bound, search.cost)
    gap = (search.cost - bound) / search.cost if search.cost > 0.0 else 0.0
    return OrderPlan(
        packs, search.cost, bound, gap, money, np.where(known, 0, total), covered, short.mean(axis=0),
        (short > 1e-6).mean(axis=0), served, in_house, flows, search.finished, search.elapsed,
    )  # fmt: skip


def _delivery_money(problem: OrderProblem, packs: IntArray) -> float:
    total = 0.0
    for supplier, fee in enumerate(problem.delivery_price.tolist()):
        theirs = [row for row, pack in enumerate(problem.packs) if pack.supplier == supplier]
        if theirs:
            total += fee * int((packs[theirs].sum(axis=0) > 0).sum())
    return total


def _flows(
    problem: OrderProblem, search: _Search, number: FloatArray
) -> tuple[Flows, FloatArray, FloatArray]:
    """Run the plan's own numbers forward, so that the balance holds to rounding."""
    assert search.best is not None
    profiles, made, weeks = search.found.profiles, search.made, problem.weeks
    total = number * search.found.animals
    eaten = np.zeros((total.size, weeks))
    served = np.zeros((weeks, problem.classes, problem.classes))
    week, size, want, column = made.given.T
    np.add.at(served, (week, size, want), np.maximum(search.best[column], 0.0) * problem.per_one[size, want])
    source, week, size, column = made.taken.T
    np.add.at(eaten, (source, week), np.maximum(search.best[column], 0.0))
    arrived = profiles.arrives * total[:, None]
    held, lost, outgrown = np.zeros(total.size), np.zeros_like(arrived), np.zeros_like(arrived)
    in_house = np.zeros((weeks, problem.classes))
    for at in range(weeks):
        held = held + arrived[:, at]
        in_house[at] = held @ profiles.fits[:, at]
        eaten[:, at] = np.minimum(eaten[:, at], held)
        rest = held - eaten[:, at]
        lost[:, at], outgrown[:, at] = rest * profiles.dies[:, at], rest * profiles.outgrows[:, at]
        held = rest - lost[:, at] - outgrown[:, at]
    left = held + total - arrived.sum(axis=1)
    flows = Flows(search.found.pack, search.found.week, arrived, eaten, lost, outgrown, left)
    return flows, served, in_house
