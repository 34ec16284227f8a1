"""What a plain table is made of: columns, the shapes of its rows, and the two sorts of table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from nightround.journal.kinds import KINDS, Amount, Kind, SubjectKind
from nightround.journal.tables.cells import Field, fields_of


@dataclass(frozen=True)
class Column:
    """One column. `role` says what the reader does with it; `field` names a body field, if it holds one."""

    name: str
    says: str
    unit: str = ""
    example: str = ""
    type: str = "string"
    role: str = "body"


@dataclass(frozen=True)
class Shape:
    """How a row becomes a body: the kind, what the word in `entry` fixes, and columns to body fields."""

    kind: Kind
    columns: Mapping[str, str]
    fixed: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def amount(self) -> bool:
        """Whether the columns `value` and `unit` hold a quantity whose written form is kept."""
        return issubclass(self.kind.body, Amount)

    def dimension(self, item: str) -> str:
        """Return what a quantity of this kind measures."""
        return self.kind.dimension or ("mass" if item == "mass" else "length")

    @property
    def fields(self) -> dict[str, Field]:
        """The body's fields by name."""
        return fields_of(self.kind.body)


@dataclass(frozen=True)
class Table:
    """One plain table. `subject` is what its rows are about; None when the column `about` says it.

    must_have   further columns without which no row can be read
    """

    name: str
    says: str
    columns: tuple[Column, ...]
    shapes: Mapping[str, Shape]
    subject: SubjectKind | None = None
    must_have: tuple[str, ...] = ()

    @property
    def file(self) -> str:
        """Its file's name."""
        return f"{self.name}.csv"

    @property
    def names(self) -> tuple[str, ...]:
        """Its columns in writing order."""
        return tuple(column.name for column in self.columns)

    def column(self, role: str) -> str:
        """Return the column of that role, '' when the table has none."""
        return next((column.name for column in self.columns if column.role == role), "")

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns without which no row can be read."""
        own = (column.name for column in self.columns if column.role in ("subject", "about", "entry"))
        return (*own, *self.must_have)


def book(number: str) -> tuple[Column, ...]:
    """Return the columns that an export adds; `number` names the one with the entry's number."""
    return (
        Column("detail", "further fields of the entry, `key=value;…`; a backslash before `;`, a backslash or "
               "an outer space keeps it", example="on=shed_skin;posture=stretched", role="detail"),
        Column(number, "number of the entry in the room that was exported; rows refer to each other by it",
               example="12", type="integer", role="number"),
        Column("written", "instant at which the entry was first written",
               example="2026-03-01T21:30:00+00:00", role="written"),
        Column("device", "device that wrote it", example="phone", role="device"),
        Column("key", "idempotency key: a row whose key is in the room already adds nothing",
               example="kitchen-7", role="key"),
        Column("corrects", "number of the row in these tables that this one replaces or strikes",
               example="9", type="integer", role="corrects"),
        Column("intention", "the act that wrote it, so that what was undone or taken back stays so",
               example="3f9c2a", role="intention"),
    )  # fmt: skip


WHEN = Column("when", "when it happened: day, month, year, instant, or interval `a/b`; empty is unknown",
               example="2026-03-01/2026-03-04", role="when")  # fmt: skip
NOTE = Column("note", "words, kept as they are", example="by torchlight")


def entry_table(name: str, says: str, subject: SubjectKind | None, column: Column) -> Table:
    """Return a table of happenings: a row may be of any kind that its subject can have."""
    words = (
        Column("entry", "kind of entry", example="measured", role="entry"),
        Column("item", "what of the kind: prey, the size that was measured, a sex, a home …",
               example="carapace_length"),
        Column("value", "number: how many, how much, how big; of a rule its value", "the unit column", "14.5",
               "any"),
        Column("unit", "unit of `value`; needed for sizes, masses and volumes", example="mm", role="unit"),
        Column("outcome", "taken, refused, uneaten or not_seen; empty while nobody has looked",
               example="taken"),
        NOTE,
    )  # fmt: skip
    shapes = {
        kind.name: _generic(kind) for kind in KINDS.values() if subject is None or subject in kind.subjects
    }
    return Table(name, says, (WHEN, column, *words, *book("number")), shapes, subject)


def _generic(kind: Kind) -> Shape:
    columns = {"note": "note"}
    for column in ("item", "value", "outcome"):
        if name := getattr(kind, column):
            columns[column] = name
    return Shape(kind, columns)


def state_table(
    name: str,
    says: str,
    kind: str,
    columns: tuple[Column, ...],
    fields: Mapping[str, str] | None = None,
    must_have: tuple[str, ...] = (),
) -> Table:
    """Return a table whose rows are all of one kind; `fields` where a column is not named as its field."""
    renamed = fields or {}
    known = fields_of(KINDS[kind].body)
    mapped = {
        column.name: renamed.get(column.name, column.name)
        for column in (*columns, NOTE)
        if column.role == "body" and renamed.get(column.name, column.name) in known
    }
    shape = Shape(KINDS[kind], mapped)
    subject = KINDS[kind].subjects[0]
    return Table(name, says, (*columns, NOTE, *book("entry_number")), {"": shape}, subject, must_have)


def moment(name: str, says: str, example: str) -> Column:
    """Return a column that says when."""
    return Column(name, says, example=example, role="when")


def length(name: str, says: str, example: str) -> Column:
    """Return a column of millimetres."""
    return Column(name, says, "mm", example, "number")
