"""The commands as they are called: exit codes, what is said where, and what is written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from nightround.cli.main import nightround
from nightround.desk.desk import Desk

LIST = """code, taxon, shelf, span, last moult
K12, Brachypelma hamorii, shelf B, 4.5 cm, 2026-03-01
K07, Cyriopagopus sp. Blue, shelf B, 30 mm, 2026-05
K09, Brachypelma hamorii, shelf A, , ?
"""


class Served:
    """Stands in for the server: keeps what it was asked to serve."""

    def __init__(self) -> None:
        self.calls: list[dict[str, Any]] = []

    def __call__(self, desk: Desk, *, port: int | None = None, open_browser: bool = True) -> None:
        self.calls.append(
            {"room": desk.journal.room, "invented": desk.invented, "port": port, "open": open_browser}
        )


def run(*arguments: str, told: str | None = None, served: Served | None = None) -> Result:
    """Call the command in this process; anything but an exit code fails the test."""
    result = CliRunner().invoke(nightround, list(arguments), input=told, obj=served)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def room(own_room: Path) -> Path:
    """A room of three invented animals on two shelves."""
    done = run("import", "-", "--commit", "--time-zone", "Europe/Lisbon", told=LIST)
    assert 0 == done.exit_code, done.stderr
    return own_room


def entries(room: Path) -> int:
    """The number of entries in a room."""
    with Desk.open(room) as desk:
        return desk.journal.last_number()


def test_a_room_that_is_not_there_is_refused_with_what_to_do(own_room: Path) -> None:
    """Reading an absent room: exit code 1, said on standard error, and no room is made by it."""
    for call in (
        ["tonight"],
        ["forecast"],
        ["animal", "K1"],
        ["animal", "K1", "--ahead"],
        ["verify"],
        ["jot", "K1 died"],
        ["export", "x"],
        [],
    ):
        done = run(*call, served=Served())
        assert 1 == done.exit_code, call
        assert "" == done.stdout
        assert f"Wanted a room at {own_room}; got nothing there." in done.stderr
        assert "nightround start" in done.stderr
    assert not own_room.exists()


@pytest.mark.parametrize(
    "call",
    [["tonight", "--on", "1.3.2026"], ["tonight", "--on", "2026-02-30"], ["nonsense"], ["animal"], ["import"],
     ["forecast", "--nonsense"], ["import", "x", "--keep-good"], ["start", "--port", "0"]],
)  # fmt: skip
def test_bad_usage_is_two(call: list[str]) -> None:
    """Words of a command that do not fit together end in exit code 2, told on standard error."""
    done = run(*call)
    assert 2 == done.exit_code
    assert done.stderr


def test_start_creates_the_room_once(own_room: Path) -> None:
    """`start` creates the room with the time zone it is told, and opens it from then on."""
    served = Served()
    first = run("start", "--time-zone", "Europe/Lisbon", "--no-browser", "--port", "8123", served=served)
    assert 0 == first.exit_code, first.stderr
    assert "Europe/Lisbon" in first.stdout
    again = run("start", served=served)
    assert 0 == again.exit_code and "Created" not in again.stdout
    bare = run(served=served)
    assert 0 == bare.exit_code
    assert [
        {"room": str(own_room), "invented": False, "port": 8123, "open": False},
        {"room": str(own_room), "invented": False, "port": None, "open": True},
        {"room": str(own_room), "invented": False, "port": None, "open": True},
    ] == served.calls


def test_the_time_zone_of_a_room_is_not_changed_in_passing(room: Path) -> None:
    """Another --time-zone for a room that is there is refused: its days are counted already."""
    done = run("start", "--time-zone", "America/Denver", served=Served())
    assert 1 == done.exit_code
    assert "Wanted the time zone of this room, Europe/Lisbon; got America/Denver." in done.stderr


def test_a_time_zone_that_is_none_is_refused(own_room: Path) -> None:
    """A name that is no IANA zone: exit code 1 with the way to write one, and no room."""
    done = run("start", "--time-zone", "Lisbon time", served=Served())
    assert 1 == done.exit_code
    assert "Europe/Lisbon" in done.stderr
    assert not own_room.exists()


def test_room_may_be_named_before_or_after_the_command(room: Path, tmp_path: Path) -> None:
    """--room before the subcommand, behind it, or in NIGHTROUND_ROOM mean the same room."""
    other = tmp_path / "other.sqlite"
    room.rename(other)
    assert 1 == run("verify").exit_code
    assert 0 == run("verify", "--room", str(other)).exit_code
    assert 0 == run("--room", str(other), "verify").exit_code


def test_a_foreign_file_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    """A file that is no room is named as such and keeps every byte."""
    file = tmp_path / "holiday.jpg"
    file.write_bytes(b"not a room" * 50)
    for call in (["verify"], ["tonight"], ["start"]):
        done = run(*call, "--room", str(file), served=Served())
        assert 1 == done.exit_code
        assert "Name another file" in done.stderr
    assert b"not a room" * 50 == file.read_bytes()


def test_verify_says_how_many_entries_and_that_they_are_sound(room: Path) -> None:
    """`verify` on a sound room: the number of entries, exit code 0, the same in JSON."""
    number = entries(room)
    assert f"{number} entries, no faults" in run("verify").stdout
    told = json.loads(run("verify", "--json").stdout)
    assert {"entries": number, "clean": True, "faults": []} == told


def test_verify_finds_what_a_foreign_hand_did(room: Path) -> None:
    """An entry removed behind the program's back: exit code 1, the entry named on standard error."""
    import sqlite3

    connection = sqlite3.connect(room)
    connection.execute("DROP TRIGGER entry_no_delete")
    connection.execute("DELETE FROM entry WHERE number = 2")
    connection.commit()
    connection.close()
    done = run("verify")
    assert 1 == done.exit_code
    assert "entries are missing" in done.stderr and "entry_no_delete" in done.stderr


