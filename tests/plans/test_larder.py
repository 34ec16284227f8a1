"""The plan of the larder: orders in time, unknown prices in no sum, and what is said when prey is missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from nightround.foundation.when import UNKNOWN, on_day
from nightround.journal.kinds.supplies import Supply
from nightround.plans.larder import STOPPED, plan
from nightround.plans.larder_problem import decided
from nightround.plans.prey_demand import CLASS_EDGES_MM, PreyDemand
from nightround.plans.prey_pace import Pace, Taken
from nightround.record.larder import Lot, LotAct, Supplied
from nightround.record.model import Record
from nightround.reports.larder import LarderReport
from plans.evening import ON, ago, record

WEEKS, DRAWS = 12, 40
CRICKETS = 4
"""The class of prey over 5 and up to 7 mm."""


def demand_of(per_week: float = 20.0, at: int = CRICKETS, *, unknown: float = 0.0) -> PreyDemand:
    """A steady need of one length, with a little spread."""
    prey = np.zeros((DRAWS, WEEKS, len(CLASS_EDGES_MM) - 1))
    prey[:, :, at] = np.round(per_week * np.linspace(0.9, 1.1, DRAWS))[:, None]
    still = np.zeros((DRAWS, WEEKS))
    return PreyDemand(
        ON, WEEKS, CLASS_EDGES_MM, prey, still, still + unknown, np.zeros(WEEKS),
        np.ones(len(CLASS_EDGES_MM) - 1), Pace(0, 0.0, 0), Taken(0, 0), 20, (), (), (),
    )  # fmt: skip


def sold(price: str | None = "4.00", number: int = 1, **more: Any) -> Supplied:
    """A hundred small crickets, two days ahead, any day of the week."""
    facts: dict[str, Any] = {"item": "feeder", "name": "small crickets", "feeder": "cricket", "pack": 100,
                             "size_low_mm": 5.5, "size_high_mm": 6.5, "currency": "EUR", "lead_days": 2,
                             **more}  # fmt: skip
    return Supplied(
        number, UNKNOWN, Supply(**facts), None if price is None else Decimal(price), tuple(range(7))
    )


def lot(number: int | None, size: float | None, feeder: str = "cricket", days_ago: int = 0) -> Lot:
    """A lot bought so many days ago."""
    act = LotAct(1, on_day(ago(days_ago)), "bought", number, size)
    return Lot("L", feeder, on_day(ago(days_ago)), size, number, how="bought", acts=(act,))


def room(*supplies: Supplied, **more: Any) -> Record:
    """A room in which this can be bought."""
    return replace(record(**more), supplies=supplies)


def planned(there: Record, demand: PreyDemand | None = None, **more: Any) -> LarderReport:
    """The plan of that room, with little time to search."""
    return plan(there, demand or demand_of(), seconds=3.0, **more)


def test_what_is_needed_is_ordered_in_time() -> None:
    """Twenty a week, a hundred in a pack: some packs, none ordered in the past, each there by its week."""
    report = planned(room(sold()))
    assert report.orders
    for order in report.orders:
        assert ON <= order.order_by == order.arrives - timedelta(days=2)
    assert sum(order.packs for order in report.orders) >= 2
    served = report.classes[CRICKETS].short[2:]
    assert max(served) < 0.5
    assert ON + timedelta(days=7) >= report.orders[0].arrives


def test_costs_are_packs_times_prices_by_currency() -> None:
    """Exact decimal sums; the proven gap lies between nothing and all."""
    report = planned(room(sold("4.10")))
    packs = sum(order.packs for order in report.orders)
    assert ((str(packs * Decimal("4.10")), "EUR"),) == report.costs
    assert 0 == report.unpriced
    assert report.gap is not None
    assert 0.0 <= report.gap < 1.0


def test_an_unknown_price_is_in_no_sum_and_never_zero() -> None:
    """Packs without a price are ordered where nothing else is sold, and counted apart."""
    report = planned(room(sold(None)))
    assert () == report.costs
    assert report.unpriced == sum(order.packs for order in report.orders) > 0
    assert {""} == {order.cost for order in report.orders}


def test_what_is_in_the_house_is_used_before_anything_is_ordered() -> None:
    """Three hundred of the right length: nothing needs to come for the first weeks."""
    empty, full = planned(room(sold())), planned(room(sold(), lots={"L": lot(300, 5.0)}))
    assert sum(o.packs for o in full.orders) < sum(o.packs for o in empty.orders)
    assert full.orders == () or full.orders[0].arrives > empty.orders[0].arrives
    (shown,) = full.lots
    assert (300.0, 5.0, "acheta") == (shown.number, shown.size_mm, shown.kind)
    assert shown.weeks[0] == pytest.approx(300.0, rel=0.01)


def test_without_anything_to_buy_it_says_what_will_be_missing() -> None:
    """No supply is written down: no order, shortages from the first week, and what to offer instead."""
    report = planned(room())
    assert ((), "nothing that can be ordered is on record") == (report.orders, report.done)
    assert WEEKS == len({shortage.week for shortage in report.shortages})
    assert any("Nothing that can be bought is written down" in words for words in report.notices)
    told = " ".join(report.instead)
    for words in ("pre-killed", "crush the head", "Several small"):
        assert words in told


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"pack": None}, "how many are in a pack is not written"),
        ({"size_low_mm": None, "size_high_mm": None}, "their length is not written"),
        ({"feeder": "mealworm", "name": "worms"}, "nothing is known of how this feeder grows"),
    ],
)
def test_of_what_too_little_is_known_nothing_is_ordered(facts: dict[str, Any], why: str) -> None:
    """It is named with what is lacking."""
    report = planned(room(sold(**facts)))
    assert () == report.orders
    assert any(why in words for words in report.notices)


def test_homes_are_no_feeders() -> None:
    """A home to buy is in no order of the larder."""
    home = Supplied(2, UNKNOWN, Supply(item="home", name="box", pack=1), Decimal(9), ())
    assert {"small crickets"} == {order.name for order in planned(room(sold(), home)).orders}


def test_a_keeper_of_cultures_is_told_to_start_one_in_time() -> None:
    """Flies of 2.6 mm are needed: a culture is started about 19 days (C) before, as this keeper does."""
    begun = LotAct(1, on_day(ago(60)), "started")
    flies = Lot("F", "fruit fly", on_day(ago(60)), finished=True, how="started", acts=(begun,))
    report = planned(room(lots={"F": flies}), demand_of(30.0, 1))
    assert report.cultures
    first = report.cultures[0]
    assert (ON, ON + timedelta(days=19)) == (first.start_by, first.from_day)
    assert any(errand.sort == "culture" for errand in report.errands)
    assert () == planned(room(), demand_of(30.0, 1)).cultures


def test_animals_of_unknown_size_are_counted_on_with_small_prey() -> None:
    """They are in no class of length, yet small pre-killed prey is ordered for them."""
    flies = sold(name="flies", feeder="fruit fly", size_low_mm=2.5, size_high_mm=2.6)
    report = planned(room(flies), demand_of(0.0, unknown=10.0))
    assert 10.0 == report.unsized[0].mean
    assert 0.0 == sum(need.mean for each in report.classes for need in each.needed)
    assert report.orders


def test_errands_are_the_orders_of_the_next_weeks() -> None:
    """One an order, with its last day; none for orders months away."""
    report = planned(room(sold()))
    near = [order for order in report.orders if order.order_by <= ON + timedelta(days=21)]
    assert [order.order_by for order in near] == [errand.by for errand in report.errands]
    assert all(ON == errand.made and "small crickets" in errand.title for errand in report.errands)


def test_the_balance_of_feeders_is_told() -> None:
    """Bought and there before: offered, died, outgrown, spare or left, none below nothing."""
    report = planned(room(sold(), lots={"L": lot(50, 6.0)}))
    assert 0 < report.offered <= 20 * WEEKS * 1.01
    assert all(number > 0 for _, number in report.waste)


def test_it_can_be_ended_by_hand_and_still_answers() -> None:
    """Told to stop at once: a plan all the same, which says so."""
    said: list[str] = []

    def stop(words: str) -> bool:
        said.append(words)
        return False

    more = [sold(str(1 + i), i, name=f"crickets {i}", size_low_mm=2.0 + i, size_high_mm=3.0 + i, pack=30)
            for i in range(1, 9)]  # fmt: skip
    demand = demand_of(25.0)
    demand.prey[:, :, :] = np.arange(DRAWS)[:, None, None] / 4
    report = planned(room(*more), demand, heard=stop)
    assert report.done in (STOPPED, "the search came to its end")
    assert report.orders
    assert said


def test_an_empty_room_has_an_empty_plan() -> None:
    """Nobody, nothing to buy, nothing in the house: no order, no shortage, no error."""
    report = planned(record(), demand_of(0.0))
    assert ((), (), ()) == (report.orders, report.shortages, report.lots)


def test_far_weeks_have_fewer_deliveries_to_decide() -> None:
    """Each of six weeks, every second up to fourteen, then every fourth."""
    assert [*range(6), 6, 8, 10, 12, 16, 20, 24] == list(np.flatnonzero(decided(26)))


def test_cautions_and_doubts_are_always_there() -> None:
    """Allergy, law, poison; the weather on the way where something is ordered; what is assumed."""
    told = " ".join(planned(room(sold())).cautions)
    for words in ("allergens", "local authority", "insecticide", "4 °C (39 °F)"):
        assert words in told
    report = planned(room())
    assert "weather" not in " ".join(report.cautions)
    assert any("no animal dies" in words for words in report.assumptions)
    assert date(2026, 11, 24) == report.on
