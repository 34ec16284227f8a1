"""Filled-in forms of the larder: drafts of what was written, and faults beside their fields."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime

import pytest

from nightround.desk.desk import Desk
from nightround.desk.larder_forms import larder_draft
from nightround.desk.taps import FormRefusal
from nightround.foundation import clock
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import LotBegun, LotChanged
from nightround.journal.store import Journal
from nightround.record.model import Record

TUESDAY = date(2026, 11, 24)
EVENING = datetime(2026, 11, 24, 20, 30, tzinfo=UTC)
DAY = TUESDAY.isoformat()


@pytest.fixture
def record(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Record]:
    """A room with one lot of crickets."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    with Desk(Journal.create(tmp_path_factory.mktemp("forms") / "room", time_zone="UTC")) as desk:
        begun = on_day(date(2026, 11, 1))
        desk.write([Draft(Ref("lot", "cricket 1"), begun, LotBegun(feeder="cricket", number=100))])
        yield desk.record(TUESDAY)


def test_a_purchase_gets_a_code_and_keeps_what_was_written(record: Record) -> None:
    """An empty code is made; the price stays as it was written."""
    fields = {"feeder": "cricket", "number": "200", "size_mm": "6", "price": "4.50 EUR", "until": DAY}
    draft = larder_draft("bought", fields, record)
    assert (Ref("lot", "cricket 2"), on_day(TUESDAY)) == (draft.about, draft.when)
    assert LotBegun(feeder="cricket", number=200, size_mm=6.0, price="4.50 EUR") == draft.body


def test_a_culture_has_no_number_yet(record: Record) -> None:
    """Its animals come later: how many, nobody knows."""
    draft = larder_draft("started", {"feeder": "fruit fly", "until": DAY}, record)
    assert (Ref("lot", "fruit fly 1"), LotBegun(how="started", feeder="fruit fly")) == (
        draft.about,
        draft.body,
    )


def test_a_count_is_of_a_lot_that_is_there(record: Record) -> None:
    """The lot is chosen; its number is what was counted."""
    draft = larder_draft("counted", {"lot": "cricket 1", "number": "80", "until": DAY}, record)
    assert (Ref("lot", "cricket 1"), LotChanged(what="counted", number=80)) == (draft.about, draft.body)


def test_what_a_shop_offers(record: Record) -> None:
    """Weekdays are read however they are parted; what is left empty stays unknown."""
    fields = {"item": "feeder", "name": "crickets, small", "feeder": "cricket", "size_low_mm": "5",
              "size_high_mm": "7", "pack": "100", "price": "3.60", "currency": "EUR", "lead_days": "2",
              "delivery": "tuesday, Wed", "gone": "", "until": DAY}  # fmt: skip
    draft = larder_draft("supply", fields, record)
    assert ROOM == draft.about
    wanted = Supply(item="feeder", name="crickets, small", feeder="cricket", size_low_mm=5.0,
                    size_high_mm=7.0, pack=100, price="3.60", currency="EUR", lead_days=2,
                    delivery=("Tue", "Wed"))  # fmt: skip
    assert wanted == draft.body


@pytest.mark.parametrize(
    ("name", "fields", "wrong"),
    [
        ("bought", {"feeder": " "}, {"feeder"}),
        ("bought", {"feeder": "cricket", "code": "cricket 1"}, {"code"}),
        ("bought", {"feeder": "cricket", "number": "many"}, {"number"}),
        ("bought", {"feeder": "cricket", "size_mm": "-3"}, {"size_mm"}),
        ("counted", {"lot": "crickets 9", "number": "3"}, {"lot"}),
        ("counted", {"lot": "cricket 1"}, {"number"}),
        ("died_off", {"lot": "cricket 1", "number": "2.5"}, {"number"}),
        ("supply", {"item": "feeder"}, {"name"}),
        ("supply", {"item": "feeder", "name": "x", "price": "cheap", "delivery": "someday", "pack": "a lot"},
         {"price", "delivery", "pack"}),
        ("supply", {"item": "feeder", "name": "x", "price": "NaN"}, {"price"}),
        ("bought", {"feeder": "cricket", "until": "2026-12-24"}, {"until"}),
    ],
)  # fmt: skip
def test_faults_stand_beside_their_fields(
    record: Record, name: str, fields: Mapping[str, str], wrong: set[str]
) -> None:
    """Nothing is written while a field cannot be read; every fault is named."""
    with pytest.raises(FormRefusal) as refused:
        larder_draft(name, {"until": DAY, **fields}, record)
    assert wrong == set(refused.value.fields)
