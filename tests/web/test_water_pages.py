"""The water pages: homes of the room, one home with its forms and figure, and making one up."""

from __future__ import annotations

import re
from datetime import timedelta

import httpx
import pytest

from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Moved
from nightround.journal.kinds.surroundings import MadeUp, MoistureFelt, Opening, Watered, Weighed
from web.fixed_room import TUESDAY, FixedDesk
from web.test_pages import key_of

H9 = Ref("home", "H9")


def ago(days: int) -> object:
    """A day before the evening, as entries have it."""
    return on_day(TUESDAY - timedelta(days=days))


def weighed(grams: float) -> Weighed:
    """A home's mass to the gram."""
    return Weighed(value=grams, unit="g", written=f"{grams:.0f}", written_unit="g")


def fill(desk: FixedDesk) -> None:
    """K01 lives in H9: 20 x 15 x 12 cm of coir, six holes, watered, felt and weighed."""
    body = MadeUp(
        shape="box", inner_length_mm=200.0, inner_width_mm=150.0, inner_height_mm=120.0,
        substrate="coir 70, sand 30", depth_low_mm=40.0, depth_high_mm=60.0,
    )  # fmt: skip
    holes = Opening(shape="hole", number=6, width_mm=3.0, thickness_mm=2.0, at="lid", label="lid holes")
    grams = [(30, 1412.0), (20, 1405.0), (10, 1398.0)]
    desk.write([
        Draft(H9, ago(40), body), Draft(H9, ago(40), holes),
        Draft(Ref("animal", "K01"), ago(40), Moved(home="H9")),
        Draft(H9, ago(31), Watered(value=60.0, unit="ml", where="side")),
        *(Draft(H9, ago(day), weighed(g)) for day, g in grams),
        Draft(H9, ago(3), MoistureFelt(bottom="damp", surface="dry")),
    ])  # fmt: skip


@pytest.fixture
def told(desk: FixedDesk) -> FixedDesk:
    """The room with a home that was weighed."""
    fill(desk)
    return desk


def test_the_list_names_the_home_its_animal_and_what_is_assumed(
    client: httpx.Client, told: FixedDesk
) -> None:
    """H9 with its advice, range and basis; draught, lid and coir's curve are said on the page."""
    page = client.get("/water").text
    for words in (
        "H9",
        "K01",
        "3 weighed, 1 felt",
        "ml a day",
        "draught over the lid 0.1 m/s",
        "the curve of coir (nobody published one)",
        "no condensation on the walls",
    ):
        assert words in page, words


def test_away_says_which_dry_first_or_what_to_write(client: httpx.Client, told: FixedDesk) -> None:
    """Fourteen days; and a fault beside the field."""
    assert "14 days away: driest first" in client.get("/water?away=14").text
    wrong = client.get("/water?away=soon")
    assert 422 == wrong.status_code
    assert "a number of days such as 14" in wrong.text


def test_one_home_with_figure_changes_and_history(client: httpx.Client, told: FixedDesk) -> None:
    """What it loses, what a covered lid would do, where it comes from, and a picture in words."""
    page = client.get("/homes/h9").text
    for words in (
        "Loses now",
        "50% of the lid covered",
        "80% of the lid covered",
        "6 more holes of 3 mm",
        "from 3 weighed, 1 felt",
        "If nobody waters",
        "Under 25% it feels dry",
        "coir 70, sand 30",
    ):
        assert words in page, words
    source = re.search(r'<img src="([^"]+)"', page)
    assert source is not None
    drawn = client.get(source[1].replace("&amp;", "&"))
    assert "image/svg+xml" == drawn.headers["content-type"]
    assert "<svg" in drawn.text


def test_a_change_is_worked_out_before_it_is_made(client: httpx.Client, told: FixedDesk) -> None:
    """'cover 60 %' is answered; words that are no change are named; nothing is written."""
    before = told.journal.last_number()
    assert "60% of the lid covered" in client.get("/homes/H9", params={"if": "cover 60 %"}).text
    wrong = client.get("/homes/H9", params={"if": "open it"})
    assert 422 == wrong.status_code
    assert "a change such as" in wrong.text
    assert before == told.journal.last_number()


def test_felt_with_one_tap_and_undone(client: httpx.Client, told: FixedDesk) -> None:
    """The tap writes the bottom alone; Undo strikes it; the same tap twice writes once."""
    fields = {"key": key_of(client.get("/homes/H9").text), "kind": "moisture_felt", "bottom": "dry",
              "until": TUESDAY.isoformat()}  # fmt: skip
    assert 303 == client.post("/homes/H9", data=fields).status_code
    number = told.journal.last_number()
    assert MoistureFelt(bottom="dry") == told.entry(number).body
    client.post("/homes/H9", data=fields)
    assert number == told.journal.last_number()
    undo = re.search(r'name="undo" value="([^"]+)"', client.get("/homes/H9").text)
    assert undo is not None
    client.post("/undo", data={"undo": undo[1], "back": "/homes/H9"})
    assert told.record().homes["H9"].felt[-1][0] == TUESDAY - timedelta(days=3)


