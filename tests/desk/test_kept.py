"""Answers kept on disk: equal to the worked-out ones, and never used for anything else."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from nightround.desk import kept
from nightround.desk.desk import Desk
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Moulted
from nightround.journal.store import Journal
from nightround.simulate import room

END = date(2026, 3, 1)


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small invented room whose answers are always worth keeping."""
    monkeypatch.setattr(kept, "WORTH_KEEPING_SECONDS", 0.0)
    monkeypatch.setattr(kept, "_folder", lambda drawer: tmp_path / drawer)
    made = room(seed=3, animals=12, years=1.0, end=END)
    with Journal.create(tmp_path / "room", time_zone="UTC", invented=True) as journal:
        journal.append(made.drafts)
    return tmp_path / "room"


def test_a_kept_answer_equals_the_worked_out_one(path):
    """A second desk reads back the very same forecasts and sizes, to the last digit."""
    with Desk.open(path) as first, Desk.open(path) as second:
        forecast, sizes = first.forecast(END), first.sizes(END)
        assert 2 == len(list((path.parent / "answers").iterdir()))
        assert (forecast, sizes) == (second.forecast(END), second.sizes(END))


def test_a_kept_answer_saves_the_work(path, monkeypatch):
    """With the answer on disk, nothing is fitted."""
    with Desk.open(path) as first:
        forecast = first.forecast(END)
    monkeypatch.setattr("nightround.desk.desk._forecast_of", lambda *_: pytest.fail("fitted again"))
    with Desk.open(path) as second:
        assert forecast == second.forecast(END)


def test_a_new_entry_or_day_is_worked_out_anew(path):
    """A moult written since, or another day, never gets the old answer."""
    with Desk.open(path) as first:
        before = first.forecast(END)
        code = before.animals[0].animal
        first.write([Draft(Ref("animal", code), on_day(END), Moulted())])
    with Desk.open(path) as second:
        assert END == second.forecast(END).of(code).last_moult
        assert before.animals[0].last_moult != END
        assert date(2026, 2, 1) == second.forecast(date(2026, 2, 1)).on


def test_a_copy_that_went_another_way_is_another_journal(path):
    """Two copies of a room with equally many entries are told apart by their newest entry."""
    with Desk.open(path) as desk:
        entries = desk.entries()
    other = [*entries[:-1], type(entries[-1])(**{**_fields(entries[-1]), "key": "another"})]
    assert kept._digest("forecast", entries, END) != kept._digest("forecast", other, END)


def _fields(entry) -> dict:
    return {name: getattr(entry, name) for name in entry.__struct_fields__}


@pytest.mark.parametrize("spoilt", [b"", b"{", json.dumps({"on": 7}).encode()])
def test_a_spoilt_file_is_worked_out_anew(path, spoilt):
    """A torn or foreign file in the cache costs time, never an answer."""
    with Desk.open(path) as first:
        forecast = first.forecast(END)
    for file in (path.parent / "answers").iterdir():
        file.write_bytes(spoilt)
    with Desk.open(path) as second:
        assert forecast == second.forecast(END)


def test_a_closed_cache_folder_is_no_fault(path, tmp_path, monkeypatch):
    """Where nothing can be kept, the answer still comes."""
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(kept, "_folder", lambda drawer: tmp_path / "file" / drawer)
    with Desk.open(path) as desk:
        report = desk.forecast(END)
    assert report == replace(report)
    assert report.animals
