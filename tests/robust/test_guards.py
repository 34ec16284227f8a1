"""What the journal refuses, and what it says when the disk or the folder refuses."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from nightround.foundation.refusal import RoomRefusal
from nightround.foundation.when import on_day
from nightround.journal import store
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Noted
from nightround.journal.rooms import put_in_place
from nightround.journal.store import Journal

DAY = on_day(date(2026, 3, 1))
K1 = Ref("animal", "K1")


def notes(number: int, mark: str = "n", size: int = 20) -> list[Draft]:
    """So many notes under keys of their own."""
    return [Draft(K1, DAY, Noted(note="x" * size), key=f"{mark}{count}") for count in range(number)]


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A room with one animal and two notes."""
    path = tmp_path / "room.sqlite"
    with Journal.create(path, time_zone="UTC") as journal:
        journal.append([Draft(K1, DAY, Arrived()), *notes(2)])
    return path


@pytest.fixture
def raw(room: Path) -> Iterator[sqlite3.Connection]:
    """The room's file opened behind the program's back, with SQLite's own defaults."""
    connection = sqlite3.connect(room)
    yield connection
    connection.close()


COLUMNS = (
    "number, kind, version, about_kind, about, happened, first_day, last_day, body, recorded, device, key, "
    "corrects, intention"
)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET body = '{}' WHERE number = 2",
        "UPDATE entry SET number = 9 WHERE number = 2",
        "UPDATE OR REPLACE entry SET number = 1 WHERE number = 2",
        "UPDATE setting SET value = 'UTC' WHERE name = 'time_zone'",
        "DELETE FROM entry WHERE number = 2",
        "DELETE FROM entry",
        "DELETE FROM setting",
        f"INSERT OR REPLACE INTO entry ({COLUMNS}) SELECT {COLUMNS} FROM entry WHERE number = 2",
        f"REPLACE INTO entry ({COLUMNS}) SELECT {COLUMNS} FROM entry WHERE number = 2",
        f"INSERT OR REPLACE INTO entry ({COLUMNS}) SELECT 99{COLUMNS[6:]} FROM entry WHERE number = 2",
        "INSERT OR REPLACE INTO setting (name, value) VALUES ('time_zone', 'UTC')",
    ],
)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_nothing_written_is_changed_or_removed(
    room: Path, raw: sqlite3.Connection, statement: str, recursive: str
) -> None:
    """UPDATE, DELETE and INSERT OR REPLACE fail on both tables, whatever the connection's triggers setting.

    INSERT OR REPLACE deletes without firing delete triggers while recursive_triggers is off (sqlite.org,
    'CREATE TRIGGER' and 'PRAGMA recursive_triggers'); the guard stands on the insert.
    """
    raw.execute(f"PRAGMA recursive_triggers = {recursive}")
    before = raw.execute("SELECT * FROM entry").fetchall(), raw.execute("SELECT * FROM setting").fetchall()
    with pytest.raises(sqlite3.DatabaseError, match="never changed or removed"):
        raw.execute(statement)
    raw.rollback()
    after = raw.execute("SELECT * FROM entry").fetchall(), raw.execute("SELECT * FROM setting").fetchall()
    assert before == after
    with Journal.open(room) as journal:
        assert journal.verify().clean


def test_two_processes_write_at_once(room: Path) -> None:
    """Two programs and a thread on one room: every act is there once, numbers without gap, journal sound."""
    script = (
        "import sys; sys.path.insert(0, sys.argv[3]); from robust.test_guards import notes\n"
        "from nightround.journal.store import Journal\n"
        "with Journal.open(sys.argv[1]) as journal:\n"
        "    for draft in notes(40, sys.argv[2]): journal.append([draft])\n"
    )
    here = str(Path(__file__).resolve().parent.parent)
    writers = [
        subprocess.Popen([sys.executable, "-c", script, str(room), mark, here], stderr=subprocess.PIPE)
        for mark in ("w1-", "w2-")
    ]
    with Journal.open(room) as journal:
        thread = threading.Thread(target=lambda: [journal.append([draft]) for draft in notes(40, "w3-")])
        thread.start()
        for writer in writers:
            _, said = writer.communicate(timeout=120)
            assert 0 == writer.returncode, said.decode()
        thread.join()
        assert journal.verify().clean
        keys = [entry.key for entry in journal.entries()]
    for mark in ("w1-", "w2-", "w3-"):
        assert [f"{mark}{count}" for count in range(40)] == [key for key in keys if key.startswith(mark)]


