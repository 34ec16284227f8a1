"""`import` and `export`: dry run, all or nothing, good rows kept, taken back as one, recorded data."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from cli.test_commands import LIST, entries, run
from nightround.desk.desk import Desk
from nightround.journal.entries import Entry

GOOD = "when,animal,entry,item,value,unit\n2026-03-01,K1,measured,mass,3.2,g\n"
BAD = GOOD + "2026-03-02,K1,measured,mass,about 3,g\n2026-03-03,K9,moulted,,,\n"


@pytest.fixture
def tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of plain tables with two faults; the current folder is another."""
    folder = tmp_path / "tables"
    folder.mkdir()
    (folder / "animals.csv").write_text("animal,taxon,arrived\nK1,Brachypelma hamorii,2026-01-01\n")
    (folder / "entries.csv").write_text(BAD)
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    return folder


def content(entry: Entry) -> tuple[object, ...]:
    """What an entry says, whatever its number and whenever it was written."""
    return entry.kind, entry.about, entry.when, entry.body, entry.corrects, entry.key


def test_a_dry_run_says_everything_and_writes_nothing(own_room: Path, tables: Path) -> None:
    """Without --commit: what would be written, every refused row with its remedy; no room."""
    done = run("import", str(tables))
    assert 0 == done.exit_code, done.stderr
    for words in (
        "would be created",
        "entries.csv: 3 rows, 2 refused",
        "entries.csv, row 3, value: wanted a plain number such as 14.5, got 'about 3'.",
        "entries.csv, row 4, animal: wanted an animal that these tables or the room know, got 'K9'.",
        "Would write: 2 entries, 1 new animal",
        "Nothing was written",
    ):
        assert words in done.stdout
    assert not own_room.exists()


def test_a_dry_run_leaves_a_room_as_it_is(own_room: Path, tables: Path) -> None:
    """In a room that is there: the same figures and the same problems as the commit, and no entry written."""
    (tables / "entries.csv").write_text(
        "when,animal,entry\n2026-02-01,K12,died\n2026-03-05,K12,moulted\n2026-03-01,K1,moulted\n"
    )
    assert 0 == run("import", "-", "--commit", "--time-zone", "UTC", told=LIST).exit_code
    before = entries(own_room)
    dry = run("import", str(tables))
    assert before == entries(own_room)
    assert "Would write: 4 entries, 1 new animal" in dry.stdout
    wet = run("import", str(tables), "--commit")
    assert "Written: 4 entries, 1 new animal" in wet.stdout
    problems = [line for line in dry.stdout.splitlines() if line.startswith("  animal")]
    assert any("K12 died" in line for line in problems)
    assert problems == [line for line in wet.stdout.splitlines() if line.startswith("  animal")]
    assert before + 4 == entries(own_room)


def test_commit_is_all_or_nothing(own_room: Path, tables: Path) -> None:
    """--commit with refused rows: exit code 1, the rows on standard error, and no room left behind."""
    done = run("import", str(tables), "--commit")
    assert 1 == done.exit_code
    assert "entries.csv, row 3, value" in done.stderr
    assert "2 refused rows of 4; nothing was written" in done.stderr
    assert not own_room.exists()
    assert 0 == run("import", "-", "--commit", "--time-zone", "UTC", told=LIST).exit_code
    before = entries(own_room)
    assert 1 == run("import", str(tables), "--commit").exit_code
    assert before == entries(own_room)


def test_keep_good_writes_the_others_and_a_rejects_file(own_room: Path, tables: Path) -> None:
    """--keep-good: good rows in the room, bad rows in a file that can be mended and imported."""
    done = run("import", str(tables), "--commit", "--keep-good", "--time-zone", "UTC")
    assert 0 == done.exit_code, done.stderr
    assert 2 == entries(own_room)
    rejects = Path.cwd() / "entries.rejects.csv"
    assert [("3", "about 3"), ("4", "")] == [(row["row"], row["value"]) for row in rows(rejects)]
    mended = rejects.read_text().replace('"about 3"', "3").replace("about 3,g", "3,g").replace(",K9,", ",K1,")
    rejects.write_text(mended)
    again = run("import", str(rejects), "--commit")
    assert 0 == again.exit_code, again.stderr
    assert 4 == entries(own_room)


