"""Rows to entries-to-be: every cell of a row is looked at, and every fault of it is named."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from nightround.foundation import when as whens
from nightround.foundation.clock import RoomClock
from nightround.foundation.quantities import quantity
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import UNKNOWN, When
from nightround.journal.entries import ROOM, Ref
from nightround.journal.kinds import KINDS, Body
from nightround.journal.tables.amounts import AMOUNT_FIELDS, AmountFault, amount_of, faults_of
from nightround.journal.tables.cells import Field, reader, split_detail, whole
from nightround.journal.tables.columns import Shape, Table
from nightround.journal.tables.layout import MAY_BE_UNSAID, TABLES, ref_of, table_of
from nightround.journal.tables.results import RowRefusal

_MIDNIGHT = re.compile(r"\d{4}-\d\d-\d\d 00:00(:00(\.0+)?)?", re.ASCII)
"""A day as programs write it that know no days; read as an instant it would fall on the day before."""

HOW_SEXED = ("exuvia", "ventral", "mature")
"""Words that the note of a `sexed` row may be: then they say how."""

Read = Callable[[str], Any]


@dataclass(slots=True)
class Row:
    """An entry-to-be. `number`, `corrects` and `offer` count as in the tables, not as in this room."""

    file: str
    line: int
    cells: Sequence[str]
    about: Ref
    when: When
    body: Body
    number: int | None = None
    corrects: int | None = None
    offer: int | None = None
    key: str = ""
    device: str = ""
    recorded: datetime | None = None
    intention: str = ""


@dataclass(frozen=True)
class Plan:
    """A shape of row for one header: which cell goes into which field, and which cells must be empty."""

    shape: Shape
    reads: tuple[tuple[int, str, str, Read], ...]
    unused: tuple[tuple[int, str], ...]
    amount: tuple[int | None, int | None] | None
    needed: tuple[tuple[str, Field], ...]
    details: dict[str, Read]


class Faults:
    """Collects what is wrong with the row at hand."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.line = 0
        self.refusals: list[RowRefusal] = []

    def add(self, field: str, cell: str, fault: NotReadable) -> None:
        """Note a fault of one cell."""
        got = fault.got if fault.got is not None else repr(cell)
        self.refusals.append(RowRefusal(self.file, self.line, field, got, fault.wanted, fault.todo or ""))

    def say(self, field: str, wanted: str, got: str, todo: str = "") -> None:
        """Note a fault in words."""
        self.refusals.append(RowRefusal(self.file, self.line, field, got, wanted, todo))

    def __len__(self) -> int:
        return len(self.refusals)


class Moments:
    """Dates and instants read once per spelling."""

    def __init__(self, clock: RoomClock) -> None:
        self.clock = clock
        self._read: dict[str, When] = {"": UNKNOWN}

    def when(self, cell: str) -> When:
        """Read a moment. Raises NotReadable."""
        found = self._read.get(cell)
        if found is None:
            if _MIDNIGHT.fullmatch(cell.strip()):
                raise NotReadable(
                    "a day alone, or an instant with 'T' between day and time", got=repr(cell),
                    todo=f"Write {cell.strip()[:10]} if the day is meant; midnight belongs to the day before",
                )  # fmt: skip
            found = self._read[cell] = whens.parse(cell, self.clock)
        return found

    def instant(self, cell: str) -> datetime:
        """Read the instant at which something was written. Raises NotReadable."""
        instant = self.when(cell).instant
        if instant is None:
            raise NotReadable("an instant such as 2026-03-01T21:30:00+00:00", got=repr(cell))
        return instant.astimezone(UTC)


