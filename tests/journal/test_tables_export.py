"""Writing tables: whole or not at all, described by an open standard, acts kept apart."""

from __future__ import annotations

import csv
import hashlib
import json
import os
from datetime import UTC, date, datetime, time
from pathlib import Path

import jsonschema
import pytest

from nightround.foundation.clock import RoomClock, fixed
from nightround.foundation.refusal import Refusal
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Entry, Ref
from nightround.journal.kinds.animal import Arrived, Measured, Sexed
from nightround.journal.kinds.knowledge import TakenBack
from nightround.journal.store import Journal
from nightround.journal.tables import RoomSettings, read_tables, write_tables
from nightround.journal.tables.layout import TABLES
from nightround.record.corrections import standing_entries

CLOCK = RoomClock("Europe/Lisbon", time(5))
WRITTEN = datetime(2026, 3, 1, 21, 30, tzinfo=UTC)
K1 = Ref("animal", "K1")
DAY = on_day(date(2026, 3, 1))

# Rules of the Data Package standard, version 2 (https://datapackage.org/standard/), typed from memory of its
# pages data-package, data-resource and table-schema: what must be there and of which form.
DATA_PACKAGE = {
    "type": "object",
    "required": ["resources"],
    "properties": {
        "$schema": {"const": "https://datapackage.org/profiles/2.0/datapackage.json"},
        "name": {"type": "string", "pattern": "^[a-z0-9._/-]+$"},
        "title": {"type": "string"},
        "created": {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)$"},
        "resources": {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "required": ["name", "path"],
                "properties": {
                    "name": {"type": "string", "pattern": "^[a-z0-9._/-]+$"},
                    "path": {"type": "string", "pattern": r"^(?!/|~)(?!.*\.\.).*$"},
                    "type": {"const": "table"},
                    "encoding": {"type": "string"},
                    "mediatype": {"type": "string", "pattern": "^(.+)/(.+)$"},
                    "bytes": {"type": "integer", "minimum": 0},
                    "hash": {"type": "string", "pattern": "^sha256:[0-9a-f]{64}$"},
                    "schema": {
                        "type": "object",
                        "required": ["fields"],
                        "properties": {
                            "fields": {
                                "type": "array",
                                "minItems": 1,
                                "items": {
                                    "type": "object",
                                    "required": ["name"],
                                    "properties": {
                                        "name": {"type": "string"},
                                        "type": {"enum": ["string", "number", "integer", "any"]},
                                    },
                                },
                            },
                            "missingValues": {"type": "array", "items": {"type": "string"}},
                        },
                    },
                },
            },
        },
    },
}  # fmt: skip


def entry(number: int, body: Arrived | Measured | Sexed, corrects: int | None = None) -> Entry:
    kind = {Arrived: "arrived", Measured: "measured", Sexed: "sexed"}[type(body)]
    return Entry(number, kind, K1, DAY, body, WRITTEN, "phone", f"k{number}", corrects, "tap")


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """The rows of an exported table, without empty cells."""
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return [{key: cell for key, cell in row.items() if cell} for row in csv.DictReader(stream)]


BOOK = {"written": "2026-03-01T21:30:00+00:00", "device": "phone", "intention": "tap"}


def test_the_state_at_arrival_stands_in_animals_and_everything_else_in_entries(tmp_path: Path) -> None:
    """A later word on the arrival is a row of entries.csv that corrects the first; sizes stay as written."""
    size = Measured(item="mass", value=0.0202, unit="g", written="20.2", written_unit="mg", on="live")
    write_tables(
        [entry(1, Arrived(taxon="T", place="shelf B")), entry(2, Arrived(taxon="U"), 1), entry(3, size),
         entry(4, Sexed(sex="female", how="exuvia"))],
        tmp_path / "out", CLOCK,
    )  # fmt: skip
    assert [
        {"animal": "K1", "taxon": "T", "arrived": "2026-03-01", "place": "shelf B", "entry_number": "1",
         "key": "k1", **BOOK}
    ] == rows(tmp_path / "out", "animals")  # fmt: skip
    common = {"when": "2026-03-01", "animal": "K1", **BOOK}
    assert [
        {**common, "entry": "arrived", "item": "U", "number": "2", "key": "k2", "corrects": "1"},
        {**common, "entry": "measured", "item": "mass", "value": "20.2", "unit": "mg", "detail": "on=live",
         "number": "3", "key": "k3"},
        {**common, "entry": "sexed", "item": "female", "note": "exuvia", "number": "4", "key": "k4"},
    ] == rows(tmp_path / "out", "entries")  # fmt: skip


