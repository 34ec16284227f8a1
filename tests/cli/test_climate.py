"""`nightround climate`: the year, offsets, events, gaps and winters; narrowed to a place or from a day on."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.foundation import clock
from nightround.journal.store import Journal
from nightround.simulate import room as invented

END = date(2026, 3, 1)


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small invented room of a year and a half on its last evening."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 1, 20, 30, tzinfo=UTC))
    with Journal.create(own_room, time_zone="UTC", invented=True) as journal:
        journal.append(invented(seed=3, animals=8, years=1.5, end=END).drafts, intention="demo")
    return own_room


def test_the_whole_room(room: Path) -> None:
    """The table of the year, offsets, events, gaps, winters, method and what is assumed."""
    told = run("climate").stdout
    for words in (
        "its keeper and its animals do not exist",
        "quarantine bench",
        "Shelf offsets",
        "shelf A is warmer than spare room by 1.1 °C",
        "Cold nights and heat waves",
        "Days without a reading",
        "The winter at shelf D",
        "thermal days",
        "How it is worked out",
        "Assumed",
    ):
        assert words in told, words
    assert "month" not in told.splitlines()


def test_one_place_with_its_months(room: Path) -> None:
    """`--place` in any spelling of capitals shows its months and nothing of the others."""
    told = run("climate", "--place", "SHELF A").stdout
    assert "2026-02" in told and "28/28" in told or "27/28" in told
    assert "shelf B" not in told.partition("Cold nights")[0]


def test_from_a_day_on(room: Path) -> None:
    """`--since` leaves older months, events and gaps out; the JSON holds the same report."""
    whole = json.loads(run("climate", "--json").stdout)
    part = json.loads(run("climate", "--since", "2026-01-01", "--json").stdout)
    assert len(whole["places"][1]["months"]) > len(part["places"][1]["months"]) >= 2
    assert all(month["last"] >= "2026-01-01" for place in part["places"] for month in place["months"])
    assert all(event["last"] >= "2026-01-01" for event in part["events"])
    assert {"places", "offsets", "events", "gaps", "winters", "q10", "assumptions"} <= whole.keys()
    assert whole["q10"]["n_observations"] > 0


def test_an_unknown_place_names_those_there_are(room: Path) -> None:
    """Exit code 1, with the names."""
    refused = run("climate", "--place", "loft")
    assert 1 == refused.exit_code
    assert "shelf A" in refused.stderr and "Traceback" not in refused.stderr


def test_an_empty_room(own_room: Path) -> None:
    """What to do, and no table."""
    Journal.create(own_room, time_zone="UTC").close()
    told = run("climate")
    assert 0 == told.exit_code
    assert "No place is on record yet" in told.stdout


def test_help_is_quick() -> None:
    """`nightround climate --help` at best of three under half a second: nothing heavy is loaded."""
    taken = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "nightround", "climate", "--help"], check=True, capture_output=True
        )
        taken.append(time.perf_counter() - began)
    assert min(taken) < 0.5, taken
