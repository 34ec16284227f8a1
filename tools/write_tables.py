"""Write docs/tables.md from the tables themselves; `--check` only compares."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from nightround.foundation.quantities import UNITS
from nightround.journal.kinds import KINDS, Kind
from nightround.journal.tables import forecasts
from nightround.journal.tables.amounts import AMOUNT_FIELDS
from nightround.journal.tables.cells import Field
from nightround.journal.tables.columns import Column, Shape, Table
from nightround.journal.tables.layout import ANIMALS, TABLES, table_of

TABLES_FILE = Path(__file__).resolve().parent.parent / "docs" / "tables.md"

EXAMPLES = {
    "animals": """\
animal,taxon,sex,arrived,arrived_as,hatched,place,home,note
K12,Brachypelma hamorii,female,2026-03-01,captive_bred,2025-06/2025-09,shelf B,H3,
K13,Idiops sp. 'coast',,,unknown,,shelf B,,came with the house
""",
    "taxa": """\
taxon,group,other_names,hazard,habit,climbs
Brachypelma hamorii,Theraphosidae,red knee; orange knee,irritating hairs,ground,smooth
""",
    "batches": """\
batch,taxon,number,from,begun,hatched,place
B7,Brachypelma hamorii,140,sac of K12,2026-03-01,2026-02,shelf B
""",
    "homes": """\
home,when,shape,inner_length_mm,inner_width_mm,inner_height_mm,substrate,depth_low_mm,depth_high_mm
H3,2026-03-01,box,200,200,300,"2 parts peat, 1 part sand",60,120
""",
    "openings": """\
when,home,label,shape,at,count,width_mm,thickness_mm
2026-03-01,H3,front holes,hole,side_high,12,2,3
""",
    "entries": """\
when,animal,entry,item,value,unit,outcome,note,detail
2026-03-01,K12,measured,leg_span,4.5,cm,,,on=live;posture=stretched
2026-03-01T21:30,K12,offered,cricket,2,,taken,,prey_mm=6;prekilled=no
2026-03-04,K12,offered,cricket,2,,,nobody has looked yet,
2026-03-09/2026-03-12,K12,moulted,kept,,,,found in the web,
2026-03-13,K12,measured,carapace_length,6.1,mm,,,on=shed_skin
2026-03-13,K12,sexed,female,,,,exuvia,
2026-04-02,K12,moved,H4,,,,,place=shelf C
""",
    "home_entries": """\
when,home,entry,item,value,unit,note
2026-03-01,H3,watered,back corner,30,ml,
2026-03-02,H3,weighed,,1.42,kg,
2026-03-05,H3,trouble,mould,,,under the bark
""",
    "place_entries": """\
when,place,entry,item,value,detail
,shelf B,place_set_up,shelf,2,inside=spare room
2026-01-12,shelf B,heat,failed,,
""",
    "climate": """\
when,place,temperature_c,humidity_percent,statistic
2026-03-01,shelf B,21.5,60,
2026-03-02,shelf B,17.0,,min
2026-03-02T07:30,shelf B,18.5,58,
""",
    "expected_climate": """\
when,place,temperature_c
2026-03-20,shelf B,19
""",
    "larder": """\
when,lot,entry,feeder,size_mm,count,price,from
2026-03-01,L4,bought,banded cricket,6,100,3 EUR,corner shop
2026-03-08,L4,died_off,,,20,,
2026-03-15,L4,counted,,8,35,,
""",
    "supplies": """\
item,name,feeder,size_low_mm,size_high_mm,pack,price,currency,lead_days,delivery,from
feeder,"crickets, small",banded cricket,5,7,100,3.50,EUR,2,Tue; Wed,corner shop
home,clear box 20 cm,,,,1,,,,,corner shop
""",
    "claims": """\
when,taxon,claim,text,low,high,unit,sense,source,grade
2026-03-01,Brachypelma hamorii,adult_span,reaches 14 cm,,14,cm,maximum,"society journal 12, page 3",C
""",
    "room_entries": """\
