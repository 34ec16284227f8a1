"""Killed in the middle of writing: the journal stays sound and keeps whatever was acknowledged.

SIGKILL gives a program no chance to tidy up. It does not test a loss of power, which also drops what the
operating system had not yet put on the disk: for that the store asks SQLite for synchronous = FULL.
"""

from __future__ import annotations

import random
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived
from nightround.journal.store import Journal

WRITER = Path(__file__).with_name("writer.py")
KILLS = 200
ROWS_OF_AN_IMPORT = 60

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A room with one animal."""
    path = tmp_path / "room.sqlite"
    with Journal.create(path, time_zone="UTC") as journal:
        journal.append([Draft(Ref("animal", "K1"), on_day(date(2026, 1, 1)), Arrived())])
    return path


def kill_a_writer(arguments: list[str], delay_s: float) -> list[str]:
    """Start a writer, kill it so long after its first line, and return the lines it acknowledged."""
    writer = subprocess.Popen(
        [sys.executable, str(WRITER), *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert writer.stdout is not None and writer.stderr is not None
        first = writer.stdout.readline()
        time.sleep(delay_s)
        writer.kill()
        rest, said = writer.communicate(timeout=30)
    finally:
        writer.kill()
    assert first and -signal.SIGKILL == writer.returncode, said
    lines = (first + rest).splitlines(keepends=True)
    return [line.strip() for line in lines if line.startswith("wrote ") and line.endswith("\n")]


def writers(kills: int) -> list[tuple[int, float]]:
    """Seeded waits: most kills fall within the first acts, where the file grows and the log turns over."""
    rng = random.Random(20260301)
    return [(number, rng.uniform(0.0, 0.08)) for number in range(kills)]


def check_appends(room: Path, kills: int) -> None:
    """Kill `kills` writers of appends one after another."""
    acknowledged: set[str] = set()
    for number, delay_s in writers(kills):
        for line in kill_a_writer(["append", str(room), str(1_000_000 * (number + 1))], delay_s):
            acknowledged |= set(line.split()[1:])
        with Journal.open(room) as journal:
            report = journal.verify()
            entries = journal.entries()
        assert () == report.faults, f"after kill {number + 1}"
        there = {entry.key for entry in entries}
        assert set() == acknowledged - there, f"after kill {number + 1}"
        acts = Counter(entry.intention for entry in entries[1:])
        for entry in entries[1:]:
            whole = 1 + int(re.match(r"k(\d+)-", entry.key)[1]) % 3  # type: ignore[index]
            assert whole == acts[entry.intention], f"half an act after kill {number + 1}"
    assert len(acknowledged) >= kills


def check_imports(room: Path, folder: Path, kills: int) -> None:
    """Kill `kills` writers of imports one after another."""
    folder.mkdir()
    acknowledged: set[str] = set()
    for number, delay_s in writers(kills):
        start = str(1000 * (number + 1))
        for line in kill_a_writer(["import", str(room), str(folder), start], delay_s):
            acknowledged.add(line.split()[1])
        with Journal.open(room) as journal:
            report = journal.verify()
            notes = [entry.body.note for entry in journal.entries()[1:]]
        assert () == report.faults, f"after kill {number + 1}"
        rows = Counter(note.partition("-")[0] for note in notes)
        assert {ROWS_OF_AN_IMPORT} >= set(rows.values()), f"half an import after kill {number + 1}"
        assert set() == acknowledged - set(rows), f"after kill {number + 1}"
    assert len(acknowledged) >= kills // 4


def test_killed_while_appending(room: Path) -> None:
    """A dozen kills, for every run of the tests: sound, nothing acknowledged lost, no act by halves."""
    check_appends(room, 12)


def test_killed_while_importing(room: Path, tmp_path: Path) -> None:
    """A dozen kills, for every run of the tests: an import is there whole or not at all."""
    check_imports(room, tmp_path / "tables", 12)


@pytest.mark.long
def test_killed_while_appending_many_times(room: Path) -> None:
    """Half of the 200 kills that a release must stand."""
    check_appends(room, KILLS // 2)


@pytest.mark.long
def test_killed_while_importing_many_times(room: Path, tmp_path: Path) -> None:
    """The other half of the 200 kills."""
    check_imports(room, tmp_path / "tables", KILLS // 2)
