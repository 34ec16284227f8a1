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
from nightround.science.larder.problem import OrderProblem, Sources, fewer_courses, some, sources
from nightround.science.larder.programme import Programme, write
from nightround.science.thermal import BoolArray, FloatArray, IntArray

TICK_SECONDS = 0.25
# How long the whole programme is tried alone, and what share of the time a small one may take.
HEAD_START_SECONDS = 0.5
FIRST_SHARE, NEXT_SHARE = 0.4, 0.25
LAST_SECONDS = 0.3
# Weeks with deliveries in the plan that is there at once.
SELDOM_WEEKS = 7
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
    problem: OrderProblem, *, seconds: float = 7.0, gap: float = 0.005, watch: Watch | None = None
) -> OrderPlan:
    """Plan the orders; stops at the proven gap (share of the cost), at the time, or when `watch` says so."""
    if not (seconds > 0.0 and gap >= 0.0):
        raise Refusal("a time above 0 s and a gap from 0 were wanted", got=f"{seconds:g} s, {gap:g}")
    search = _Search(problem, seconds, gap, watch or (lambda progress: True))
    search.search()
    return _answer(problem, search)


class _Solve:
    """One run of HiGHS on some of the sources; ask for `values` after `run`."""

    def __init__(self, problem: OrderProblem, found: Sources, courses: FloatArray) -> None:
        self.found = found
        self.made: Programme = write(problem, found, courses)
        self.cost_row = np.array(self.made.cost)
        self.matrix = self.made.matrix()
        self.whole = np.array(self.made.whole)
        self.values: FloatArray | None = None
        self.cost, self.bound = math.inf, -math.inf

    def run(self, *, whole: bool, seconds: float, gap: float, packs: IntArray | None = None) -> None:
        """Solve with whole packs or parts of packs; `packs` [N] fixes them."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        lower, upper = np.array(self.made.lower), np.array(self.made.upper)
        if packs is not None:
            bought = self.made.pack_column >= 0
            lower[self.made.pack_column[bought]] = packs[bought]
            upper[self.made.pack_column[bought]] = packs[bought]
        options: Any = {"mip_rel_gap": gap}
        if math.isfinite(seconds):
            options["time_limit"] = max(seconds, 0.05)
        answer = milp(
            self.cost_row, integrality=self.whole if whole else 0 * self.whole, bounds=Bounds(lower, upper),
            constraints=LinearConstraint(self.matrix, self.made.low, self.made.high), options=options,
        )  # fmt: skip
        if answer.x is not None:
            self.values, self.cost = np.asarray(answer.x), float(answer.fun)
        if answer.status == 0 and not whole:
            self.bound = self.cost
        elif answer.mip_dual_bound is not None and math.isfinite(answer.mip_dual_bound):
            self.bound = float(answer.mip_dual_bound)

    def parts(self) -> FloatArray:
        """Packs of each source [N]; 0 for lots in the house."""
        assert self.values is not None
        bought = self.made.pack_column
        return np.asarray(np.where(bought >= 0, self.values[bought], 0.0))

    def packs(self) -> IntArray:
        """Whole packs of each source [N]; 0 for lots in the house."""
        return np.asarray(np.round(self.parts()).astype(np.int64))


class _Search:
    """The best packs so far and the proven bound.

    One thread works on the whole programme and proves; beside it small programmes around the best plan are
    solved, which find good plans sooner. A problem that is solved at once never gets there.
    """

    def __init__(self, problem: OrderProblem, seconds: float, gap: float, watch: Watch) -> None:
        self.began = time.perf_counter()
        self.problem, self.seconds, self.gap, self.watch = problem, seconds, gap, watch
        self.courses = fewer_courses(problem.demand, MOST_COURSES)
        self.found = sources(problem)
        self.best: IntArray | None = None
        self.cost, self.bound = math.inf, -math.inf
        self.stopped = False
        self.proof = _Solve(problem, self.found, self.courses)
        self.parts: BoolArray = np.zeros(self.found.pack.size, dtype=np.bool_)
        self.proved: tuple[IntArray, float] | None = None
        self.prover = threading.Thread(target=self._prove, name="order-plan", daemon=True)

    @property
    def elapsed(self) -> float:
        return time.perf_counter() - self.began

    @property
    def over(self) -> bool:
        return self.stopped or self.close() or self.elapsed >= self.seconds

    def close(self) -> bool:
        return self.cost - self.bound <= self.gap * max(abs(self.cost), 1e-9) + 1e-9

    def _relax(self) -> None:
        """Packs in parts: no plan can undercut that."""
        self.proof.run(whole=False, seconds=math.inf, gap=0.0)
        self.bound = self.proof.bound
        if self.proof.values is not None:
            parts = self.proof.parts()
            self.parts = parts > 1e-6
            for up in (0.5, 0.75, 0.3):
                self.take(*self._costed(parts, up))

    def _prove(self) -> None:
        self.proof.values = None
        self.proof.run(whole=True, seconds=max(self.seconds - self.elapsed - LAST_SECONDS, 0.1), gap=self.gap)
        self.bound = max(self.bound, self.proof.bound)
        if self.proof.values is not None:
            self.proved = (self.proof.packs(), self.proof.cost)

    def say(self, stage: str) -> None:
        progress = Progress(stage, self.elapsed, self.cost, min(self.bound, self.cost))
        if not self.stopped and not self.watch(progress):
            self.stopped = True

    def take(self, packs: IntArray, cost: float) -> bool:
        """Keep a plan if it is the best so far; `packs` [N] of `self.found`."""
        if cost >= self.cost - 1e-9:
            return False
        self.best, self.cost = packs, cost
        return True

    def search(self) -> None:
        self.beside(self._first, "rounded")
        if not self.stopped:
            self.beside(self._relax, "relaxed")
        if not self.stopped:
            self.prover.start()
            self.prover.join(HEAD_START_SECONDS)
            if self.prover.is_alive():
                self.near()
        # The proof ends by its own clock, a moment before the time is over.
        while self.prover.is_alive() and not (self.stopped or self.close()):
            if self.elapsed > self.seconds + LAST_SECONDS:
                break
            self.prover.join(TICK_SECONDS)
            self.say("proving")
        if self.proved is not None:
            self.take(*self.proved)

    def _seldom(self) -> BoolArray:
        """Deliveries in at most seven of the weeks in which any can come, evenly spread from the first on."""
        weeks = np.unique(self.found.week[self.found.pack >= 0])
        step = max(1, -(-weeks.size // SELDOM_WEEKS))
        return np.asarray((self.found.pack >= 0) & np.isin(self.found.week, weeks[::step]))

    def _first(self) -> None:
        """A plan at once: none bought, or few deliveries in parts of packs, rounded."""
        few = self._seldom()
        solve = _Solve(self.problem, some(self.found, few), self.courses)
        solve.run(whole=False, seconds=math.inf, gap=0.0)
        parts = np.zeros(self.found.pack.size)
        self.take(*self._costed(parts))
        if solve.values is not None:
            parts[few | (self.found.pack < 0)] = solve.parts()
            self.take(*self._costed(parts))

    def _costed(self, parts: FloatArray, up: float = 0.5) -> tuple[IntArray, float]:
        """Parts of packs [N] made whole, those from 1 - `up` of a pack on upwards, and what that costs."""
        packs = np.floor(parts + up).astype(np.int64)
        return packs, _used_best(self, packs)[1]

    def near(self) -> None:
        """Small programmes, then around the best plan, wider until the time is over.

        First the packs that the relaxed programme buys parts of; where deliveries are paid it parts them too
        finely, and few deliveries are the better start.
        """
        paid = bool(self.problem.delivery_price.any())
        self.try_some(self._seldom() if paid else self._within(self.parts, 1), FIRST_SHARE * self.seconds)
        reach = 0
        while not self.over and reach <= 4 and self.elapsed < self.seconds - LAST_SECONDS:
            gained = self.try_some(self._around(reach), NEXT_SHARE * self.seconds)
            reach = 0 if gained and reach > 1 else reach + 1

    def _within(self, rows: BoolArray, weeks: int) -> BoolArray:
        """Deliveries of the same pack up to so many weeks from one of these."""
        near = np.zeros(self.found.pack.size, dtype=np.bool_)
        for row in np.flatnonzero(rows).tolist():
            apart = np.abs(self.found.week - self.found.week[row])
            near |= (apart <= weeks) & (self.found.pack == self.found.pack[row])
        return near

    def _around(self, reach: int) -> BoolArray:
        """Deliveries within `reach` weeks of a delivery of the same pack, or in a week anything comes."""
        assert self.best is not None
        near = self._within(self.best > 0, reach)
        if reach % 2 == 1:
            near |= np.isin(self.found.week, self.found.week[self.best > 0])
        return near | self.parts if reach > 1 else near

    def try_some(self, which: BoolArray, seconds: float) -> bool:
        """Solve with some deliveries only; whether the best plan got better."""
        rows = np.flatnonzero(which | (self.found.pack < 0))
        solve = _Solve(self.problem, some(self.found, which), self.courses)
        limit = min(seconds, max(self.seconds - self.elapsed, 0.1)) if math.isfinite(seconds) else seconds
        self.beside(lambda: solve.run(whole=True, seconds=limit, gap=self.gap / 2.0), "looking near")
        if solve.values is None:
            return False
        packs = np.zeros(self.found.pack.size, dtype=np.int64)
        packs[rows] = solve.packs()
        return self.take(packs, solve.cost)

    def beside(self, work: Callable[[], None], stage: str) -> None:
        """Run HiGHS beside this thread (it lets go of the interpreter) and report while it runs."""
        worker = threading.Thread(target=work, name="order-plan-near", daemon=True)
        worker.start()
        while worker.is_alive():
            worker.join(TICK_SECONDS)
            self.say(stage)
            if self.stopped and self.best is not None:
                return


def _used_best(search: _Search, packs: IntArray) -> tuple[_Solve, float]:
    """The best use of these packs [N] and what it costs, deliveries counted whole."""
    chosen = _Solve(search.problem, some(search.found, packs > 0), search.courses)
    number = packs[(packs > 0) | (search.found.pack < 0)]
    chosen.run(whole=False, seconds=math.inf, gap=0.0, packs=number)
    assert chosen.values is not None
    columns = chosen.made.pack_column[chosen.made.pack_column >= 0]
    parts = np.setdiff1d(np.flatnonzero(chosen.whole), columns)
    whole = float(chosen.cost_row[parts].sum())
    # With packs fixed the relaxed programme counts parts of deliveries.
    return chosen, chosen.cost + whole - float(chosen.cost_row[parts] @ chosen.values[parts])


def _answer(problem: OrderProblem, search: _Search) -> OrderPlan:
    """Use the chosen packs as well as can be, and count."""
    best = search.best
    assert best is not None
    number = best[(best > 0) | (search.found.pack < 0)]
    chosen, cost = _used_best(search, best)
    packs = np.zeros((len(problem.packs), problem.weeks), dtype=np.int64)
    bought = chosen.found.pack >= 0
    packs[chosen.found.pack[bought], chosen.found.week[bought]] = number[bought]
    flows, served, in_house = _flows(problem, chosen, np.where(bought, number, 1).astype(np.float64))
    covered = (served / problem.per_one[None]).sum(axis=1)
    short = np.maximum(problem.demand - covered[None], 0.0)
    price = np.array([pack.price for pack in problem.packs])
    known = np.isfinite(price)
    total = packs.sum(axis=1)
    money = float(price[known] @ total[known]) + _delivery_money(problem, packs)
    bound = min(search.bound, cost)
    gap = (cost - bound) / cost if cost > 0.0 else 0.0
    return OrderPlan(
        packs, cost, bound, gap, money, np.where(known, 0, total), covered, short.mean(axis=0),
        (short > 1e-6).mean(axis=0), served, in_house, flows, search.close(), search.elapsed,
    )  # fmt: skip


def _delivery_money(problem: OrderProblem, packs: IntArray) -> float:
    total = 0.0
    for supplier, fee in enumerate(problem.delivery_price.tolist()):
        theirs = [row for row, pack in enumerate(problem.packs) if pack.supplier == supplier]
        if theirs:
            total += fee * int((packs[theirs].sum(axis=0) > 0).sum())
    return total


def _flows(problem: OrderProblem, chosen: _Solve, number: FloatArray) -> tuple[Flows, FloatArray, FloatArray]:
    """Run the plan's own numbers forward, so that the balance holds to rounding."""
    assert chosen.values is not None
    profiles, made, weeks = chosen.found.profiles, chosen.made, problem.weeks
    total = number * chosen.found.animals
    eaten = np.zeros((total.size, weeks))
    served = np.zeros((weeks, problem.classes, problem.classes))
    week, size, want, column = made.given.T
    np.add.at(
        served, (week, size, want), np.maximum(chosen.values[column], 0.0) * problem.per_one[size, want]
    )
    source, week, size, column = made.taken.T
    np.add.at(eaten, (source, week), np.maximum(chosen.values[column], 0.0))
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
    flows = Flows(chosen.found.pack, chosen.found.week, arrived, eaten, lost, outgrown, left)
    return flows, served, in_house
