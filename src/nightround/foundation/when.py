"""When something happened: a day, an instant, an interval of days, or unknown."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, datetime

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable

_MONTH = re.compile(r"^(\d{4})-(\d{2})$")
_EITHER_ORDER = re.compile(r"^\d{1,2}[./-]\d{1,2}[./-](\d{2}|\d{4})$")
_YEAR = re.compile(r"^(\d{4})$")
MONTHS = {
    spelling: number
    for number, spellings in enumerate(
        ("jan january", "feb february", "mar march", "apr april", "may", "jun june", "jul july",
         "aug august", "sep sept september", "oct october", "nov november", "dec december"),
        1,
    )
    for spelling in spellings.split()
}  # fmt: skip
"""The months by their English names, long and short."""
YEARS = range(1000, 3000)
"""Years that a record can be about: far beyond them stands a slip of the finger, such as 0226 for 2026."""


@dataclass(frozen=True)
class When:
    """A moment as well as it is known. Both ends of an interval belong to it.

    first, last   room-local days, both None when unknown
    instant       set when the moment itself is known; then first == last == its room day
    """

    first: date | None = None
    last: date | None = None
    instant: datetime | None = None

    def __post_init__(self) -> None:
        if (self.first is None) != (self.last is None):
            raise NotReadable("both ends of an interval", got=f"{self.first}/{self.last}")
        if self.first is not None and self.last is not None and self.last < self.first:
            raise NotReadable(
                "an interval whose first day is not after its last",
                got=f"{self.first}/{self.last}",
                todo="Swap the two days if they were written in the wrong order",
            )

    @property
    def known(self) -> bool:
        """Whether anything is known of it."""
        return self.first is not None

    @property
    def is_interval(self) -> bool:
        """Whether it is known only to lie between two different days."""
        return self.first != self.last

    def text(self) -> str:
        """Return the ISO 8601 text that `parse` reads back to an equal value ('' when unknown)."""
        if self.first is None or self.last is None:
            return ""
        if self.instant is not None:
            return self.instant.isoformat()
        if self.is_interval:
            return f"{self.first.isoformat()}/{self.last.isoformat()}"
        return self.first.isoformat()

    def __str__(self) -> str:
        return self.text() or "unknown"


UNKNOWN = When()


def on_day(day: date) -> When:
    """Return the When of one whole day."""
    return When(day, day)


def between(first: date, last: date) -> When:
    """Return the When of an interval of days, both ends included."""
    return When(first, last)


def at(instant: datetime, clock: RoomClock) -> When:
    """Return the When of an aware instant, with the room's day it belongs to."""
    if instant.tzinfo is None:
        instant = instant.replace(tzinfo=clock.zone)
    day = clock.day_of(instant)
    return When(day, day, instant)


def parse(text: str, clock: RoomClock) -> When:
    """Read ISO 8601: day, month, year, instant (local when no offset), or interval `a/b`. '' is unknown.

    Raises NotReadable for anything else; other spellings are the spreadsheet importer's business.
    """
    text = text.strip()
    if not text:
        return UNKNOWN
    if _EITHER_ORDER.match(text):
        raise NotReadable(
            "a date as year-month-day",
            got=repr(text),
            todo="Write the date as year-month-day: here day and month can be read either way round",
        )
    if "/" in text:
        start, _, end = text.partition("/")
        left, right = _one(start.strip(), clock, text), _one(end.strip(), clock, text)
        return When(left.first, right.last)
    return _one(text, clock, text)


def parse_day(text: str) -> date:
    """Read one day as YYYY-MM-DD, for questions 'as of' it. Raises NotReadable."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        day = date.min
    if day.year not in YEARS:
        raise NotReadable("a day such as 2026-03-01", got=repr(text), todo="Write it as year-month-day")
    return day


def _one(text: str, clock: RoomClock, whole: str) -> When:
    try:
        if _YEAR.match(text):
            return _in_calendar(When(date(int(text), 1, 1), date(int(text), 12, 31)))
        if month := _MONTH.match(text):
            year, number = int(month[1]), int(month[2])
            last = calendar.monthrange(year, number)[1]
            return _in_calendar(When(date(year, number, 1), date(year, number, last)))
        if "T" in text or " " in text or "t" in text:
            return _in_calendar(at(datetime.fromisoformat(text), clock))
        # `datetime` would read a day without dashes as midnight, which belongs to the evening before.
        return _in_calendar(on_day(date.fromisoformat(text)))
    except (ValueError, OverflowError) as error:
        raise NotReadable(
            "a date such as 2026-03-01, an interval such as 2026-03-01/2026-03-04, or a time such as "
            "2026-03-01T21:30",
            got=repr(whole),
            todo="Write the date as year-month-day",
        ) from error


def _in_calendar(when: When) -> When:
    """Raise ValueError for a year that no record can be about."""
    if when.first is not None and when.first.year not in YEARS:
        raise ValueError(f"the year {when.first.year}")
    return when
