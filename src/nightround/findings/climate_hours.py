"""Hours past what counts as cold and hot, where loggers read hours: counted, never made from a day's mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from nightround.foundation.quantities import both
from nightround.record.hourly import Hours, logged_hours
from nightround.record.model import Record
from nightround.reports.climate import EventSort, PlaceClimate, PlaceStretch, Thresholds


@dataclass(frozen=True, slots=True)
class PastHours:
    """Hours past a threshold among those that were read."""

    past: int
    read: int


def hours_past(
    days: Mapping[date, Hours], first: date, last: date, limit_c: float | None, sort: EventSort
) -> PastHours | None:
    """Count the hours of room days `first` to `last` whose mean is past a threshold.

    Returns None without a threshold, or where no hour of these days was read.
    """
    if limit_c is None:
        return None
    sign = 1.0 if sort == "cold" else -1.0
    span = (first + timedelta(days=at) for at in range((last - first).days + 1))
    read = [value for day in span for value in days.get(day, ()) if value is not None]
    return PastHours(sum(sign * value < sign * limit_c for value in read), len(read)) if read else None


def hours_words(found: PastHours, limit_c: float, sort: EventSort) -> str:
    """Write them: '11 h under 17.0 °C (62.6 °F), of 72 h read'."""
    number = f"{found.past} h" if found.past else "less than an hour"
    side = "under" if sort == "cold" else "over"
    return f"{number} {side} {both(limit_c, 'C')}, of {found.read} h read"


def with_hours(record: Record, places: Sequence[PlaceClimate]) -> tuple[PlaceClimate, ...]:
    """Return the places with the hours of their months and weeks, where loggers read some."""
    return tuple(_with_hours(record, place) for place in places)


def _with_hours(record: Record, place: PlaceClimate) -> PlaceClimate:
    known = record.places.get(place.place)
    if known is None or not known.logged:
        return place
    limits = place.thresholds
    days = {day: _counted(hours, limits) for day, hours in logged_hours(known, "hours_c").items()}
    return replace(
        place,
        months=tuple(_stretch(each, days, limits) for each in place.months),
        weeks=tuple(_stretch(each, days, limits) for each in place.weeks),
    )


def _counted(hours: Hours, limits: Thresholds) -> tuple[int, int, int]:
    """Hours of a day that were read, and how many of them lay under and over the thresholds."""
    read = [value for value in hours if value is not None]
    cold, heat = limits.cold_c, limits.heat_c
    under = 0 if cold is None else sum(value < cold for value in read)
    over = 0 if heat is None else sum(value > heat for value in read)
    return len(read), under, over


def _stretch(
    each: PlaceStretch, days: Mapping[date, tuple[int, int, int]], limits: Thresholds
) -> PlaceStretch:
    span = (each.first + timedelta(days=at) for at in range((each.last - each.first).days + 1))
    found = [days[day] for day in span if day in days]
    if not found:
        return each
    read, under, over = map(sum, zip(*found, strict=True))
    return replace(
        each,
        hours_read=read,
        hours_under=None if limits.cold_c is None else under,
        hours_over=None if limits.heat_c is None else over,
    )
