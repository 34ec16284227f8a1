"""The question of the orders: demand, lots in the house and packs that can be bought, as plain arrays.

Prices of what cannot be bought are chosen for this program: what a missing prey is worth avoiding, a
wasted one, one of another length. They stand in multiples of the usual price of a feeder, and are said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.plans.deliveries import Delivery, deliveries
from nightround.plans.larder_stock import InHouse, Warmth, kind_of
from nightround.plans.prey_demand import PreyDemand
from nightround.record.larder import Supplied
from nightround.record.model import Record
from nightround.science.larder.growth import (
    Lots,
    Profiles,
    SizeClasses,
    project,
    project_culture,
    stack,
)
from nightround.science.larder.kinds import KINDS, FeederKind
from nightround.science.larder.problem import OrderProblem, Pack, several_small

Floats = NDArray[np.float64]

WEEK: Final = 7
SHORTAGE, WASTE, INSTEAD = 60.0, 0.25, 0.3
"""Worth of avoiding one missing prey, one wasted, one of another length, in usual prices of a feeder."""

KEEP: Final = 0.01
"""Price of keeping one feeder for a week, in the same: nothing is bought sooner than it is needed."""

USUAL_PRICE: Final = 0.05
"""Price of a feeder where no price is written: only the proportions above matter then."""

SMALLEST: Final = 1
"""The class that stands for small pre-killed prey of animals of unknown size and of batches: fruit flies."""

REACH: Final = 2
EACH_WEEK, SECOND_WEEK = 6, 14
"""Deliveries each week, then every second, then every fourth: the plan is made anew long before."""

_JUST_OVER = 1e-6


@dataclass(frozen=True)
class Offered:
    """What can be bought or started: a supply with its deliveries, or a culture set up in the house."""

    kind: FeederKind
    animals: float
    supply: Supplied | None = None
    comes: tuple[Delivery | None, ...] = ()


@dataclass(frozen=True)
class Asked:
    """The problem with what its rows mean: `house` and `offered` in the order of its lots and packs."""

    problem: OrderProblem
    house: tuple[InHouse, ...]
    offered: tuple[Offered, ...]
    unusable: tuple[str, ...]
    usual_price: float


def ask(
    record: Record, demand: PreyDemand, house: Sequence[InHouse], warmth: Warmth, weeks: int = 0
) -> Asked:
    """Lay out the problem of the orders of the first so many weeks (0: all that are asked about).

    Of what too little is known is left out and named.
    """
    weeks = weeks or demand.weeks
    classes = size_classes(demand.edges_mm)
    serving = tuple(each for each in house if each.serves)
    offered, unusable = _offered(record, weeks)
    usual = _usual_price(offered)
    packs = tuple(_pack(each, warmth, classes, weeks) for each in offered)
    wanted = demand.prey[:, :weeks].copy()
    wanted[:, :, SMALLEST] += demand.unknown[:, :weeks] + demand.batches[None, :weeks]
    middles = (classes.low_mm + classes.high_mm) / 2.0
    apart = np.abs(np.log(middles[:, None] / middles[None, :]))
    problem = OrderProblem(
        demand=wanted,
        stock=_stock(serving, warmth, classes, weeks),
        stock_animals=np.array([each.number or 0.0 for each in serving]),
        packs=packs,
        per_one=_instead(classes),
        instead_price=INSTEAD * usual * apart,
        shortage_price=np.full(classes.count, SHORTAGE * usual),
        waste_price=WASTE * usual,
        keep_price=KEEP * usual,
    )
    return Asked(problem, serving, offered, unusable, usual)


def with_near_orders(asked: Asked, near: NDArray[np.int64]) -> Asked:
    """Return the problem with orders [O, W] settled: they come as lots, and only later weeks are open.

    near   packs of each offer for the first weeks; later weeks than it has are open
    """
    problem, settled = asked.problem, near.shape[1]
    rows, animals = [problem.stock], [problem.stock_animals]
    for pack, ordered in zip(problem.packs, near, strict=True):
        which = np.flatnonzero(ordered)
        rows.append(_some(pack.profiles, which))
        animals.append(ordered[which] * pack.animals)
    open_weeks = np.arange(problem.weeks) >= settled
    packs = tuple(replace(pack, can_arrive=pack.can_arrive & open_weeks) for pack in problem.packs)
    later = replace(
        problem, stock=stack(rows), stock_animals=np.concatenate(animals).astype(np.float64), packs=packs
    )
    return replace(asked, problem=later)


def _some(profiles: Profiles, which: NDArray[np.int64]) -> Profiles:
    names = Profiles.__dataclass_fields__
    return Profiles(**{name: getattr(profiles, name)[which] for name in names})


def _instead(classes: SizeClasses) -> Floats:
    """Prey of one length that stand for one of another, by bulk: only lengths up to two classes away."""
    at = np.arange(classes.count)
    near = np.abs(at[:, None] - at[None, :]) <= REACH
    return np.asarray(np.where(near, several_small(classes.low_mm, classes.high_mm), np.inf))


def size_classes(edges_mm: Sequence[float]) -> SizeClasses:
    """Return the classes over one length and up to the next."""
    edges = np.asarray(edges_mm) + _JUST_OVER
    return SizeClasses(edges[:-1], edges[1:])


def _offered(record: Record, weeks: int) -> tuple[tuple[Offered, ...], tuple[str, ...]]:
    found, unusable = [], []
    for supply in record.supplies:
        if supply.is_home:
            continue
        kind = kind_of(supply.body.feeder or supply.body.name)
        lacking = _lacking(supply, kind)
        if lacking or kind is None:
            unusable.append(f"{supply.body.name}: {lacking}")
        else:
            comes = deliveries(supply, record.on, weeks)
            found.append(Offered(kind, float(supply.body.pack or 0), supply, comes))
    for kind in _cultures(record):
        assert kind.culture is not None
        found.append(Offered(kind, kind.culture.flies))
    return tuple(found), tuple(unusable)


def _lacking(supply: Supplied, kind: FeederKind | None) -> str:
    if kind is None:
        return "nothing is known of how this feeder grows"
    if not supply.body.pack:
        return "how many are in a pack is not written"
    if kind.grows and _length(supply) is None:
        return "their length is not written"
    return ""


def _length(supply: Supplied) -> float | None:
    ends = [mm for mm in (supply.body.size_low_mm, supply.body.size_high_mm) if mm]
    return sum(ends) / len(ends) if ends else None


def _cultures(record: Record) -> list[FeederKind]:
    """Kinds of fly that this keeper has cultures of, by the record."""
    known = {
        kind.key
        for lot in record.lots.values()
        if lot.how in ("started", "hatched") and (kind := kind_of(lot.feeder)) is not None and kind.culture
    }
    return [kind for key, kind in KINDS.items() if key in known]


def _usual_price(offered: Sequence[Offered]) -> float:
    prices = [
        float(each.supply.price) / each.animals
        for each in offered
        if each.supply is not None and each.supply.price is not None and each.animals > 0
    ]
    return median(prices) or USUAL_PRICE if prices else USUAL_PRICE


def _stock(house: Sequence[InHouse], warmth: Warmth, classes: SizeClasses, weeks: int) -> Profiles:
    rows = [_profile(each, warmth, classes, weeks) for each in house]
    return stack(rows) if rows else project(_lots((), (), ()), np.zeros((0, WEEK * weeks)), classes, weeks)


def _profile(each: InHouse, warmth: Warmth, classes: SizeClasses, weeks: int) -> Profiles:
    assert each.kind is not None and each.length_mm is not None
    if each.culture_day is not None:
        return project_culture(each.kind, each.culture_day, warmth.ahead, classes, weeks)
    return project(_lots((each.kind,), (each.length_mm,), (0,)), warmth.ahead[None], classes, weeks)


def _lots(kinds: tuple[FeederKind, ...], lengths: Sequence[float], starts: Sequence[int]) -> Lots:
    size = np.asarray(lengths, dtype=np.float64)
    return Lots(kinds, size, np.full(size.shape, np.nan), np.asarray(starts, dtype=np.int64))


def _pack(each: Offered, warmth: Warmth, classes: SizeClasses, weeks: int) -> Pack:
    if each.supply is None:
        rows = [
            project_culture(each.kind, WEEK * week, warmth.ahead, classes, weeks) for week in range(weeks)
        ]
        return Pack(each.animals, 0.0, decided(weeks), stack(rows), most=4)
    length = _length(each.supply) or each.kind.adult_mm
    starts = [WEEK * week for week in range(weeks)]
    lots = _lots((each.kind,) * weeks, (length,) * weeks, starts)
    profiles = project(lots, np.tile(warmth.ahead, (weeks, 1)), classes, weeks)
    can = np.array([delivery is not None for delivery in each.comes]) & decided(weeks)
    price = float("nan") if each.supply.price is None else float(each.supply.price)
    return Pack(each.animals, price, can, profiles)


def decided(weeks: int) -> NDArray[np.bool_]:
    """Return the weeks that something may be ordered for: each of the next, then fewer and fewer."""
    at = np.arange(weeks)
    second = (at < SECOND_WEEK) & (at % 2 == 0)
    return np.asarray((at < EACH_WEEK) | second | (at % 4 == 0), dtype=np.bool_)