def test_verify_of_a_torn_file_is_a_refusal_not_a_traceback(room: Path) -> None:
    """A room whose pages are overwritten: exit code 1 and a message."""
    content = bytearray(room.read_bytes())
    for start in range(4096, len(content), 4096):
        content[start : start + 2048] = b"\xff" * 2048
    room.write_bytes(bytes(content))
    done = run("verify")
    assert 1 == done.exit_code
    assert done.stderr


def test_tonight_is_readable_at_80_columns_without_colour(room: Path) -> None:
    """The round in a pipe: no line beyond 80 columns, no escape codes, every animal with a job in it."""
    done = run("tonight", "--all", "--on", "2026-06-01")
    assert 0 == done.exit_code, done.stderr
    assert "\x1b" not in done.stdout
    assert [] == [line for line in done.stdout.splitlines() if len(line) > 80]
    for word in ("Tonight, 2026-06-01", "shelf A", "shelf B", "K12", "K07", "K09", "Cautions"):
        assert word in done.stdout
    assert 0 == run("tonight", "--why").exit_code


def test_tonight_as_json_has_every_animal_of_the_round(room: Path) -> None:
    """JSON of the round: the day, shelves in walking order, rows with jobs and their reasons."""
    told = json.loads(run("tonight", "--json", "--on", "2026-06-01").stdout)
    assert "2026-06-01" == told["on"] and told["invented"] is False
    rows = [row for shelf in told["shelves"] for row in shelf["rows"]]
    assert {"K12", "K07", "K09"} == {row["animal"] for row in rows}
    assert all(job["title"] and job["reason"] for row in rows for job in row["jobs"])


def test_animal_shows_what_is_known_and_names_the_nearest_codes(room: Path) -> None:
    """An animal's sheet, by any spelling of its code; an unknown code is refused with its neighbours."""
    done = run("animal", "k12", "--on", "2026-06-01")
    assert 0 == done.exit_code, done.stderr
    for word in ("K12, Brachypelma hamorii", "shelf B", "moulted", "Cautions"):
        assert word in done.stdout
    assert "K12" == json.loads(run("animal", "K12", "--json").stdout)["code"]
    unknown = run("animal", "K13")
    assert 1 == unknown.exit_code
    assert "got 'K13'" in unknown.stderr and "K12" in unknown.stderr


