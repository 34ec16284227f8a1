"""Entries written as a keeper's notebook, so that a test's docstring can carry its journal.

    when  about  kind  field=value; field=value  @corrects 3  @written 2026-03-05  @act import-1

Columns stand at least two blanks apart; `when` is ISO text, or `unknown`; numbers count from 1 down the page.
"""

import re
from datetime import UTC, date, datetime

import msgspec

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import parse
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import KINDS
from nightround.record.fold import fold
from nightround.record.model import Record

CLOCK = RoomClock("Europe/Lisbon")
LONG_AFTER = "2030-01-01"
LINE = re.compile(r"^\s*((?:\d{4}|unknown)\S*)\s{2,}(\S.*)$")


def entries_of(text: str, clock: RoomClock = CLOCK) -> list[Entry]:
    """Read the entries that stand in the text; other lines are prose."""
    lines = [found for line in text.splitlines() if (found := LINE.match(line))]
    return [_entry(number, found, clock) for number, found in enumerate(lines, start=1)]


def _entry(number: int, found: re.Match[str], clock: RoomClock) -> Entry:
    columns = re.split(r"\s{2,}", found[2].strip())
    about, kind = columns[0].partition(" "), columns[1]
    marks = dict(column[1:].split(" ", 1) for column in columns[2:] if column.startswith("@"))
    fields = ";".join(column for column in columns[2:] if not column.startswith("@"))
    pairs = (pair.split("=", 1) for pair in fields.split(";") if pair.strip())
    body = msgspec.convert(
        {name.strip(): _value(value.strip()) for name, value in pairs}, KINDS[kind].body, strict=False
    )
    written = datetime.fromisoformat(marks.get("written", LONG_AFTER)).replace(tzinfo=UTC, hour=12)
    when = parse("" if found[1] == "unknown" else found[1], clock)
    ref = Ref(about[0], about[2])  # type: ignore[arg-type]
    corrects = int(marks["corrects"]) if "corrects" in marks else None
    return Entry(
        number, kind, ref, when, body, written, "phone", f"key-{number}", corrects, marks.get("act", "")
    )


def _value(text: str) -> object:
    return tuple(text.split("|")) if "|" in text else text


def told(text: str, on: str = "2026-12-31", clock: RoomClock = CLOCK) -> Record:
    """Return the record of a docstring's journal as of a day."""
    return fold(entries_of(text, clock), date.fromisoformat(on), clock)


def kinds(record: Record) -> list[str]:
    """Return the kinds of the record's problems, in order."""
    return [problem.kind for problem in record.problems]
