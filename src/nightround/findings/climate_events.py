"""Cold nights, heat waves and gaps of a room, the animals that they touch, and what is coming."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.climate_hours import hours_past, hours_words
from nightround.findings.climate_tables import NO_THRESHOLDS, Residents, RoomTable
from nightround.findings.clock_effects import FOUR_IN_FIVE
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted, day_words
from nightround.record.hourly import Hours, logged_hours
from nightround.record.model import Record
from nightround.reports.climate import (
    ClimateEvent,
    ClimateGap,
    EventPlace,
    EventSort,
    ShelfOffset,
    Thresholds,
)
from nightround.science.climate.events import Run, cold_days, gaps, runs
from nightround.science.thermal import FloatArray

DAY: Final = timedelta(days=1)
LEAST_GAP_DAYS: Final = 3
# Gaps of several places are one when they begin and end within so many days, and share most of their days.
GAP_ENDS_APART: Final = 3
SAME_MAKING: Final = 0.7
COMING_DAYS: Final = 14
DIFFERENCE_DAYS: Final = 60
LEAST_DIFFERENCE_DAYS: Final = 5


def events_of(
    record: Record, table: RoomTable, thresholds: Mapping[str, Thresholds], lived: Residents
) -> list[ClimateEvent]:
    """Return a room's cold spells and heat waves, oldest first."""
    cold: list[EventPlace] = []
    heat: list[EventPlace] = []
    for row, name in enumerate(table.names):
        limits, days = thresholds.get(name, NO_THRESHOLDS), table.of(row)
        coldest, hottest = days.coldest, days.hottest
        hours = _hours(record, table, name)
        under = -np.inf if limits.cold_c is None else limits.cold_c
        fall = np.inf if limits.drop_c is None else limits.drop_c
        past = cold_days(coldest, days.mean, under, fall)
        for run in runs(past, days.known, coldest, lowest=True):
            cold.append(_with_hours(_place(table, name, run, fell=run.value >= under), hours, limits, "cold"))
        over = np.inf if limits.heat_c is None else limits.heat_c
        for run in runs(hottest > over, days.known, hottest, lowest=False):
            heat.append(_with_hours(_place(table, name, run), hours, limits, "heat"))
    failed = _heat_failures(record, table.names)
    sorts: tuple[tuple[EventSort, list[EventPlace]], ...] = (("cold", cold), ("heat", heat))
    found = [
        event_of(sort, table.room, group, lived, failed)
        for sort, each in sorts
        for group in overlapping(each)
    ]
    return sorted(found, key=lambda event: (event.first, event.sort))


def _place(table: RoomTable, name: str, run: Run, *, fell: bool = False) -> EventPlace:
    first, last, worst = table.day(run.first), table.day(run.last), table.day(run.worst)
    return EventPlace(name, first, last, run.days, run.unread, run.value, worst, fell)


def _hours(record: Record, table: RoomTable, name: str) -> dict[date, Hours]:
    place = record.places.get(name)
    return logged_hours(place, "hours_c", table.day(0)) if place is not None and place.logged else {}


def _with_hours(
    place: EventPlace, days: Mapping[date, Hours], limits: Thresholds, sort: EventSort
) -> EventPlace:
    """The place with its hours past the threshold; a sudden fall has no threshold to count by."""
    limit = limits.cold_c if sort == "cold" else limits.heat_c
    found = None if place.fell else hours_past(days, place.first, place.last, limit, sort)
    if found is None or limit is None:
        return place
    words = hours_words(found, limit, sort)
    return replace(place, hours=found.past, hours_read=found.read, hours_words=words)


def overlapping(places: Sequence[EventPlace]) -> list[list[EventPlace]]:
    """Return groups of places whose days overlap or follow each other."""
    groups: list[list[EventPlace]] = []
    end = date.min
    for each in sorted(places, key=lambda place: place.first):
        if groups and each.first <= end + DAY:
            groups[-1].append(each)
        else:
            groups.append([each])
            end = each.last
        end = max(end, each.last)
    return groups


def event_of(
    sort: EventSort,
    room: str,
    places: Sequence[EventPlace],
    lived: Residents,
    failed: Sequence[date] = (),
    *,
    coming: bool = False,
) -> ClimateEvent:
    """Return places whose days overlap as one event with the animals it touches."""
    sign = 1.0 if sort == "cold" else -1.0
    ordered = tuple(sorted(places, key=lambda each: sign * each.worst_c))
    first, last = min(each.first for each in places), max(each.last for each in places)
    animals: set[str] = set()
    for each in places:
        animals |= lived.between(each.place, each.first, each.last)
    within = [day for day in failed if first - DAY <= day <= last]
    event = ClimateEvent(
        sort, room, first, last, ordered, tuple(sorted(animals)), within[0] if within else None, "", coming
    )
    return replace(event, words=_words(event))


def _words(event: ClimateEvent) -> str:
    days = counted((event.last - event.first).days + 1, "day")
    worst = event.places[0]
    what = "Cold nights" if event.sort == "cold" else "Heat wave"
    if event.sort == "cold" and all(each.fell for each in event.places):
        what = "Sudden cold"
    to = "down to" if event.sort == "cold" else "up to"
    words = f"{what}, {span_words(event.first, event.last)} ({days}): {to} {both(worst.worst_c, 'C')} at "
    words += worst.place or "an unnamed place"
    words += f", {worst.hours_words}" if worst.hours_words else ""
    others = len({each.place for each in event.places}) - 1
    if others:
        words += f" and {counted(others, 'more place')}"
    words += f"; {counted(len(event.animals), 'animal')} there"
    if event.heat_failed is not None:
        words += f"; heating failed {day_words(event.heat_failed)} by the record"
    return words


