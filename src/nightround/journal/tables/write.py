"""Writing plain tables: every entry into exactly one row of one table, so that reading gives it back."""

from __future__ import annotations

import csv
import os
import secrets
import shutil
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.journal.entries import Entry
from nightround.journal.issued import Issued
from nightround.journal.kinds import Amount
from nightround.journal.tables import forecasts
from nightround.journal.tables.amounts import AMOUNT_FIELDS, amount_of
from nightround.journal.tables.cells import Field, join_detail, number_text, survives, writer
from nightround.journal.tables.columns import Shape, Table
from nightround.journal.tables.descriptor import DESCRIPTOR, describe, exported_files
from nightround.journal.tables.layout import ANIMALS, MAY_BE_UNSAID, TABLES, table_of
from nightround.journal.tables.results import RoomSettings
from nightround.journal.tables.rows import HOW_SEXED


def rows_of(entries: Iterable[Entry]) -> dict[str, list[dict[str, str]]]:
    """Return the rows of every table as column → cell, in the order of the entries."""
    rows: dict[str, list[dict[str, str]]] = {name: [] for name in TABLES}
    arrived: set[str] = set()
    for entry in entries:
        table = table_of(entry.kind, entry.about.kind)
        if entry.kind == "arrived" and entry.corrects is None and entry.about.code not in arrived:
            arrived.add(entry.about.code)
            table = ANIMALS
        rows[table.name].append(_row(table, entry))
    return rows


def write_tables(
    entries: Iterable[Entry],
    directory: Path | str,
    clock: RoomClock,
    settings: RoomSettings | None = None,
    issued: Sequence[Issued] = (),
) -> dict[str, int]:
    """Write all tables and their descriptor into `directory`, whole or not at all; return rows by table.

    issued   forecasts of the track record; their table is left out where there are none

    A folder that is there is replaced only when it is empty or an earlier export. Raises Refusal.
    """
    target = Path(directory).absolute()
    _may_replace(target)
    rows = rows_of(entries)
    fresh = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        fresh.mkdir(parents=True)
        written = {name: _write(fresh, TABLES[name], rows[name]) for name in TABLES}
        if issued:
            written[forecasts.NAME] = fresh / forecasts.FILE
            _keep(written[forecasts.NAME], forecasts.forecasts_text(issued))
        (fresh / DESCRIPTOR).write_bytes(describe(written, clock, settings or RoomSettings()))
        _put_in_place(fresh, target)
    except OSError as error:
        raise Refusal(f"to write tables into {target}", got=error.strerror or str(error)) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    counts = {name: len(table_rows) for name, table_rows in rows.items()}
    return counts | ({forecasts.NAME: len(issued)} if issued else {})


def _keep(path: Path, text: str) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())


def _may_replace(target: Path) -> None:
    if not target.exists():
        return
    if not target.is_dir():
        raise Refusal(f"a folder to write to at {target}", got="a file", todo="Name another folder")
    there = {path.name for path in target.iterdir()}
    own = exported_files(target) or set()
    if strangers := sorted(there - own):
        raise Refusal(
            f"an empty folder or an earlier export at {target}",
            got=f"a folder that holds {', '.join(strangers[:3])}",
            todo="Name another folder, or move these files away",
        )  # fmt: skip


def _put_in_place(fresh: Path, target: Path) -> None:
    if not target.exists():
        os.rename(fresh, target)
        return
    old = target.with_name(f".{target.name}.{secrets.token_hex(4)}.old")
    os.rename(target, old)
    try:
        os.rename(fresh, target)
    except OSError:
        os.rename(old, target)
        raise
    shutil.rmtree(old)


