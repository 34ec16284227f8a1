"""The pages of taxa: the list, one taxon with curves and findings, its figures, and the empty state."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

import httpx
import pytest

from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Died, Left, Offered, Seen
from nightround.journal.kinds.knowledge import Named
from web.fixed_room import TUESDAY, FixedDesk, client_of, make_room, served

BEGUN = date(2025, 1, 1)
NAME = 'Testa "una" & <b>'
ADDRESS = "/taxa/Testa%20%22una%22%20%26%20%3Cb%3E"


def fill(desk: FixedDesk) -> None:
    """Six animals of one taxon: two died, one was sold before the second death, three were seen last week."""
    drafts = [Draft(Ref("taxon", NAME), on_day(BEGUN), Named(group="tarantulas", hazard="Hairs: cover up."))]
    for n in range(6):
        animal = Ref("animal", f"T{n}")
        drafts.append(Draft(animal, on_day(BEGUN), Arrived(taxon=NAME, place="Shelf A")))
        drafts.append(Draft(animal, on_day(BEGUN), Offered(prey="cricket", outcome="taken")))
    drafts += [
        Draft(Ref("animal", "T0"), on_day(BEGUN + timedelta(days=100)), Died()),
        Draft(Ref("animal", "T1"), on_day(BEGUN + timedelta(days=200)), Left(how="sold")),
        Draft(Ref("animal", "T2"), on_day(BEGUN + timedelta(days=300)), Died()),
        *(Draft(Ref("animal", f"T{n}"), on_day(TUESDAY - timedelta(days=7)), Seen()) for n in (3, 4, 5)),
    ]
    desk.write(drafts)


@pytest.fixture
def filled(desk: FixedDesk, client: httpx.Client) -> httpx.Client:
    """The fixed room with such a taxon."""
    fill(desk)
    return client


def test_the_list_counts_by_fate_and_leads_to_a_taxon(filled: httpx.Client) -> None:
    """Six kept: three alive, two died, one sold; the name is escaped in text and address."""
    page = filled.get("/taxa").text
    row = re.search(r'<tr><th scope="row"><a href="/taxa/Testa[^<]*?"><i>.*?</tr>', page, re.S)
    assert row is not None and "Testa &#34;una&#34; &amp; &lt;b&gt;" in row[0]
    assert ["6", "3", "2", "1", "0", "0", "0", "0"] == re.findall(r"<td>(\d+)</td>", row[0])
    assert f'href="{ADDRESS}"' in row[0]


def test_a_taxon_shows_counts_curves_findings_and_what_is_missing(filled: httpx.Client) -> None:
    """5/6 at day 100; at day 300 four are watched: 5/6 x 3/4; the sold one is sold, with half and twice."""
    page = filled.get(ADDRESS).text
    assert "6 animals, 2 deaths, 1 sold or given" in page
    assert "At its end 62 %" in page
    assert "half as fast later" in page and "Hairs: cover up." in page
    assert "Offers taken: 100 %" in page and "6 animals and 6 offers" in page
    assert "Age at maturity, males</b>: 0 of 3 seen to mature at a known age" in page
    assert "No batch is on record." in page and "No home is on record." in page
    assert NAME not in page


def test_the_figure_is_told_in_words_and_drawn_in_each_light(filled: httpx.Client) -> None:
    """The picture's text holds the shares; it is drawn in two widths and three lights, others are refused."""
    page = filled.get(ADDRESS).text
    words = re.findall(r'<img src="/taxa-figure/[^"]*" alt="([^"]+)"', page)
    assert words and "6 animals, 2 deaths" in words[0] and "100 %" in words[0]
    sources = {source.replace("&amp;", "&") for source in re.findall(r'"(/taxa-figure/[^"]+)"', page)}
    for source in sources:
        for light in ("dark", "light", "night"):
            answer = filled.get(re.sub(r"light=\w+", f"light={light}", source))
            assert 200 == answer.status_code and answer.text.startswith("<svg")
    one = next(iter(sources))
    assert 400 == filled.get(re.sub(r"width=\d+", "width=1", one)).status_code
    assert 400 == filled.get(re.sub(r"curve=\d+", "curve=99", one)).status_code


def test_as_of_an_earlier_day_only_what_had_happened_counts(filled: httpx.Client) -> None:
    """On day 150 one had died and nobody was sold; links keep the day."""
    day = (BEGUN + timedelta(days=150)).isoformat()
    page = filled.get(f"{ADDRESS}?on={day}").text
    assert "6 animals, 1 death;" in page and "1 sold" not in page
    assert f'href="/taxa?on={day}"' in page


def test_an_unknown_taxon_is_refused_with_the_way_to_the_list(filled: httpx.Client) -> None:
    """404, and the words that help."""
    answer = filled.get("/taxa/Nobody%20nowhere")
    assert 404 == answer.status_code and "a taxon of this room" in answer.text


def test_animals_of_unknown_taxon_have_a_page_too(filled: httpx.Client) -> None:
    """The fixed room's Q05 came without a name."""
    assert 'href="/taxa/"' in filled.get("/taxa").text
    page = filled.get("/taxa/").text
    assert "Taxon unknown" in page and "1 animal kept here" in page


def test_an_empty_room_says_so(evening: object, tmp_path: Path) -> None:
    """No table without animals."""
    room = tmp_path / "empty.sqlite"
    with make_room(room, filled=False) as desk, served(desk) as where, client_of(where) as client:
        page = client.get("/taxa").text
    assert "there is nothing to tell yet" in page and "<table" not in page
