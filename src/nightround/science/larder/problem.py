"""The question of the order plan: what will be wanted, what is there, what can be bought. Weekly steps.

Within a week: what arrives is there at its start, then prey is offered, then the rest grows, dies and leaves.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.larder.growth import Profiles, stack
from nightround.science.thermal import BoolArray, FloatArray, IntArray

# A size class that less than this share of what came is in is not laid aside from that source; one that
# nearly all of what is in use are in, counts as all of it.
LEAST_SHARE = 0.05
NEARLY_ALL = 0.95


@dataclass(frozen=True)
class Pack:
    """One thing that can be bought (or a culture that can be started).

    animals       feeders in one pack (flies of one culture)
    price         money for one pack; NaN: unknown
    can_arrive    [W] weeks at whose start a pack may be in the house: lead time, delivery days and weather
                  are the caller's
    profiles      W rows: row a is a pack that is in the house from the start of week a on
    supplier      whose delivery it comes with
    most          packs in one delivery at most
    """

    animals: float
    price: float
    can_arrive: BoolArray
    profiles: Profiles
    supplier: int = 0
    most: int = 40


@dataclass(frozen=True)
class OrderProblem:
    """Everything the plan decides from. W weeks, C size classes, S equally likely courses of demand.

    demand [S, W, C]            prey wanted, in prey of that class
    stock                       profiles of the lots in the house; stock_animals [L] their living numbers
                                (for a culture: its whole yield)
    packs                       what can be bought
    per_one [C, C]              prey of size class a that stand for one prey of class c; inf: not offered
    instead_price [C, C]        money a prey of class c served by class a is worth less: keeps the right size
                                first; 0 on the diagonal
    shortage_price [C]          money one prey missing is worth avoiding: the higher, the safer
    waste_price                 money one feeder died, outgrown or set aside in vain is worth avoiding
    keep_price                  money one feeder not eaten costs for one week more: food, room, work; above 0
                                it also says not to buy sooner than needed
    delivery_price [suppliers]  money one delivery costs, whatever is in it
    """

    demand: FloatArray
    stock: Profiles
    stock_animals: FloatArray
    packs: tuple[Pack, ...]
    per_one: FloatArray
    instead_price: FloatArray
    shortage_price: FloatArray
    waste_price: float = 0.0
    keep_price: float = 0.0
    delivery_price: FloatArray = field(default_factory=lambda: np.zeros(1))

    def __post_init__(self) -> None:
        _check(self)

    @property
    def weeks(self) -> int:
        return int(self.demand.shape[1])

    @property
    def classes(self) -> int:
        return int(self.demand.shape[2])

    @property
    def prices(self) -> FloatArray:
        """Money for a pack as the plan weighs it: an unknown price counts as the dearest known per animal."""
        price = np.array([pack.price for pack in self.packs])
        animals = np.array([pack.animals for pack in self.packs])
        known = np.isfinite(price)
        dearest = float((price[known] / animals[known]).max()) if known.any() else 1.0
        return np.asarray(np.where(known, price, dearest * animals))


def _check(problem: OrderProblem) -> None:
    demand = problem.demand
    if demand.ndim != 3 or not demand.size or not np.all(np.isfinite(demand)) or demand.min() < 0:
        raise Refusal("demand wants courses x weeks x classes of numbers from 0", got=f"shape {demand.shape}")
    weeks, classes = demand.shape[1:]
    square = (classes, classes)
    if problem.per_one.shape != square or problem.instead_price.shape != square:
        raise Refusal(f"a table of {classes} by {classes} classes was wanted", got=f"{problem.per_one.shape}")
    if not np.all(problem.per_one > 0) or not np.all(problem.instead_price >= 0):
        raise Refusal("prey that stand for one are above 0, and their price is not below 0", got="less")
    if problem.shortage_price.shape != (classes,) or problem.shortage_price.min() < 0:
        raise Refusal("one price of shortage a class, from 0, was wanted", got=str(problem.shortage_price))
    if min(problem.waste_price, problem.keep_price, problem.delivery_price.min()) < 0:
        raise Refusal("waste, keep and deliveries cost nothing or more", got=str(problem.waste_price))
    known = problem.stock_animals
    if known.shape != (problem.stock.stays.shape[0],) or not np.all(known >= 0):
        raise Refusal(
            "a known number of feeders a lot was wanted", got=str(known), todo="Leave uncounted lots out."
        )
    for number, pack in enumerate(problem.packs):
        _check_pack(problem, pack, number, weeks, classes)


def _check_pack(problem: OrderProblem, pack: Pack, number: int, weeks: int, classes: int) -> None:
    if pack.can_arrive.shape != (weeks,) or pack.profiles.fits.shape != (weeks, weeks, classes):
        raise Refusal(
            f"pack {number} wants {weeks} weeks by {classes} classes", got=f"{pack.profiles.fits.shape}"
        )
    if not pack.animals > 0 or pack.price < 0 or pack.most < 0:
        raise Refusal(
            f"pack {number} holds feeders and costs money", got=f"{pack.animals:g} for {pack.price:g}"
        )
    if not 0 <= pack.supplier < problem.delivery_price.size:
        raise Refusal(f"pack {number} comes from a supplier with a delivery price", got=str(pack.supplier))


def several_small(
    low_mm: FloatArray, high_mm: FloatArray, *, most: int = 4, cut: bool = True, pieces: float = 1.0
) -> FloatArray:
    """Prey of class a that stand for one of class c, by bulk (length cubed, rounded up to whole prey).

    Several small for one big up to `most`; a bigger one, killed and cut, stands for `pieces` smaller ones
    when `cut`. Classes are taken at their middle. Common practice, no source: bulk, `most` and `pieces`.
    """
    middle = (low_mm + high_mm) / 2.0
    number = np.ceil((middle[None, :] / middle[:, None]) ** 3 - 1e-9)
    number = np.where(number > most, np.inf, np.maximum(number, 1.0))
    bigger = middle[:, None] > middle[None, :]
    return np.asarray(np.where(bigger, 1.0 / pieces if cut else np.inf, number))


def fewer_courses(demand: FloatArray, most: int) -> FloatArray:
    """At most so many courses [most, W, C]: each week's and class's demand in equal groups, means kept."""
    if demand.shape[0] <= most:
        return demand
    ranked = np.sort(demand, axis=0)
    groups = np.array_split(np.arange(demand.shape[0]), most)
    if len({len(group) for group in groups}) > 1:
        # Unequal groups would weigh courses unequally: read the quantile function at equal steps instead.
        level = (np.arange(demand.shape[0] * most) + 0.5) / (demand.shape[0] * most)
        ranked = ranked[np.minimum((level * demand.shape[0]).astype(np.int64), demand.shape[0] - 1)]
        groups = np.array_split(np.arange(ranked.shape[0]), most)
    return np.stack([ranked[group].mean(axis=0) for group in groups])


@dataclass(frozen=True)
class Sources:
    """Lots in the house first, then every pack at every week it can arrive.

    pack [N], week [N]   -1 for lots in the house
    animals [N]          of the lot, or of one pack
    profiles             N rows
    """

    pack: IntArray
    week: IntArray
    animals: FloatArray
    profiles: Profiles


def sources(problem: OrderProblem) -> Sources:
    """Lay lots and possible deliveries into one table, in a fixed order."""
    lots = problem.stock.stays.shape[0]
    pack, week, animals, rows = [-1] * lots, [-1] * lots, list(problem.stock_animals), [problem.stock]
    for number, offer in enumerate(problem.packs):
        weeks = np.flatnonzero(offer.can_arrive)
        pack += [number] * weeks.size
        week += weeks.tolist()
        animals += [offer.animals] * weeks.size
        rows.append(_rows(offer.profiles, weeks))
    return Sources(
        np.array(pack, dtype=np.int64), np.array(week, dtype=np.int64), np.array(animals), stack(rows)
    )


def some(found: Sources, which: BoolArray) -> Sources:
    """The lots in the house and those deliveries that are marked."""
    rows = np.flatnonzero(which | (found.pack < 0))
    return Sources(found.pack[rows], found.week[rows], found.animals[rows], _rows(found.profiles, rows))


def in_reach(profiles: Profiles) -> FloatArray:
    """`fits` as the plan sees it [N, W, C]: under 5 % of what came is none, over 95 % of those left all."""
    alive = np.zeros_like(profiles.stays)
    now = np.zeros(alive.shape[0])
    for week in range(alive.shape[1]):
        now = now + profiles.arrives[:, week]
        alive[:, week] = now
        now = now * profiles.stays[:, week]
    fits = np.where(profiles.fits * alive[:, :, None] > LEAST_SHARE, profiles.fits, 0.0)
    return np.asarray(np.where(fits > NEARLY_ALL, 1.0, fits))


def _rows(profiles: Profiles, which: IntArray) -> Profiles:
    picked = {name: getattr(profiles, name)[which] for name in Profiles.__dataclass_fields__}
    return replace(profiles, **picked)
