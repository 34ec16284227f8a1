"""Looking back: what today's program would have forecast on past days, from what was written by then.

A room that was imported, or kept before forecasts were, has no track record. Its past days can be gone
through as if the program had been opened on them. What comes out is marked and counted apart: the program
is told nothing of what came later, but whoever wrote it may have known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Final

from nightround.findings.issued import due
from nightround.findings.moult import forecast
from nightround.findings.track_record import widenings
from nightround.foundation.clock import RoomClock
from nightround.journal.entries import Entry
from nightround.journal.issued import Issued
from nightround.record.fold import fold

# Intentions of imports begin so; rows that keep their own act carry it behind a slash.
_IMPORTED: Final = "import-"
FEWEST_ENTRIES: Final = 20
EVERY_DAYS: Final = 28
MOST_DAYS: Final = 40


def past_days(
    entries: Sequence[Entry], on: date, *, every: int = EVERY_DAYS, most: int = MOST_DAYS
) -> list[date]:
    """Return the days to look back from, oldest first: every so many days up to `on`, at most so many.

    They end before the newest entry about an animal: a room that is no longer kept ends there.
    """
    told = [entry for entry in entries if entry.about.kind == "animal" and entry.when.last is not None]
    last = max((day for entry in told if (day := entry.when.last) is not None and day <= on), default=on)
    moults = (entry.when.last for entry in told if entry.kind == "moulted")
    first = min((day for day in moults if day is not None and day <= last), default=None)
    if first is None:
        return []
    days = [last - timedelta(days=every * back) for back in range(1, most + 1)]
    return [day for day in reversed(days) if day >= first]


def written_by(entries: Sequence[Entry], day: date, clock: RoomClock) -> list[Entry]:
    """Return the entries that had been written by the close of `day`.

    A list that was imported without saying when its rows were written is taken as written as it happened:
    such rows all carry the moment of the import itself.
    """
    close = clock.close_of(day)
    brought: dict[str, datetime] = {}
    for entry in entries:
        if entry.intention.startswith(_IMPORTED) and "/" not in entry.intention:
            brought[entry.intention] = max(entry.recorded, brought.get(entry.intention, entry.recorded))
    return [
        entry
        for entry in entries
        if entry.recorded <= close or brought.get(entry.intention) == entry.recorded
    ]


def look_back(
    entries: Sequence[Entry],
    clock: RoomClock,
    days: Sequence[date],
    *,
    run: str,
    written: datetime,
    heard: Callable[[int, int], None] = lambda done, of: None,
) -> list[Issued]:
    """Return the forecasts that were due on these days, each from what had been written by its close.

    days    ascending
    heard   is told how many days are done, of how many
    Windows are widened as they would have been by then, from the forecasts of the earlier days.
    """
    found: list[Issued] = []
    for number, day in enumerate(days):
        heard(number, len(days))
        known = written_by(entries, day, clock)
        record = fold(known, day, clock)
        if len(record.entries) >= FEWEST_ENTRIES and record.living():
            report = forecast(record, widenings=widenings(record, _numbered(found)))
            found += due(record, report, found, written=written, run=run)
    heard(len(days), len(days))
    return found


def _numbered(found: Sequence[Issued]) -> list[Issued]:
    """Give forecasts the numbers they will have: the newest run is told by them."""
    return [replace(each, number=number) for number, each in enumerate(found, start=1)]
