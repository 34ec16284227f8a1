"""A pasted list of animals: code, taxon, shelf, leg span, last moult. Enough for the first day."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Collection, Sequence
from datetime import date
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import UNKNOWN, When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.animal import Arrived, Measured, Moulted
from nightround.journal.tables.amounts import AmountFault, amount_of
from nightround.journal.tables.assemble import assemble
from nightround.journal.tables.csvfile import named
from nightround.journal.tables.loose import DateOrder, loose_length, loose_when
from nightround.journal.tables.results import FileRead, RefusedRow, RowRefusal, TablesRead
from nightround.journal.tables.rows import Row

COLUMNS = ("code", "taxon", "shelf", "span", "last moult")
"""The list's columns, in the order that is meant when there is no header."""

_SPELLINGS = {
    "code": "code", "animal": "code", "id": "code", "number": "code", "no": "code", "nr": "code",
    "taxon": "taxon", "species": "taxon", "name": "taxon",
    "shelf": "shelf", "place": "shelf", "where": "shelf",
    "span": "span", "leg_span": "span", "legspan": "span", "size": "span", "dls": "span",
    "last_moult": "last moult", "moult": "last moult", "moulted": "last moult", "last_molt": "last moult",
}  # fmt: skip
_UNKNOWN = frozenset({"", "-", "–", "?", "unknown", "n/a"})
_DATE = re.compile(r"\d{4}-\d\d|\d{1,2}[./]\d{1,2}[./]\d")
_UNIT_OF_HEADER = re.compile(r"^(.*?)_?[(\[]?_?(mm|cm|in|inch|inches)[)\]]?$")


def looks_like_list(text: str, *, needs_header: bool) -> bool:
    """Whether a text begins with a list's header or, if none is needed, has rows of some cells each."""
    rows = _split(text)
    if not rows or _header(rows[0][1]) is not None:
        return bool(rows)
    return not needs_header and all(1 < len(cells) <= len(COLUMNS) for _, cells in rows)


def read_pasted_list(
    text: str, clock: RoomClock, on: date, *, known: Collection[Ref] = (), file: str = "pasted list",
    dates: DateOrder = "ask",
) -> TablesRead:  # fmt: skip
    """Read a list whose cells stand apart by tabs, semicolons, commas or at least two spaces.

    Every line says: this animal is here (arrival unknown), on that shelf, of that leg span on day `on`,
    and moulted last then. A header is optional. Line numbers in refusals count from 1.
    `dates` says how 3/4/2026 is read.
    """
    lines = _split(text)
    if not lines:
        raise NotReadable(
            "a list with a line for each animal: " + ", ".join(COLUMNS), got="no line",
            todo="Paste for example: K12, Brachypelma hamorii, shelf B, 4.5 cm, 2026-03-01",
        )  # fmt: skip
    header = _header(lines[0][1])
    columns = header or {name: (at, "") for at, name in enumerate(COLUMNS)}
    reader = _ListReader(file, clock, on, columns, dates)
    width = len(lines[0][1]) if header else len(COLUMNS)
    for line, cells in lines[1:] if header else lines:
        reader.read(line, cells, width)
    done = assemble(reader.rows, known, {}, ())
    names = tuple(lines[0][1]) if header else COLUMNS
    count = len(lines) - bool(header)
    refused = tuple(reader.refused)
    refusals = tuple(reader.refusals) + tuple(done.refusals)
    return TablesRead(tuple(done.drafts), refusals, (FileRead(file, "list", names, count, refused),),
                      tuple(done.origins), done.repeated, on=on)  # fmt: skip


def _split(text: str) -> list[tuple[int, list[str]]]:
    lines = [
        (number, line) for number, line in enumerate(io.StringIO(text.lstrip("\ufeff")), 1) if line.strip()
    ]
    joined = "\n".join(line for _, line in lines)
    mark = next((mark for mark in "\t;," if mark in joined), "")
    return [(number, [cell.strip() for cell in _cells(line, mark)]) for number, line in lines]


def _cells(line: str, mark: str) -> list[str]:
    if not mark:
        return re.split(r"\s{2,}", line.strip())
    if '"' in line and mark != "\t" and re.search(rf'(^|{mark})\s*"', line):
        return next(csv.reader([line], delimiter=mark, skipinitialspace=True))
    return line.split(mark)


