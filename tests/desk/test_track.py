"""Forecasts are kept on the day they are made, once; a past day, a second asking, a closed room keep none."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from nightround.desk.desk import Desk
from nightround.foundation import clock
from nightround.foundation.refusal import Refusal, RoomRefusal
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.issued import Issued
from nightround.journal.kinds.animal import Moulted, Seen
from nightround.journal.store import Journal
from nightround.simulate import room

END = date(2026, 3, 1)


def stand(monkeypatch: pytest.MonkeyPatch, day: date) -> None:
    """Hold the clock at that evening, in every thread."""
    monkeypatch.setattr(clock, "now", lambda: datetime(day.year, day.month, day.day, 20, 30, tzinfo=UTC))


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """A small invented room on its last evening."""
    stand(monkeypatch, END)
    made = room(seed=3, animals=12, years=1.0, end=END)
    with Journal.create(tmp_path / "room", time_zone="UTC", invented=True) as journal:
        journal.append(made.drafts, intention="demo")
    with Desk.open(tmp_path / "room") as desk:
        yield desk


def moulted(desk: Desk, code: str, day: date) -> None:
    """Write a moult."""
    desk.write([Draft(Ref("animal", code), on_day(day), Moulted())])


def test_what_is_kept_is_what_was_shown(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every interval with a known beginning gets one, equal to the report; asking again keeps none."""
    report, last = desk.forecast(), desk.journal.last_number()
    kept = desk.keep_forecasts()
    assert kept == len(desk.issued()) >= 6
    assert 0 == desk.keep_forecasts()
    assert last == desk.journal.last_number()
    for each in desk.issued():
        row = report.of(each.animal)
        assert row is not None and row.next_moult is not None
        assert (END, "", last) == (each.day, each.run, each.entries)
        told = {k: d and pytest.approx(d, abs=0.006) for k, d in row.next_moult.quantiles_days.items()}
        assert told == each.odds.quantiles_days
    code = desk.issued()[0].animal
    stand(monkeypatch, END + timedelta(days=1))
    moulted(desk, code, END + timedelta(days=1))
    assert 1 <= desk.keep_forecasts()
    newest = [each for each in desk.issued() if each.day > END]
    assert [(code, "after_moult")] == [(each.animal, each.stage) for each in newest if each.animal == code]


def test_a_second_program_keeps_nothing_that_is_kept(desk: Desk) -> None:
    """Two programs open on one room keep each forecast once."""
    with Desk.open(desk.journal.room) as other:
        other.forecast()
        first = desk.keep_forecasts()
        assert 0 == other.keep_forecasts()
        assert first == len(other.issued())
    assert desk.verify().clean


def test_a_room_that_cannot_be_written_is_read_all_the_same(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was asked for is answered, and nothing is kept."""

    def refuse(_: list[Issued]) -> int:
        raise RoomRefusal("to write", got="a closed disk")

    monkeypatch.setattr(desk.journal, "issue", refuse)
    assert 0 == desk.keep_forecasts()
    assert [] == desk.issued()


def test_the_track_record_follows_what_happens(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is due at first; after the moult and the end of its window the animal's forecast is counted."""
    desk.keep_forecasts()
    report = desk.track()
    assert report.kept is not None
    assert (0, END) == (report.kept.due, report.kept.first)
    assert report.next_due is not None and report.next_due > END
    each = min(desk.issued(), key=lambda one: one.odds.quantiles_days["0.90"] or 9e9)
    middle, end = (each.odds.quantiles_days[level] for level in ("0.50", "0.90"))
    assert middle is not None and end is not None
    stand(monkeypatch, END + timedelta(days=round(end) + 2))
    moulted(desk, each.animal, END + timedelta(days=max(round(middle), 1)))
    counted = desk.track().kept
    assert counted is not None
    assert 1 <= sum(line.fates["inside"] for line in counted.lines)
    assert desk.track() is desk.track()
    assert desk.track(END).kept == report.kept


def test_looking_back_is_counted_apart_and_forecasts_hear_of_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A look back fills its own part; when it asks for wider windows, the day's forecast is made anew."""
    before = desk.forecast()
    heard: list[tuple[int, int]] = []
    found = desk.look_back(every=60, most=4, heard=lambda done, of: heard.append((done, of)))
    assert [(0, 4), (1, 4), (2, 4), (3, 4), (4, 4)] == heard
    report = desk.track()
    assert report.kept is None and report.looked_back is not None
    assert found == report.looked_back.issued > 5
    assert "Looking back" in report.verdict[0]
    from nightround.findings import track_record
    from nightround.reports.track_record import Widening

    groups = {taxon.group for taxon in desk.record().taxa.values()}
    asked = {group: Widening(group, 1.5, 1.2, 1.8, 60.0, 1.5, "windows widened by 50 %") for group in groups}
    monkeypatch.setattr(track_record, "widenings", lambda *_: asked)
    assert desk.look_back(every=90, most=1) > 0
    wider = desk.forecast()
    assert {1.5} == {row.next_moult.widened for row in wider.animals if row.next_moult}
    assert {1.0} == {row.next_moult.widened for row in before.animals if row.next_moult}
    # A quiet tap afterwards keeps the widening.
    code = wider.animals[0].animal
    desk.write([Draft(Ref("animal", code), on_day(END), Seen())])
    assert {1.5} == {row.next_moult.widened for row in desk.forecast().animals if row.next_moult}
    odds = desk.odds()
    assert odds is not None and odds.widenings == asked


def test_an_empty_room_has_nothing_to_look_back_on(tmp_path: Path) -> None:
    """The refusal says what to do."""
    with Desk(Journal.create(tmp_path / "empty", time_zone="UTC")) as desk:
        assert 0 == desk.keep_forecasts()
        with pytest.raises(Refusal, match="kept from now on"):
            desk.look_back()
        assert desk.track().verdict == ()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="file modes do not bind this user")
def test_a_file_that_may_only_be_read_is_read(desk: Desk) -> None:
    """On a disk that cannot be written to, the round is shown and nothing is kept."""
    path = Path(desk.journal.room)
    desk.close()
    path.chmod(0o444)
    path.parent.chmod(0o555)
    try:
        with Desk.open(path) as closed:
            closed.forecast()
            assert 0 == closed.keep_forecasts()
    finally:
        path.parent.chmod(0o755)
