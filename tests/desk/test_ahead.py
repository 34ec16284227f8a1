"""What lies ahead of an animal, at the desk: held for one state, in step with the forecast, kept on disk."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

import nightround.findings.ahead as findings
from nightround.desk import kept
from nightround.desk.desk import Desk
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Noted, Offered
from nightround.journal.store import Journal
from nightround.simulate import room

END = date(2026, 11, 20)


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An invented room of 30 animals in a file; answers are kept beside it, however quick they were."""
    monkeypatch.setattr(kept, "_folder", lambda drawer: tmp_path / drawer)
    monkeypatch.setattr(kept, "WORTH_KEEPING_SECONDS", 0.0)
    path = tmp_path / "room.sqlite"
    invented = room(5, animals=30, years=1.0, end=END)
    with Journal.create(path, time_zone="Europe/Paris") as journal:
        journal.append(invented.drafts)
    return path


@pytest.fixture
def desk(file: Path) -> Iterator[Desk]:
    """Its desk."""
    with Desk.open(str(file)) as desk:
        yield desk


def measured(desk: Desk) -> str:
    """The code of an animal with a forecast and a size."""
    sizes = desk.sizes(END)
    rows = [row for row in desk.forecast(END).animals if row.next_moult and sizes[row.animal].carapace_now]
    return rows[0].animal


def test_it_is_held_until_something_is_written(desk: Desk) -> None:
    """Unknown before it is asked for, the same object after, unknown again once anything was written."""
    code = measured(desk)
    assert desk.ahead_known(code, END) is None
    told = desk.ahead(code, END)
    assert desk.ahead(code, END) is told
    assert desk.ahead_known(code, END) is told
    assert desk.ahead(code, END, spans_mm=(123.0,)) is not told
    desk.write([Draft(Ref("animal", code), on_day(END), Noted(note="calm"))])
    assert desk.ahead_known(code, END) is None


def test_it_agrees_with_the_forecast_also_after_a_tap(desk: Desk) -> None:
    """The row without a shift is the forecast's, before and after a refusal that moves it."""
    code = measured(desk)
    for refused in (0, 3):
        for _ in range(refused):
            desk.write([Draft(Ref("animal", code), on_day(END), Offered(prey="roach", outcome="refused"))])
        row, told = desk.forecast(END).of(code), desk.ahead(code, END).what_if
        assert row is not None and row.next_moult is not None and told is not None
        same = next(each for each in told.rows if each.shift_c == 0.0)
        assert same.within_30 == row.next_moult.within_days[30]
        assert same.days["0.50"] == row.next_moult.quantiles_days["0.50"]


def test_it_is_read_back_from_disk_without_a_fit(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program started anew, whose forecast lies on the disk, needs the fit once; the next not at all."""
    with Desk.open(str(file)) as desk:
        code = measured(desk)
    with Desk.open(str(file)) as desk:
        told = desk.ahead(code, END)

    def broken(*_: object, **__: object) -> None:
        raise AssertionError("worked out again")

    monkeypatch.setattr(findings, "ahead", broken)
    with Desk.open(str(file)) as desk:
        assert told == desk.ahead(code, END)
