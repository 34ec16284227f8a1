"""Who is in quarantine: by an entry, or by arrival, with the days starting anew for each newcomer beside it.

Source of the days and the restart: AZA 2007 (zoo standard, all species). Animals hatched here are exempt.
"""

from __future__ import annotations

from datetime import date, timedelta

from nightround.plans.rules import RuleBook
from nightround.record.model import Animal, Record


def quarantined(record: Record, book: RuleBook) -> frozenset[str]:
    """Return the codes of the living animals that are in quarantine on the record's day."""
    by_entry = {animal.code for animal in record.living() if animal.quarantined}
    return frozenset(by_entry | set(_by_arrival(record, book)))


def _by_arrival(record: Record, book: RuleBook) -> list[str]:
    arrivals: dict[str, list[tuple[date, Animal, float]]] = {}
    for animal in record.living():
        day = animal.arrived.last
        days = book.ask("quarantine_days", animal).number or 0.0
        if day is None or animal.quarantined or animal.batch or not days or day > record.on:
            continue
        if (record.on - day).days > 4 * days or not _by_entries(record, animal):
            continue
        arrivals.setdefault(animal.place, []).append((day, animal, days))
    kept: list[str] = []
    for place, rows in arrivals.items():
        kept += _still_in(record.on, sorted(rows, key=lambda row: (row[0], row[1].code)), place, book)
    return kept


def _still_in(on: date, rows: list[tuple[date, Animal, float]], place: str, book: RuleBook) -> list[str]:
    """Walk the arrivals of one place in order: a newcomer restarts the days of whoever is still in."""
    ends: dict[str, tuple[date, float]] = {}
    for day, animal, days in rows:
        for code, (end, own_days) in ends.items():
            restarts = bool(place) and book.ask("quarantine_restarts", animal).yes
            if restarts and day < end:
                ends[code] = (day + timedelta(days=own_days), own_days)
        ends[animal.code] = (day + timedelta(days=days), days)
    return [code for code, (end, _) in ends.items() if on < end]


def _by_entries(record: Record, animal: Animal) -> bool:
    """Whether its entries say that it came from elsewhere and do not end its quarantine."""
    arrived = False
    for number in animal.entries:
        entry = record.entries.get(number)
        if entry is None:
            continue
        if entry.kind == "hatched":
            return False
        if entry.kind == "quarantine" and getattr(entry.body, "state", "") == "ends":
            return False
        arrived = arrived or entry.kind == "arrived"
    return arrived or not record.entries
