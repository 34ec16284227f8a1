"""The page of homes: verdicts, moves with a timeline, shopping, run sheets; a room with nothing to plan."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import httpx
import pytest

from nightround.desk.desk import Desk
from nightround.journal.store import Journal
from web.fixed_room import client_of, served
from web.planned_homes import fill


@pytest.fixture
def planned(evening: datetime, tmp_path: Path) -> Iterator[tuple[Desk, httpx.Client]]:
    """The pages of a room whose animals outgrow their vials."""
    Journal.create(tmp_path / "homes.sqlite", time_zone="UTC", name="Invented room of tests").close()
    with Desk.open(tmp_path / "homes.sqlite") as desk:
        fill(desk)
        with served(desk) as address, client_of(address) as client:
            yield desk, client


def test_an_empty_room_says_what_to_write(evening: datetime, tmp_path: Path) -> None:
    """Without animals the page says what would give a plan, and the figure is refused."""
    Journal.create(tmp_path / "empty.sqlite", time_zone="UTC", name="Empty").close()
    with Desk.open(tmp_path / "empty.sqlite") as desk, served(desk) as address, client_of(address) as client:
        page = client.get("/homes")
        assert 200 == page.status_code
        assert "there is nothing to plan" in page.text
        query = {"width": "358", "light": "dark"}
        assert 400 == client.get("/homes-figure", params=query).status_code


def test_everything_is_on_the_page(planned: tuple[Desk, httpx.Client]) -> None:
    """Verdicts, moves, what to buy with its sum, preparations, who is not planned, method, cautions."""
    desk, client = planned
    report = desk.homes()
    assert {move.animal for move in report.moves} == {"P0", "P1", "P2"}
    text = client.get("/homes").text
    for words in (
        "Who moves when",
        "tank &lt;b&gt;",
        f"<b>{report.to_buy[0].number} × tank",
        f"{report.costs[0][1]} EUR in all",
        "To prepare",
        "it was never measured",
        "common practice",
        "seek medical advice",
        'href="/move/P0?number=1"',
        'href="/homes/V0"',
    ):
        assert words in text, words
    assert "<b>tank <b>" not in text


def test_sums_are_numbers_times_prices(planned: tuple[Desk, httpx.Client]) -> None:
    """Three animals, three moves, and as many tanks at 30 as are bought."""
    desk, _ = planned
    report = desk.homes()
    bought = sum(each.number for each in report.to_buy)
    assert ("EUR", f"{30 * bought:.2f}") in report.costs
    assert 0 == report.unpriced


def test_the_timeline_is_drawn_in_each_light(planned: tuple[Desk, httpx.Client]) -> None:
    """Each address on the page answers with an SVG; its words name the movers; unknown ones are refused."""
    _, client = planned
    text = client.get("/homes").text
    addresses = re.findall(r'(?:src|srcset)="(/homes-figure[^"]*)"', text)
    assert 2 == len(addresses)
    for address in addresses:
        answer = client.get(address.replace("&amp;", "&"))
        assert 200 == answer.status_code
        assert answer.text.startswith("<svg")
        assert "P1" in answer.text
    assert "P1 into tank" in text
    for light in ("dark", "light", "night"):
        query = {"width": "358", "light": light}
        assert 200 == client.get("/homes-figure", params=query).status_code
    for wrong in ({"width": "17"}, {"light": "pink"}):
        query = {"width": "358", "light": "dark", **wrong}
        assert 400 == client.get("/homes-figure", params=query).status_code


def test_the_run_sheet_of_a_move(planned: tuple[Desk, httpx.Client]) -> None:
    """Opened from a code; without a planned move it says whose moves are planned."""
    _, client = planned
    sheet = client.get("/move/P0")
    assert 200 == sheet.status_code
    for words in ("Not tonight if", "Have ready", "catch cup", "larger", "Afterwards", "veterinarian"):
        assert words in sheet.text, words
    missing = client.get("/move/P3")
    assert 404 == missing.status_code
    assert "P0" in missing.text
    assert 400 == client.get("/move/P0?number=x").status_code


def test_the_round_never_waits_for_the_plan(planned: tuple[Desk, httpx.Client]) -> None:
    """Tonight's page is answered without working the homes out."""
    desk, client = planned
    assert 200 == client.get("/").status_code
    assert not any(question.startswith("homes") for question, _ in desk._answers)


def test_errands_are_held_after_the_plan(planned: tuple[Desk, httpx.Client]) -> None:
    """What the plan asks for in the weeks to come is there afterwards without a new plan."""
    desk, _ = planned
    assert () == desk.home_errands()
    report = desk.homes()
    assert report.errands
    assert report.errands == desk.home_errands()


def test_a_plan_ended_early_is_not_kept(planned: tuple[Desk, httpx.Client]) -> None:
    """Answered False the search ends with the best plan so far; the next question works it out whole."""
    desk, _ = planned
    early = desk.homes(heard=lambda words: False if words.startswith("weighing") else None)
    assert "stopped" == early.done
    assert "Stopped early" in early.notices[0]
    assert "best" == desk.homes().done