def test_a_field_that_cannot_be_read_loses_nothing(client: httpx.Client, told: FixedDesk) -> None:
    """A mass in words is refused beside its field, with what was written still there."""
    fields = {"key": key_of(client.get("/homes/H9").text), "kind": "weighed", "value": "about 400",
              "unit": "g", "note": "with the lid", "until": TUESDAY.isoformat()}  # fmt: skip
    answer = client.post("/homes/H9", data=fields)
    assert 422 == answer.status_code
    assert "about 400" in answer.text
    assert "with the lid" in answer.text
    assert "a plain number such as 14.5" in answer.text


FORM = {
    "home": "H20", "place": "Shelf A", "vessel": "glass tank, 10 gal", "sizes": "",
    "substrate": "coir 70, sand 30", "depth": "8-12 cm", "holes": "12", "hole_mm": "2.5", "holes_at": "lid",
    "mesh": "", "cover": "50 %", "until": "",
}  # fmt: skip


def test_making_up_shows_the_recipe_first_and_then_writes_it_as_one(
    client: httpx.Client, told: FixedDesk
) -> None:
    """Check writes nothing and shows litres, water and weight; writing gives a described home."""
    before = told.journal.last_number()
    checked = client.post("/make-up", data={**FORM, "do": "check", "key": "a1"})
    assert "What it takes" in checked.text
    assert "12 l (3.2 gal)" in checked.text
    assert before == told.journal.last_number()
    assert 303 == client.post("/make-up", data={**FORM, "do": "write", "key": "a1"}).status_code
    home = told.record().homes["H20"]
    assert (80.0, 120.0) == (home.body.depth_low_mm, home.body.depth_high_mm)
    assert 0.5 == home.lid_cover_fraction
    assert ("hole", 12, 2.5) == (home.openings[0].shape, home.openings[0].number, home.openings[0].width_mm)
    assert () == told.home("H20").missing


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("depth", "deep", "a depth such as"),
        ("depth", "60 cm", "deeper than the vessel"),
        ("substrate", "moon dust", "moon dust"),
        ("holes", "many", "a plain number"),
        ("hole_mm", "", "the width of a hole"),
        ("mesh", "wide", "the size of the mesh"),
        ("cover", "250 %", "a share of the lid"),
        ("home", "", "code"),
        ("until", "2027-01-01", "has not come"),
    ],
)
def test_a_fault_is_named_beside_its_field(
    client: httpx.Client, told: FixedDesk, field: str, value: str, words: str
) -> None:
    """Every field of the form, one at a time: said what to write, nothing written, the rest kept."""
    before = told.journal.last_number()
    answer = client.post("/make-up", data={**FORM, field: value, "do": "write", "key": "b2"})
    assert 422 == answer.status_code
    assert words in answer.text
    if field != "substrate":
        assert "coir 70, sand 30" in answer.text
    assert before == told.journal.last_number()


def test_made_up_anew_closes_what_it_no_longer_has(client: httpx.Client, told: FixedDesk) -> None:
    """H9's six holes give way to a mesh; a home without holes or mesh says so by a 0."""
    anew = {**FORM, "home": "h9", "holes": "", "hole_mm": "", "mesh": "10 x 8 cm", "cover": ""}
    assert 303 == client.post("/make-up", data={**anew, "do": "write", "key": "c3"}).status_code
    openings = told.record().homes["H9"].openings
    assert [("mesh", 100.0, 80.0)] == [(each.shape, each.width_mm, each.length_mm) for each in openings]
    closed = {**anew, "mesh": "", "holes": "0", "do": "write", "key": "d4"}
    assert 303 == client.post("/make-up", data=closed).status_code
    assert () == told.record().homes["H9"].openings
    assert () == told.home("H9").missing


def test_an_empty_room_says_how_to_begin(client: httpx.Client, desk: FixedDesk) -> None:
    """No home described: what to write down, with a link."""
    page = client.get("/water").text
    assert 'href="/make-up"' in page


def test_no_such_home(client: httpx.Client, told: FixedDesk) -> None:
    """A code that is no home is named, with one like it."""
    answer = client.get("/homes/H")
    assert 404 == answer.status_code
    assert "H9" in answer.text