def _write(folder: Path, table: Table, rows: list[dict[str, str]]) -> Path:
    path = folder / table.file
    names = [column.name for column in table.columns if column.role != "fahrenheit"]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer_ = csv.writer(stream, lineterminator="\n")
        quoting = csv.writer(stream, lineterminator="\n", quoting=csv.QUOTE_ALL)
        writer_.writerow(names)
        for row in rows:
            cells = [row.get(name, "") for name in names]
            # Before Python 3.13 a lone carriage return is not quoted on its own.
            (quoting if any("\r" in cell for cell in cells) else writer_).writerow(cells)
        stream.flush()
        os.fsync(stream.fileno())
    return path


# -- one row -----------------------------------------------------------------------------------------------


def _row(table: Table, entry: Entry) -> dict[str, str]:
    word, shape = _shape(table, entry)
    row = {
        "when": entry.when.text(), "number": str(entry.number), "written": entry.recorded.isoformat(),
        "device": entry.device, "key": entry.key, "intention": entry.intention,
        "corrects": "" if entry.corrects is None else str(entry.corrects),
    }  # fmt: skip
    cells = {_column(table, role): cell for role, cell in row.items()}
    if table.subject is None:
        cells["about"] = str(entry.about)
    elif table.subject != "room":
        cells[_column(table, "subject")] = entry.about.code
    if word:
        cells["entry"] = word
    detail = _body(shape, entry.body, cells)
    cells["detail"] = join_detail(detail)
    return cells


@cache
def _column_of(table: str, role: str) -> str:
    return TABLES[table].column(role)


def _column(table: Table, role: str) -> str:
    return _column_of(table.name, role)


def _shape(table: Table, entry: Entry) -> tuple[str, Shape]:
    shape = table.shapes.get("") or table.shapes.get(entry.kind)
    if shape is not None:
        return ("" if "" in table.shapes else entry.kind), shape
    word = getattr(entry.body, "how" if entry.kind == "lot_begun" else "what")
    return word, table.shapes[word]


def _body(shape: Shape, body: Any, cells: dict[str, str]) -> dict[str, str]:
    """Fill the columns from a body and return what only `detail` can hold."""
    fields = shape.fields
    columns = {name: column for column, name in shape.columns.items()}
    detail: dict[str, str] = {}
    amount = isinstance(body, Amount)
    for name, field in fields.items():
        if name in shape.fixed or (amount and name in AMOUNT_FIELDS):
            continue
        value = getattr(body, name)
        column = columns.get(name)
        if not _to_say(shape, field, value, column):
            continue
        text = writer(field)(value)
        if column and text and survives(field, value) and not _misread(shape, name, value, body):
            cells[column] = text
        else:
            detail[name] = text
    if amount:
        _amount(shape, body, cells, detail)
    if shape.kind.name == "sexed" and not body.note and detail.get("how") in HOW_SEXED:
        cells["note"] = detail.pop("how")
    return detail


def _to_say(shape: Shape, field: Field, value: Any, column: str | None) -> bool:
    """Whether the value must be written: defaults are what an empty cell means, unless none may be empty."""
    if value is None:
        return False
    if field.must_be_said or field.name in MAY_BE_UNSAID.get(shape.kind.name, ()):
        return True
    return bool(value != field.default)


def _misread(shape: Shape, name: str, value: Any, body: Any) -> bool:
    """Whether reading would take a sexed note for the way it was sexed."""
    if shape.kind.name != "sexed" or name != "note":
        return False
    return body.how == "" and value.strip().lower() in HOW_SEXED


def _amount(shape: Shape, body: Any, cells: dict[str, str], detail: dict[str, str]) -> None:
    """Write a quantity as it was written; what reading would make otherwise goes to detail."""
    value = body.written or ("" if body.value is None else number_text(body.value))
    unit = body.written_unit or body.unit
    try:
        read = amount_of(value, unit, shape.dimension(getattr(body, "item", "")))
    except NotReadable:
        value, unit, read = "", "", {}
    cells["value"], cells["unit"] = value, unit
    for name in AMOUNT_FIELDS:
        have = getattr(body, name)
        if have != read.get(name, None if name == "value" else ""):
            detail[name] = "" if have is None else number_text(have) if name == "value" else have
