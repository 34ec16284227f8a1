"""Is the journal sound? Every check that could fail after a crash, a bad disk or a foreign hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import Refusal
from nightround.foundation.when import parse
from nightround.journal import coding, issued
from nightround.journal.database import ENTRY, guards_missing
from nightround.journal.kinds import KINDS

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class VerifyReport:
    """What was checked and what is wrong; `faults` empty means sound."""

    entries: int
    faults: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults


def verify(connection: Connection, clock: RoomClock) -> VerifyReport:
    """Check the database file, the append-only guards, and every entry."""
    faults = list(_file_faults(connection)) if connection.dialect.name == "sqlite" else []
    missing = guards_missing(connection)
    if missing:
        faults.append(f"append-only guards are missing: {', '.join(sorted(missing))}")
    rows = list(connection.execute(ENTRY.select().order_by(ENTRY.c.number)))
    faults += _row_faults(rows, clock)
    faults += issued.faults(connection)
    return VerifyReport(len(rows), tuple(faults))


def _file_faults(connection: Connection) -> Iterator[str]:
    for (line,) in connection.exec_driver_sql("PRAGMA integrity_check"):
        if line != "ok":
            yield f"the database file: {line}"
    for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"the database file: a reference to nothing in {tuple(row)}"


def _row_faults(rows: list[Any], clock: RoomClock) -> Iterator[str]:
    keys: set[str] = set()
    for expected, row in enumerate(rows, start=1):
        if row.number != expected:
            yield f"entry {row.number}: number {expected} should stand here; entries are missing"
            return
        if row.key in keys or not row.key:
            yield f"entry {row.number}: its key is empty or used twice"
        keys.add(row.key)
        if row.corrects is not None and not 0 < row.corrects < row.number:
            yield f"entry {row.number}: corrects {row.corrects}, which is not an earlier entry"
        yield from _content_faults(row, clock)
        if not _is_instant(row.recorded):
            yield f"entry {row.number}: written at {row.recorded!r}, which is no instant"


def _is_instant(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _content_faults(row: Any, clock: RoomClock) -> Iterator[str]:
    kind = KINDS.get(row.kind)
    if kind is not None and row.about_kind not in kind.subjects:
        yield f"entry {row.number}: '{row.kind}' cannot be about {row.about_kind}"
    try:
        coding.body_of(row.kind, row.body)
        when = parse(row.happened, clock)
    except Refusal as refusal:
        yield f"entry {row.number}: {refusal}"
        return
    days = tuple(day.isoformat() if day else None for day in (when.first, when.last))
    if when.instant is None and days != (row.first_day, row.last_day):
        yield f"entry {row.number}: happened {row.happened!r} disagrees with its days {days}"
