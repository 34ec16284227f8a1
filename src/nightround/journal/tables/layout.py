"""The plain tables: which there are, their columns, and where each column stands in an entry's body.

Import, export, the descriptor and `docs/tables.md` all follow this table of tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
from nightround.journal.kinds import KINDS, SubjectKind
from nightround.journal.tables.columns import (
    NOTE,
    WHEN,
    Column,
    Shape,
    Table,
    book,
    entry_table,
    length,
    moment,
    state_table,
)

ANIMALS = state_table(
    "animals",
    "The animals as they came into the room; later sex, place or home are rows of entries.csv.",
    "arrived",
    (
        Column("animal", "the keeper's code for the animal", example="K12", role="subject"),
        Column("taxon", "name of the taxon; sp., cf. and locality names are names too",
               example="Brachypelma hamorii"),
        Column("sex", "female or male; empty is unknown", example="female"),
        moment("arrived", "when it came: day, month, year or interval; empty is unknown", "2026-03-01"),
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

ENTRIES = entry_table(
    "entries",
    "Everything that happened to the animals.",
    "animal",
    Column("animal", "code of the animal", example="K12", role="subject"),
)

_CLIMATE = (
    moment("when", "day (then it is that day's mean) or instant; intervals are kept", "2026-03-01"),
    Column("place", "shelf or room", example="shelf B", role="subject"),
    Column("temperature_c", "temperature", "°C", "21.5", "number"),
    Column("humidity_percent", "relative humidity", "%", "60", "number"),
    Column("statistic", "mean, min, max or reading; empty: mean of a day, reading at an instant",
           example="mean"),
)  # fmt: skip

CLIMATE = state_table(
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

EXPECTED_CLIMATE = state_table(
    "expected_climate",
    "Temperature and humidity expected on days to come, by a plan or a forecast.",
    "expected",
    _CLIMATE,
)

TAXA = state_table(
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
        moment("when", "day of this description; empty: always", "2026-03-01"),
    ),
)  # fmt: skip

BATCHES = state_table(
    "batches",
    "Batches of spiderlings that are not yet kept apart.",
    "batch_begun",
    (
        Column("batch", "the keeper's code for the batch", example="B7", role="subject"),
        Column("taxon", "name of the taxon", example="Brachypelma hamorii"),
        Column("number", "how many there were", example="140", type="integer"),
        Column("from", "sac, breeder or dealer it came from", example="sac of K12"),
        moment("begun", "when the batch began", "2026-03-01"),
        Column("hatched", "when it hatched: day, month, year or interval", example="2026-02"),
        Column("place", "shelf or room", example="shelf B"),
        Column("home", "home it is kept in", example="H9"),
    ),
    {"from": "source"},
)

HOMES = state_table(
    "homes",
    "Homes as they were made up; a home made up anew is a further row.",
    "made_up",
    (
        Column("home", "the keeper's code for the home", example="H3", role="subject"),
        moment("when", "when it was made up", "2026-03-01"),
        Column("shape", "box, cylinder or tapered", example="box"),
        length("inner_length_mm", "inner length; of a cylinder its diameter; of a tapered one at the top",
                "200"),
        length("inner_width_mm", "inner width", "200"),
        length("inner_height_mm", "inner height", "300"),
        length("base_length_mm", "inner length at the base, when tapered", "150"),
        length("base_width_mm", "inner width at the base, when tapered", "150"),
        Column("lid_cover_fraction", "covered part of the lid's opening, 0 to 1", example="0.5",
               type="number"),
        Column("substrate", "recipe of the substrate", example="2 parts peat, 1 part sand"),
        length("depth_low_mm", "depth of the substrate on its low side", "60"),
        length("depth_high_mm", "depth of the substrate on its high side", "120"),
        Column("place", "shelf or room", example="shelf B"),
    ),
)  # fmt: skip

OPENINGS = state_table(
    "openings",
    "Openings of the homes as they are from that day on.",
    "opening",
    (
        moment("when", "from when on", "2026-03-01"),
        Column("home", "code of the home", example="H3", role="subject"),
        Column("label", "name of the opening within its home", example="front grille"),
        Column("shape", "hole, slot, mesh or perforated", example="hole"),
        Column("at", "lid, side_high or side_low", example="side_high"),
        Column("count", "how many alike; 0 means closed", example="12", type="integer"),
        length("width_mm", "width, or diameter of a hole", "2"),
        length("length_mm", "length of a slot or of the field", "40"),
        length("thickness_mm", "thickness of the wall", "3"),
        Column("open_fraction", "open part of a mesh or perforated field, 0 to 1", example="0.4",
               type="number"),
    ),
    {"count": "number"},
)  # fmt: skip

HOME_ENTRIES = entry_table(
    "home_entries",
    "What was done to the homes and found in them.",
    "home",
    Column("home", "code of the home", example="H3", role="subject"),
)

PLACE_ENTRIES = entry_table(
    "place_entries",
    "What happened to rooms and shelves: set up, heating failed or restored.",
    "place",
    Column("place", "shelf or room", example="shelf B", role="subject"),
)

LARDER = Table(
    "larder",
    "Lots of feeders: how they came and what became of them.",
    (
        WHEN,
        Column("lot", "the keeper's code for the lot", example="L4", role="subject"),
        Column("entry", "bought, hatched, started (a culture), counted, culled, died_off or finished",
               example="bought", role="entry"),
        Column("feeder", "what they are (bought, hatched)", example="banded cricket"),
        length("size_mm", "length of one", "6"),
        Column("count", "how many came, are there, or went", example="100", type="integer"),
        Column("price", "price, in words (bought, hatched)", example="3 EUR"),
        Column("from", "where from (bought, hatched)", example="corner shop"),
        NOTE,
        *book("entry_number"),
    ),
    {
        **{
            word: Shape(
                KINDS["lot_begun"],
                {"feeder": "feeder", "size_mm": "size_mm", "count": "number", "price": "price",
                 "from": "from_whom", "note": "note"},
                {"how": word},
            )
            for word in ("bought", "hatched", "started")
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

SUPPLIES = state_table(
    "supplies",
    "What can be bought: homes and feeders, from whom, at what price. The same item, name and seller again "
    "takes the earlier row's place.",
    "supply",
    (
        moment("when", "from when on", "2026-03-01"),
        Column("item", "home or feeder", example="feeder"),
        Column("name", "what it is called there", example="crickets, small"),
        Column("feeder", "what the feeders are", example="banded cricket"),
        length("size_low_mm", "shortest of the feeders in a pack", "5"),
        length("size_high_mm", "longest of the feeders in a pack", "7"),
        Column("shape", "of a home: box, cylinder or tapered", example="box"),
        length("inner_length_mm", "inner length of a home; of a cylinder its diameter", "200"),
        length("inner_width_mm", "inner width of a home", "200"),
        length("inner_height_mm", "inner height of a home", "300"),
        length("base_length_mm", "inner length at the base, when tapered", "150"),
        length("base_width_mm", "inner width at the base, when tapered", "150"),
        length("gap_mm", "widest opening of a home as it is sold; 0 when it has none", "2"),
        Column("pack", "how many are in a pack", example="100", type="integer"),
        Column("price", "price of a pack, a number", example="3.50"),
        Column("currency", "currency of the price, as written", example="EUR"),
        Column("lead_days", "days from order to delivery", "days", "2", "integer"),
        Column("delivery", "weekdays of delivery, separated by `;`", example="Tue; Wed"),
        Column("from", "who sells it", example="corner shop"),
        Column("gone", "yes: no longer offered from this day on", example="no"),
    ),
    {"from": "from_whom"},
    must_have=("item", "name"),
)  # fmt: skip

CLAIMS = state_table(
    "claims",
    "What somebody states about a taxon, with its source.",
    "claim",
    (
        moment("when", "day it was noted down", "2026-03-01"),
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

ROOM_ENTRIES = entry_table(
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
        EXPECTED_CLIMATE, LARDER, SUPPLIES, CLAIMS, ROOM_ENTRIES,
    )
}  # fmt: skip

_OWN_TABLE = {"reading": CLIMATE, "expected": EXPECTED_CLIMATE, "named": TAXA, "claim": CLAIMS,
              "batch_begun": BATCHES, "made_up": HOMES, "opening": OPENINGS, "lot_begun": LARDER,
              "lot_changed": LARDER, "supply": SUPPLIES}  # fmt: skip
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