def _header(cells: Sequence[str]) -> dict[str, tuple[int, str]] | None:
    """Return column → (position, unit named in the header), None when the first line is no header."""
    known = [_column(cell) for cell in named(cells)]
    names = [name for name, _ in known]
    if names[:1] != ["code"] and len([name for name in names if name]) < 2:
        return None
    for name, cell in zip(names, cells, strict=True):
        if not name and cell:
            raise NotReadable(
                f"columns {', '.join(COLUMNS)}", got=repr(cell), todo="Take this column out, or rename it"
            )
        if name and names.count(name) > 1:
            raise NotReadable(f"one column for {name}", got=", ".join(cells), todo="Take one of the two out")
    if "code" not in names:
        raise NotReadable("a column 'code'", got=", ".join(cells), todo="Give every animal its code")
    return {name: (at, unit) for at, (name, unit) in enumerate(known) if name}


def _column(cell: str) -> tuple[str, str]:
    """Return the column that a header cell means ('' for none) and the unit it names."""
    if cell in _SPELLINGS:
        return _SPELLINGS[cell], ""
    unit = _UNIT_OF_HEADER.match(cell)
    if unit and _SPELLINGS.get(unit[1]) == "span":
        return "span", unit[2]
    return "", ""


class _ListReader:
    """Turns lines into rows; keeps what it refuses."""

    def __init__(
        self, file: str, clock: RoomClock, on: date, columns: dict[str, tuple[int, str]], dates: DateOrder
    ) -> None:
        self.file = file
        self.dates: DateOrder = dates
        self.clock = clock
        self.on = on
        self.columns = columns
        self.rows: list[Row] = []
        self.refusals: list[RowRefusal] = []
        self.refused: list[RefusedRow] = []
        self._seen: dict[str, int] = {}

    def read(self, line: int, cells: list[str], width: int) -> None:
        """Read one line into up to three rows."""
        before = len(self.refusals)
        while len(cells) > width and not cells[-1]:
            cells = cells[:-1]
        if len(cells) > width:
            wanted = f"at most {width} cells: {', '.join(self.columns)}"
            self._refuse(line, "", f"{len(cells)} cells", wanted,
                         "Write numbers with a point; quote cells that hold the separating mark")  # fmt: skip
        code = self._cell(cells, "code")
        if not code:
            self._refuse(line, "code", "an empty cell", "the animal's code")
        elif _DATE.match(code):
            self._refuse(line, "code", repr(code), "the animal's code", "Begin each line with the code")
        elif (first := self._seen.setdefault(code, line)) != line:
            self._refuse(line, "code", repr(code), "each animal once", f"It stands in line {first} already")
        moult = self._moult(line, self._cell(cells, "last moult"))
        size = self._size(line, self._cell(cells, "span"))
        if len(self.refusals) > before:
            self.refused.append(RefusedRow(line, tuple(cells)))
            return
        arrived = Arrived(taxon=self._cell(cells, "taxon"), place=self._cell(cells, "shelf"))
        self._add(line, cells, UNKNOWN, arrived)
        if moult is not None:
            self._add(line, cells, moult, Moulted())
        if size:
            self._add(line, cells, on_day(self.on), Measured(item="leg_span", on="live", **size))

    def _cell(self, cells: Sequence[str], name: str) -> str:
        at = self.columns.get(name, (len(cells), ""))[0]
        cell = cells[at] if at < len(cells) else ""
        return "" if cell.lower() in _UNKNOWN else cell

    def _moult(self, line: int, cell: str) -> When | None:
        return self._tried(line, "last moult", cell, lambda: self._when(cell)) if cell else None

    def _size(self, line: int, cell: str) -> dict[str, Any]:
        if not cell:
            return {}
        return self._tried(line, "span", cell, lambda: self._length(cell)) or {}

    def _when(self, cell: str) -> When:
        return loose_when(cell, self.clock, self.on, self.dates)

    def _length(self, cell: str) -> dict[str, Any]:
        value, unit = loose_length(cell)
        return amount_of(value, unit or self.columns["span"][1], "length")

    def _tried(self, line: int, field: str, cell: str, read: Callable[[], Any]) -> Any:
        try:
            return read()
        except NotReadable as fault:
            todo = fault.todo or ""
            if isinstance(fault, AmountFault) and fault.column == "unit" and "empty" in (fault.got or ""):
                todo = "Write the unit beside the number, or name it in the header: span (cm)"
            self._refuse(line, field, repr(cell), fault.wanted, todo)
            return None

    def _refuse(self, line: int, field: str, got: str, wanted: str, todo: str = "") -> None:
        self.refusals.append(RowRefusal(self.file, line, field, got, wanted, todo))

    def _add(self, line: int, cells: list[str], when: When, body: Body) -> None:
        about = Ref("animal", self._cell(cells, "code"))
        self.rows.append(Row(self.file, line, cells, about, when, body))