def span_words(first: date, last: date) -> str:
    """Write a span of days: '3 Jan 2025', '3 to 5 Jan 2025', '30 Jan to 2 Feb 2025'."""
    if first == last:
        return day_words(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_words(last)}"
    return f"{day_words(first, last)} to {day_words(last)}"


def _heat_failures(record: Record, names: Sequence[str]) -> list[date]:
    """Days on which heating failed at one of the places, by the record."""
    found = []
    for name in names:
        place = record.places.get(name)
        for number in place.entries if place is not None else ():
            entry = record.entries.get(number)
            if entry is None or entry.kind != "heat" or getattr(entry.body, "state", "") != "failed":
                continue
            if entry.when.first is not None:
                found.append(entry.when.first)
    return sorted(found)


def coming_of(
    record: Record, table: RoomTable, thresholds: Mapping[str, Thresholds], lived: Residents
) -> list[ClimateEvent]:
    """Return cold and heat that the keeper's expectation brings within two weeks.

    A shelf without an expectation of its own is as far from the room's as it was on the last common days.
    """
    found: dict[EventSort, list[EventPlace]] = {"cold": [], "heat": []}
    for row, name in enumerate(table.names):
        limits = thresholds.get(name, NO_THRESHOLDS)
        days = sorted(_expected(record.on, table, row).items())
        checks: tuple[tuple[EventSort, float | None, float], ...] = (
            ("cold", limits.cold_c, 1.0), ("heat", limits.heat_c, -1.0),
        )  # fmt: skip
        for sort, limit, sign in checks:
            past = [] if limit is None else [(d, c) for d, c in days if sign * c < sign * limit]
            if past:
                worst = min(past, key=lambda each: sign * each[1])
                place = EventPlace(name, past[0][0], past[-1][0], len(past), 0, worst[1], worst[0])
                found[sort].append(place)
    return [
        event_of(sort, table.room, group, lived, coming=True)
        for sort, places in found.items()
        for group in overlapping(places)
    ]


def _expected(on: date, table: RoomTable, row: int) -> dict[date, float]:
    until = on + COMING_DAYS * DAY
    own = {day: value for day, value in table.expected[row].items() if on < day <= until}
    reference = table.reference
    if own or reference is None or reference == row:
        return own
    apart = (table.mean[row] - table.mean[reference])[-DIFFERENCE_DAYS:]
    known = apart[np.isfinite(apart)]
    if known.size < LEAST_DIFFERENCE_DAYS:
        return {}
    difference = float(known.mean())
    room = table.expected[reference]
    return {day: value + difference for day, value in room.items() if on < day <= until}


@dataclass(frozen=True)
class _Gap:
    place: int
    first: int
    last: int


def gaps_of(
    table: RoomTable, offsets: Sequence[ShelfOffset], mean: FloatArray, sd: FloatArray
) -> tuple[list[ClimateGap], int]:
    """Return a room's gaps of three days and longer, oldest first, and how many shorter ones there are.

    mean, sd [P, T]   what unread days were by way of the others' readings
    """
    long: list[_Gap] = []
    short = 0
    for row in range(len(table.names)):
        for first, last in gaps(table.of(row).known):
            if last - first + 1 >= LEAST_GAP_DAYS:
                long.append(_Gap(row, first, last))
            else:
                short += 1
    groups: list[list[_Gap]] = []
    while long:
        seed = max(long, key=lambda each: (each.last - each.first, -each.first))
        group = [gap for gap in long if gap == seed or _belongs(gap, seed, long)]
        long = [gap for gap in long if gap not in group]
        groups.append(group)
    return [_gap(table, group, offsets, mean, sd) for group in groups], short


def _belongs(gap: _Gap, seed: _Gap, every: list[_Gap]) -> bool:
    """Whether a gap of another place is of the same making: within the seed's days, and most of them."""
    if gap.place == seed.place:
        return False
    low, high = seed.first - GAP_ENDS_APART, seed.last + GAP_ENDS_APART
    if gap.first < low or gap.last > high:
        return False
    inside = [each for each in every if each.place == gap.place and low <= each.first and each.last <= high]
    missed = sum(each.last - each.first + 1 for each in inside)
    return missed >= SAME_MAKING * (seed.last - seed.first + 1)


def _gap(
    table: RoomTable, group: list[_Gap], offsets: Sequence[ShelfOffset], mean: FloatArray, sd: FloatArray
) -> ClimateGap:
    first, last = min(gap.first for gap in group), max(gap.last for gap in group)
    days = {each.place: each.offset.n_observations for each in offsets}
    told = []
    for gap in sorted(group, key=lambda each: (each.place, each.first)):
        part = slice(gap.first, gap.last + 1)
        at = np.flatnonzero(np.isfinite(mean[gap.place, part]))
        if at.size:
            name = table.names[gap.place]
            value = float(mean[gap.place, part][at].mean())
            # The days' errors remember: their mean is taken to be as doubtful as one day.
            reach = FOUR_IN_FIVE * float(sd[gap.place, part][at].mean())
            words = f"{counted(int(at.size), 'day')} of it, from the other places' readings and the offset"
            told.append(
                (name, Estimate(value, value - reach, value + reach, "C", 0, days.get(name, 0), words, 0.8,
                                (OWN_RECORDS,)))
            )  # fmt: skip
    places = sorted({gap.place for gap in group})
    read = [int(table.of(place).known[first : last + 1].sum()) for place in places]
    return ClimateGap(
        table.room,
        tuple(table.names[place] for place in places),
        tuple((table.names[place], days) for place, days in zip(places, read, strict=True) if days),
        table.day(first),
        table.day(last),
        last == table.days - 1,
        tuple(told),
    )
