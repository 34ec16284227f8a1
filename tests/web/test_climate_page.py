"""The climate page: figures, months, offsets, events with animals, winters, gaps; and a room with little."""

from __future__ import annotations

import math
import re
import time
from datetime import date, timedelta

import httpx

from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Moulted
from nightround.journal.kinds.surroundings import PlaceSetUp, Reading
from web.fixed_room import TUESDAY, FixedDesk

DAYS = 430
FIRST = TUESDAY - timedelta(days=DAYS - 1)
COLD = range(DAYS - 60, DAYS - 57)
GAP = range(200, 215)


def air(day: int) -> float:
    """A made-up year: 23 C on average, 3 C each way, with three cold days."""
    dip = -8.0 if day in COLD else 0.0
    weather = 0.5 * math.sin(1.7 * day) + 0.3 * math.sin(0.61 * day)
    return 23.0 - 3.0 * math.cos(2 * math.pi * (FIRST + timedelta(days=day)).timetuple().tm_yday / 365) + (
        weather + dip
    )  # fmt: skip


def fill(desk: FixedDesk) -> None:
    """A year and more of two places of one room; shelf A a degree over it, with a gap and a cold spell."""
    drafts = [
        Draft(Ref("place", "Room <1>"), on_day(FIRST), PlaceSetUp(sort="room")),
        Draft(
            Ref("place", "Shelf A"), on_day(FIRST), PlaceSetUp(sort="shelf", inside="Room <1>", position=1)
        ),
        Draft(Ref("animal", "K01"), on_day(FIRST + timedelta(days=300)), Moulted()),
    ]
    for day in range(DAYS):
        when = on_day(FIRST + timedelta(days=day))
        noise = 0.15 * math.sin(2.9 * day)
        drafts.append(Draft(Ref("place", "Room <1>"), when, Reading(temperature_c=round(air(day), 1))))
        if day not in GAP:
            warm = round(air(day) + 1.0 + noise, 1)
            drafts.append(Draft(Ref("place", "Shelf A"), when, Reading(temperature_c=warm)))
    desk.write(drafts)


def test_an_unread_room_says_what_to_do(client: httpx.Client) -> None:
    """The fixed room has one reading: a figure, a month, and plain words where there is not enough."""
    page = client.get("/climate")
    assert 200 == page.status_code
    assert "not a year of days yet: 1 day over 1 day" in page.text
    assert "Never read" in page.text and "Shelf B" in page.text
    assert "What winters cost" not in page.text and "How places differ" not in page.text


def test_everything_is_on_the_page(client: httpx.Client, desk: FixedDesk) -> None:
    """Offsets, the cold spell with its animals, the gap with its estimate, months, winters, rules, method."""
    fill(desk)
    text = client.get("/climate").text
    for words in (
        "Cold nights,",
        "How places differ",
        "Room &lt;1&gt;",
        "Months of Shelf A",
        "Estimate for Shelf A",
        "What winters cost",
        "thermal days (",
        "cold_night_c",
        "never heat a spider to hurry a moult",
        "lay them together for a day",
    ):
        assert words in text, words
    assert "<1>" not in text
    assert 'href="/animal/K01"' in text
    row = re.search(r'<th scope="row">Shelf A</th><td>[^<]*</td><td>([\d.]+) \(([\d.]+) to ([\d.]+)\)', text)
    assert row is not None
    value, low, high = map(float, row.groups())
    assert low <= 1.0 <= high and abs(value - 1.0) < 0.1
    first, last = (FIRST + timedelta(days=day) for day in (COLD[0], COLD[-1]))
    (event,) = desk.climate().events
    assert (first, last) == (event.first, event.last)
    assert ("K01", "K02") == event.animals


def test_figures_are_drawn_in_each_light_and_leave_gaps(client: httpx.Client, desk: FixedDesk) -> None:
    """Each address on the page answers with an SVG; words say what it shows; unknown ones are refused."""
    fill(desk)
    text = client.get("/climate").text
    addresses = re.findall(r'(?:src|srcset)="(/climate/figure[^"]*)"', text)
    assert 4 == len(addresses)
    for address in addresses:
        answer = client.get(address.replace("&amp;", "&"))
        assert 200 == answer.status_code
        assert "image/svg+xml" == answer.headers["content-type"]
        assert answer.text.startswith("<svg")
    for light in ("dark", "light", "night"):
        query = {"place": "Shelf A", "width": "358", "light": light}
        assert 200 == client.get("/climate/figure", params=query).status_code
    assert "stretches without a gap" in text
    for wrong in ({"place": "Shelf Z"}, {"width": "17"}, {"light": "pink"}):
        query = {"place": "Shelf A", "width": "358", "light": "dark", **wrong}
        assert 400 == client.get("/climate/figure", params=query).status_code


def test_a_past_day_shows_what_was_known_then(client: httpx.Client, desk: FixedDesk) -> None:
    """As of the day before the cold spell it has not happened, and links keep the day."""
    fill(desk)
    before = FIRST + timedelta(days=COLD[0] - 1)
    text = client.get(f"/climate?on={before.isoformat()}").text
    assert "Cold nights," not in text
    assert "No cold night and no heat wave" in text
    assert f"on={before.isoformat()}" in text


def test_the_page_is_quick(client: httpx.Client, desk: FixedDesk) -> None:
    """A second look at the page, nothing new written: under half a second."""
    fill(desk)
    client.get("/climate")
    began = time.perf_counter()
    client.get("/climate")
    assert time.perf_counter() - began < 0.5


def test_it_is_linked_from_the_shelves_and_the_foot(client: httpx.Client) -> None:
    """Both links lead to it and keep the day."""
    text = client.get("/shelves", params={"on": date(2026, 11, 20).isoformat()}).text
    assert 2 == text.count('href="/climate?on=2026-11-20"')