def test_the_descriptor_follows_the_standard_and_fits_the_files(tmp_path: Path) -> None:
    """Every table is a resource with its columns, size and hash; the room's settings come back."""
    settings = RoomSettings("Spare room", "Europe/Lisbon", time(5), invented=True)
    with fixed(WRITTEN):
        write_tables([entry(1, Arrived(taxon="T"))], tmp_path / "out", CLOCK, settings)
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    jsonschema.Draft7Validator.check_schema(DATA_PACKAGE)
    jsonschema.validate(package, DATA_PACKAGE)
    assert [table.file for table in TABLES.values()] == [
        resource["path"] for resource in package["resources"]
    ]
    for resource in package["resources"]:
        content = (tmp_path / "out" / resource["path"]).read_bytes()
        assert f"sha256:{hashlib.sha256(content).hexdigest()}" == resource["hash"]
        header = content.decode().splitlines()[0].split(",")
        assert header == [field["name"] for field in resource["schema"]["fields"]]
    assert settings == read_tables(tmp_path / "out", CLOCK).settings
    assert "INVENTED" in package["description"]


def test_an_earlier_export_is_replaced_and_foreign_files_are_left_alone(tmp_path: Path) -> None:
    """A folder with a file of somebody else's is refused, whether or not it was an export."""
    out = tmp_path / "out"
    write_tables([entry(1, Arrived(taxon="T"))], out, CLOCK)
    assert {"animals": 1} == {k: n for k, n in write_tables([entry(1, Arrived())], out, CLOCK).items() if n}
    assert [out] == list(tmp_path.iterdir())
    (out / "holiday.txt").write_text("mine")
    with pytest.raises(Refusal, match=r"holiday\.txt"):
        write_tables([], out, CLOCK)
    assert "mine" == (out / "holiday.txt").read_text()
    (tmp_path / "file").write_text("mine")
    with pytest.raises(Refusal, match="got a file"):
        write_tables([], tmp_path / "file", CLOCK)


def test_a_failed_export_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails in the middle, the earlier export is untouched and nothing half-written stays."""
    out = tmp_path / "out"
    write_tables([entry(1, Arrived(taxon="T"))], out, CLOCK)
    before = (out / "animals.csv").read_bytes()
    sync = os.fsync
    calls = []

    def full(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) > 3:
            raise OSError(28, "No space left on device")
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Refusal, match="No space left"):
        write_tables([], out, CLOCK)
    assert before == (out / "animals.csv").read_bytes()
    assert [out] == list(tmp_path.iterdir())


def test_what_was_taken_back_stays_so_and_the_import_can_be_taken_back(tmp_path: Path) -> None:
    """An act void in the first room is void in the second; taking the import back voids all of it."""
    with Journal.create(tmp_path / "first", time_zone="UTC") as first:
        first.append([Draft(K1, DAY, Arrived(taxon="T"), key="a")], intention="kept")
        first.append([Draft(K1, DAY, Sexed(sex="male"), key="b")], intention="mistake")
        first.append([Draft(ROOM, DAY, TakenBack(intention="mistake"), key="c")])
        write_tables(first.entries(), tmp_path / "out", first.clock)
    with Journal.create(tmp_path / "second", time_zone="UTC") as second:
        second.append(read_tables(tmp_path / "out", second.clock).drafts, intention="import")
        assert frozenset({2, 3}) == standing_entries(second.entries()).void
        second.append([Draft(ROOM, DAY, TakenBack(intention="import"))])
        assert frozenset({1, 2, 3, 4}) == standing_entries(second.entries()).void
