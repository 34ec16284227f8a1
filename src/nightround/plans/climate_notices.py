"""What the round says of the climate: cold nights and heat, behind and ahead, and places without readings.

One line for each room and matter, never one for each shelf. What to do is common practice, no source, with
the cautions of the trade: warmth comes back slowly, and never from a mat without a thermostat.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from typing import Final

import numpy as np

from nightround.findings.climate_events import coming_of, events_of
from nightround.findings.climate_tables import Residents, RoomTable, room_tables
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted, day_words, joined
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation
from nightround.record.histories import DailyClimate
from nightround.record.make_histories import daily_climate
from nightround.record.model import Animal, Record
from nightround.record.wintering import wintered
from nightround.reports.climate import ClimateEvent, Thresholds
from nightround.science.thermal import UNREAD_PLACE_C

TABLE_DAYS: Final = 90
# An event is told while it belongs to the last days that were read, and these are no older than so many days.
LATEST_READ_DAYS: Final = 3
OLDEST_DAYS: Final = 10
COMING_DAYS: Final = 7
MOST_PLACES, MOST_ANIMALS = 3, 3
PREMOULT_DAYS, PREMOULT_CHANCE = 14, 0.5
_KEYS: Final = ("cold_night_c", "cold_drop_c", "heat_wave_c", "warm_target_c")
_DO: Final = {
    "cold": "Check heater and thermostat and let the warmth come back over hours: no hot spot, never a mat"
    " without a thermostat",
    "heat": "Air and shade, fresh water within reach, damp substrate on one side; no ice, nothing cold on an"
    " animal",
}
_RULES: Final = {"cold": "cold_night_c", "heat": "heat_wave_c"}
LONG_DAYS: Final = 14
_VET: Final = "one that has collapsed: ask a veterinarian"


def thresholds_of(record: Record, book: RuleBook | None = None) -> dict[str, Thresholds]:
    """Return what counts as cold and heat at each place, by the rules as they count there."""
    rules = book or RuleBook(record)
    names = {*record.places, *(animal.place for animal in record.living() if animal.place)}
    return {name: _thresholds(rules, name) for name in names}


def _thresholds(book: RuleBook, place: str) -> Thresholds:
    told = [book.ask(key, Animal("", "", place=place)) for key in _KEYS]
    cold, drop, heat, target = (each.number for each in told)
    used = tuple(each.used for each in told if each.number is not None or each.used.overruled)
    return Thresholds(cold, drop, heat, used, target)


def climate_notices(record: Record, book: RuleBook, situations: Sequence[Situation]) -> list[str]:
    """Return the round's lines on the climate, the most pressing first."""
    since = record.on - timedelta(days=TABLE_DAYS)
    days = daily_climate(record)
    tables = room_tables(record, days, since=since)
    limits = thresholds_of(record, book)
    nobody = Residents({})  # who stands there tonight is counted from the round's own situations
    now: list[str] = []
    coming: list[str] = []
    unread: list[str] = []
    for table in tables:
        latest = [
            event for event in events_of(record, table, limits, nobody) if _is_latest(record, table, event)
        ]
        now += [_event_line(record, table, event, limits, situations) for event in latest]
        told = {event.sort for event in latest}
        until = record.on + timedelta(days=COMING_DAYS)
        coming += [
            _event_line(record, table, event, limits, situations)
            for event in coming_of(record, table, limits, nobody)
            if event.first <= until and event.sort not in told
        ]
        unread += _unread(record, table, days, book, situations)
    return [*now, *coming, *unread]


def _is_latest(record: Record, table: RoomTable, event: ClimateEvent) -> bool:
    """Whether an event reaches into the last days that were read at one of its places."""
    if (record.on - event.last).days > OLDEST_DAYS:
        return False
    for each in event.places:
        known = np.flatnonzero(table.of(table.names.index(each.place)).known)
        if (table.day(int(known[-1])) - each.last).days < LATEST_READ_DAYS:
            return True
    return False


def _event_line(
    record: Record,
    table: RoomTable,
    event: ClimateEvent,
    limits: dict[str, Thresholds],
    situations: Sequence[Situation],
) -> str:
    on = record.on
    what = "Cold" if event.sort == "cold" else "Heat"
    room = f" in {table.room}" if table.room else ""
    if event.coming:
        when = f"coming on {day_words(event.first, on)}"
        when += f" (to {day_words(event.last, on)})" if event.last > event.first else ""
        when += ", as you expect"
    elif event.first == event.last:
        when = f"on {day_words(event.first, on)}"
    else:
        first, last = event.first, event.last
        alike = (first.year, first.month) == (last.year, last.month)
        when = f"{first.day if alike else day_words(first, on)} to {day_words(last, on)}"
    places = [f"{each.place} {both(each.worst_c, 'C')}" for each in event.places[:MOST_PLACES]]
    more = len(event.places) - len(places)
    meant = f". If that is meant, set {_RULES[event.sort]} for the place" if _goes_on(event) else ""
    said = joined([*places, *([f"{counted(more, 'more place')}"] if more else [])])
    return (
        f"{what}{room} {when}: {'about ' if event.coming else ''}{said}{_limit(event, limits)}."
        f" {_touched(record, event, situations)} {_DO[event.sort]}; {_VET}{meant}"
    )