when,about,entry,item,value,detail
2026-03-01,room,rule_set,quarantine_days,40,
2026-03-08,batch B7,batch_counted,,131,dead=9
""",
}
"""A few invented rows of each table; the tests read them."""

PREAMBLE = """# The plain tables

Written by `tools/write_tables.py` from the tables themselves: change those, then run it again. All
examples are invented.

A room's whole journal goes out into these tables and comes back the same: `nightround export DIR` writes
them with a descriptor, `datapackage.json`, after the open Data Package standard; `nightround import DIR`
says what a folder of them would add, and `--commit` adds it.

## Rules for all of them

- CSV in UTF-8 (with or without byte order mark), cells parted by commas, a header row. A cell that
  holds a comma, a quote or a line break stands in quotes; a quote inside is doubled.
- The file's name says which table it is. One file imported alone may have another name, if its header
  fits one table.
- Columns may be missing and in any order. An unknown column is named and the file refused: nothing is
  passed over.
- **Empty is unknown**, never zero or no.
- Dates are ISO 8601: a day `2026-03-01`, a month `2026-03`, a year `2026`, an interval
  `2026-03-01/2026-03-04` with both ends included, or an instant `2026-03-01T21:30` (the room's own
  time, unless an offset is given). An instant before the room's day turns (04:00, settable) belongs to
  the day before; a day with `00:00:00` behind it, as some programs write days, is refused.
- Numbers are plain, with a point. Words such as "about" belong into the note.
- Sizes, masses and volumes need their unit. They are converted, and the number and unit that were
  written are kept. Units: {units}.
- Yes and no are `yes` and `no`. Words from a list may be written in capitals, and with spaces for `_`.
- Spaces around codes and names are taken off; notes and other words are kept to the letter.
- Empty rows are passed over.

A cell that cannot be read refuses its row, and every fault of it is named by file, row (the line an
editor shows) and column. A row that can be read but contradicts the record goes in, and the record shows
the problem. Whatever is about an animal needs that animal: in `animals.csv`, in the room already, or
promoted out of a batch (`hatched`).

With `--keep-good` the other rows go in, and the refused ones are left in `TABLE.rejects.csv` as they
came, with the columns `file`, `row`, `field` and `problem`. Mended there, they can be imported from that
file. A folder's rejects files are not read with its tables.

## The same rows again

A row's key is made from its content, and from how many rows of the same content stand before it: the same
rows again, in any order and from any file, add nothing. A `key` that the row brings is kept. To change a
row that is in the room already, empty its `key` and `number` and write the old number under `corrects`,
in the exported tables.

## Bookkeeping

What an export adds to each row, so that the room comes back as it was. Leave these columns out of tables
of your own. In tables that describe things rather than happenings the number's column is `entry_number`.
An imported entry keeps the acts that it came from behind the import's own, so the import can be taken
back as one, and what was taken back before stays so.

{bookkeeping}

`detail` holds the fields of an entry that have no column, as `key=value;key=value`. A backslash makes the
next character an ordinary one: `\\;` is a semicolon inside a value, `\\\\` a backslash, and it keeps a
space at either end. `offer=` of an `offer_seen` names the `number` of the row that offered.

## A pasted list

Enough for the first day: a line for each animal with its code, taxon, shelf, leg span and last moult,
parted by tabs, semicolons, commas or at least two spaces, with or without a header. It says that the
animal is here (when it came is unknown), what span it has today, and when it moulted last. Later cells
may be missing; `?` and `-` are unknown. Days may also be written 13/10/2026, 15 Nov 2026, 15 Nov (the latest
such day) or Oct 2026; 3/4/2026 is refused unless the list's order is told (`--dates day-first` or
`--dates month-first`, on the page a choice). Lengths may be 4,5 cm, 1/2 in or 1 1/2 in. A range or a word
such as "about" is refused: write one number, or leave it empty.

```text
code   taxon                 shelf     span     last moult
K12    Brachypelma hamorii   shelf B   4.5 cm   2026-03-09
K13    Idiops sp. 'coast'    shelf B   ?        2025-11
```

## Issued forecasts

Where the program has kept forecasts of its own for the [track record](track-record.md), an export has one
table more, `forecasts.csv`. It is written by the program only and comes back to the letter; a row that was
changed so that it cannot be read is refused. A folder without it loses no entry.

