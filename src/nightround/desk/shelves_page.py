"""The shelves: who stands where, in walking order."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from nightround.plans.tonight import walk_key
from nightround.record.model import Place, Record
from nightround.reports.room import Shelf, ShelfAnimal, ShelvesReport
from nightround.reports.tonight import TonightRow

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


def shelves_report(desk: Desk, on: date | None) -> ShelvesReport:
    """Return all shelves with their animals and last readings."""
    record, tonight = desk.record(on), desk.tonight(on)
    rows = [row for shelf in tonight.shelves for row in shelf.rows]
    names = dict.fromkeys([shelf.place for shelf in tonight.shelves if shelf.rows])
    names |= dict.fromkeys(sorted(record.places, key=lambda name: walk_key(record, name)))
    ordered = sorted({row.place for row in rows} | set(names), key=lambda name: walk_key(record, name))
    shelves = tuple(_shelf(record, name, [row for row in rows if row.place == name]) for name in ordered)
    return ShelvesReport(record.on, desk.name, desk.invented, shelves)


def _shelf(record: Record, name: str, rows: list[TonightRow]) -> Shelf:
    place = record.places.get(name)
    read, temperature, humidity = _last_reading(place)
    animals = tuple(
        ShelfAnimal(
            code=row.animal,
            taxon=row.taxon,
            home=row.home,
            status="alive",
            days_since_moult=row.days_since_moult,
            within_14=row.odds.within_14 if row.odds else None,
            hazard=row.hazard,
            quarantined=row.quarantined,
        )
        for row in rows
    )
    return Shelf(name, animals, read, temperature, humidity)


def _last_reading(place: Place | None) -> tuple[date | None, float | None, float | None]:
    if place is None:
        return None, None, None
    for reading in reversed(place.readings):
        if reading.statistic in ("mean", "reading"):
            return reading.when.last, reading.temperature_c, reading.humidity_percent
    return None, None, None
