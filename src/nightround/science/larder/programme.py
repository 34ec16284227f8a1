"""The order plan as a mixed-integer linear programme.

Unknowns: packs p (whole), feeders n in use at the start of a week, feeders e of size a taken from a source,
prey x of class c that size a stands for, prey missing m and over o in each course of demand (written as steps
from course to course), and deliveries d (yes or no, where they cost anything).

    n[s, w+1] = stays[s, w] (n[s, w] - sum over a of e[s, w, a]) + arrives[s, w+1] * animals[s] * p[s]
    e[s, w, a] <= fits[s, w, a] n[s, w]
    sum over s of e[s, w, a] = sum over c of per_one[a, c] x[w, a, c]
    m[k, w, c] - o[k, w, c] = demand[k, w, c] - sum over a of x[w, a, c],   sum <= largest demand
    p <= most * d

    minimise  prices + deliveries + instead_price x + mean over k of (shortage_price m + waste_price o)
              + waste_price * (died + outgrown) + keep_price * (kept a week longer)

A source is followed to the last week in which it fits any class; what is left then is charged what
keeping it, deaths and growing out of size will cost by the end.

A plan lays prey aside for every week before the course of demand is known; what is laid aside and not eaten
is counted as over. Planned again each week it is not lost: it is stock. So the plan errs to the safe side.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from nightround.science.larder.problem import OrderProblem, Sources, in_reach
from nightround.science.thermal import BoolArray, FloatArray, IntArray


@dataclass
class Programme:
    """Columns and rows of the programme while they are written, then as arrays.

    pack_column [N]          column of the number of packs of a source; -1 for lots in the house
    taken [E, 4]             source, week, size and column of every e
    given [X, 4]             week, size, class and column of every x
    """

    cost: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    pack_column: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    taken: IntArray = field(default_factory=lambda: np.zeros((0, 4), dtype=np.int64))
    given: IntArray = field(default_factory=lambda: np.zeros((0, 4), dtype=np.int64))

    def add_column(self, cost: float, upper: float = np.inf, whole: bool = False, lower: float = 0.0) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def add_row(self, terms: list[tuple[int, float]], low: float, high: float) -> None:
        number = len(self.low)
        for column, value in terms:
            self.row.append(number)
            self.column.append(column)
            self.value.append(value)
        self.low.append(low)
        self.high.append(high)

    def matrix(self) -> Any:
        from scipy.sparse import csr_array

        shape = (len(self.low), len(self.cost))
        return csr_array((self.value, (self.row, self.column)), shape=shape)


Taken = list[tuple[int, int, int, int]]


def write(problem: OrderProblem, found: Sources, courses: FloatArray) -> Programme:
    """Write the programme for these sources and courses of demand [K, W, C]."""
    made = Programme()
    _packs(made, problem, found)
    wanted = courses.max(axis=0) > 0.0
    # [W, C] whether prey of this size is any use in the week.
    useful = (wanted[:, None, :] & np.isfinite(problem.per_one)[None]).any(axis=2)
    taken: Taken = []
    reach = np.where(useful[None], in_reach(found.profiles), 0.0)
    for source in range(found.pack.size):
        _source(made, problem, found, source, reach[source], taken)
    made.taken = np.array(taken, dtype=np.int64).reshape(-1, 4)
    _given(made, problem, wanted, taken)
    _demand(made, problem, courses)
    return made


def _packs(made: Programme, problem: OrderProblem, found: Sources) -> None:
    prices = problem.prices
    made.pack_column = np.full(found.pack.size, -1, dtype=np.int64)
    deliveries: dict[tuple[int, int], int] = {}
    for source in np.flatnonzero(found.pack >= 0):
        number, week = int(found.pack[source]), int(found.week[source])
        pack = problem.packs[number]
        column = made.add_column(float(prices[number]), float(pack.most), whole=True)
        made.pack_column[source] = column
        fee = float(problem.delivery_price[pack.supplier])
        if fee > 0.0:
            key = (pack.supplier, week)
            if key not in deliveries:
                deliveries[key] = made.add_column(fee, 1.0, whole=True)
            made.add_row([(column, 1.0), (deliveries[key], -float(pack.most))], -np.inf, 0.0)


def _source(
    made: Programme, problem: OrderProblem, found: Sources, source: int, fits: FloatArray, taken: Taken
) -> None:
    """Columns and rows of one lot or possible delivery, from its first to its last useful week."""
    profiles, animals = found.profiles, float(found.animals[source])
    comes = np.flatnonzero(profiles.arrives[source] > 0.0)
    number, (lost, from_then) = int(made.pack_column[source]), _lost(problem, found, source)
    if not comes.size or animals == 0.0:
        return
    weeks = np.flatnonzero(fits.any(axis=1))
    last = max(int(comes[-1]), int(weeks[-1]) if weeks.size else 0)
    before: list[tuple[int, float]] = []
    for week in range(int(comes[0]), last + 1):
        charge = float(from_then[week] if week == last else lost[week])
        held = made.add_column(charge)
        arriving = float(profiles.arrives[source, week]) * animals
        terms = [(held, 1.0), *before]
        if number >= 0 and arriving > 0.0:
            terms.append((number, -arriving))
        fixed = arriving if number < 0 else 0.0
        made.add_row(terms, fixed, fixed)
        stays = float(profiles.stays[source, week])
        before = [(held, -stays)]
        for size in np.flatnonzero(fits[week]).tolist():
            # What is eaten neither dies nor grows out of size later.
            column = made.add_column(-charge)
            taken.append((source, week, size, column))
            # Where all fit, next week's feeders not under 0 say the same.
            if fits[week, size] < 1.0 or week == last:
                made.add_row([(column, 1.0), (held, -float(fits[week, size]))], -np.inf, 0.0)
            before.append((column, stays))


def _lost(problem: OrderProblem, found: Sources, source: int) -> tuple[FloatArray, FloatArray]:
    """Money for one feeder nobody eats [W]: within each week, and from it on until the end."""
    stays = found.profiles.stays[source]
    within = problem.waste_price * (1.0 - stays) + problem.keep_price
    from_then = within.copy()
    for week in range(stays.size - 2, -1, -1):
        from_then[week] += stays[week] * from_then[week + 1]
    return within, from_then


def _given(made: Programme, problem: OrderProblem, wanted: BoolArray, taken: Taken) -> None:
    """Which size stands for which class, week by week, over all sources."""
    there: dict[tuple[int, int], list[int]] = {}
    for _, week, size, column in taken:
        there.setdefault((week, size), []).append(column)
    given: Taken = []
    for (week, size), columns in sorted(there.items()):
        terms = [(column, 1.0) for column in columns]
        for want in np.flatnonzero(wanted[week] & np.isfinite(problem.per_one[size])).tolist():
            column = made.add_column(float(problem.instead_price[size, want]))
            given.append((week, size, want, column))
            terms.append((column, -float(problem.per_one[size, want])))
        made.add_row(terms, 0.0, 0.0)
    made.given = np.array(given, dtype=np.int64).reshape(-1, 4)


def _demand(made: Programme, problem: OrderProblem, courses: FloatArray) -> None:
    serves: dict[tuple[int, int], list[int]] = {}
    for week, _, want, column in made.given.tolist():
        serves.setdefault((week, want), []).append(column)
    for week, want in np.argwhere(courses.max(axis=0) > 0.0).tolist():
        terms = [(column, 1.0) for column in serves.get((week, want), [])]
        if terms:
            terms += _steps(
                made, problem, np.sort(courses[:, week, want]), float(problem.shortage_price[want])
            )
            made.add_row(terms, 0.0, 0.0)
    # A course without any prey misses all of it: what every prey laid aside is counted against.
    every = float(problem.shortage_price @ courses.mean(axis=0).sum(axis=0))
    made.add_column(every, 1.0, lower=1.0)


def _steps(
    made: Programme, problem: OrderProblem, amounts: FloatArray, price: float
) -> list[tuple[int, float]]:
    """Prey laid aside from one course of demand to the next higher one, each a column of its own worth.

    Prey that j of K courses do without is over in those j and saves a missing one in the others.
    """
    out: list[tuple[int, float]] = []
    for below, width in enumerate(np.diff(amounts, prepend=0.0).tolist()):
        if width > 0.0:
            share = below / amounts.size
            worth = problem.waste_price * share - price * (1.0 - share)
            out.append((made.add_column(worth, width), -1.0))
    return out