def test_a_rejects_file_that_is_there_is_not_overwritten(own_room: Path, tables: Path) -> None:
    """Somebody may be mending the earlier file: the next one goes into a folder of its own."""
    earlier = Path.cwd() / "entries.rejects.csv"
    earlier.write_text("half mended")
    done = run("import", str(tables), "--commit", "--keep-good")
    assert 0 == done.exit_code, done.stderr
    assert "half mended" == earlier.read_text()
    assert 1 == len(list(Path.cwd().glob("rejects-import-*/entries.rejects.csv")))


def test_importing_twice_adds_nothing_and_taking_back_takes_all(own_room: Path, tables: Path) -> None:
    """The same rows again: nothing new. Taken back: nothing stands. Imported again: everything stands."""
    (tables / "entries.csv").write_text(GOOD)
    first = run("import", str(tables), "--commit")
    assert 0 == first.exit_code, first.stderr
    again = run("import", str(tables), "--commit")
    assert "Written: 0 entries" in again.stdout and "In the room already: 2 rows." in again.stdout
    act = re.search(r"--take-back (\S+)", first.stdout)
    assert act is not None
    back = run("import", "--take-back", act[1])
    assert 0 == back.exit_code and "Took back 2 entries." in back.stdout
    with Desk.open(own_room) as desk:
        assert {} == dict(desk.record().animals)
    assert "taken back already" in run("import", "--take-back", act[1]).stdout
    third = run("import", str(tables), "--commit")
    assert "Written: 2 entries" in third.stdout
    assert "Written: 0 entries" in run("import", str(tables), "--commit").stdout
    with Desk.open(own_room) as desk:
        assert ["K1"] == list(desk.record().animals)
    assert 1 == run("import", "--take-back", "import-nothing").exit_code


def test_a_small_import_is_undone_and_made_again(own_room: Path) -> None:
    """`undo` of an import is the same as taking it back: the mended list can come in after it."""
    first = run("import", "-", "--commit", "--time-zone", "UTC", told=LIST)
    act = re.search(r"--take-back (\S+)", first.stdout)
    assert act is not None
    assert 0 == run("undo", act[1]).exit_code
    assert 0 == run("import", "-", "--commit", told=LIST).exit_code
    with Desk.open(own_room) as desk:
        assert {"K12", "K07", "K09"} == set(desk.record().animals)


def test_a_changed_row_under_an_old_key_is_named(own_room: Path, tables: Path, tmp_path: Path) -> None:
    """An exported row edited in place keeps its key: it is refused by file and row, nothing is written."""
    (tables / "entries.csv").write_text(GOOD)
    assert 0 == run("import", str(tables), "--commit").exit_code
    assert 0 == run("export", str(tmp_path / "out")).exit_code
    exported = tmp_path / "out" / "entries.csv"
    exported.write_text(exported.read_text().replace("3.2,g", "4.2,g"))
    done = run("import", str(exported), "--commit")
    assert 1 == done.exit_code
    assert re.search(r"entries\.csv, row 2, key: .*corrects", done.stderr)
    assert 2 == entries(own_room)


def test_a_pasted_list_file_works_too(own_room: Path, tmp_path: Path) -> None:
    """`import list.txt`: a list with a line for each animal."""
    file = tmp_path / "list.txt"
    file.write_text(LIST)
    done = run("import", str(file), "--commit", "--time-zone", "Europe/Lisbon")
    assert 0 == done.exit_code, done.stderr
    assert "3 new animals" in done.stdout


def test_the_same_list_on_another_day_measures_nothing_anew(own_room: Path) -> None:
    """A list's sizes are dated by the day it is pasted; a second day must not make a second measurement."""
    from datetime import UTC, datetime

    from nightround.foundation.clock import fixed

    with fixed(datetime(2026, 6, 1, 12, tzinfo=UTC)):
        assert 0 == run("import", "-", "--commit", "--time-zone", "UTC", told=LIST).exit_code
    before = entries(own_room)
    with fixed(datetime(2026, 6, 9, 12, tzinfo=UTC)):
        again = run("import", "-", "--commit", told=LIST)
        assert "Written: 0 entries" in again.stdout
        assert f"In the room already: {before} rows." in again.stdout
        grown = run("import", "-", "--commit", told=LIST.replace("4.5 cm", "5.5 cm"))
    assert "Written: 1 entry" in grown.stdout


