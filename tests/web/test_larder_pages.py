"""The larder and the Sunday page: what is planned, the forms, and rooms that hold nothing yet."""

from __future__ import annotations

import re
from datetime import timedelta

import httpx
import pytest

from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.animal import Measured
from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import LotBegun, LotChanged
from nightround.reports.larder import LarderReport
from web.fixed_room import TUESDAY, FixedDesk
from web.test_pages import key_of

DAY = TUESDAY.isoformat()
SPANS = (("K01", 55.0), ("K02", 90.0), ("K03", 48.0))


def ago(days: int) -> object:
    """A day before the evening, as entries have it."""
    return on_day(TUESDAY - timedelta(days=days))


def span(millimetres: float) -> Measured:
    """A leg span."""
    return Measured(
        item="leg_span", value=millimetres, unit="mm", written=f"{millimetres:g}", written_unit="mm"
    )


def fill(desk: FixedDesk) -> None:
    """Animals of known span, one lot of crickets, and a shop that offers two packs, one without a price."""
    common = {"item": "feeder", "feeder": "cricket", "lead_days": 2, "delivery": ("Tue", "Wed"),
              "from_whom": "corner <shop>", "currency": "EUR"}  # fmt: skip
    small = Supply(name="small crickets", size_low_mm=5.0, size_high_mm=6.0, pack=40, price="3.60", **common)
    large = Supply(name="large crickets", size_low_mm=12.0, size_high_mm=13.0, pack=20, **common)
    desk.write([
        *(Draft(Ref("animal", code), ago(5), span(mm)) for code, mm in SPANS),
        Draft(Ref("lot", "cricket 1"), ago(3), LotBegun(feeder="cricket", number=3, size_mm=6.0)),
        Draft(ROOM, ago(9), small), Draft(ROOM, ago(9), large),
    ])  # fmt: skip


@pytest.fixture
def told(desk: FixedDesk, monkeypatch: pytest.MonkeyPatch) -> FixedDesk:
    """The room with feeders and a shop; plans are searched for one second."""
    quick(monkeypatch)
    fill(desk)
    return desk


def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let plans search for one second only."""
    from nightround.plans import larder

    whole = larder.plan

    def plan(*args: object, **more: object) -> LarderReport:
        return whole(*args, **{**more, "seconds": 1.0})  # type: ignore[arg-type]

    monkeypatch.setattr(larder, "plan", plan)


def test_the_page_tells_need_stock_orders_and_what_they_rest_on(
    client: httpx.Client, told: FixedDesk
) -> None:
    """Lots with their basis, prices with unknown ones said, both units, method and cautions."""
    page = client.get("/larder").text
    for words in (
        "cricket 1",
        "3 on 21 Nov",
        "small crickets",
        "price unknown",
        "corner &lt;shop&gt;",
        "mm (0.",
        "How it is worked out",
        "crush the head first",
        "allergens",
        "no animal dies, leaves or arrives",
        "Size unknown",
    ):
        assert words in page, words
    assert "corner <shop>" not in page
    source = re.search(r'<img src="(/larder/figure[^"]+)"', page)
    assert source is not None
    drawn = client.get(source[1].replace("&amp;", "&"))
    assert "image/svg+xml" == drawn.headers["content-type"]
    assert "<svg" in drawn.text


def test_a_room_without_a_larder_says_how_to_begin(
    client: httpx.Client, desk: FixedDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No lot, no shop: what to write, and no figure that would fail."""
    quick(monkeypatch)
    page = client.get("/larder").text
    for words in ("No lot of feeders is on record", "Nothing that can be bought is written down"):
        assert words in page, words
    assert 400 == client.get("/larder/figure?width=1&light=dark").status_code


def test_a_purchase_is_written_once(client: httpx.Client, told: FixedDesk) -> None:
    """The form writes a lot with a code of its own; the same form again writes nothing."""
    fields = {"key": key_of(client.get("/larder").text), "kind": "bought", "feeder": "cricket",
              "number": "50", "size_mm": "6", "price": "4 EUR", "until": DAY}  # fmt: skip
    before = told.journal.last_number()
    assert 303 == client.post("/larder", data=fields).status_code
    assert 303 == client.post("/larder", data=fields).status_code
    assert before + 1 == told.journal.last_number()
    entry = told.entry(before + 1)
    assert Ref("lot", "cricket 2") == entry.about
    assert LotBegun(feeder="cricket", number=50, size_mm=6.0, price="4 EUR") == entry.body


def test_a_count_and_an_offer_of_a_shop_are_written(client: httpx.Client, told: FixedDesk) -> None:
    """Both are on the page at once."""
    key = key_of(client.get("/larder").text)
    counted = {"key": key, "kind": "counted", "lot": "cricket 1", "number": "22", "until": DAY}
    assert 303 == client.post("/larder", data=counted).status_code
    assert LotChanged(what="counted", number=22) == told.entry(told.journal.last_number()).body
    sold = {"key": key, "kind": "supply", "item": "home", "name": "glass cube", "price": "34", "until": DAY}
    assert 303 == client.post("/larder", data=sold).status_code
    page = client.get("/larder").text
    assert "22 on 24 Nov" in page
    assert "glass cube" in page


def test_faults_are_said_beside_the_field_and_nothing_is_written(
    client: httpx.Client, told: FixedDesk
) -> None:
    """What was typed stays in the form."""
    before = told.journal.last_number()
    fields = {"key": key_of(client.get("/larder").text), "kind": "supply", "item": "feeder",
              "name": "pinheads", "price": "about three", "delivery": "whenever", "until": DAY}  # fmt: skip
    answer = client.post("/larder", data=fields)
    assert 422 == answer.status_code
    for words in ("Not written yet: 2 fields", "Write a number alone", "Write weekdays", 'value="pinheads"'):
        assert words in answer.text, words
    assert before == told.journal.last_number()
    assert 400 == client.post("/larder", data={**fields, "kind": "teapot"}).status_code


def test_sunday_gathers_the_weeks_errands_and_tonight_shows_them(
    client: httpx.Client, told: FixedDesk
) -> None:
    """Orders due, counts and cautions; and once planned, the order stands beside the round."""
    before = client.get("/").text
    page = client.get("/sunday").text
    for words in ("Order and start", "Prepare and move", "Count", "Weigh and measure", "allergens"):
        assert words in page, words
    report = told.larder(TUESDAY)
    errands = [each for each in report.errands if each.by <= TUESDAY + timedelta(days=7)]
    assert errands
    assert "For the room" not in before
    after = client.get("/").text
    assert "For the room" in after
    assert errands[0].title.split(" from ")[0] in after
    told.write([Draft(Ref("lot", "cricket 2"), on_day(TUESDAY), LotBegun(feeder="cricket", number=40))])
    assert () == told.errands(TUESDAY)


def test_every_page_leads_there(client: httpx.Client, desk: FixedDesk) -> None:
    """The foot of a page has both links."""
    page = client.get("/keys").text
    assert 'href="/larder"' in page
    assert 'href="/sunday"' in page
