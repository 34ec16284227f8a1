"""Dates, odds and amounts as a person reads them, with the exact form kept for machines."""

from __future__ import annotations

import re
from datetime import date, datetime, tzinfo
from typing import Protocol

from markupsafe import Markup, escape

from nightround.foundation.wording import day_words

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_ISO_DAY = re.compile(r"\b(\d{4}-\d{2}-\d{2})(?:/(\d{4}-\d{2}-\d{2}))?\b")


class Moment(Protocol):
    """What `when` needs of a When: room-local first and last day, and the instant where it is known."""

    @property
    def first(self) -> date | None: ...
    @property
    def last(self) -> date | None: ...
    @property
    def instant(self) -> datetime | None: ...


def day_text(day: date, on: date | None = None) -> str:
    """Return 'Tue 24 Nov', with the year when it is not that of `on`."""
    return f"{WEEKDAYS[day.weekday()]} {day_words(day, on)}"


def day(value: date | None, on: date | None = None) -> Markup:
    """Return a day as a <time> element, or 'unknown'."""
    if value is None:
        return Markup("unknown")
    return Markup('<time datetime="{}">{}</time>').format(value.isoformat(), day_text(value, on))


def when(value: Moment, on: date | None = None, zone: tzinfo | None = None) -> Markup:
    """Return a moment as well as it is known: a day, a time of day, or 'between … and …'."""
    if value.first is None or value.last is None:
        return Markup("day unknown")
    if value.first != value.last:
        return Markup("between {} and {}").format(day(value.first, on), day(value.last, on))
    if value.instant is None:
        return day(value.first, on)
    local = value.instant.astimezone(zone) if zone else value.instant
    return Markup('<time datetime="{}">{}, {}</time>').format(
        local.isoformat(timespec="minutes"), day_text(value.first, on), f"{local:%H:%M}"
    )


def human(text: str, on: date | None = None) -> Markup:
    """Return words whose ISO days have become <time> elements; anything else is escaped as it is."""
    parts: list[Markup] = []
    end = 0
    for found in _ISO_DAY.finditer(text):
        try:
            first, last = (date.fromisoformat(part) if part else None for part in found.groups())
        except ValueError:
            continue
        shown = Markup("{} to {}").format(day(first, on), day(last, on)) if last else day(first, on)
        parts += [escape(text[end : found.start()]), shown]
        end = found.end()
    return Markup("").join([*parts, escape(text[end:])])


def percent(fraction: float) -> str:
    """Return odds as words: '31 %', 'under 1 %', 'over 99 %'."""
    if fraction < 0.01:
        return "under 1 %"
    if fraction > 0.99:
        return "over 99 %"
    return f"{100 * fraction:.0f} %"


def days(count: int | None) -> str:
    """Return a number of days in words: 'today', '1 day', '9 days', 'unknown'."""
    if count is None:
        return "unknown"
    return "today" if count == 0 else f"{count} day{'' if count == 1 else 's'}"


def outcome(word: str | None) -> str:
    """Return an offer's outcome as a keeper says it."""
    return {"taken": "taken", "refused": "refused", "uneaten": "still there", "not_seen": "not seen"}.get(
        word or "", "not looked yet"
    )