def test_forecast_in_a_table_names_who_is_asked_for(room: Path) -> None:
    """`forecast K12` shows K12 alone; an unknown code is refused."""
    done = run("forecast", "K12", "--on", "2026-06-01")
    assert 0 == done.exit_code, done.stderr
    assert "K12" in done.stdout and "K07" not in done.stdout
    assert [] == [line for line in done.stdout.splitlines() if len(line) > 80]
    assert 1 == run("forecast", "K99").exit_code


def test_what_lies_ahead_of_an_animal(room: Path) -> None:
    """Growth to come in both units and the what-if with its cautions; as JSON the whole report."""
    done = run("animal", "k12", "--ahead", "--on", "2026-06-01")
    assert 0 == done.exit_code, done.stderr
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    told = " ".join(done.stdout.split())
    for words in ("K12, what lies ahead", "Growth to come", "as expected", "1 °C (1.8 °F) warmer",
                  "Never heat a spider", "published figures only"):  # fmt: skip
        assert words in told, words
    report = json.loads(run("animal", "K12", "--ahead", "--on", "2026-06-01", "--json").stdout)
    assert [-2.0, -1.0, 0.0, 1.0, 2.0] == [row["shift_c"] for row in report["what_if"]["rows"]]
    assert 1 == run("animal", "K13", "--ahead").exit_code


def test_help_is_quick_and_lists_every_command() -> None:
    """`nightround --help` as a process of its own: every command of the contract that is reached."""
    done = subprocess.run(
        [sys.executable, "-m", "nightround", "--help"], capture_output=True, text=True, check=True
    )
    for name in (
        "start",
        "demo",
        "tonight",
        "jot",
        "animal",
        "forecast",
        "import",
        "export",
        "verify",
        "undo",
    ):
        assert f"  {name} " in done.stdout


def test_a_refusal_of_the_real_command_is_one_and_on_standard_error(own_room: Path) -> None:
    """The installed command, not the runner: exit codes 1 and 2 reach the shell, without a traceback."""
    refused = subprocess.run([sys.executable, "-m", "nightround", "tonight"], capture_output=True, text=True)
    assert (1, "") == (refused.returncode, refused.stdout)
    assert "Wanted a room at" in refused.stderr and "Traceback" not in refused.stderr
    misused = subprocess.run(
        [sys.executable, "-m", "nightround", "tonight", "--on", "soon"], capture_output=True, text=True
    )
    assert 2 == misused.returncode
    assert "wanted a day such as 2026-03-01; got 'soon'" in misused.stderr


def test_demo_has_a_room_of_its_own(own_room: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`demo` serves an invented room in the user data folder and leaves the keeper's room alone."""
    import nightround.simulate
    from nightround.desk import rooms

    small = nightround.simulate.room
    monkeypatch.setattr(nightround.simulate, "room", lambda **how: small(animals=4, years=0.2, **how))
    monkeypatch.setattr(rooms, "data_folder", lambda: tmp_path / "data")
    served = Served()
    first = run("demo", "--no-browser", "--port", "8124", served=served)
    assert 0 == first.exit_code, first.stderr
    assert "do not exist" in first.stdout or "does not exist" in first.stdout
    second = run("demo", "--no-browser", served=served)
    assert "Inventing" in first.stdout and "Inventing" not in second.stdout
    assert [True, True] == [call["invented"] for call in served.calls]
    assert {str(tmp_path / "data")} == {str(Path(call["room"]).parents[1]) for call in served.calls}
    assert not own_room.exists()
    assert [] == [path.name for path in (tmp_path / "data" / "demo").iterdir() if path.name.startswith(".")]
