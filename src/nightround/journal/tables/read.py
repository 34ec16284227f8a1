"""Reading plain tables: a folder of them, or one file."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from nightround.foundation.clock import RoomClock
from nightround.foundation.collector import collector_paused
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
from nightround.journal.issued import Issued
from nightround.journal.tables import forecasts, pasted
from nightround.journal.tables.assemble import assemble
from nightround.journal.tables.columns import Table
from nightround.journal.tables.csvfile import header_faults, named, numbered_rows, text_of
from nightround.journal.tables.descriptor import read_settings
from nightround.journal.tables.layout import TABLES
from nightround.journal.tables.loose import DateOrder
from nightround.journal.tables.rejects import REJECTS_ENDING, own_columns
from nightround.journal.tables.results import FileRead, RefusedRow, RowRefusal, TablesRead
from nightround.journal.tables.rows import Moments, Row, TableReader


class _Reading:
    """What has been read so far, over all files."""

    def __init__(self, clock: RoomClock) -> None:
        self.moments = Moments(clock)
        self.rows: list[Row] = []
        self.refusals: list[RowRefusal] = []
        self.files: list[FileRead] = []
        self.lost_animals: dict[str, RowRefusal] = {}
        self.lost_numbers: set[int] = set()
        self.issued: list[Issued] = []

    def result(self, known: Collection[Ref], path: Path) -> TablesRead:
        """Put the rows of all files together."""
        done = assemble(self.rows, known, self.lost_animals, self.lost_numbers)
        files = tuple(
            replace(file, refused=_by_line((*file.refused, *done.refused.get(file.file, ()))))
            for file in self.files
        )
        order = {file.file: position for position, file in enumerate(files)}
        refusals = sorted((*self.refusals, *done.refusals), key=lambda fault: (order[fault.file], fault.row))
        settings = read_settings(path) if path.is_dir() else None
        return TablesRead(
            tuple(done.drafts), tuple(refusals), files, tuple(done.origins), done.repeated, settings,
            issued=tuple(self.issued),
        )  # fmt: skip


def _by_line(rows: Sequence[RefusedRow]) -> tuple[RefusedRow, ...]:
    return tuple(sorted(rows, key=lambda row: row.row))


def read_tables(
    path: Path | str,
    clock: RoomClock,
    *,
    known: Collection[Ref] = (),
    on: date | None = None,
    dates: DateOrder = "ask",
) -> TablesRead:
    """Read a folder of plain tables, or one file of them (or a pasted list in a file).

    A file's name says which table it is; a single file of another name is judged by its header.
    known   what the room knows already, so that entries about its animals are accepted
    on      the day that a pasted list describes (default: the room's today)
    dates   how a pasted list's days such as 3/4/2026 are read; tables take ISO days only
    Faults of rows and files come back in `refusals`. Raises NotReadable when there is nothing to read.
    """
    with collector_paused():  # 100,000 rows make no cycles
        return _read(Path(path), clock, known, on, dates)


def _read(
    path: Path, clock: RoomClock, known: Collection[Ref], on: date | None, dates: DateOrder
) -> TablesRead:
    reading = _Reading(clock)
    if path.is_dir():
        for file in _tables_in(path):
            if _table_name(file) == forecasts.NAME:
                _read_issued(reading, file)
            else:
                _read_file(reading, file, TABLES.get(_table_name(file)))
    elif path.is_file() and _table_name(path) == forecasts.NAME:
        _read_issued(reading, path)
    elif path.is_file():
        table = TABLES.get(_table_name(path)) or _judged(path)
        if table is None:
            return pasted.read_pasted_list(
                text_of(path), clock, on or clock.today(), known=known, file=path.name, dates=dates
            )
        _read_file(reading, path, table)
    else:
        raise NotReadable("a folder of plain tables or one CSV file", got=f"nothing at {path.name!r}")
    return reading.result(known, path)


def _read_issued(reading: _Reading, path: Path) -> None:
    found, refusals, file = forecasts.read_forecasts(path)
    reading.issued += found
    reading.refusals += refusals
    reading.files.append(file)


def _tables_in(folder: Path) -> list[Path]:
    files = [file for file in sorted(folder.iterdir()) if file.suffix.lower() == ".csv" and file.is_file()]
    files = [file for file in files if not file.name.lower().endswith(REJECTS_ENDING)]
    if not files:
        raise NotReadable(
            f"plain tables in the folder {folder.name!r}", got="none",
            todo="Name its files as the tables are named: " + ", ".join(t.file for t in TABLES.values()),
        )  # fmt: skip
    order = list(TABLES)
    return sorted(files, key=lambda file: order.index(name) if (name := _table_name(file)) in order else 99)


def _table_name(file: Path) -> str:
    name = file.name.lower().removesuffix(REJECTS_ENDING).removesuffix(".csv")
    return name.strip().replace(" ", "_").replace("-", "_")


def _judged(path: Path) -> Table | None:
    """Return the one table whose columns a file's header fits, None for what may be a pasted list."""
    first = next((cells for _, cells, _ in numbered_rows(text_of(path)) if any(cells)), [])
    names = named(first)
    header = set(names[: own_columns(names)])
    fits = [
        t for t in TABLES.values() if header <= set(t.names) and set(t.needed) <= header and len(header) > 1
    ]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise NotReadable(
            "a header that fits one table only", got=f"one that fits {' and '.join(t.file for t in fits)}",
            todo=f"Name the file {' or '.join(t.file for t in fits)}",
        )  # fmt: skip
    if pasted.looks_like_list(text_of(path), needs_header=path.suffix.lower() == ".csv"):
        return None
    nearest = max(TABLES.values(), key=lambda t: len(header & set(t.names)))
    raise NotReadable(
        "a table's name, or a header that fits a table",
        got=f"{path.name!r} with {', '.join(first) or 'nothing in it'}",
        todo=f"Name it as the table it is, such as {nearest.file}, with columns {', '.join(nearest.names)}",
    )


def _read_file(reading: _Reading, path: Path, table: Table | None) -> None:
    file = path.name
    faults: list[RowRefusal] = []
    rows: list[tuple[int, list[str], str]] = []
    try:
        rows = [row for row in numbered_rows(text_of(path)) if row[2] or any(map(str.strip, row[1]))]
    except NotReadable as fault:
        faults = [RowRefusal(file, 0, "", fault.got or "", fault.wanted, fault.todo or "", True)]
    if table is None:
        near = difflib.get_close_matches(_table_name(path), TABLES, n=1) or ["entries"]
        names = ", ".join(t.file for t in TABLES.values())
        todo = f"Rename it (to {near[0]}.csv?) or move it out of the folder"
        faults = [RowRefusal(file, 0, "", repr(file), f"one of the tables {names}", todo, True)]
    elif not faults and not rows:
        faults = [
            RowRefusal(file, 1, "", "an empty file", "a header row: " + ", ".join(table.names), "", True)
        ]
    header: list[str] = []
    if table is not None and rows and not faults:
        width, own = len(rows[0][1]), _own_columns(rows)
        header = named(rows[0][1])[:own]
        rows = [(line, cells[:own] if len(cells) == width else cells, fault) for line, cells, fault in rows]
        faults = header_faults(file, rows[0][0], header, table.names, table.needed)
    if faults or table is None:
        reading.refusals += faults
        reading.files.append(
            FileRead(file, table.name if table else "", tuple(header), max(0, len(rows) - 1))
        )
        return
    refused = _read_rows(reading, TableReader(table, header, file, reading.moments), rows[1:])
    reading.files.append(FileRead(file, table.name, tuple(rows[0][1]), len(rows) - 1, tuple(refused)))


def _own_columns(rows: Sequence[tuple[int, list[str], str]]) -> int:
    """Return how many columns are the table's own: not a rejects file's four, nor empty ones at the end."""
    header = named(rows[0][1])
    own = own_columns(header)
    while own and not header[own - 1] and not any(len(c) >= own and c[own - 1].strip() for _, c, _ in rows):
        own -= 1
    return own


def _read_rows(
    reading: _Reading, reader: TableReader, rows: Sequence[tuple[int, list[str], str]]
) -> list[RefusedRow]:
    refused: list[RefusedRow] = []
    width = len(reader.header)
    faults = reader.faults
    for line, cells, fault in rows:
        faults.line = line
        if fault:
            faults.say("", "cells with their quotes in pairs", fault, "Double a quote inside a quoted cell")
        elif len(cells) != width:
            faults.say("", f"{width} cells, as in the header", f"{len(cells)}",
                       "Put cells that hold a comma or a line break into quotes")  # fmt: skip
        elif (row := reader.read(line, cells)) is not None:
            reading.rows.append(row)
            continue
        refused.append(RefusedRow(line, tuple(cells)))
        _remember_lost(reading, reader, cells)
    reading.refusals += faults.refusals
    return refused


def _remember_lost(reading: _Reading, reader: TableReader, cells: Sequence[str]) -> None:
    header = list(reader.header)
    if len(cells) != len(header):
        return
    if reader.table.name == "animals":
        code = cells[header.index("animal")].strip()
        reading.lost_animals.setdefault(code, reader.faults.refusals[-1])
    column = reader.table.column("number")
    if column in header and (number := cells[header.index(column)].strip()).isdecimal():
        reading.lost_numbers.add(int(number))
