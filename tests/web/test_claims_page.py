"""The claims page: empty, with verdicts and what stands behind them, and its form. Claims are invented."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import httpx

from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Measured, Seen
from nightround.journal.kinds.knowledge import Claim, Named
from web.fixed_room import TUESDAY, FixedDesk

TAXON = 'Lanternia sp. "Hill <2>"'


def fill(desk: FixedDesk) -> None:
    """A taxon said to reach 9 cm with a female of 14.5 cm, and two life spans nobody can decide yet."""
    day = on_day(TUESDAY - timedelta(days=200))
    about = Ref("taxon", TAXON)
    desk.write([
        Draft(about, day, Named(group="tarantulas")),
        Draft(about, day, Claim(
            claim="adult_span", high=9, unit="cm", sense="maximum", source="<a page>", grade="D")),
        Draft(about, day, Claim(claim="life_span", low=12, high=20, unit="year", sense="typical", grade="C")),
        Draft(about, day, Claim(claim="life_span", low=6, high=7, unit="year", sense="typical", grade="D")),
        Draft(about, day, Claim(claim="venom", text="like a bee sting", grade="D")),
        Draft(Ref("animal", "L01"), day, Arrived(taxon=TAXON, sex="female", hatched="2024-02-01")),
        Draft(Ref("animal", "L01"), on_day(TUESDAY), Measured(
            item="leg_span", value=145.0, unit="mm", on="live", posture="stretched")),
        Draft(Ref("animal", "L01"), on_day(TUESDAY), Seen()),
    ])  # fmt: skip


def key_of(text: str) -> str:
    """The key of the form on a page."""
    found = re.search(r'name="key" value="([0-9a-f]+)"', text)
    assert found is not None
    return found[1]


def test_a_room_without_claims_says_what_to_do(client: httpx.Client) -> None:
    """The empty page has a sentence and the form."""
    page = client.get("/claims")
    assert 200 == page.status_code
    assert "No claim is on record" in page.text
    assert "Write a claim" in page.text


def test_verdicts_stand_with_their_evidence(client: httpx.Client, desk: FixedDesk) -> None:
    """Each verdict in words and with a sign, its numbers, animals, entries, what would settle it; escaped."""
    fill(desk)
    text = client.get("/claims").text
    told = html.unescape(re.sub(r"<[^>]+>", "", text))
    for words in (
        "× contradicted",
        "… no evidence yet",
        "– not for records to decide",
        "at most 9",
        "typically 12 to 20 years",
        "What would settle it",
        "alive at",
        "they cannot both hold",
        "call the local poison service",
        "D: unsigned pages",
        "<a page>",
        'Lanternia sp. "Hill <2>"',
        "Disputed of tarantulas",
    ):
        assert words in told, words
    assert "<a page>" not in text
    assert 'href="/animal/L01"' in text


def test_one_taxon_is_shown_alone(client: httpx.Client, desk: FixedDesk) -> None:
    """By any spelling of its name; an unknown name is refused with what to do."""
    fill(desk)
    page = client.get("/claims", params={"taxon": "lanternia sp “Hill <2>”"})
    assert 200 == page.status_code
    assert "All claims" in page.text
    assert 404 == client.get("/claims", params={"taxon": "Nothing like it"}).status_code


def test_a_claim_is_written_once(client: httpx.Client, desk: FixedDesk) -> None:
    """The form writes one entry about the taxon, however often it is sent."""
    fill(desk)
    before = desk.journal.last_number()
    fields = {
        "kind": "claim", "key": key_of(client.get("/claims").text), "taxon": TAXON, "claim": "life_span",
        "low": "4", "high": "4", "unit": "year", "sense": "typical", "source": "a friend", "grade": "C",
        "until": TUESDAY.isoformat(),
    }  # fmt: skip
    for _ in range(2):
        assert 303 == client.post("/claims", data=fields).status_code
    assert before + 1 == desk.journal.last_number()
    assert "typically 4 years" in client.get("/claims").text


def test_what_cannot_be_read_is_said_at_its_field(client: httpx.Client, desk: FixedDesk) -> None:
    """A slip in the name, and a unit that is none: nothing is written, both fields say what to do."""
    fill(desk)
    before = desk.journal.last_number()
    fields = {
        "kind": "claim", "key": key_of(client.get("/claims").text), "taxon": 'Lanterna sp. "Hill <2>"',
        "claim": "life_span", "high": "4", "unit": "parsec", "until": TUESDAY.isoformat(),
    }  # fmt: skip
    page = client.post("/claims", data=fields)
    assert 422 == page.status_code
    told = html.unescape(page.text)
    assert f"Is {TAXON} meant?" in told
    assert "years, months, weeks or days" in told
    assert before == desk.journal.last_number()
