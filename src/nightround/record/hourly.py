"""Hours that loggers read, from their days on record: by room day, and by the room's own clock.

Several loggers at one place are averaged. An hour that nobody read is absent or None, never filled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from nightround.foundation.clock import RoomClock
from nightround.record.model import LoggedDay, Place, Record

Quantity = Literal["hours_c", "hours_percent"]
Hours = tuple[float | None, ...]
HOUR = timedelta(hours=1)
DAY_HOURS = 24


@dataclass(frozen=True, slots=True)
class HourlyClimate:
    """What loggers read at a place, by calendar day and hour (0 to 23) of the room's own clock.

    The hour that comes twice when summer time ends is the mean of both; the one that never comes is None.
    """

    place: str
    temperature_c: Mapping[date, Hours]
    humidity_percent: Mapping[date, Hours]


def hourly_climate(record: Record, since: date | None = None) -> dict[str, HourlyClimate]:
    """Return the logged hours of every place that has some, by name; `since` leaves older room days out."""
    return {
        name: HourlyClimate(
            name,
            _by_clock(logged_hours(place, "hours_c", since), record.clock),
            _by_clock(logged_hours(place, "hours_percent", since), record.clock),
        )
        for name, place in record.places.items()
        if place.logged
    }


def logged_hours(place: Place, quantity: Quantity, since: date | None = None) -> dict[date, Hours]:
    """Return a place's hours by room day, counted from the turn of the day; days without one are absent."""
    by_day: dict[date, list[Hours]] = {}
    for logged in place.logged:
        if since is not None and logged.day < since:
            continue
        hours = _hours(logged, quantity)
        if any(value is not None for value in hours):
            by_day.setdefault(logged.day, []).append(hours)
    return {day: each[0] if len(each) == 1 else _averaged(each) for day, each in by_day.items()}


def _hours(logged: LoggedDay, quantity: Quantity) -> Hours:
    return logged.hours_c if quantity == "hours_c" else logged.hours_percent


def _averaged(several: list[Hours]) -> Hours:
    length = max(map(len, several))
    return tuple(_mean([each[at] if at < len(each) else None for each in several]) for at in range(length))


def _mean(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _by_clock(days: Mapping[date, Hours], clock: RoomClock) -> dict[date, Hours]:
    """The same hours by calendar day and hour of the clock."""
    found: dict[date, list[list[float | None]]] = {}
    for day, hours in days.items():
        for local, value in zip(_clock_hours(day, len(hours), clock), hours, strict=True):
            if value is not None:
                here = found.setdefault(local.date(), [[] for _ in range(DAY_HOURS)])
                here[local.hour].append(value)
    return {day: tuple(_mean(values) for values in hours) for day, hours in sorted(found.items())}


def _clock_hours(day: date, count: int, clock: RoomClock) -> list[datetime]:
    """What the room's clock shows in the middle of each hour of a room day."""
    begins = clock.close_of(day - timedelta(days=1)) + HOUR / 2
    return [(begins + at * HOUR).astimezone(clock.zone) for at in range(count)]
