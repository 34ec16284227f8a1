"""The table of issued forecasts: what the program said, one row a forecast, as it was said.

It stands beside the tables of entries: nobody writes it by hand, and an export without it loses no entry.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from nightround.foundation.refusal import NotReadable, Refusal
from nightround.foundation.when import parse_day
from nightround.journal.issued import STAGES, Issued, Odds
from nightround.journal.tables.columns import Column
from nightround.journal.tables.csvfile import header_faults, named, numbered_rows, text_of
from nightround.journal.tables.results import FileRead, RefusedRow, RowRefusal

NAME = "forecasts"
FILE = "forecasts.csv"
SAYS = "Forecasts of moults as the program issued them, for its track record; written by the program only."
COLUMNS = (
    Column("animal", "code of the animal", example="K12"),
    Column("stage", " or ".join(STAGES), example="after_moult"),
    Column("day", "day as of whose close it was worked out", example="2026-03-12"),
    Column("opened", "day or interval of the moult that began the wait", example="2026-03-09/2026-03-11"),
    Column("quantiles_days", "level=days from the close of the day, separated by `;`; empty: not reachable",
           example="0.05=40.1;0.50=61;0.95="),
    Column("within_days", "days=chance of a moult by then, separated by `;`", example="7=0.01;30=0.2"),
    Column("unseen", "chance that it had moulted unseen", example="0.02", type="number"),
    Column("widened", "by what its spread had been multiplied", example="1", type="number"),
    Column("taxon", "its taxon then", example="Brachypelma hamorii"),
    Column("group", "its group then", example="Theraphosidae"),
    Column("n_intervals", "intervals of its taxon behind it", example="31", type="integer"),
    Column("looked_back", "the look back that worked it out afterwards; empty: kept on its day",
           example="look-back-20261125T190000"),
    Column("written", "instant at which it was written down", example="2026-03-12T20:00:00+00:00"),
    Column("entries", "number of the newest entry then", example="812", type="integer"),
    Column("program", "version of the program", example="0.3"),
)  # fmt: skip
NAMES = tuple(column.name for column in COLUMNS)


def forecasts_text(issued: Iterable[Issued]) -> str:
    """Return the table as CSV text."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(NAMES)
    writer.writerows(_cells(each) for each in issued)
    return stream.getvalue()


def _cells(each: Issued) -> list[str]:
    odds, (first, last) = each.odds, each.opened
    return [
        each.animal,
        each.stage,
        each.day.isoformat(),
        first.isoformat() if first == last else f"{first.isoformat()}/{last.isoformat()}",
        ";".join(
            f"{level}={'' if days is None else repr(days)}" for level, days in odds.quantiles_days.items()
        ),
        ";".join(f"{days}={chance!r}" for days, chance in odds.within_days.items()),
        repr(odds.unseen),
        repr(odds.widened),
        odds.taxon,
        odds.group,
        str(odds.n_intervals),
        each.run,
        each.written.isoformat(),
        str(each.entries),
        each.program,
    ]


def read_forecasts(path: Path) -> tuple[list[Issued], list[RowRefusal], FileRead]:
    """Read the table back: forecasts, and a refusal for every row that cannot be read."""
    try:
        rows = [row for row in numbered_rows(text_of(path)) if row[2] or any(map(str.strip, row[1]))]
    except NotReadable as fault:
        refusal = RowRefusal(path.name, 0, "", fault.got or "", fault.wanted, fault.todo or "", True)
        return [], [refusal], FileRead(path.name, NAME)
    if not rows:
        wanted = "a header row: " + ", ".join(NAMES)
        return (
            [],
            [RowRefusal(path.name, 1, "", "an empty file", wanted, "", True)],
            FileRead(path.name, NAME),
        )
    header = named(rows[0][1])
    refusals = header_faults(path.name, rows[0][0], header, NAMES, NAMES)
    found: list[Issued] = []
    refused: list[RefusedRow] = []
    for line, cells, broken in rows[1:] if not refusals else ():
        try:
            if broken or len(cells) != len(header):
                raise NotReadable(f"{len(header)} cells, as in the header", got=broken or str(len(cells)))
            found.append(_issued(dict(zip(header, cells, strict=True))))
        except (Refusal, ValueError) as fault:
            got, wanted = (fault.got or "", fault.wanted) if isinstance(fault, Refusal) else (
                str(fault), "a forecast as it was exported")  # fmt: skip
            todo = "Leave the row out: a forecast cannot be mended"
            refusals.append(RowRefusal(path.name, line, "", got, wanted, todo))
            refused.append(RefusedRow(line, tuple(cells)))
    return found, refusals, FileRead(path.name, NAME, tuple(header), len(rows) - 1, tuple(refused))


def _issued(row: dict[str, str]) -> Issued:
    first, _, last = row["opened"].partition("/")
    written = datetime.fromisoformat(row["written"])
    if row["stage"] not in STAGES or written.tzinfo is None or not row["animal"].strip():
        raise NotReadable(
            "an animal, a stage and an instant with its offset", got=str(list(row.values())[:3])
        )
    quantiles = _pairs(row["quantiles_days"])
    odds = Odds(
        {level: float(days) if days else None for level, days in quantiles},
        {int(days): float(chance) for days, chance in _pairs(row["within_days"])},
        float(row["unseen"]),
        float(row["widened"]),
        row["taxon"],
        row["group"],
        int(row["n_intervals"]),
    )
    opened = (parse_day(first), parse_day(last or first))
    stage: Any = row["stage"]
    return Issued(
        row["animal"], stage, row["looked_back"], parse_day(row["day"]), opened, written,
        int(row["entries"]), row["program"], odds,
    )  # fmt: skip


def _pairs(text: str) -> Sequence[tuple[str, str]]:
    parts = [part.partition("=") for part in text.split(";") if part]
    return [(name.strip(), value.strip()) for name, _, value in parts]
