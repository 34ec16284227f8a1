"""The rehousing problem as plain arrays, what a plan of it costs, and whether it can be carried out.

n animals live through T periods in one of V ways of being housed (a kind of home filled in one way), or in
the home they have (`OWN`). K kinds of home have a stock. A move happens at the begin of a period; the home
left is cleaned during that period, so that it counts as in use until the period's end. All costs share one
unit (weeks in a home that does not fit, for the plan of a room).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

OWN: Final = -1
NOBODY: Final = -1


@dataclass(frozen=True)
class HousingProblem:
    """What is to be planned.

    stay      (n, V, T) cost of living through a period housed in a way
    own       (n, T) the same in the home it has now
    enter     (n, V, T) cost of moving in at the begin of a period; inf: not allowed then
    kind      (V,) the kind of home of each way
    own_kind  (n,) the kind of the home it has, which somebody else may use later; -1: nobody else will
    empty     (K,) homes of each kind that are empty now
    price     (K,) cost of one more home of a kind
    most      (K,) how many may be bought, 0: not for sale
    ready     (K,) first period in which bought ones are there
    """

    stay: Floats
    own: Floats
    enter: Floats
    kind: Integers
    own_kind: Integers
    empty: Integers
    price: Floats
    most: Integers
    ready: Integers

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together and costs that are no numbers."""
        n, ways, periods = self.stay.shape
        shapes = (self.own.shape, self.enter.shape, self.kind.shape, self.own_kind.shape)
        kinds = len(self.empty)
        same = shapes == ((n, periods), (n, ways, periods), (ways,), (n,))
        if not same or {len(self.price), len(self.most), len(self.ready)} != {kinds}:
            raise Refusal("arrays of the same animals, ways, periods and kinds", got=str(shapes))
        if not (np.isfinite(self.stay).all() and np.isfinite(self.own).all() and (self.price >= 0).all()):
            raise Refusal("finite costs of staying and prices from 0 on", got="some that are not")
        if np.isnan(self.enter).any() or (self.enter <= 0).any():
            raise Refusal("costs of moves above 0", got="some that are not")

    @property
    def animals(self) -> int:
        """Number of animals."""
        return len(self.own)

    @property
    def periods(self) -> int:
        """Number of periods."""
        return int(self.own.shape[1])

    @property
    def kinds(self) -> int:
        """Number of kinds of home."""
        return len(self.empty)

    @property
    def there(self) -> Integers:
        """Homes (K,) of each kind in the room now, empty or lived in by an animal of the problem."""
        lived_in = np.bincount(self.own_kind[self.own_kind >= 0], minlength=self.kinds)
        return np.asarray(self.empty + lived_in, dtype=np.int64)


@dataclass(frozen=True)
class HousingPlan:
    """A plan that can be carried out, what it costs, and how much better any other could be.

    way       (n, T) how each animal is housed in each period, `OWN` for the home it has
    bought    (K,) homes to buy
    cost      of the plan; `bound`: no plan costs less
    method    how it was found; seconds it took; `interrupted`: stopped before it was done
    prices    (K, T) what a home of each kind is worth in each period, behind the bound
    """

    way: Integers
    bought: Integers
    cost: float
    bound: float
    method: str
    seconds: float = 0.0
    interrupted: bool = False
    prices: Floats | None = None

    @property
    def gap(self) -> float:
        """Proven gap: share of the cost by which the best plan might be cheaper; 0 when proven best."""
        if self.cost <= self.bound + 1e-6 * max(1.0, abs(self.cost)):
            return 0.0
        return (self.cost - self.bound) / abs(self.cost)


def before(way: Integers) -> Integers:
    """How each animal was housed the period before: the home it had, at first."""
    return np.concatenate([np.full((len(way), 1), OWN, dtype=np.int64), way[:, :-1]], axis=1)


def moves_of(way: Integers) -> NDArray[np.bool_]:
    """Whether each animal moves at the begin of each period (n, T)."""
    return np.asarray(way != before(way))


def path_costs(problem: HousingProblem, way: Integers) -> Floats:
    """Cost (n,) of each animal's course, without homes bought; inf where a move is not allowed."""
    n, periods = way.shape
    at, when = np.arange(n)[:, None], np.arange(periods)[None, :]
    inside = np.where(way == OWN, problem.own, problem.stay[at, np.maximum(way, 0), when])
    moves = moves_of(way)
    entered = np.where(moves, problem.enter[at, np.maximum(way, 0), when], 0.0)
    entered = np.where(moves & (way == OWN), np.inf, entered)
    return np.asarray((inside + entered).sum(axis=1), dtype=np.float64)


def usage(problem: HousingProblem, way: Integers) -> NDArray[np.int64]:
    """Homes (n, K, T) that each animal's course takes: where it lives, and what it left to be cleaned."""
    n, periods = way.shape
    used = np.zeros((n, problem.kinds + 1, periods), dtype=np.int64)
    at, when = np.broadcast_arrays(np.arange(n)[:, None], np.arange(periods)[None, :])
    now, earlier, moves = _kinds_of(problem, way), _kinds_of(problem, before(way)), moves_of(way)
    np.add.at(used, (at, now, when), 1)
    np.add.at(used, (at[moves], earlier[moves], when[moves]), 1)
    return used[:, : problem.kinds]


def _kinds_of(problem: HousingProblem, way: Integers) -> Integers:
    """Kind of each way; homes that nobody else uses go into a last column that is thrown away."""
    own = np.where(problem.own_kind == NOBODY, problem.kinds, problem.own_kind)
    if not len(problem.kind):
        return np.asarray(np.broadcast_to(own[:, None], way.shape))
    return np.asarray(np.where(way == OWN, own[:, None], problem.kind[np.maximum(way, 0)]))


def to_buy(problem: HousingProblem, used: NDArray[np.int64]) -> NDArray[np.int64] | None:
    """Return the homes (K,) to buy for a usage (K, T) of the whole room; None when it cannot be met."""
    over = used - problem.there[:, None]
    early = np.arange(problem.periods)[None, :] < problem.ready[:, None]
    if (over[early] > 0).any():
        return None
    bought = np.maximum(over.max(axis=1, initial=0), 0)
    return None if (bought > problem.most).any() else np.asarray(bought, dtype=np.int64)


def cost_of(problem: HousingProblem, way: Integers) -> tuple[float, Integers]:
    """Return what a plan costs and what it buys. Raises Refusal for one that cannot be carried out."""
    bought = to_buy(problem, usage(problem, way).sum(axis=0))
    cost = float(path_costs(problem, way).sum())
    if bought is None or not np.isfinite(cost):
        raise Refusal(
            "a plan that can be carried out", got="a home used twice at once, or a move not allowed"
        )
    return cost + float(bought[bought > 0] @ problem.price[bought > 0]), bought
