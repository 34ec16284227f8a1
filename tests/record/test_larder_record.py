"""Lots of feeders and things to buy as the record holds them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from record.notebook import kinds, told


def test_a_lot_keeps_what_was_written_of_it(page: str) -> None:
    """Bought, died off, counted: each with its day, so that a plan can start from the latest count and size.

    2026-01-01  lot L1  lot_begun  feeder=crickets; number=100; size_mm=5; price=4.50 EUR; from_whom=shop
    2026-01-05  lot L1  lot_changed  what=died_off; number=30
    2026-01-09  lot L1  lot_changed  what=counted; number=60; size_mm=8
    2026-01-12  lot L1  lot_changed  what=culled; number=5
    """
    lot = told(page).lots["L1"]
    assert ["bought", "died_off", "counted", "culled"] == [act.what for act in lot.acts]
    assert ("bought", "4.50 EUR", "shop") == (lot.how, lot.price, lot.from_whom)
    assert (date(2026, 1, 9), 60) == lot.counted
    assert (date(2026, 1, 9), 8.0) == lot.sized
    assert 55 == lot.number


def test_an_uncounted_lot_stays_unknown(page: str) -> None:
    """Without a number nothing is known of how many there are, whatever died.

    2026-01-01  lot L1  lot_begun  feeder=crickets; size_mm=5
    2026-01-05  lot L1  lot_changed  what=died_off; number=30
    """
    lot = told(page).lots["L1"]
    assert (None, None) == (lot.number, lot.counted)


def test_the_latest_word_of_a_seller_holds(page: str) -> None:
    """Same item, name and seller: a new price takes the old one's place; other sellers stay; gone is gone.

    2026-01-01  room  supply  item=feeder; name=Small crickets; from_whom=shop; price=3.50; pack=100
    2026-01-01  room  supply  item=feeder; name=SMALL crickets; from_whom=fair; price=2; pack=50
    2026-01-01  room  supply  item=home; name=box; from_whom=shop
    2026-02-01  room  supply  name=small crickets; item=feeder; from_whom=Shop; price=4.2; delivery=Tue|wed
    2026-02-02  room  supply  item=home; name=Box; from_whom=shop; gone=true
    """
    before, after = told(page, "2026-01-15"), told(page, "2026-02-15")
    assert [Decimal(2), Decimal("3.50"), None] == [each.price for each in before.supplies]
    assert [Decimal(2), Decimal("4.2")] == [each.price for each in after.supplies]
    assert (1, 2) == after.supplies[1].weekdays
    assert [True] == [each.is_home for each in before.supplies if each.price is None]


def test_a_price_that_is_no_number_is_unknown_and_told(page: str) -> None:
    """Words, minus and nonsense are no price; a weekday that is none is left out.

    2026-01-01  room  supply  item=feeder; name=a; price=about three
    2026-01-01  room  supply  item=feeder; name=b; price=-1
    2026-01-01  room  supply  item=feeder; name=c; price=NaN
    2026-01-01  room  supply  item=feeder; name=d; price=0; delivery=Tue|someday
    """
    record = told(page)
    assert [None, None, None, Decimal(0)] == [each.price for each in record.supplies]
    assert ["price_not_readable"] * 3 + ["weekday_not_readable"] == sorted(kinds(record))
    assert (1,) == record.supplies[3].weekdays
