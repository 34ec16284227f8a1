"""Real dated records beside the project: what the fold knows of them, and the faults it finds.

Source: rearing records of 180 juvenile red king crabs, 2012-13 (README of the folder); 419 moults.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.journal.entries import Entry
from nightround.journal.tables import read_tables
from nightround.record.fold import fold
from nightround.record.make_histories import daily_climate, moult_histories, size_histories

CLOCK = RoomClock("UTC")
LATER = date(2026, 1, 1)


def _entries(folder: Path) -> list[Entry]:
    read = read_tables(folder, CLOCK)
    written = datetime(2025, 12, 31, tzinfo=UTC)
    return [
        Entry(
            number, draft.kind.name, draft.about, draft.when, draft.body, written, "", draft.key, None, "list"
        )
        for number, draft in enumerate(read.drafts, start=1)
    ]


@pytest.fixture(scope="module")
def crabs(shared_data: Path) -> list[Entry]:
    """The entries of the crab records."""
    return _entries(shared_data / "crab-2012")


def test_every_crab_and_every_moult_is_known(crabs: list[Entry]) -> None:
    """180 animals, 419 moults (the folder's README), 127 deaths; six tubs with 184 days of climate each."""
    record = fold(crabs, LATER, CLOCK)
    histories = moult_histories(record)
    assert (180, 419) == (len(histories), sum(len(history.moults) for history in histories.values()))
    assert 127 == sum(history.ending == "died" for history in histories.values())
    assert [184] * 6 == [len(climate.temperature_c) for climate in daily_climate(record).values()]


def test_shed_skins_stand_before_their_moult_and_masses_after(crabs: list[Entry]) -> None:
    """Wet mass was taken 7 days after each moult, the carapace from the shed skin (README)."""
    record = fold(crabs, LATER, CLOCK)
    sizes, moults = size_histories(record), moult_histories(record)
    for code, history in sizes.items():
        windows = moults[code].moults
        for reading in history.readings:
            assert reading.day is not None
            if reading.on == "shed_skin" and code not in ("C4-24", "C5-26"):
                assert reading.day == windows[reading.instar].last
            if reading.item == "mass":
                assert reading.instar == sum(window.last < reading.day for window in windows)


def test_the_faults_that_were_left_in_are_found(crabs: list[Entry]) -> None:
    """Three dates with a wrong year, skins without their moult, and masses that cannot be; little else."""
    problems = fold(crabs, LATER, CLOCK).problems
    found = {(problem.kind, problem.subject) for problem in problems}
    assert {
        ("date_alone", "animal C1-18"),
        ("date_alone", "animal C1-25"),  # its death is dated 2013-12-28, the study ended in February
        ("skin_before_moult", "animal C4-24"),
        ("skin_without_moult", "animal C5-26"),
    } <= found
    assert len(problems) <= 10


def test_on_a_day_in_the_study_nothing_later_is_known(crabs: list[Entry]) -> None:
    """Deleting every later entry changes nothing: neither the record nor what science sees."""
    on = date(2012, 12, 1)
    known = [entry for entry in crabs if entry.when.last is not None and entry.when.last <= on]
    whole, cut = fold(crabs, on, CLOCK), fold(known, on, CLOCK)
    assert len(known) < len(crabs)
    assert whole == cut
    assert moult_histories(whole) == moult_histories(cut)
    assert all(
        history.last_look is None or history.last_look <= on for history in moult_histories(whole).values()
    )


def test_diaries_with_intervals(shared_data: Path) -> None:
    """Dates known only to a season are windows; nobody's diary contradicts itself."""
    record = fold(_entries(shared_data / "tarantula-diaries"), LATER, CLOCK)
    assert [] == [problem.kind for problem in record.problems]
    history = moult_histories(record)["TBAU-1"]
    assert [(date(2021, 9, 5), date(2021, 11, 24))] == [(w.first, w.last) for w in history.moults]
    assert (None, "died") == (history.under_watch, history.ending)
