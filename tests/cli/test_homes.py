"""`nightround homes`: the plan in words and as JSON, a run sheet, and refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.desk.desk import Desk
from nightround.foundation import clock
from nightround.journal.store import Journal
from web.fixed_room import EVENING
from web.planned_homes import fill


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A room whose animals outgrow their vials."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    Journal.create(own_room, time_zone="UTC").close()
    with Desk.open(own_room) as desk:
        fill(desk)
    return own_room


def test_the_plan_in_words(room: Path) -> None:
    """Moves, shopping, costs, who is not planned, assumptions with grades; progress on stderr."""
    done = run("homes", "--on", "2026-11-24")
    told = " ".join(done.stdout.split())
    for words in ("3 moves until", "tank <b>", "90.00 EUR", "P3: it was never measured", "(choice)", "(CP)"):
        assert words in told, words
    assert "Drawing sizes and moults to come" in done.stderr


def test_the_plan_as_json(room: Path) -> None:
    """The whole plan as data, with the proven gap, and nothing on standard error."""
    done = run("homes", "--json", "--months", "12", "--on", "2026-11-24")
    report = json.loads(done.stdout)
    assert {move["animal"] for move in report["moves"]} == {"P0", "P1", "P2"}
    assert 0.0 == report["gap"]
    assert "" == done.stderr


def test_a_run_sheet(room: Path) -> None:
    """What to have ready, what to do, cautions."""
    told = " ".join(run("homes", "--move", "p1", "--on", "2026-11-24").stdout.split())
    for words in ("Have ready", "catch cup", "Not tonight if", "Cautions"):
        assert words in told, words


def test_no_move_planned_is_refused_with_the_codes(room: Path) -> None:
    """Exit code 1, and the codes of those who move."""
    done = run("homes", "--move", "P3", "--on", "2026-11-24")
    assert 1 == done.exit_code
    assert "P0, P1, P2" in done.stderr