def _goes_on(event: ClimateEvent) -> bool:
    """Whether it has lasted so long that the place may be meant to be so."""
    return not event.coming and (event.last - event.first).days >= LONG_DAYS


def _limit(event: ClimateEvent, limits: dict[str, Thresholds]) -> str:
    """The threshold that the worst place is past, where it is past one and has not only fallen."""
    worst = event.places[0]
    limit = limits[worst.place].cold_c if event.sort == "cold" else limits[worst.place].heat_c
    if worst.fell or limit is None:
        return ", a sudden fall"
    if worst.hours_words:
        return f" ({f'{worst.place}: ' if len(event.places) > 1 else ''}{worst.hours_words})"
    return f" ({'under' if event.sort == 'cold' else 'over'} {both(limit, 'C')})"


def _touched(record: Record, event: ClimateEvent, situations: Sequence[Situation]) -> str:
    """How many animals stand there tonight, and the first: mature, then near a moult, then spiderlings."""
    places = {each.place for each in event.places}
    here = sorted((s for s in situations if s.animal.place in places), key=_first_of)
    batches = sorted(b.code for b in record.batches.values() if b.place in places and b.living != 0)
    young = f" Batches there: {joined(batches)}." if batches else ""
    if not here:
        return young.strip() or "No animal stands there tonight."
    named = [f"{s.animal.code}{_mark(s)}" for s in here[:MOST_ANIMALS]]
    more = len(here) - len(named)
    told = joined([*named, *([f"{more} more"] if more else [])])
    asleep = sum(_winters(record, s) for s in here) if event.sort == "cold" else 0
    meant = f" ({asleep} wintering by the record)" if asleep else ""
    return f"{counted(len(here), 'animal')} there{meant}: {told}.{young}"


def _winters(record: Record, s: Situation) -> bool:
    """Whether the record says that it winters tonight."""
    spans = wintered(record, s.animal, [(s.animal.place, record.on, record.on)])
    return any(first <= record.on <= last and winters for first, last, winters in spans)


def _first_of(s: Situation) -> tuple[int, str]:
    marks = ("mature", "near a moult", "spiderling")
    mark = _mark(s).strip(" ()")
    return (marks.index(mark) if mark in marks else len(marks), s.animal.code)


def _mark(s: Situation) -> str:
    if s.animal.matured is not None:
        return " (mature)"
    note = s.forecast.appetite if s.forecast is not None else None
    chance = max(s.moult_within(PREMOULT_DAYS) or 0.0, note.in_premoult if note is not None else 0.0)
    if chance >= PREMOULT_CHANCE:
        return " (near a moult)"
    return " (spiderling)" if s.stage == "sling" else ""


def _unread(
    record: Record,
    table: RoomTable,
    days: Mapping[str, DailyClimate],
    book: RuleBook,
    situations: Iterable[Situation],
) -> list[str]:
    """One line for a room's places with animals that were never read, or not lately."""
    occupied = {s.animal.place for s in situations if s.animal.place}
    names = [name for name in table.names if name in occupied]
    never: list[str] = []
    since: dict[str, list[str]] = {}
    for name in names:
        most = book.ask("no_reading_days", Animal("", "", place=name)).number
        last = max(days[name].temperature_c, default=None) if name in days else None
        if most is None:
            continue
        if last is None:
            never.append(name)
        elif (record.on - last).days > most:
            since.setdefault(day_words(last, record.on), []).append(name)
    told = [f"{joined(places)} since {day}" for day, places in since.items()]
    told += [f"{joined(never)} never"] if never else []
    number = len(never) + sum(map(len, since.values()))
    if not told:
        return []
    room = f" of {table.room}" if table.room else ""
    assumed = f"{UNREAD_PLACE_C:.0f} °C ({UNREAD_PLACE_C * 1.8 + 32.0:.0f} °F)"
    then = f"forecasts at an unread place assume {assumed}, give or take 2.7 °C (5 °F)"
    if since:
        then = "forecasts take missing days as the days around" + (
            f", an unread place as {assumed}, with that much more doubt" if never else ", with more doubt"
        )
    return [f"No temperature readings for {number} of {len(names)} places{room} with animals: "
            f"{'; '.join(told)}; {then}"]  # fmt: skip
