"""`nightround evidence`: the list, one taxon, JSON, and refusals."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.foundation import clock
from nightround.journal.store import Journal
from nightround.simulate import room as invented

END = date(2026, 3, 1)


@pytest.fixture
def told(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small invented room on its last evening."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 1, 20, 30, tzinfo=UTC))
    with Journal.create(own_room, time_zone="UTC", invented=True) as journal:
        journal.append(invented(seed=3, animals=12, years=1.5, end=END).drafts, intention="demo")
    return own_room


def test_the_list_and_one_taxon(told: Path) -> None:
    """The list counts every animal once; a taxon's JSON has its curves, findings, losses and cautions."""
    listed = json.loads(run("evidence", "--json").stdout)
    assert 12 <= sum(line["animals"] for line in listed["taxa"])
    for line in listed["taxa"]:
        assert line["animals"] == line["alive"] + line["deaths"] + line["gone"] + line["lost"]
    name = max(listed["taxa"], key=lambda line: line["animals"])["name"]
    one = json.loads(run("evidence", name.upper(), "--json").stdout)
    assert name == one["line"]["name"] and one["cautions"]
    assert all((each["estimate"] is None) == bool(each["missing"]) for each in one["findings"])
    shown = run("evidence", name)
    assert 0 == shown.exit_code
    for words in ("Not enough yet", "Survival: all, by time in this room", "How it is counted"):
        assert words in shown.stdout


def test_an_unknown_taxon_is_refused(told: Path) -> None:
    """Exit code 1, and the way to the list."""
    answer = run("evidence", "Nobody nowhere")
    assert 1 == answer.exit_code and "nightround evidence" in answer.stderr


def test_an_empty_room_says_so(own_room: Path) -> None:
    """No table, one sentence."""
    Journal.create(own_room, time_zone="UTC").close()
    assert "No animal and no batch is on record" in run("evidence").stdout
