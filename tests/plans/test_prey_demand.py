"""Prey demand: what drawn sizes and moults ask for by the room's own rules, and what stays unknown."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from nightround.findings.spans import RoomSpans
from nightround.foundation.when import on_day
from nightround.plans.feeders import alike, lots_left
from nightround.plans.prey_demand import CLASS_EDGES_MM, PreyDemand, prey_demand, quantiles, week_ends
from nightround.plans.prey_pace import PRIOR_OFFERS
from nightround.record.larder import Lot, LotAct
from nightround.record.model import Batch
from nightround.reports.size import SizeReport
from plans.evening import ON, ago, animal, moult, offer, record, rule, sized

WEEKS, DRAWS = 12, 400


def spans_of(
    codes: tuple[str, ...],
    *,
    carapace: float = 11.0,
    span: float = 60.0,
    growth: float = 1.0,
    moult_day: float = np.inf,
    measured: bool = True,
) -> RoomSpans:
    """Drawn sizes that are the same in every draw: one moult on a day, after it `growth` times as large."""
    days = week_ends(ON, WEEKS)
    ahead = np.array([(day - ON).days for day in days], dtype=np.float64)
    factor = np.where(ahead >= moult_day, growth, 1.0)
    shape = (DRAWS, len(codes), WEEKS)
    return RoomSpans(
        ON, codes, days, np.full(len(codes), 1 if measured else 0),
        np.broadcast_to(span * factor, shape).astype(np.float32),
        np.broadcast_to(carapace * factor, shape).astype(np.float32),
        np.full((1, DRAWS, len(codes)), moult_day, dtype=np.float32),
        np.full((DRAWS, len(codes)), np.inf, dtype=np.float32),
        np.zeros((DRAWS, len(codes)), dtype=np.bool_),
    )  # fmt: skip


def steady(code: str = "K12", **facts: Any) -> Any:
    """An animal offered one cricket a week for eight weeks, all taken: just the pace of the rules."""
    facts.setdefault("offers", tuple(offer(day) for day in range(55, 0, -7)))
    return animal(code, **facts)


def demand_of(animals: list[Any], spans: RoomSpans, sizes: dict[str, SizeReport], **more: Any) -> PreyDemand:
    """The demand of a room of these animals."""
    return prey_demand(record(*animals, **more), spans, sizes)


HALF_GROWN = {"K12": sized(span=60, body=25, carapace=11)}


def test_a_juvenile_asks_for_one_prey_a_week_of_its_length() -> None:
    """Body 25 mm at the low end 22.5: half of it is the class up to 10 mm; one each 7 days."""
    demand = demand_of([steady()], spans_of(("K12",)), HALF_GROWN)
    of_class = demand.prey.mean(axis=(0, 1))
    assert [(7.0, 10.0)] == [c for c, n in zip(demand.classes, of_class, strict=True) if n > 0]
    assert 1.0 == pytest.approx(float(demand.prey.sum(axis=(1, 2)).mean()) / WEEKS, rel=0.05)
    assert 1.0 == pytest.approx(demand.pace.factor, abs=0.08)


def test_no_class_holds_prey_longer_than_the_rule_allows() -> None:
    """Every prey of the class an animal is put into is within its longest prey."""
    for body in np.linspace(4.5, 60, 40):
        sizes = {"K12": sized(span=2.5 * body, body=body, carapace=body / 2.2)}
        demand = demand_of([steady()], spans_of(("K12",), carapace=body / 2.2, span=2.5 * body), sizes)
        most = 0.5 * 0.9 * body  # half the body, of which the low end (10 % less) is taken
        asked = [high for (_, high), n in zip(demand.classes, demand.prey.sum(axis=(0, 1)), strict=True) if n]
        assert all(high <= most + 0.06 * body for high in asked), (body, asked)


def test_nothing_is_asked_for_around_a_moult_and_more_length_after_it() -> None:
    """A moult on day 30: from 14 days before it until hardened (small animals 10 days) no offer;
    grown by half, prey of 11.2 mm becomes 16.9 mm.
    """
    still = demand_of([steady()], spans_of(("K12",)), HALF_GROWN)
    moults = spans_of(("K12",), growth=1.5, moult_day=30.0)
    demand = demand_of([steady(moults=(moult(70),))], moults, HALF_GROWN)
    weekly = demand.prey.sum(axis=2).mean(axis=0)
    assert 0.0 == weekly[3]  # days 21 to 27
    assert weekly[7:].mean() == pytest.approx(still.prey.sum(axis=2).mean(axis=0)[7:].mean(), rel=0.1)
    later = demand.prey[:, 8:].sum(axis=(0, 1))
    assert [(10.0, 14.0)] == [c for c, n in zip(demand.classes, later, strict=True) if n > 0]


def test_the_keepers_own_pace_is_weighed_against_the_rules() -> None:
    """Twice as often as the rules for eight weeks: between once and twice, with the number of offers."""
    often = animal(offers=tuple(offer(day) for day in range(55, 0, -3)))
    demand = demand_of([often], spans_of(("K12",)), HALF_GROWN)
    assert 19 == demand.pace.offers
    assert (19 + PRIOR_OFFERS) / (8 + PRIOR_OFFERS) == pytest.approx(demand.pace.factor)


def test_so_many_prey_as_the_keeper_puts_into_an_offer() -> None:
    """Three crickets each week for eight weeks where the rules put one: between one and three."""
    several = animal(offers=tuple(offer(day, count=3) for day in range(55, 0, -7)))
    demand = demand_of([several], spans_of(("K12",)), HALF_GROWN)
    assert (24, 8.0) == (demand.pace.prey, demand.pace.by_rules)
    assert (24 + PRIOR_OFFERS) / (8 + PRIOR_OFFERS) == demand.pace.per_offer
    assert demand.pace.per_offer == pytest.approx(float(demand.prey.sum(axis=2).mean()), rel=0.06)
    assert np.array_equal(demand.prey, np.round(demand.prey))


def test_where_no_offer_is_written_the_rules_hold() -> None:
    """Nothing written is nothing known: of a whole room, of one animal, of days before the first offer."""
    demand = demand_of([animal()], spans_of(("K12",)), HALF_GROWN)
    assert (1.0, 0) == (demand.pace.factor, demand.pace.animals)
    both = demand_of([steady(), animal("K13")], spans_of(("K12", "K13")), HALF_GROWN)
    assert demand_of([steady()], spans_of(("K12",)), HALF_GROWN).pace == both.pace
    begun = demand_of([animal(offers=(offer(14), offer(7), offer(1)))], spans_of(("K12",)), HALF_GROWN)
    assert 15 / 7 == pytest.approx(begun.pace.expected)


def test_an_unknown_size_is_counted_apart_and_named() -> None:
    """Nobody measured it: small pre-killed prey, in no class of length."""
    demand = demand_of([steady()], spans_of(("K12",), measured=False), {})
    assert (("K12",), 0, 0.0) == (demand.unsized, demand.animals, float(demand.prey.sum()))
    assert demand.unknown.mean() > 0.4


def test_an_animal_too_small_for_any_prey_asks_for_pieces() -> None:
    """A body of 2 mm: shorter prey than any feeder."""
    sizes = {"K12": sized(span=5, body=2, carapace=0.9)}
    demand = demand_of([steady()], spans_of(("K12",), carapace=0.9, span=5.0), sizes)
    assert 0.0 == float(demand.prey.sum())
    assert demand.pieces.mean() > 0.9


def test_the_keepers_rule_and_never_are_kept() -> None:
    """21 days between offers: a third; 'never': nothing at all."""
    seldom = demand_of([steady()], spans_of(("K12",)), HALF_GROWN, rules=(rule("feed_juvenile_days", "21"),))
    assert 1 / 3 == pytest.approx(float(seldom.prey.sum(axis=2).mean()) / seldom.pace.factor, rel=0.15)
    never = demand_of(
        [steady()], spans_of(("K12",)), HALF_GROWN, rules=(rule("feed_juvenile_days", "never"),)
    )
    assert 0.0 == float(never.prey.sum())


def test_batches_go_by_number_and_unknown_numbers_are_named() -> None:
    """Forty spiderlings, weekly: forty offers; a batch that nobody counted is in no figure."""
    batches = {"B1": Batch("B1", "", living=40), "B2": Batch("B2", ""), "B3": Batch("B3", "", living=0)}
    demand = demand_of([steady()], spans_of(("K12",)), HALF_GROWN, batches=batches)
    assert (("B1",), ("B2",)) == (demand.batch_codes, demand.uncounted)
    assert 40 * demand.pace.factor == pytest.approx(demand.batches[0])


def test_the_same_record_gives_the_same_numbers_and_whole_prey() -> None:
    """No draw of another run differs; nobody offers half a cricket."""
    twice = [demand_of([steady()], spans_of(("K12",)), HALF_GROWN).prey for _ in range(2)]
    assert np.array_equal(*twice)
    assert np.array_equal(twice[0], np.round(twice[0]))
    low, middle, high = quantiles(twice[0].sum(axis=2))
    assert (low <= middle).all() and (middle <= high).all()


def test_an_empty_room_asks_for_nothing() -> None:
    """No animal, no prey, and no error."""
    demand = prey_demand(record(), spans_of(()), {})
    assert (0, 0.0) == (demand.animals, float(demand.prey.sum()))
    assert len(CLASS_EDGES_MM) - 1 == demand.prey.shape[2]


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("crickets", "cricket", True),
        ("small crickets", "house cricket", True),
        ("house cricket", "banded cricket", False),
        ("flightless fruit fly (melanogaster)", "fruit fly", True),
        ("lateralis roaches", "dubia roach", False),
        ("roach", "lateralis roach", True),
        ("", "cricket", False),
        ("small", "cricket", False),
    ],
)
def test_names_of_feeders(one: str, other: str, same: bool) -> None:
    """Plurals and sizes are no other feeder; another species is."""
    assert same == alike(one, other)


def lot(code: str, day: date, number: int | None, size: float | None = None, feeder: str = "cricket") -> Lot:
    """A lot that was bought on a day."""
    act = LotAct(1, on_day(day), "bought", number, size)
    return Lot(code, feeder, on_day(day), size, number, how="bought", acts=(act,))


def test_offers_are_taken_off_the_lot_they_came_from() -> None:
    """Of the nearest length where both are known; offers before the lot came are not its own."""
    lots = {"A": lot("A", ago(10), 100, 6.0), "B": lot("B", ago(5), 50, 13.0)}
    fed = animal(offers=(offer(20), offer(8, count=2), offer(3, prey_mm=12.0), offer(2, count=None)))
    left = {each.lot.code: each.used for each in lots_left(record(fed, lots=lots))}
    assert {"A": 2.5, "B": 1.5} == left


def test_a_lot_of_unknown_number_stays_unknown() -> None:
    """What was offered is known, what is left is not."""
    (left,) = lots_left(record(animal(offers=(offer(3),)), lots={"A": lot("A", ago(10), None)}))
    assert (None, 1.0) == (left.number, left.used)