{forecasts}
"""


def tables_text() -> str:
    """The text of the page."""
    units: dict[str, list[str]] = {}
    for unit in dict.fromkeys(UNITS.values()):
        units.setdefault(unit.dimension, []).append(unit.name)
    listed = "; ".join(f"{name} {', '.join(units[name])}" for name in ("length", "mass", "volume"))
    book = [column for column in TABLES["entries"].columns if bookkeeping(column)]
    page = PREAMBLE.replace("{units}", listed)
    page = page.replace("{forecasts}", columns_text(list(forecasts.COLUMNS)))
    sections = [page.replace("{bookkeeping}", columns_text(book))]
    sections += [table_text(table) for table in TABLES.values()]
    sections.append(kinds_text())
    return "\n".join(sections)


def bookkeeping(column: Column) -> bool:
    """Whether a column is one of those that an export adds."""
    return column.role in ("detail", "number", "written", "device", "key", "corrects", "intention")


def columns_text(columns: list[Column]) -> str:
    """Columns as a Markdown table."""
    lines = ["| column | meaning | unit | example |", "|---|---|---|---|"]
    lines += [
        f"| `{c.name}` | {c.says} | {c.unit} | {f'`{c.example}`' if c.example else ''} |" for c in columns
    ]
    return "\n".join(lines)


def table_text(table: Table) -> str:
    """The section of one table."""
    own = [column for column in table.columns if not bookkeeping(column)]
    return f"## {table.file}\n\n{table.says}\n\n{columns_text(own)}\n\n```csv\n{EXAMPLES[table.name]}```\n"


def kinds_text() -> str:
    """The section of the kinds of entry: what each column and detail holds."""
    lines = [
        "## Kinds of entry",
        "",
        "What `item`, `value` and `outcome` hold for each kind, and the keys of `detail`. A kind about",
        "several sorts of thing stands in the table of what it is about. Kinds with a table of their own",
        "(climate.csv, homes.csv …) are not repeated here; a later word on an arrival is an `arrived` that",
        "corrects the first.",
        "",
        "| entry | meaning | about | table | item | value | outcome | detail |",
        "|---|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {' | '.join(kind_cells(kind))} |"
        for kind in KINDS.values()
        if kind.name in table_of(kind.name, kind.subjects[0]).shapes
    ]
    lines += ["", *value_lists()]
    return "\n".join(lines) + "\n"


def kind_cells(kind: Kind) -> Iterator[str]:
    """The cells of one kind's line."""
    tables = [table_of(kind.name, subject) for subject in kind.subjects]
    files = [ANIMALS.file] if kind.name == "arrived" else []
    files += dict.fromkeys(table.file for table in tables)
    shape = Shape(kind, {})
    columned = {kind.item, kind.value, kind.outcome, "note"} | (set(AMOUNT_FIELDS) if shape.amount else set())
    value = kind.value
    if shape.amount:
        value = f"{kind.dimension or 'length; of the item mass, mass'}, with its unit"
    yield f"`{kind.name}`"
    yield kind.says
    yield ", ".join(kind.subjects)
    yield ", ".join(files)
    yield kind.item
    yield value
    yield kind.outcome
    yield ", ".join(f"`{name}`" for name in shape.fields if name not in columned)


def value_lists() -> Iterator[str]:
    """Every field whose words come from a list."""
    yield "Fields whose words come from a list:"
    yield ""
    yield "| entry | field | one of |"
    yield "|---|---|---|"
    for kind in KINDS.values():
        fields: dict[str, Field] = Shape(kind, {}).fields
        for field in fields.values():
            if field.choices:
                yield f"| `{kind.name}` | `{field.name}` | {', '.join(field.choices)} |"


def main(arguments: list[str]) -> int:
    """Write the page, or with --check compare it; exit code 1 when it is not up to date."""
    text = tables_text()
    if "--check" in arguments:
        there = TABLES_FILE.read_text(encoding="utf-8") if TABLES_FILE.exists() else ""
        return 0 if there == text else 1
    TABLES_FILE.write_text(text, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
