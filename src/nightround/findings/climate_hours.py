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
    days = logged_hours(known, "hours_c")
    return replace(
        place,
        months=tuple(_stretch(each, days, place.thresholds) for each in place.months),
        weeks=tuple(_stretch(each, days, place.thresholds) for each in place.weeks),
    )


def _stretch(each: PlaceStretch, days: Mapping[date, Hours], limits: Thresholds) -> PlaceStretch:
    cold = hours_past(days, each.first, each.last, limits.cold_c, "cold")
    heat = hours_past(days, each.first, each.last, limits.heat_c, "heat")
    either = cold or heat
    return replace(
        each,
        hours_read=either.read if either else None,
        hours_under=cold.past if cold else None,
        hours_over=heat.past if heat else None,
    )