def test_a_full_disk_is_told_and_nothing_is_half_written(room: Path) -> None:
    """The database may not grow: a refusal that says so, and the act is not there in part.

    SQLite's max_page_count gives the same error as a full disk (SQLITE_FULL, sqlite.org/rescode.html).
    """
    from sqlalchemy import event

    with Journal.open(room) as journal:
        before = journal.last_number()

        def no_room_left(connection: sqlite3.Connection, *_: object) -> None:
            connection.execute("PRAGMA max_page_count = 1")  # means: as many pages as there are

        event.listen(journal._engine, "checkout", no_room_left)
        with pytest.raises(RoomRefusal, match=r"full.*Check that the file"):
            journal.append(notes(400, "big", 2000))
        event.remove(journal._engine, "checkout", no_room_left)
    with Journal.open(room) as journal:
        assert before == journal.last_number()
        assert journal.verify().clean


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_an_output_that_is_full_writes_nothing_unseen(room: Path) -> None:
    """What was understood cannot be shown: exit code 1, a message, and nothing is written unseen."""
    command = [sys.executable, "-m", "nightround", "jot", "--yes", "K1 note kept", "--room", str(room)]
    with open("/dev/full", "w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert 1 == done.returncode
    assert "No space left on device" in done.stderr and "Traceback" not in done.stderr
    with Journal.open(room) as journal:
        assert 3 == journal.last_number()


def no_place_to_write(tmp_path: Path) -> Path:
    """A folder in which nobody, not even the superuser, can create a file."""
    if hasattr(os, "geteuid") and os.geteuid() != 0:
        folder = tmp_path / "closed"
        folder.mkdir(mode=0o500)
        return folder
    if not Path("/proc/self").is_dir():
        pytest.skip("run by the superuser, who may write everywhere here")
    return Path("/proc")


def test_a_closed_folder_is_told(tmp_path: Path) -> None:
    """No room can be created where nothing may be written: a refusal that names the place, no traceback."""
    room = no_place_to_write(tmp_path) / "room.sqlite"
    for command in (["start", "--no-browser"], ["import", "-", "--commit"]):
        done = subprocess.run(
            [sys.executable, "-m", "nightround", *command, "--room", str(room)],
            input="K1, Brachypelma hamorii\n", capture_output=True, text=True,
        )  # fmt: skip
        assert 1 == done.returncode, done.stderr
        assert "Wanted" in done.stderr and f"room at {room};" in done.stderr
        assert "Traceback" not in done.stderr


def test_an_export_into_a_closed_folder_is_told(room: Path, tmp_path: Path) -> None:
    """Tables cannot be written there: exit code 1 and a message."""
    target = no_place_to_write(tmp_path) / "tables"
    done = subprocess.run(
        [sys.executable, "-m", "nightround", "export", str(target), "--room", str(room)],
        capture_output=True, text=True,
    )  # fmt: skip
    assert 1 == done.returncode
    assert "Wanted" in done.stderr and "Traceback" not in done.stderr


def test_a_room_that_came_meanwhile_is_never_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two programs create one room: the second to finish is refused, and the first one's entries stay."""
    path = tmp_path / "room.sqlite"
    fill = store._fill

    def fill_while_another_finishes(*told: object) -> None:
        monkeypatch.setattr(store, "_fill", fill)
        with Journal.create(path, time_zone="UTC") as other:
            other.append(notes(2))
        fill(*told)

    monkeypatch.setattr(store, "_fill", fill_while_another_finishes)
    with pytest.raises(RoomRefusal, match="there already"):
        Journal.create(path, time_zone="UTC")
    with Journal.open(path) as journal:
        assert 2 == journal.last_number()
    assert ["room.sqlite"] == [left.name for left in tmp_path.iterdir()]


def test_a_disk_without_hard_links_keeps_its_rooms_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a second name for a file cannot be made the file is renamed, never over another."""
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError(95, "not supported")))
    path = tmp_path / "room.sqlite"
    Journal.create(path, time_zone="UTC").close()
    left = tmp_path / "other"
    left.write_bytes(b"x")
    with pytest.raises(FileExistsError):
        put_in_place(left, path)
    Journal.open(path).close()


def test_opening_an_up_to_date_room_writes_nothing(room: Path) -> None:
    """Reading waits for no writer: another program in the middle of its act does not stop an opening."""
    writer = sqlite3.connect(room, isolation_level=None)
    writer.execute("BEGIN IMMEDIATE")
    with Journal.open(room) as journal:
        assert 3 == journal.last_number()
    writer.execute("ROLLBACK")
    writer.close()


def test_a_moment_of_writing_that_is_none_is_found(room: Path, raw: sqlite3.Connection) -> None:
    """A foreign hand that broke the moment of writing is named by verify."""
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute("UPDATE entry SET recorded = 'soon' WHERE number = 2")
    raw.commit()
    with Journal.open(room) as journal:
        assert any("entry 2: written at 'soon'" in fault for fault in journal.verify().faults)
