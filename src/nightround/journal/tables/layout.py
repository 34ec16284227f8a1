"""The plain tables: which there are, their columns, and where each column stands in an entry's body.

Import, export, the descriptor and `docs/tables.md` all follow this table of tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType

from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
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
    """One plain table. `subject` is what its rows are about; '' when the column `about` says it."""

    name: str
    says: str
    columns: tuple[Column, ...]
    shapes: Mapping[str, Shape]
    subject: SubjectKind | None = None

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
        return tuple(column.name for column in self.columns if column.role in ("subject", "about", "entry"))


def _book(number: str) -> tuple[Column, ...]:
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


_WHEN = Column("when", "when it happened: day, month, year, instant, or interval `a/b`; empty is unknown",
               example="2026-03-01/2026-03-04", role="when")  # fmt: skip
_NOTE = Column("note", "words, kept as they are", example="by torchlight")


def _entry_table(name: str, says: str, subject: SubjectKind | None, column: Column) -> Table:
    words = (
        Column("entry", "kind of entry", example="measured", role="entry"),
        Column("item", "what of the kind: prey, the size that was measured, a sex, a home …",
               example="carapace_length"),
        Column("value", "number: how many, how much, how big; of a rule its value", "the unit column", "14.5",
               "any"),
        Column("unit", "unit of `value`; needed for sizes, masses and volumes", example="mm", role="unit"),
        Column("outcome", "taken, refused, uneaten or not_seen; empty while nobody has looked",
               example="taken"),
        _NOTE,
    )  # fmt: skip
    shapes = {
        kind.name: _generic(kind) for kind in KINDS.values() if subject is None or subject in kind.subjects
    }
    return Table(name, says, (_WHEN, column, *words, *_book("number")), shapes, subject)


def _generic(kind: Kind) -> Shape:
    columns = {"note": "note"}
    for column in ("item", "value", "outcome"):
        if name := getattr(kind, column):
            columns[column] = name
    return Shape(kind, columns)


def _state(
    name: str, says: str, kind: str, columns: tuple[Column, ...], fields: Mapping[str, str] | None = None
) -> Table:
    """Return a table whose rows are all of one kind; `fields` where a column is not named as its field."""
    renamed = fields or {}
    known = fields_of(KINDS[kind].body)
    mapped = {
        column.name: renamed.get(column.name, column.name)
        for column in (*columns, _NOTE)
        if column.role == "body" and renamed.get(column.name, column.name) in known
    }
    shape = Shape(KINDS[kind], mapped)
    return Table(name, says, (*columns, _NOTE, *_book("entry_number")), {"": shape}, KINDS[kind].subjects[0])


def _moment(name: str, says: str, example: str) -> Column:
    return Column(name, says, example=example, role="when")


def _length(name: str, says: str, example: str) -> Column:
    return Column(name, says, "mm", example, "number")


ANIMALS = _state(
    "animals",
    "The animals as they came into the room; later sex, place or home are rows of entries.csv.",
    "arrived",
    (
        Column("animal", "the keeper's code for the animal", example="K12", role="subject"),
        Column("taxon", "name of the taxon; sp., cf. and locality names are names too",
               example="Brachypelma hamorii"),
        Column("sex", "female or male; empty is unknown", example="female"),
        _moment("arrived", "when it came: day, month, year or interval; empty is unknown", "2026-03-01"),
        Column("arrived_as", "captive_bred, captive_hatched, wild_collected, long_term_captive or unknown",
               example="captive_bred"),
        Column("hatched", "when it hatched: day, month, year or interval", example="2025-06/2025-09"),
        Column("place", "shelf or room it stood on at arrival", example="shelf B"),
        Column("home", "home it was put into at arrival", example="H3"),
        Column("from_whom", "breeder, dealer or finder", example="spring fair"),
        Column("price", "price, in words", example="20 EUR"),
        Column("papers", "papers that came with it", example="breeder's certificate"),
    ),
    {"arrived_as": "origin"},
)  # fmt: skip

ENTRIES = _entry_table(
    "entries",
    "Everything that happened to the animals.",
    "animal",
    Column("animal", "code of the animal", example="K12", role="subject"),
)

_CLIMATE = (
    _moment("when", "day (then it is that day's mean) or instant; intervals are kept", "2026-03-01"),
    Column("place", "shelf or room", example="shelf B", role="subject"),
    Column("temperature_c", "temperature", "°C", "21.5", "number"),
    Column("humidity_percent", "relative humidity", "%", "60", "number"),
    Column("statistic", "mean, min, max or reading; empty: mean of a day, reading at an instant",
           example="mean"),
)  # fmt: skip

CLIMATE = _state(
    "climate",
    "Temperature and humidity as they were read.",
    "reading",
    (
        *_CLIMATE,
        Column("temperature_f", "temperature in degrees Fahrenheit, instead of temperature_c; never exported",
               "°F", "70.7", "number", role="fahrenheit"),
        Column("as_written", "the number and unit that were read, when they were others", example="70.7 F"),
        Column("logger_file", "logger file it came from", example="logger-7.csv"),
    ),
    {"as_written": "written", "logger_file": "file"},
)  # fmt: skip

EXPECTED_CLIMATE = _state(
    "expected_climate",
    "Temperature and humidity expected on days to come, by a plan or a forecast.",
    "expected",
    _CLIMATE,
)

TAXA = _state(
    "taxa",
    "The taxa: group, other names, what to beware of.",
    "named",
    (
        Column("taxon", "name of the taxon", example="Brachypelma hamorii", role="subject"),
        Column("group", "group that is pooled when the taxon alone has too few records",
               example="Theraphosidae"),
        Column("other_names", "other names, separated by `;`", example="red knee; orange knee"),
        Column("hazard", "what to beware of, always shown", example="irritating hairs"),
        Column("habit", "ground, burrower, trapdoor, tree, web_builder, wanderer or tube",
               example="burrower"),
        Column("climbs", "smooth (climbs clean glass), rough (needs grip) or poor (slips)", example="smooth"),
        Column("law", "reminders about law, in words", example="CITES appendix II: ask the authority"),
        _moment("when", "day of this description; empty: always", "2026-03-01"),
    ),
)  # fmt: skip

BATCHES = _state(
    "batches",
    "Batches of spiderlings that are not yet kept apart.",
    "batch_begun",
    (
        Column("batch", "the keeper's code for the batch", example="B7", role="subject"),
        Column("taxon", "name of the taxon", example="Brachypelma hamorii"),
        Column("number", "how many there were", example="140", type="integer"),
        Column("from", "sac, breeder or dealer it came from", example="sac of K12"),
        _moment("begun", "when the batch began", "2026-03-01"),
        Column("hatched", "when it hatched: day, month, year or interval", example="2026-02"),
        Column("place", "shelf or room", example="shelf B"),
        Column("home", "home it is kept in", example="H9"),
    ),
    {"from": "source"},
)

HOMES = _state(
    "homes",
    "Homes as they were made up; a home made up anew is a further row.",
    "made_up",
    (
        Column("home", "the keeper's code for the home", example="H3", role="subject"),
        _moment("when", "when it was made up", "2026-03-01"),
        Column("shape", "box, cylinder or tapered", example="box"),
        _length("inner_length_mm", "inner length; of a cylinder its diameter; of a tapered one at the top",
                "200"),
        _length("inner_width_mm", "inner width", "200"),
        _length("inner_height_mm", "inner height", "300"),
        _length("base_length_mm", "inner length at the base, when tapered", "150"),
        _length("base_width_mm", "inner width at the base, when tapered", "150"),
        Column("lid_cover_fraction", "covered part of the lid's opening, 0 to 1", example="0.5",
               type="number"),
        Column("substrate", "recipe of the substrate", example="2 parts peat, 1 part sand"),
        _length("depth_low_mm", "depth of the substrate on its low side", "60"),
        _length("depth_high_mm", "depth of the substrate on its high side", "120"),
        Column("place", "shelf or room", example="shelf B"),
    ),
)  # fmt: skip

OPENINGS = _state(
    "openings",
    "Openings of the homes as they are from that day on.",
    "opening",
    (
        _moment("when", "from when on", "2026-03-01"),
        Column("home", "code of the home", example="H3", role="subject"),
        Column("label", "name of the opening within its home", example="front grille"),
        Column("shape", "hole, slot, mesh or perforated", example="hole"),
        Column("at", "lid, side_high or side_low", example="side_high"),
        Column("count", "how many alike; 0 means closed", example="12", type="integer"),
        _length("width_mm", "width, or diameter of a hole", "2"),
        _length("length_mm", "length of a slot or of the field", "40"),
        _length("thickness_mm", "thickness of the wall", "3"),
        Column("open_fraction", "open part of a mesh or perforated field, 0 to 1", example="0.4",
               type="number"),
    ),
    {"count": "number"},
)  # fmt: skip

HOME_ENTRIES = _entry_table(
    "home_entries",
    "What was done to the homes and found in them.",
    "home",
    Column("home", "code of the home", example="H3", role="subject"),
)

PLACE_ENTRIES = _entry_table(
    "place_entries",
    "What happened to rooms and shelves: set up, heating failed or restored.",
    "place",
    Column("place", "shelf or room", example="shelf B", role="subject"),
)

LARDER = Table(
    "larder",
    "Lots of feeders: how they came and what became of them.",
    (
        _WHEN,
        Column("lot", "the keeper's code for the lot", example="L4", role="subject"),
        Column("entry", "bought, hatched, counted, culled, died_off or finished", example="bought",
               role="entry"),
        Column("feeder", "what they are (bought, hatched)", example="banded cricket"),
        _length("size_mm", "length of one", "6"),
        Column("count", "how many came, are there, or went", example="100", type="integer"),
        Column("price", "price, in words (bought, hatched)", example="3 EUR"),
        Column("from", "where from (bought, hatched)", example="corner shop"),
        _NOTE,
        *_book("entry_number"),
    ),
    {
        **{
            word: Shape(
                KINDS["lot_begun"],
                {"feeder": "feeder", "size_mm": "size_mm", "count": "number", "price": "price",
                 "from": "from_whom", "note": "note"},
                {"how": word},
            )
            for word in ("bought", "hatched")
        },
        **{
            word: Shape(
                KINDS["lot_changed"], {"size_mm": "size_mm", "count": "number", "note": "note"},
                {"what": word},
            )
            for word in ("counted", "culled", "died_off", "finished")
        },
    },
    "lot",
)  # fmt: skip

CLAIMS = _state(
    "claims",
    "What somebody states about a taxon, with its source.",
    "claim",
    (
        _moment("when", "day it was noted down", "2026-03-01"),
        Column("taxon", "name of the taxon", example="Brachypelma hamorii", role="subject"),
        Column("claim", "adult_span, adult_carapace, life_span, years_to_maturity, growth_class, habit, "
               "venom, temperature, humidity or other (also when empty)", example="adult_span"),
        Column("text", "the statement in words", example="reaches 14 cm"),
        Column("low", "lower end of what is stated", "the unit column", "12", "number"),
        Column("high", "upper end of what is stated", "the unit column", "14", "number"),
        Column("unit", "unit of low and high", example="cm"),
        Column("sense", "maximum, typical or minimum", example="maximum"),
        Column("sex", "female or male", example="female"),
        Column("source", "who says so, and where", example="society journal 12, page 3"),
        Column("grade", "own, A, B, C, D, CP or MEM", example="C"),
    ),
)  # fmt: skip

ROOM_ENTRIES = _entry_table(
    "room_entries",
    "Every entry that no other table holds: about batches, larder lots, taxa and the room itself.",
    None,
    Column("about", "what it is about: `room`, or `batch`, `lot`, `taxon`, `animal`, `home`, `place` and its "
           "code", example="batch B7", role="about"),
)  # fmt: skip

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        ANIMALS, TAXA, BATCHES, HOMES, OPENINGS, ENTRIES, HOME_ENTRIES, PLACE_ENTRIES, CLIMATE,
        EXPECTED_CLIMATE, LARDER, CLAIMS, ROOM_ENTRIES,
    )
}  # fmt: skip

_OWN_TABLE = {"reading": CLIMATE, "expected": EXPECTED_CLIMATE, "named": TAXA, "claim": CLAIMS,
              "batch_begun": BATCHES, "made_up": HOMES, "opening": OPENINGS, "lot_begun": LARDER,
              "lot_changed": LARDER}  # fmt: skip
_OF_SUBJECT = {"animal": ENTRIES, "home": HOME_ENTRIES, "place": PLACE_ENTRIES}

MAY_BE_UNSAID: Mapping[str, frozenset[str]] = {
    "reading": frozenset({"statistic"}), "expected": frozenset({"statistic"}), "claim": frozenset({"claim"}),
}  # fmt: skip
"""Choices with a default that an empty cell may mean, by kind."""


@cache
def table_of(kind: str, subject: SubjectKind) -> Table:
    """Return the table that holds entries of that kind (but for an animal's first arrival: ANIMALS)."""
    return _OWN_TABLE.get(kind) or _OF_SUBJECT.get(subject, ROOM_ENTRIES)


def ref_of(text: str) -> Ref:
    """Read the `about` column: `room` or `batch B7`. Raises NotReadable."""
    sort, _, code = text.strip().partition(" ")
    if sort.lower() not in ("animal", "batch", "home", "place", "lot", "taxon", "room"):
        raise NotReadable(
            "room, or what it is about and its code, such as 'batch B7'", got=repr(text),
            todo="Begin with animal, batch, home, place, lot, taxon or room",
        )  # fmt: skip
    if sort.lower() == "room" and code.strip():
        raise NotReadable("'room' alone", got=repr(text), todo="A shelf or a room of several is a 'place'")
    return Ref(sort.lower(), code.strip())  # type: ignore[arg-type]
