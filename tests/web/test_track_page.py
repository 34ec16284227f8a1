"""The track record's page with forecasts to show: tables, figure in words and drawn, misses, looking back."""

from __future__ import annotations

import re
import time
from datetime import UTC, date, datetime, timedelta

import httpx
import pytest

from nightround.foundation.refusal import Refusal
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.issued import Issued, Odds, Stage
from nightround.journal.kinds.animal import Arrived, Moulted
from nightround.reports.forecast import QUANTILES
from web.fixed_room import FixedDesk

BEGUN = date(2026, 1, 1)


def fill(desk: FixedDesk) -> None:
    """Twenty animals that moulted 31 to 50 days after the last time, and two forecasts of each interval."""
    drafts, said = [], []
    for n in range(20):
        animal = Ref("animal", f"T{n:02d}")
        drafts += [
            Draft(animal, on_day(BEGUN), Arrived(taxon="Grammostola pulchra", place="Shelf A")),
            Draft(animal, on_day(BEGUN), Moulted()),
            Draft(animal, on_day(BEGUN + timedelta(days=31 + n)), Moulted()),
        ]
        stages: tuple[tuple[Stage, str, int], ...] = (
            ("after_moult", "", 0),
            ("half_time", "look-back-1", 20),
        )
        for stage, run, passed in stages:
            width = 12.0 if run else 20.0
            quantiles: dict[str, float | None] = {
                level: 40.0 - passed + width * (float(level) - 0.5) for level in QUANTILES
            }
            odds = Odds(quantiles, {}, 0.0, 1.0, "Grammostola pulchra", "tarantula", 3)
            day = BEGUN + timedelta(days=passed)
            written = datetime(2026, 1, 1, 20, tzinfo=UTC)
            said.append(Issued(animal.code, stage, run, day, (BEGUN, BEGUN), written, 1, "test", odds))
    desk.write(drafts)
    assert 40 == desk.journal.issue(said)


@pytest.fixture
def filled(desk: FixedDesk, client: httpx.Client) -> httpx.Client:
    """The fixed room with a track record."""
    fill(desk)
    return client


def test_it_says_how_many_fell_inside_and_by_group(filled: httpx.Client) -> None:
    """Kept and looked back stand apart, with counts, shares, their range and the groups."""
    page = filled.get("/track").text
    assert "of 20 moults given 80 % windows made after the moult, 16 fell inside (80 %, 62 to 91)" in page
    assert "Kept on their day" in page and "Worked out by looking back" in page
    assert "<td>16</td><td>20</td><td>80 % (62 to 91)</td>" in page
    assert '<th scope="row">tarantula</th>' in page
    assert (
        page.count("outside the window")
        == len(re.findall(r'<ol class="ledger">.*?</ol>', page, re.S)[0].split("<li>")) - 1
    )


def test_the_figure_is_told_in_words_and_drawn_in_each_light(filled: httpx.Client) -> None:
    """The picture's text says what was claimed and seen; it is drawn in two widths and three lights."""
    page = filled.get("/track").text
    words = re.findall(r'<img src="/track/figure[^"]*" alt="([^"]+)"', page)
    assert 2 == len(words)
    assert (
        "Forecasts made after the moult: where they said 10 %, 50 %, 90 %, it was 10 %, 50 %, 90 %."
        in words[0]
    )
    sources = re.findall(r'(?:src|srcset)="(/track/figure[^"]+)"', page)
    for source in sources:
        for light in ("dark", "light", "night"):
            drawn = filled.get(source.replace("&amp;", "&").replace("light=dark", f"light={light}"))
            assert (200, "image/svg+xml") == (drawn.status_code, drawn.headers["content-type"].split(";")[0])
            assert "had come" in drawn.text and "sandbox" in drawn.headers["content-security-policy"]
    assert 400 == filled.get("/track/figure?part=kept&width=1&light=dark").status_code
    assert "The figure as a table" in page and page.count('<th scope="row">50 %</th>') == 2


def test_an_earlier_day_shows_what_was_known_then(filled: httpx.Client) -> None:
    """On 2 February most windows still ran: nothing counts yet."""
    page = filled.get("/track?on=2026-02-02").text
    assert "none of whose windows counts yet" in page
    assert "The first will" not in page and "the first will on" in page


def test_looking_back_works_behind_the_page(
    desk: FixedDesk, client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The button begins it once; the page says how far it is, and what stood against it."""
    asked = []

    def slow(**given: object) -> int:
        asked.append(given)
        given["heard"](3, 40)  # type: ignore[operator]
        time.sleep(0.5)
        raise Refusal("a room with a moult", got="none", todo="Wait")

    monkeypatch.setattr(desk, "look_back", slow)
    for _ in range(2):
        assert 303 == client.post("/track/look-back", follow_redirects=False).status_code
    working = client.get("/track")
    assert "Looking back: 3 of 40 days done" in working.text and "refresh" in working.headers
    assert 1 == len(asked)
    time.sleep(0.8)
    done = client.get("/track")
    assert "Wanted a room with a moult; got none. Wait." in done.text
    assert "refresh" not in done.headers