class TableReader:
    """Reads the rows of one file that holds one table."""

    def __init__(self, table: Table, header: Sequence[str], file: str, moments: Moments) -> None:
        self.table = table
        self.header = header
        self.faults = Faults(file)
        self._moments = moments
        self._at = {name: position for position, name in enumerate(header)}
        self._plans: dict[str, Plan] = {}
        self._roles = {
            role: self._at.get(table.column(role))
            for role in ("when", "subject", "about", "entry", "detail", "number", "written", "device", "key",
                         "corrects", "intention", "fahrenheit")
        }  # fmt: skip
        self._books = [
            (role, position)
            for role in ("number", "corrects", "written", "device", "key", "intention")
            if (position := self._roles[role]) is not None
        ]
        self._refs: dict[str, Ref] = {}

    def read(self, line: int, cells: Sequence[str]) -> Row | None:
        """Read one row; None when it has faults, which are then in `faults`."""
        faults = self.faults
        before = len(faults)
        faults.line = line
        when = self._moment(cells)
        about = self._about(cells)
        plan = self._plan(cells, about)
        if plan is None:
            return None
        values: dict[str, Any] = dict(plan.shape.fixed)
        self._cells(plan, cells, values)
        offer = self._details(plan, cells, values)
        self._special(plan, cells, values, when)
        self._needed(plan, values)
        if about is None or len(faults) > before:
            self._bookkeeping(cells, None)
            return None
        row = Row(faults.file, line, cells, about, when, plan.shape.kind.body(**values), offer=offer)
        self._bookkeeping(cells, row)
        return row if len(faults) == before else None

    # -- parts of a row -------------------------------------------------------------------------------

    def _moment(self, cells: Sequence[str]) -> When:
        position = self._roles["when"]
        if position is None:
            return UNKNOWN
        try:
            return self._moments.when(cells[position])
        except NotReadable as fault:
            self.faults.add(self.header[position], cells[position], fault)
            return UNKNOWN

    def _about(self, cells: Sequence[str]) -> Ref | None:
        if self.table.subject == "room":
            return ROOM
        position = self._roles["about"] if self.table.subject is None else self._roles["subject"]
        assert position is not None
        cell = cells[position]
        found = self._refs.get(cell)
        if found is not None:
            return found
        try:
            found = ref_of(cell) if self.table.subject is None else Ref(self.table.subject, cell.strip())
            if not found.code and found.kind != "room":
                raise NotReadable(f"the code of the {found.kind}", got="an empty cell")
        except NotReadable as fault:
            self.faults.add(self.header[position], cell, fault)
            return None
        self._refs[cell] = found
        return found

    def _plan(self, cells: Sequence[str], about: Ref | None) -> Plan | None:
        position = self._roles["entry"]
        word = cells[position] if position is not None else ""
        plan = self._plans.get(word)
        if plan is None:
            name = word.strip().lower().replace(" ", "_")
            shape = self.table.shapes.get(name)
            if shape is None:
                self.faults.say("entry", f"a kind of entry of this table: {self._kinds_like(name)}",
                                repr(word) if word else "an empty cell", _where_else(name))  # fmt: skip
                return None
            plan = self._plans[word] = self._compiled(shape)
        subjects = plan.shape.kind.subjects
        if self.table.subject is None and about is not None and about.kind not in subjects:
            wanted = f"'{plan.shape.kind.name}' to be about {' or '.join(subjects)}"
            self.faults.say("about", wanted, str(about), "Name what it is about")
            return None
        return plan

    def _kinds_like(self, name: str) -> str:
        shapes = self.table.shapes
        return ", ".join(difflib.get_close_matches(name, shapes, n=3, cutoff=0.5) or shapes)

    def _cells(self, plan: Plan, cells: Sequence[str], values: dict[str, Any]) -> None:
        for position, column, name, read in plan.reads:
            cell = cells[position]
            if cell and (read is str or not cell.isspace()):
                try:
                    values[name] = read(cell)
                except NotReadable as fault:
                    self.faults.add(column, cell, fault)
                    values[name] = None
        if plan.amount is not None:
            self._amount(plan, cells, values)
        for position, column in plan.unused:
            if cells[position].strip():
                said = (
                    f"'{plan.shape.kind.name}'" if not plan.shape.fixed else f"'{cells[self._at['entry']]}'"
                )
                self.faults.say(column, f"nothing here, {said} has no {column}", repr(cells[position]),
                                "Empty the cell, and keep its words in the note")  # fmt: skip

    def _amount(self, plan: Plan, cells: Sequence[str], values: dict[str, Any]) -> None:
        value_at, unit_at = plan.amount or (None, None)
        value = cells[value_at] if value_at is not None else ""
        unit = cells[unit_at] if unit_at is not None else ""
        if not value and not unit:
            return
        if "item" in values and values["item"] is None:
            return  # an item that cannot be read does not tell whether this is a length or a mass
        dimension = plan.shape.dimension(values.get("item") or "")
        try:
            values |= amount_of(value, unit, dimension)
        except AmountFault as first:
            for fault in faults_of(value, unit, dimension) or [first]:
                self.faults.add(fault.column, value, fault)

    def _details(self, plan: Plan, cells: Sequence[str], values: dict[str, Any]) -> int | None:
        position = self._roles["detail"]
        if position is None or not cells[position].strip():
            return None
        try:
            parts = split_detail(cells[position])
        except NotReadable as fault:
            self.faults.add("detail", cells[position], fault)
            return None
        for name, text in parts.items():
            self._detail(plan, name, text, values)
        offer: int | None = values.pop("offer", None)
        return offer

    def _detail(self, plan: Plan, name: str, text: str, values: dict[str, Any]) -> None:
        field = f"detail: {name}"
        if name == "count" and "count" not in plan.details:
            name = "number"
        read = plan.details.get(name)
        if read is None:
            near = ", ".join(difflib.get_close_matches(name, plan.details, n=3, cutoff=0.5) or plan.details)
            self.faults.say(field, f"a detail of '{plan.shape.kind.name}': {near}", repr(name))
            return
        if name in values and not (plan.shape.amount and name in AMOUNT_FIELDS):
            self.faults.say(field, f"'{name}' in one place", "it both in its column and in detail")
            return
        try:
            values[name] = read(text)
        except NotReadable as fault:
            self.faults.add(field, text, fault)
            values[name] = None

    def _special(self, plan: Plan, cells: Sequence[str], values: dict[str, Any], when: When) -> None:
        kind = plan.shape.kind.name
        if kind == "sexed" and "how" not in values:
            note = values.get("note", "")
            at = self._at.get("note")
            if note and at is not None and cells[at] and note.strip().lower() in HOW_SEXED:
                values["how"], values["note"] = note.strip().lower(), ""
        elif kind in ("reading", "expected"):
            if "statistic" not in values and when.instant is not None:
                values["statistic"] = "reading"
            position = self._roles["fahrenheit"]
            if position is not None and cells[position].strip():
                self._fahrenheit(cells[position], values)

    def _fahrenheit(self, cell: str, values: dict[str, Any]) -> None:
        if "temperature_c" in values:
            self.faults.say(
                "temperature_f", "one temperature", "it in °C and in °F", "Leave one of the two empty"
            )
            return
        try:
            values["temperature_c"] = quantity(cell, "F", "temperature").value
        except NotReadable as fault:
            self.faults.add("temperature_f", cell, fault)
        values.setdefault("written", f"{cell.strip()} F")

    def _needed(self, plan: Plan, values: dict[str, Any]) -> None:
        for column, field in plan.needed:
            if field.name not in values:
                wanted = f"one of {', '.join(field.choices)}" if field.choices else f"the {field.name}"
                self.faults.say(column, wanted, "an empty cell")

    def _bookkeeping(self, cells: Sequence[str], row: Row | None) -> None:
        for role, position in self._books:
            cell = cells[position]
            if not cell or (cell.isspace() and role != "device"):
                continue
            try:
                value = self._book(role, cell)
            except NotReadable as fault:
                self.faults.add(self.header[position], cell, fault)
                continue
            if row is not None:
                setattr(row, "recorded" if role == "written" else role, value)

    def _book(self, role: str, cell: str) -> Any:
        if role == "written":
            return self._moments.instant(cell)
        if role in ("number", "corrects"):
            return _entry_number(cell)
        return cell if role == "device" else cell.strip()

    # -- plans ------------------------------------------------------------------------------------------

    def _compiled(self, shape: Shape) -> Plan:
        fields, clock = shape.fields, self._moments.clock
        columns = dict(shape.columns)
        amount = (self._at.get("value"), self._at.get("unit")) if shape.amount else None
        if amount:
            columns.pop("value", None)
        reads = tuple(
            (self._at[column], column, name, reader(fields[name], clock))
            for column, name in columns.items() if column in self._at
        )  # fmt: skip
        used = {*columns, *(("value", "unit") if amount else ())}
        unused = tuple(
            (position, column.name)
            for column in self.table.columns
            if column.role in ("body", "unit") and column.name not in used
            and (position := self._at.get(column.name)) is not None
        )  # fmt: skip
        unsaid = MAY_BE_UNSAID.get(shape.kind.name, frozenset())
        where = {name: column for column, name in columns.items()}
        needed = tuple(
            (where.get(name, f"detail: {name}"), field) for name, field in fields.items()
            if field.must_be_said and name not in unsaid
        )  # fmt: skip
        details = {name: _exact(field, clock) for name, field in fields.items() if name not in shape.fixed}
        return Plan(shape, reads, unused, amount, needed, details)


def _exact(field: Field, clock: RoomClock) -> Read:
    """Return how a detail is read: names and words to the letter, an empty text as said to be empty."""
    if field.name == "offer":
        return _entry_number
    if field.sort in ("text", "code"):
        return str
    read = reader(field, clock)
    return lambda text: read(text) if text.strip() else field.default


def _entry_number(cell: str) -> int:
    if len(cell) < 16 and cell.isascii() and cell.isdecimal() and cell != "0":
        return int(cell)
    number = whole(cell)
    if number < 1:
        raise NotReadable("the number of an entry, from 1 on", got=repr(cell))
    return number


def _where_else(name: str) -> str:
    kind = KINDS.get(name)
    if kind is None:
        return ""
    table = TABLES["animals"] if name == "arrived" else table_of(name, kind.subjects[0])
    return f"'{name}' is about {' or '.join(kind.subjects)}: write it into {table.file}"
