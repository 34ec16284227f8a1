"""Who is in quarantine: by an entry, or by arrival, with the days starting anew for each newcomer beside it.

Source of the days and the restart: AZA 2007 (zoo standard, all species). Animals hatched here are exempt.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from nightround.journal.kinds.animal import Quarantine
from nightround.plans.rules import RuleBook
from nightround.record.model import Animal, Record


class _Newcomer(NamedTuple):
    animal: Animal
    days: float
    restarts: bool


def quarantined(record: Record, book: RuleBook) -> frozenset[str]:
    """Return the codes of the living animals that are in quarantine on the record's day."""
    by_entry = {animal.code for animal in record.living() if animal.quarantined}
    return frozenset(by_entry | set(_by_arrival(record, book)))


def _by_arrival(record: Record, book: RuleBook) -> list[str]:
    """Animals that came from elsewhere, as long as no entry ended their quarantine."""
    arrivals: dict[str, dict[date, list[_Newcomer]]] = {}
    for animal in record.living():
        day = animal.arrived.last
        days = book.ask("quarantine_days", animal).number or 0.0
        if day is None or animal.quarantined or animal.promoted.known or animal.batch or not days:
            continue
        restarts = bool(animal.place) and book.ask("quarantine_restarts", animal).yes
        newcomer = _Newcomer(animal, days, restarts)
        arrivals.setdefault(animal.place, {}).setdefault(day, []).append(newcomer)
    still = [animal for by_day in arrivals.values() for animal in _still_in(record.on, by_day)]
    return [animal.code for animal in still if not _ended(record, animal)]


def _still_in(on: date, by_day: dict[date, list[_Newcomer]]) -> list[Animal]:
    """Walk the arrivals of one place in order: a newcomer restarts the days of whoever is still in."""
    isolated: list[tuple[date, _Newcomer]] = []
    for day in sorted(by_day):
        isolated = [(end, each) for end, each in isolated if day < end]
        if any(newcomer.restarts for newcomer in by_day[day]):
            isolated = [(day + timedelta(days=each.days), each) for _, each in isolated]
        isolated += [(day + timedelta(days=each.days), each) for each in by_day[day]]
    return [each.animal for end, each in isolated if on < end]


def _ended(record: Record, animal: Animal) -> bool:
    """Whether an entry ended its quarantine."""
    entries = (record.entries.get(number) for number in animal.entries)
    return any(
        entry is not None and isinstance(entry.body, Quarantine) and entry.body.state == "ends"
        for entry in entries
    )