def test_nothing_to_read_is_refused(own_room: Path, tmp_path: Path) -> None:
    """A path with nothing there, an empty folder, a file of another kind: exit code 1, no room."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    for name in ("absent", "empty", "picture.csv"):
        done = run("import", str(tmp_path / name), "--commit")
        assert 1 == done.exit_code, name
        assert "Wanted" in done.stderr
    assert not own_room.exists()


def test_the_exports_time_zone_is_taken_over(own_room: Path, tmp_path: Path) -> None:
    """A new room made of an export has its time zone; export and import give the same entries."""
    assert 0 == run("import", "-", "--commit", "--time-zone", "America/Denver", told=LIST).exit_code
    assert 0 == run("jot", "--yes", "K12 took 2 crickets; K07 note odd; shelf B 19.5 C").exit_code
    assert 0 == run("export", str(tmp_path / "out")).exit_code
    other = str(tmp_path / "other.sqlite")
    assert 0 == run("import", str(tmp_path / "out"), "--commit", "--room", other).exit_code
    with Desk.open(own_room) as one, Desk.open(other) as two:
        assert "America/Denver" == two.journal.clock.zone_name
        assert [content(e) for e in one.entries()] == [content(e) for e in two.entries()]
    again = run("import", str(tmp_path / "out"), "--commit")
    assert "Written: 0 entries" in again.stdout, again.stderr


# -- recorded data beside the project -------------------------------------------------------------------


def rows(path: Path) -> list[dict[str, str]]:
    """The data rows of one table."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def rows_of(folder: Path) -> int:
    """The number of data rows of all tables in a folder."""
    return sum(len(rows(path)) for path in folder.glob("*.csv"))


