"""The plan for the feeders of a room: from demand, lots and supplies to orders, and what to do instead.

Made anew each week: what is ordered for far weeks is a forecast, what is ordered for the next is the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.wording import counted, day_words, joined
from nightround.plans.deliveries import WEATHER, assumed_of
from nightround.plans.larder_problem import EACH_WEEK, Asked, Offered, ask, with_near_orders
from nightround.plans.larder_stock import InHouse, Warmth, in_house, kinds_named, warmth_of
from nightround.plans.larder_words import CAUTIONS, INSTEAD, class_words, method_words, pace_words, size_words
from nightround.plans.prey_demand import PreyDemand, quantiles
from nightround.record.model import Record
from nightround.reports.larder import (
    Culture,
    Errand,
    LarderReport,
    LotNow,
    Order,
    Range,
    Shortage,
    SizeClass,
)
from nightround.science.larder.orders import OrderPlan, Progress, Watch
from nightround.science.larder.orders import plan as plan_orders

Floats = NDArray[np.float64]
Heard = Callable[[str], bool]
"""Is told how far the plan is, some times a second; False ends the search with the best so far."""

WEEK: Final = 7
SECONDS: Final = 8.0
NEAR_WEEKS: Final = 10
NEAR_SHARE: Final = 0.6
"""The next weeks are searched by themselves, for this share of the time; of them EACH_WEEK are settled."""

LEAST_RISK, LEAST_MISSING = 0.15, 0.5
"""A shortage is told from this chance on, and from so many prey missing; chosen for this program."""

ERRANDS_AHEAD_DAYS: Final = 21
STOPPED: Final = "stopped by hand"


def plan(
    record: Record,
    demand: PreyDemand,
    *,
    room: str = "",
    invented: bool = False,
    seconds: float = SECONDS,
    heard: Heard | None = None,
) -> LarderReport:
    """Return the plan of the larder over the weeks of `demand`, which must be of the same record.

    seconds   the search for cheaper orders ends after so long; the proven gap says how good they are
    heard     is told how far it is, and may end it
    """
    warmth = warmth_of(record, WEEK * demand.weeks)
    house = in_house(record, warmth)
    listening = _Listening(heard)
    asked, found, gap = _searched(record, demand, house, warmth, seconds, listening)
    orders = _orders(asked, found)
    cultures = _cultures(asked, found, record.on)
    costs, unpriced = _costs(asked, found)
    return LarderReport(
        on=record.on,
        room=room,
        invented=invented,
        weeks=demand.starts,
        classes=tuple(_classes(demand, asked, found)),
        pieces=ranges(demand.pieces),
        unsized=ranges(demand.unknown),
        batches=tuple(float(each) for each in demand.batches),
        lots=tuple(_lots(house, asked, found, record.on)),
        orders=orders,
        cultures=cultures,
        shortages=tuple(_shortages(demand, found)),
        errands=tuple(_errands(orders, cultures, record)),
        offered=float(asked.problem.demand.mean(axis=0).sum() - found.missing.sum()),
        eaten_share=demand.taken.share,
        n_outcomes=demand.taken.seen,
        waste=_waste(asked, found),
        costs=costs,
        unpriced=unpriced,
        gap=gap,
        done=STOPPED if listening.ended else _done(asked, found, orders, cultures),
        animals=demand.animals,
        unsized_animals=demand.unsized,
        notices=tuple(_notices(record, demand, asked)),
        instead=INSTEAD,
        method=method_words(asked.usual_price),
        assumptions=(*demand.assumptions, pace_words(demand.pace), warmth.words, *kinds_named(house)),
        cautions=(*((WEATHER,) if orders else ()), *CAUTIONS),
    )


def _searched(
    record: Record,
    demand: PreyDemand,
    house: tuple[InHouse, ...],
    warmth: Warmth,
    seconds: float,
    watch: Watch,
) -> tuple[Asked, OrderPlan, float | None]:
    """Search the next weeks first, by themselves; then the later ones, with the next ones' orders settled.

    The next weeks' orders are what is sent off; the gap is theirs. Asked for few weeks, it is one search.
    """
    asked = ask(record, demand, house, warmth)
    if demand.weeks <= NEAR_WEEKS + 2:
        found = plan_orders(asked.problem, seconds=seconds, watch=watch)
        return asked, found, _gap(found)
    near = plan_orders(
        ask(record, demand, house, warmth, NEAR_WEEKS).problem, seconds=NEAR_SHARE * seconds, watch=watch
    )
    settled = near.packs[:, :EACH_WEEK]
    later = with_near_orders(asked, settled)
    found = plan_orders(later.problem, seconds=(1.0 - NEAR_SHARE) * seconds, watch=watch)
    packs = found.packs.copy()
    packs[:, :EACH_WEEK] += settled
    finished = near.finished and found.finished
    joined_plan = replace(found, packs=packs, finished=finished, seconds=near.seconds + found.seconds)
    return later, joined_plan, _gap(near)


def _gap(found: OrderPlan) -> float | None:
    return float(found.gap) if np.isfinite(found.gap) else None


class _Listening:
    """Tells whoever listens how far the search is, and remembers whether they ended it."""

    def __init__(self, heard: Heard | None) -> None:
        self.heard, self.ended = heard, False

    def __call__(self, progress: Progress) -> bool:
        if self.heard is None or self.ended:
            return not self.ended
        known = np.isfinite(progress.cost) and np.isfinite(progress.bound) and progress.cost > 0
        gap = f", at most {(progress.cost - progress.bound) / progress.cost:.1%} to save" if known else ""
        words = f"weighing orders, {progress.seconds:.0f} s{gap}".replace("%", " %")
        self.ended = not self.heard(words)
        return not self.ended


def _done(asked: Asked, found: OrderPlan, orders: tuple[Order, ...], cultures: tuple[Culture, ...]) -> str:
    if not asked.offered:
        return "nothing that can be ordered is on record"
    if found.finished:
        return "the search came to its end" if orders or cultures else "nothing needs to be ordered"
    return f"ended after {found.seconds:.0f} s"


def ranges(draws: Floats) -> tuple[Range, ...]:
    """Return mean, low, middle and high of each week over the draws (S, W)."""
    low, middle, high = quantiles(draws)
    mean = draws.mean(axis=0)
    return tuple(
        Range(*(float(part[week]) for part in (mean, low, middle, high))) for week in range(len(mean))
    )


def _classes(demand: PreyDemand, asked: Asked, found: OrderPlan) -> Iterable[SizeClass]:
    kinds = _kinds_by_class(asked, found)
    for at, (low, high) in enumerate(demand.classes):
        yield SizeClass(
            low, high, class_words(high), ranges(demand.prey[:, :, at]),
            tuple(float(each) for each in found.in_house[:, at]),
            tuple(float(each) for each in found.risk[:, at]), kinds[at],
        )  # fmt: skip


def _kinds_by_class(asked: Asked, found: OrderPlan) -> list[tuple[str, ...]]:
    names: list[dict[str, None]] = [{} for _ in range(found.in_house.shape[1])]
    # Orders that are settled stand behind the lots in the house.
    for each, fits in zip(asked.house, asked.problem.stock.fits, strict=False):
        assert each.kind is not None
        for at in np.flatnonzero((fits > 0.05).any(axis=0)):
            names[at][each.kind.name] = None
    return [tuple(each) for each in names]


def _lots(house: tuple[InHouse, ...], asked: Asked, found: OrderPlan, on: date) -> Iterable[LotNow]:
    rows = {each.lot.code: row for row, each in enumerate(asked.house)}
    for each in house:
        row = rows.get(each.lot.code)
        weeks: tuple[float, ...] = ()
        if row is not None:
            weeks = _untouched(asked, row)
        now = weeks[0] if weeks and each.culture_day is not None else each.number
        counted_on = each.lot.counted[0] if each.lot.counted else None
        yield LotNow(
            each.lot.code, each.lot.feeder, each.kind.key if each.kind else "", each.lot.begun.last,
            now, each.length_mm, each.basis, counted_on, weeks, _of_use_until(weeks, on), each.notes,
        )  # fmt: skip


def _untouched(asked: Asked, row: int) -> tuple[float, ...]:
    """Feeders of a lot at the start of each week, with nothing offered from it."""
    stock, held, course = asked.problem.stock, 0.0, []
    total = float(asked.problem.stock_animals[row])
    for week in range(asked.problem.weeks):
        held += float(stock.arrives[row, week]) * total
        course.append(held)
        held *= float(stock.stays[row, week])
    return tuple(course)


def _of_use_until(weeks: tuple[float, ...], on: date) -> date | None:
    """First day of the week from which under a twentieth of the most is left; None: not in these weeks."""
    most = max(weeks, default=0.0)
    last = max((at for at, number in enumerate(weeks) if number >= 0.05 * most and most > 0.0), default=-1)
    return on + timedelta(days=WEEK * (last + 1)) if 0 <= last < len(weeks) - 1 else None


def _orders(asked: Asked, found: OrderPlan) -> tuple[Order, ...]:
    orders = []
    for row, each in enumerate(asked.offered):
        if each.supply is None:
            continue
        for week in np.flatnonzero(found.packs[row]):
            orders.append(_order(each, int(found.packs[row, week]), int(week)))
    return tuple(sorted(orders, key=lambda order: (order.order_by, order.name)))


def _order(each: Offered, packs: int, week: int) -> Order:
    supply, delivery = each.supply, each.comes[week]
    assert supply is not None and delivery is not None
    body = supply.body
    cost = "" if supply.price is None else str(packs * supply.price)
    return Order(
        body.name, body.feeder or body.name, body.from_whom, packs, body.pack or 0, size_words(body),
        delivery.order_by, delivery.arrives, cost, body.currency.strip(), supply.number, assumed_of(supply),
    )  # fmt: skip


def _cultures(asked: Asked, found: OrderPlan, on: date) -> tuple[Culture, ...]:
    cultures = []
    for row, each in enumerate(asked.offered):
        culture = each.kind.culture
        if each.supply is not None or culture is None:
            continue
        for week in np.flatnonzero(found.packs[row]):
            day = on + timedelta(days=WEEK * int(week))
            first = day + timedelta(days=round(culture.first_days))
            last = first + timedelta(days=round(culture.gives_days))
            words = (
                f"flies from about {day_words(first, on)} to {day_words(last, on)} (first flies after "
                f"{culture.first_days:.0f} days, C; about {culture.flies:.0f} in all, from memory)"
            )
            cultures.append(Culture("fruit fly", int(found.packs[row, week]), day, first, last, words))
    return tuple(sorted(cultures, key=lambda each: each.start_by))


def _costs(asked: Asked, found: OrderPlan) -> tuple[tuple[tuple[str, str], ...], int]:
    sums: dict[str, Decimal] = {}
    unpriced = 0
    for row, each in enumerate(asked.offered):
        packs = int(found.packs[row].sum())
        if each.supply is None or not packs:
            continue
        if each.supply.price is None:
            unpriced += packs
        else:
            currency = each.supply.body.currency.strip()
            sums[currency] = sums.get(currency, Decimal(0)) + packs * each.supply.price
    return tuple((str(total), currency) for currency, total in sorted(sums.items())), unpriced


def _shortages(demand: PreyDemand, found: OrderPlan) -> Iterable[Shortage]:
    for week, start in enumerate(demand.starts):
        for at, (low, high) in enumerate(demand.classes):
            chance, missing = float(found.risk[week, at]), float(found.missing[week, at])
            if chance >= LEAST_RISK and missing >= LEAST_MISSING:
                yield Shortage(start, low, high, chance, missing, INSTEAD)


def _waste(asked: Asked, found: OrderPlan) -> tuple[tuple[str, float], ...]:
    served = asked.problem.demand.mean(axis=0).sum() - found.missing.sum()
    spare = max(float(found.covered.sum() - served), 0.0)
    parts = (
        ("die before they are offered", float(found.flows.died.sum())),
        ("grow out of all use", float(found.flows.outgrown.sum())),
        ("kept for the safe side and not asked for", spare),
        ("left at the end", float(found.flows.left.sum())),
    )
    return tuple((words, number) for words, number in parts if number >= 0.5)


def _errands(orders: tuple[Order, ...], cultures: tuple[Culture, ...], record: Record) -> Iterable[Errand]:
    on, newest = record.on, record.last_number
    last = on + timedelta(days=ERRANDS_AHEAD_DAYS)
    for order in orders:
        if order.order_by <= last:
            title = f"Order {order.packs} × {order.name}" + (
                f" from {order.from_whom}" if order.from_whom else ""
            )
            reason = f"{order.size_words}; comes {order.arrives:%a} {day_words(order.arrives, on)}"
            yield Errand("order", title, order.order_by, reason, on, order.feeder, (), newest)
    for culture in cultures:
        if culture.start_by <= last:
            title = f"Start {counted(culture.number, 'fly culture')}"
            yield Errand("culture", title, culture.start_by, culture.words, on, culture.feeder, (), newest)


def _notices(record: Record, demand: PreyDemand, asked: Asked) -> Iterable[str]:
    if demand.unsized:
        names = joined(demand.unsized) if len(demand.unsized) <= 6 else counted(len(demand.unsized), "animal")
        yield f"Size unknown, small pre-killed prey counted on: {names}"
    if demand.batch_codes:
        yield (
            f"{counted(len(demand.batch_codes), 'batch', 'batches')} by number, "
            f"{demand.batches[0]:.0f} offers a week: small pre-killed prey, as nobody knows their size"
        )
    if demand.uncounted:
        yield f"Batches of unknown number are in no figure: {joined(demand.uncounted)}"
    if not any(not each.is_home for each in record.supplies):
        yield "Nothing that can be bought is written down: no orders can be planned"
    for words in asked.unusable:
        yield f"Left out of the orders: {words}"
