"""`nightround track`, and which reading commands keep forecasts."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.desk.desk import Desk
from nightround.foundation import clock
from nightround.journal.store import Journal
from nightround.simulate import room as invented

END = date(2026, 3, 1)


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small invented room on its last evening."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 1, 20, 30, tzinfo=UTC))
    with Journal.create(own_room, time_zone="UTC", invented=True) as journal:
        journal.append(invented(seed=3, animals=8, years=1.0, end=END).drafts, intention="demo")
    return own_room


def kept(room: Path) -> int:
    """How many forecasts the room keeps."""
    with Desk.open(room) as desk:
        return len(desk.issued())


def test_tonight_keeps_and_a_past_day_does_not(room: Path) -> None:
    """`--on` a past day, `animal`, `verify` and `track` itself keep nothing; tonight does, once."""
    for call in (
        ("tonight", "--on", "2026-02-01"),
        ("forecast", "--on", "2026-02-01"),
        ("verify",),
        ("track",),
    ):
        assert 0 == run(*call).exit_code
    assert 0 == kept(room)
    assert 0 == run("tonight").exit_code
    first = kept(room)
    assert first > 2
    assert 0 == run("forecast", "--json").exit_code
    assert first == kept(room)
    report = json.loads(run("track", "--json").stdout)
    assert first == sum(sum(line["fates"].values()) for line in report["kept"]["lines"])
    assert report["looked_back"] is None and report["next_due"] > "2026-03-01"


def test_without_a_forecast_it_says_so(room: Path) -> None:
    """The empty state names the way to fill it."""
    told = run("track").stdout
    assert "No forecast has been kept yet" in told and "--look-back" in told


def test_looking_back_prints_progress_and_a_table(room: Path) -> None:
    """Progress goes to standard error, the table to standard output; a group that is not there is refused."""
    done = run("track", "--look-back", "--every", "60", "--most", "4")
    assert "Looking back, day 4 of 4" in done.stderr
    assert "Worked out by looking back" in done.stdout and "80 % windows" in done.stdout
    assert "after the moult" in done.stdout
    report = json.loads(run("track", "--json").stdout)
    group = report["looked_back"]["groups"][0]["group"]
    assert group.replace("-", " ").split()[0] in run("track", "--group", group).stdout
    refused = run("track", "--group", "dragons")
    assert (1, True) == (refused.exit_code, group in refused.stderr)
    assert 2 == run("track", "--every", "7").exit_code


def test_an_export_takes_the_track_record_along(room: Path, tmp_path: Path) -> None:
    """Export, import into another room: the same forecasts are kept there, and it is said."""
    run("tonight")
    assert "forecasts.csv" in run("export", str(tmp_path / "out")).stdout
    other = str(tmp_path / "other")
    said = run("import", str(tmp_path / "out"), "--commit", "--room", other)
    assert f"With it, for the track record: {kept(room)} issued forecasts." in said.stdout
    with Desk.open(room) as one, Desk.open(other) as copy:
        assert one.issued() == copy.issued()
