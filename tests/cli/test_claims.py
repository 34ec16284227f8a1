"""`nightround claims`: all claims of a room, one taxon with the animals behind it, JSON, an unknown name."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.foundation import clock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Seen
from nightround.journal.kinds.knowledge import Claim
from nightround.journal.store import Journal

TAXON = "Lanternia nocturna"


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A room with one invented animal and one claim about its kind."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 1, 20, 30, tzinfo=UTC))
    day = on_day(date(2026, 2, 1))
    claim = Claim(claim="life_span", low=6, high=7, unit="year", sense="typical", source="a page", grade="D")
    with Journal.create(own_room, time_zone="UTC") as journal:
        journal.append([
            Draft(Ref("taxon", TAXON), day, claim),
            Draft(Ref("animal", "L01"), day, Arrived(taxon=TAXON, hatched="2025-02-01")),
            Draft(Ref("animal", "L01"), day, Seen()),
        ])  # fmt: skip
    return own_room


def test_claims_of_the_room_and_of_one_taxon(room: Path) -> None:
    """Verdict in words, source and grade, what would settle it; with a taxon the animals and entries."""
    told = run("claims").stdout
    for words in ("NO EVIDENCE YET: life span: typically 6 to 7 years", "a page (D: unsigned pages)",
                  "would settle it", "How it is worked out", "poison service"):  # fmt: skip
        assert words in " ".join(told.split()), words
    assert "L01" not in told
    one = " ".join(run("claims", "lanternia noctuna").stdout.split())
    assert "open: L01 alive at 1.0 years [2, 3]" in one


def test_claims_as_json(room: Path) -> None:
    """The report as it is, numbers as numbers; what it rests on beside it."""
    report = json.loads(run("claims", "--json").stdout)
    (verdict,) = report["taxa"][0]["verdicts"]
    assert "no_evidence" == verdict["standing"]
    assert 1 == verdict["counted"] == verdict["animals"]
    assert 0.5 <= verdict["against"] <= 1.0
    assert [2, 3] == verdict["evidence"][0]["entries"]


def test_an_empty_day_and_an_unknown_name(room: Path) -> None:
    """Before anything was written the command says what to do; an unknown taxon is refused."""
    assert "No claim is on record" in run("claims", "--on", "2026-01-01").stdout
    refused = run("claims", "Something else entirely")
    assert 1 == refused.exit_code
    assert "wanted a taxon of this room" in refused.stderr.lower()
    assert TAXON in refused.stderr
