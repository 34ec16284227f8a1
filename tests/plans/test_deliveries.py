"""Deliveries: order by a day so that it comes on a day of delivery."""

from __future__ import annotations

from datetime import date

import pytest

from nightround.foundation.when import UNKNOWN
from nightround.journal.kinds.supplies import Supply
from nightround.plans.deliveries import WEATHER, Delivery, assumed_of, deliveries
from nightround.record.larder import Supplied

WEDNESDAY = date(2026, 11, 25)


def supplied(lead: int | None, *weekdays: int) -> Supplied:
    """Crickets with lead days and days of delivery (Monday 0)."""
    return Supplied(1, UNKNOWN, Supply(item="feeder", name="crickets", lead_days=lead), None, weekdays)


def test_it_is_in_the_house_when_the_week_begins() -> None:
    """Two days ahead, Tuesdays and Wednesdays: the week from Wednesday has it from that Wednesday itself."""
    found = deliveries(supplied(2, 1, 2), WEDNESDAY, 2)
    assert [None, Delivery(date(2026, 11, 30), date(2026, 12, 2))] == list(found)
    assert Delivery(date(2026, 11, 29), date(2026, 12, 1)) == deliveries(supplied(2, 1), WEDNESDAY, 2)[1]


def test_a_week_before_which_nothing_can_come_has_no_delivery() -> None:
    """Ten days ahead, any day: by the second week's end only."""
    found = deliveries(supplied(10, 0, 1, 2, 3, 4, 5, 6), WEDNESDAY, 3)
    assert [None, None, date(2026, 12, 9)] == [each and each.arrives for each in found]


@pytest.mark.parametrize("lead", [0, 1, 3, 7, 20])
def test_no_order_lies_in_the_past_and_the_lead_is_kept(lead: int) -> None:
    """Ordered tonight or later, and delivered just the lead days after."""
    for each in deliveries(supplied(lead, 1, 3), WEDNESDAY, 8):
        assert each is None or (each.order_by >= WEDNESDAY and lead == (each.arrives - each.order_by).days)


def test_what_nobody_wrote_is_assumed_and_said() -> None:
    """A week, Tuesday to Thursday; nothing is said where the seller's days are on record."""
    found = deliveries(supplied(None), WEDNESDAY, 2)
    assert [None, date(2026, 12, 2)] == [each and each.arrives for each in found]
    assert 2 == len(assumed_of(supplied(None)))
    assert () == assumed_of(supplied(2, 1))
    assert "4 °C (39 °F)" in WEATHER
