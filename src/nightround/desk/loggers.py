"""Logger files at the desk: said first what was understood, then written as one import."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from nightround.desk.acts import IMPORT_MARK
from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.journal.entries import Draft, Entry
from nightround.journal.kinds.surroundings import Logged
from nightround.journal.loggers import HowRead, LoggerRead, drafts_of, read_logger
from nightround.journal.loggers.days import hours_of

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

# Hourly means of the same readings differ by rounding only [C, %].
SAME = 0.06

__all__ = ["HowRead", "LoggerTaken", "take_logger"]


@dataclass(frozen=True)
class LoggerTaken:
    """What a logger file says, and what became of it.

    new, already   days that were written or would be, and days that are in the room already
    act            what takes it back; '' when nothing was written
    low_c, mean_c, high_c   of all its readings (None: it has no temperatures)
    """

    place: str
    file: str
    first: date
    last: date
    readings: int
    new: int
    already: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    words: tuple[str, ...]
    doubts: tuple[str, ...]
    committed: bool
    act: str = ""


def take_logger(
    desk: Desk,
    path: Path,
    place: str,
    how: HowRead,
    *,
    commit: bool,
    progress: Callable[[str], None] | None = None,
) -> LoggerTaken:
    """Read a logger's file for a place; write it only with `commit`. The same file again adds nothing.

    Raises Question where the file leaves something open, Refusal where it cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as fault:
        raise Refusal(
            f"a file that can be read at {path}",
            got=fault.strerror or str(fault),
            todo="Check that the file is there and may be read",
        ) from fault
    return take_logger_bytes(desk, data, path.name, place, how, commit=commit, progress=progress)


def take_logger_bytes(
    desk: Desk,
    data: bytes,
    name: str,
    place: str,
    how: HowRead,
    *,
    commit: bool,
    progress: Callable[[str], None] | None = None,
) -> LoggerTaken:
    """The same from the bytes of a file."""
    clock = desk.journal.clock
    named = _place(desk, place)
    read = read_logger(data, name, clock.zone, how, progress)
    if progress:
        progress("days")
    days = drafts_of(read, named, clock)
    if days.last > desk.today():
        raise Refusal(
            f"readings up to today in {name}",
            got=f"a reading of {days.last.isoformat()}",
            todo="Look at the logger's clock and at the order of day and month",
        )
    there = _there(desk, named)
    placed = [_placed(draft, there.get(draft.when.last, [])) for draft in days.drafts]
    fresh = [draft for draft in placed if draft is not None]
    act = IMPORT_MARK + secrets.token_hex(4) if commit and fresh else ""
    if act:
        if progress:
            progress("writing")
        desk.write(fresh, intention=act)
    return _told(read, named, days.first, days.last, len(fresh), len(days.drafts), commit, act)


def _place(desk: Desk, name: str) -> str:
    """A place of the room in any spelling of capitals; a new one is made by naming it exactly."""
    if not name.strip():
        known = ", ".join(desk.record().places) or "none yet"
        raise NoSuchThing(
            "the place that the logger stood at", got="none", todo=f"Say --place, such as: {known}"
        )
    return next(
        (known for known in desk.record().places if known.casefold() == name.strip().casefold()), name.strip()
    )


def _there(desk: Desk, place: str) -> dict[date | None, list[Entry]]:
    """Logged days of the place that stand in the record, by day."""
    record = desk.record()
    known = record.places.get(place)
    found: dict[date | None, list[Entry]] = {}
    for logged in known.logged if known is not None else ():
        if logged.number in record.entries:
            found.setdefault(logged.day, []).append(record.entries[logged.number])
    return found


def _placed(draft: Draft, there: Sequence[Entry]) -> Draft | None:
    """A day that is not there yet, or tells more of the same readings and takes the old one's place."""
    body = draft.body
    assert isinstance(body, Logged)
    for entry in there:
        if not isinstance(entry.body, Logged):
            continue
        if _covers(entry.body, body):
            return None
        if _covers(body, entry.body):
            return Draft(draft.about, draft.when, body, corrects=entry.number)
    return draft


def _covers(more: Logged, less: Logged) -> bool:
    """Whether one day holds all that the other does: hour by hour, but for one that was only half read."""
    for text, other in ((more.hours_c, less.hours_c), (more.hours_percent, less.hours_percent)):
        whole, part = hours_of(text), hours_of(other)
        if len(part) > len(whole):
            return False
        apart = [
            at for at, value in enumerate(part)
            if value is not None and ((there := whole[at]) is None or abs(there - value) > SAME)
        ]  # fmt: skip
        if len(apart) > 1 or any(whole[at] is None for at in apart):
            return False
    return (more.readings or 0) >= (less.readings or 0)


def _told(
    read: LoggerRead, place: str, first: date, last: date, new: int, days: int, commit: bool, act: str
) -> LoggerTaken:
    import numpy as np

    known = read.temperature_c[np.isfinite(read.temperature_c)]
    return LoggerTaken(
        place=place,
        file=read.name,
        first=first,
        last=last,
        readings=len(read.seconds),
        new=new,
        already=days - new,
        low_c=float(known.min()) if known.size else None,
        mean_c=float(known.mean()) if known.size else None,
        high_c=float(known.max()) if known.size else None,
        words=read.words,
        doubts=read.doubts,
        committed=commit,
        act=act,
    )
