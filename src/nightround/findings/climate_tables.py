"""From the record's places to tables of days: one table a room, its shelves in walking order.

A shelf belongs to the room that it stands in, by way of other places if need be; shelves for which no room is
on record are taken as one room without a name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from nightround.record.histories import DailyClimate, MoultHistory
from nightround.record.model import Record
from nightround.reports.climate import Thresholds
from nightround.science.climate.offsets import LEAST_DAYS
from nightround.science.climate.season import DailyRange
from nightround.science.thermal import FloatArray

MOST_DAYS: Final = 11_000
"""Older readings are left out: one mistyped year must not make a table of centuries."""
NO_THRESHOLDS: Final = Thresholds(None, None, None)


@dataclass(frozen=True)
class RoomTable:
    """The days of one room's places: arrays [P, T] from day number `first_day` to the record's day.

    reference   row of the room's own readings, which the others are held against; None when it has none
    expected    by place, what the keeper expects for days to come [C]
    """

    room: str
    names: tuple[str, ...]
    reference: int | None
    first_day: int
    low: FloatArray
    mean: FloatArray
    high: FloatArray
    humidity: FloatArray
    expected: tuple[Mapping[date, float], ...]

    @property
    def days(self) -> int:
        """How many days the table has."""
        return int(self.mean.shape[1])

    def of(self, row: int) -> DailyRange:
        """The days of one place."""
        return DailyRange(self.first_day, self.low[row], self.mean[row], self.high[row])

    def day(self, column: int) -> date:
        """The day of a column."""
        return date.fromordinal(self.first_day + column)


def room_of(record: Record, place: str) -> str:
    """Return the room that a place stands in, itself if it is one ('' where none is on record)."""
    walked = {place}
    while True:
        described = record.places.get(place)
        if described is None or not described.inside or described.inside in walked:
            break
        place = described.inside
        walked.add(place)
    holds = any(each.inside == place for each in record.places.values())
    return place if holds or (described is not None and described.sort == "room") else ""


def walking_order(record: Record, names: Sequence[str]) -> list[str]:
    """Return places by their position, then by name."""

    def key(name: str) -> tuple[float, str]:
        place = record.places.get(name)
        position = place.position if place is not None else None
        return (float("inf") if position is None else float(position), name.casefold())

    return sorted(names, key=key)


def room_tables(
    record: Record, climate: Mapping[str, DailyClimate], *, since: date | None = None
) -> tuple[RoomTable, ...]:
    """Return a table of each room with a place or an animal; `since` leaves older days out."""
    living = {animal.place for animal in record.living() if animal.place}
    rooms: dict[str, list[str]] = {}
    for name in walking_order(record, sorted({*record.places, *living})):
        rooms.setdefault(room_of(record, name), []).append(name)
    return tuple(_table(record, room, names, climate, since) for room, names in rooms.items())


def _table(
    record: Record, room: str, names: list[str], climate: Mapping[str, DailyClimate], since: date | None
) -> RoomTable:
    end = record.on.toordinal()
    parts = {name: _parts(climate.get(name)) for name in names}
    days = [day.toordinal() for each in parts.values() for part in each[:3] for day in part]
    least = max(end - MOST_DAYS, since.toordinal() if since is not None else 0)
    first = max(min((day for day in days if day <= end), default=end), least)
    arrays = [np.full((len(names), end - first + 1), np.nan) for _ in range(4)]
    for row, name in enumerate(names):
        for array, part in zip(arrays, parts[name], strict=True):
            _fill(array[row], part, first)
    low, mean, high, humidity = arrays
    reference = names.index(room) if room in names else None
    if reference is not None and np.isfinite(mean[reference]).sum() < LEAST_DAYS:
        reference = None
    expected = tuple(climate[name].expected_c if name in climate else {} for name in names)
    return RoomTable(room, tuple(names), reference, first, low, mean, high, humidity, expected)


def _parts(each: DailyClimate | None) -> tuple[Mapping[date, float], ...]:
    """Lowest, mean and highest temperature, and humidity, by day."""
    if each is None:
        return {}, {}, {}, {}
    return each.low_c, each.temperature_c, each.high_c, each.humidity_percent


def _fill(row: FloatArray, values: Mapping[date, float], first: int) -> None:
    at = np.fromiter((day.toordinal() - first for day in values), dtype=np.int64, count=len(values))
    told = np.fromiter(values.values(), dtype=np.float64, count=len(values))
    inside = (at >= 0) & (at < row.size)
    row[at[inside]] = told[inside]


@dataclass(frozen=True)
class Residents:
    """Who lived where and when: (animal, first day, last day) by place."""

    by_place: Mapping[str, tuple[tuple[str, date, date], ...]]

    def between(self, place: str, first: date, last: date) -> set[str]:
        """Codes of everybody who lived at a place on one of those days."""
        return {code for code, a, b in self.by_place.get(place, ()) if a <= last and b >= first}


def residents(histories: Mapping[str, MoultHistory]) -> Residents:
    """Return who lived where and when, of every animal ever recorded."""
    found: dict[str, list[tuple[str, date, date]]] = {}
    for code, history in histories.items():
        for place, first, last in history.stays:
            if place:
                found.setdefault(place, []).append((code, first, last))
    return Residents({place: tuple(stays) for place, stays in found.items()})