@pytest.fixture(scope="module")
def crab_room(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A room of the 180 crabs (data set crab-2012, described in its README), imported by the command."""
    room = tmp_path_factory.mktemp("crabs") / "crabs.sqlite"
    done = run(
        "import", str(shared_data / "crab-2012"), "--commit", "--room", str(room), "--time-zone", "UTC"
    )
    assert 0 == done.exit_code, done.stderr
    return room


def test_every_crab_and_every_row_goes_in(crab_room: Path, shared_data: Path) -> None:
    """180 animals and one entry for each row; records that disagree raise problems instead of refusals."""
    with Desk.open(crab_room) as desk:
        record = desk.record()
        assert 180 == len(record.animals)
        assert rows_of(shared_data / "crab-2012") == len(desk.entries())
        told = {problem.subject for problem in record.problems}
        assert desk.verify().clean
    # Their README: 'a few dates and masses are surely wrong'. Found by hand in entries.csv: entries of
    # C1-18 and C1-25 dated December 2013, ten months after the study ended.
    assert {"animal C1-18", "animal C1-25"} <= told


def test_the_forecast_keeps_the_shape_of_the_contract(crab_room: Path) -> None:
    """`forecast --json`: the keys, texts, dates and nulls that other programs rely on."""
    done = run("forecast", "--on", "2012-12-01", "--json", "--room", str(crab_room))
    assert 0 == done.exit_code, done.stderr
    told = json.loads(done.stdout)
    assert ["on", "animals"] == list(told) and "2012-12-01" == told["on"]
    with Desk.open(crab_room) as desk:
        from datetime import date

        living = desk.record(date(2012, 12, 1)).living()
    assert sorted(animal.code for animal in living) == sorted(row["animal"] for row in told["animals"])
    keys = ["animal", "taxon", "last_moult", "days_since", "last_look", "may_have_moulted_unseen",
            "next_moult", "next_size", "mature"]  # fmt: skip
    levels = [f"{step / 20:.2f}" for step in range(1, 20)]
    days = ["1", "2", "3", "5", "7", "10", "14", "21", "30", "45", "60", "90", "120", "180", "365"]
    for row in told["animals"]:
        assert keys == list(row)
        assert row["last_moult"] is None or re.fullmatch(r"\d{4}-\d\d-\d\d", row["last_moult"])
        assert (row["last_moult"] is None) == (row["days_since"] is None)
        assert 0 <= row["may_have_moulted_unseen"] <= 1
        moult = row["next_moult"]
        assert ["quantiles_days", "within_days", "n_animals", "n_intervals", "method", "reasons"] == list(
            moult
        )
        assert levels == list(moult["quantiles_days"]) and days == list(moult["within_days"])
        reached = [value for value in moult["quantiles_days"].values() if value is not None]
        assert sorted(reached) == reached and all(value >= 0 for value in reached)
        chances = list(moult["within_days"].values())
        assert sorted(chances) == chances and 0 <= chances[0] and chances[-1] <= 1
        if row["next_size"] is not None:
            assert ["kind", "unit", "quantiles"] == list(row["next_size"])
            assert ("carapace_length", "mm") == (row["next_size"]["kind"], row["next_size"]["unit"])


def test_later_entries_change_no_digit(crab_room: Path, shared_data: Path, tmp_path: Path) -> None:
    """The forecast as of a day from a journal without later entries: the same text to the last digit."""
    day = "2012-11-15"
    cut = tmp_path / "cut"
    cut.mkdir()
    for path in (shared_data / "crab-2012").glob("*.csv"):
        table = rows(path)
        when = "arrived" if path.name == "animals.csv" else "when"
        with (cut / path.name).open("w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(table[0]))
            writer.writeheader()
            writer.writerows(row for row in table if row[when].rpartition("/")[2] <= day)
    room = tmp_path / "cut.sqlite"
    assert 0 == run("import", str(cut), "--commit", "--room", str(room), "--time-zone", "UTC").exit_code
    whole = run("forecast", "--on", day, "--json", "--room", str(crab_room))
    part = run("forecast", "--on", day, "--json", "--room", str(room))
    assert whole.stdout == part.stdout


def test_the_diaries_size_about_10_is_named(
    own_room: Path, shared_data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """tarantula-diaries: 'about 10' is refused by file, row and field; the rest goes in with --keep-good.

    Interval dates come out of an export as they went in.
    """
    monkeypatch.chdir(tmp_path)
    folder = shared_data / "tarantula-diaries"
    done = run("import", str(folder), "--commit", "--time-zone", "UTC")
    assert 1 == done.exit_code
    assert "entries.csv, row 2, value: wanted a plain number such as 14.5, got 'about 10'." in done.stderr
    assert not own_room.exists()
    kept = run("import", str(folder), "--commit", "--keep-good", "--time-zone", "UTC")
    assert 0 == kept.exit_code, kept.stderr
    assert rows_of(folder) - 1 == entries(own_room)
    assert "about 10" in (tmp_path / "entries.rejects.csv").read_text()
    assert 0 == run("export", str(tmp_path / "out")).exit_code
    came = sorted(row["when"] for row in rows(folder / "entries.csv") if "/" in row["when"])
    out = rows(tmp_path / "out" / "entries.csv")
    assert came and came == sorted(row["when"] for row in out if "/" in row["when"])
    other = str(tmp_path / "other.sqlite")
    assert 0 == run("import", str(tmp_path / "out"), "--commit", "--room", other).exit_code
    with Desk.open(own_room) as one, Desk.open(other) as two:
        assert [content(e) for e in one.entries()] == [content(e) for e in two.entries()]


def test_a_new_room_that_cannot_be_filled_is_not_left_behind(
    own_room: Path, tables: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk fills up while the first import is written: no room, no part of one, and a refusal."""
    from nightround.foundation.refusal import RoomRefusal
    from nightround.journal.store import Journal

    def full(*_: object, **__: object) -> None:
        raise RoomRefusal("to read and write the room", got="database or disk is full")

    (tables / "entries.csv").write_text(GOOD)
    monkeypatch.setattr(Journal, "append", full)
    done = run("import", str(tables), "--commit")
    assert 1 == done.exit_code and "disk is full" in done.stderr
    assert [] == [path.name for path in own_room.parent.iterdir() if "sqlite" in path.name]


def test_a_rule_that_nobody_knows_is_told_before_it_is_written(own_room: Path, tables: Path) -> None:
    """A misspelt rule would silently change nothing: the dry run names it with the nearest names."""
    (tables / "entries.csv").write_text(
        "when,animal,entry,item,value\n2026-03-01,K1,rule_set,feed_juvenil_days,10\n"
    )
    done = run("import", str(tables))
    assert "Would raise: 1 problem" in done.stdout
    assert "feed_juvenile_days" in done.stdout


def test_a_lists_order_of_day_and_month_is_told(own_room: Path, tmp_path: Path) -> None:
    """3/4/2026 is refused; with --dates it is a day."""
    path = tmp_path / "list.txt"
    path.write_text("K1\tIdiops sp.\tshelf B\t4,5 cm\t3/4/2026\n")
    assert "order of day and month is clear" in run("import", str(path)).stdout
    done = run("import", str(path), "--dates", "day-first", "--commit")
    assert 0 == done.exit_code
    with Desk.open(str(own_room)) as desk:
        (moult,) = [entry for entry in desk.entries() if entry.kind == "moulted"]
    assert "2026-04-03" == moult.when.text()
