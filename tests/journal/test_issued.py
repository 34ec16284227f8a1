"""Issued forecasts: kept beside the entries, never changed, taken along by exports."""

from __future__ import annotations

import csv
import sqlite3
import threading
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.issued import STAGES, Issued, Odds
from nightround.journal.kinds.animal import Arrived
from nightround.journal.store import Journal
from nightround.journal.tables.forecasts import forecasts_text, read_forecasts
from nightround.journal.tables.read import read_tables
from nightround.journal.tables.write import write_tables

DAY = date(2026, 3, 12)
WRITTEN = datetime(2026, 3, 12, 20, 0, 0, 123456, tzinfo=UTC)
EARLIEST, LATEST = (datetime(year, 1, 1, tzinfo=UTC).replace(tzinfo=None) for year in (2000, 2100))
ODDS = Odds(
    {"0.05": 40.1, "0.50": 61.0, "0.95": None}, {7: 0.01, 30: 0.2}, 0.02, 1.25, "Invented α", "gröup; a=b", 31
)
PLAIN = Issued("K1", "after_moult", "", DAY, (date(2026, 3, 9), date(2026, 3, 11)), WRITTEN, 812, "0.3", ODDS)


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A room with one animal."""
    made = Journal.create(tmp_path / "room", time_zone="Europe/Lisbon")
    made.append([Draft(Ref("animal", "K1"), on_day(DAY), Arrived(taxon="Invented alpha"))])
    return made


def test_what_was_said_comes_back_and_is_not_said_anew(journal: Journal) -> None:
    """The same interval, stage and run writes nothing, whatever it says now; entries do not move."""
    other = replace(PLAIN, stage="half_time", opened=(DAY, DAY))
    assert 2 == journal.issue([PLAIN, other])
    assert 0 == journal.issue([replace(PLAIN, odds=replace_unseen(0.9), day=date(2026, 4, 1))])
    assert 1 == journal.issue([replace(PLAIN, run="look-back-1")])
    kept = journal.issued()
    assert [PLAIN, other, replace(PLAIN, run="look-back-1")] == [replace(each, number=0) for each in kept]
    assert [1, 2, 3] == [each.number for each in kept]
    assert kept[2:] == journal.issued(after=2)
    assert 1 == journal.last_number()
    with Journal.open(journal.room) as again:
        assert kept == again.issued()
        assert again.verify().clean


def replace_unseen(unseen: float) -> Odds:
    """The odds with another chance of an unseen moult."""
    return Odds(
        ODDS.quantiles_days, ODDS.within_days, unseen, ODDS.widened, ODDS.taxon, ODDS.group, ODDS.n_intervals
    )


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE issued SET odds = '{}'",
        "DELETE FROM issued",
        "INSERT OR REPLACE INTO issued SELECT * FROM issued",
    ],
)
def test_the_database_itself_refuses_to_change_what_was_said(journal: Journal, statement: str) -> None:
    """UPDATE, DELETE and INSERT OR REPLACE fail, and a room whose guards were dropped is not sound."""
    journal.issue([PLAIN])
    connection = sqlite3.connect(journal.room)
    with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
        connection.execute(statement)
    assert journal.verify().clean
    connection.execute("DROP TRIGGER issued_no_update")
    connection.commit()
    assert ["append-only guards are missing: issued_no_update"] == list(journal.verify().faults)
    connection.execute("UPDATE issued SET odds = '{}'")
    connection.commit()
    connection.close()
    assert any("issued forecast 1" in fault for fault in journal.verify().faults)


def test_two_programs_at_once_keep_one(journal: Journal) -> None:
    """Four programs that work out the same forecasts keep each once, numbered without a gap."""
    each = [replace(PLAIN, animal=f"K{n}") for n in range(25)]
    begin = threading.Barrier(4)

    def keep() -> None:
        with Journal.open(journal.room) as mine:
            begin.wait()
            for one in each:
                mine.issue([one])

    workers = [threading.Thread(target=keep) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    kept = journal.issued()
    assert list(range(1, 26)) == [one.number for one in kept]
    assert [one.animal for one in each] == sorted(
        (one.animal for one in kept), key=lambda code: int(code[1:])
    )


def test_a_room_of_the_first_schema_gets_the_table(journal: Journal) -> None:
    """A room made before forecasts were kept is brought up to date when it is opened, entries untouched."""
    before = journal.entries()
    journal.close()
    connection = sqlite3.connect(journal.room)
    connection.executescript("DROP TABLE issued; DELETE FROM migration WHERE number = 2;")
    connection.close()
    with Journal.open(journal.room) as again:
        assert [] == again.issued()
        assert 1 == again.issue([PLAIN])
        assert before == again.entries()
        assert again.verify().clean


@given(
    st.builds(
        Issued,
        animal=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1).filter(str.strip),
        stage=st.sampled_from(STAGES),
        run=st.sampled_from(["", "look-back-1"]),
        day=st.dates(date(2000, 1, 1), date(2100, 1, 1)),
        opened=st.tuples(
            st.dates(date(1990, 1, 1), date(2000, 1, 1)), st.dates(date(2000, 1, 1), date(2010, 1, 1))
        ),
        written=st.datetimes(timezones=st.just(UTC), min_value=EARLIEST, max_value=LATEST),
        entries=st.integers(0, 10**9),
        program=st.just("0.3"),
        odds=st.builds(
            Odds,
            quantiles_days=st.dictionaries(
                st.sampled_from(["0.05", "0.50", "0.95"]), st.none() | st.floats(0, 4000)
            ),
            within_days=st.dictionaries(st.sampled_from([1, 14, 365]), st.floats(0, 1)),
            unseen=st.floats(0, 1),
            widened=st.floats(1, 3),
            taxon=st.text(st.characters(exclude_categories=["Cs", "Cc"])),
            group=st.text(st.characters(exclude_categories=["Cs", "Cc"])),
            n_intervals=st.integers(0, 10**6),
        ),
    )
)
def test_the_table_gives_back_every_digit(tmp_path_factory: pytest.TempPathFactory, one: Issued) -> None:
    """Reading what was written is the identity, whatever the texts hold."""
    path = tmp_path_factory.mktemp("tables") / "forecasts.csv"
    path.write_text(forecasts_text([one]), encoding="utf-8", newline="")
    found, refusals, file = read_forecasts(path)
    assert ([one], [], 1) == (found, refusals, file.rows)


def test_an_export_takes_them_along_and_an_import_brings_them(journal: Journal, tmp_path: Path) -> None:
    """They go out as forecasts.csv, come in in one transaction with the entries, and twice adds nothing."""
    journal.issue([PLAIN, replace(PLAIN, run="look-back-1")])
    counts = write_tables(journal.entries(), tmp_path / "out", journal.clock, None, journal.issued())
    assert 2 == counts["forecasts"]
    read = read_tables(tmp_path / "out", journal.clock)
    assert () == read.refusals
    with Journal.create(tmp_path / "other", time_zone="Europe/Lisbon") as other:
        for _ in range(2):
            other.append(read.drafts, issued=read.issued)
        assert journal.issued() == other.issued()
        assert other.verify().clean
    write_tables(journal.entries(), tmp_path / "out", journal.clock)
    assert not (tmp_path / "out" / "forecasts.csv").exists()


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("stage", "later"),
        ("day", "12.3.2026"),
        ("within_days", "a=b"),
        ("written", "2026-03-12T20:00:00"),
        ("animal", ""),
    ],
)
def test_a_row_that_cannot_be_read_is_refused_by_its_line(tmp_path: Path, column: str, cell: str) -> None:
    """A foreign stage, day, chance, instant or animal refuses the row and says what to do."""
    path = tmp_path / "forecasts.csv"
    lines = forecasts_text([PLAIN]).splitlines()
    row = dict(zip(lines[0].split(","), next(csv.reader([lines[1]])), strict=True)) | {column: cell}
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerows([list(row), list(row.values())])
    found, refusals, _ = read_forecasts(path)
    assert [] == found
    assert [("forecasts.csv", 2, "Leave the row out: a forecast cannot be mended")] == [
        (fault.file, fault.row, fault.todo) for fault in refusals
    ]
    assert read_tables(tmp_path, RoomClock("UTC")).rows_refused == 1
