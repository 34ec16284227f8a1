"""One animal's page, gathered from the layers below."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from nightround.desk.words import history_lines
from nightround.foundation.when import When
from nightround.plans.hazards import hazard_of
from nightround.record.model import Animal, Record
from nightround.reports.room import AnimalReport, HistoryLine

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

ORIGIN_WORDS = {
    "captive_bred": "captive bred",
    "captive_hatched": "captive hatched",
    "wild_collected": "wild collected",
    "long_term_captive": "long-term captive",
    "unknown": "origin unknown",
}


def animal_report(desk: Desk, animal: Animal, on: date | None) -> AnimalReport:
    """Return everything the animal's page shows, as of the day."""
    record = desk.record(on)
    tonight = desk.tonight(on)
    taxon = record.taxa.get(animal.taxon)
    rows = (row for shelf in tonight.shelves for row in shelf.rows)
    return AnimalReport(
        on=record.on,
        room=desk.name,
        invented=desk.invented,
        code=animal.code,
        taxon=animal.taxon,
        names=tuple(name for name in (taxon.names if taxon else ()) if name != animal.taxon),
        sex=animal.sex,
        status=animal.status,
        place=animal.place,
        home=animal.home,
        hazard=hazard_of(animal.taxon, taxon),
        facts=tuple(_facts(animal)),
        tonight=next((row for row in rows if row.animal == animal.code), None),
        forecast=desk.forecast(on).of(animal.code),
        size=desk.sizes(on).get(animal.code),
        history=tuple(_history(desk, animal, record)),
        problems=tuple(problem for problem in record.problems if _is_about(problem.subject, animal)),
        cautions=tonight.cautions,
    )


def _is_about(subject: str, animal: Animal) -> bool:
    return subject in {f"animal {code}" for code in (animal.code, *animal.codes)}


def _history(desk: Desk, animal: Animal, record: Record) -> list[HistoryLine]:
    codes = {animal.code, *animal.codes}
    everything = desk.entries()
    mine = [entry for entry in everything if entry.about.kind == "animal" and entry.about.code in codes]
    # An entry dated after the page's day is unknown to it, whether it stands or not.
    known = [entry for entry in mine if entry.when.last is None or entry.when.last <= record.on]
    return history_lines(known, record.entries, everything)


def _facts(animal: Animal) -> list[tuple[str, str]]:
    facts = [
        ("Arrived", _when(animal.arrived)),
        ("Hatched", _when(animal.hatched)),
        ("Origin", ORIGIN_WORDS.get(animal.origin or "unknown", "origin unknown")),
        (
            "Sex",
            f"{animal.sex}{f' ({animal.sex_how})' if animal.sex_how else ''}" if animal.sex else "unknown",
        ),
        ("Mature since", _when(animal.matured) if animal.matured else ""),
        ("Batch", animal.batch),
        ("Legs lost", str(animal.legs_lost) if animal.legs_lost else ""),
        ("Moults recorded", str(len(animal.moults))),
        ("Ended", f"{animal.ended_how} {_when(animal.ended)}" if animal.ended else ""),
    ]
    return [(label, words) for label, words in facts if words]


def _when(when: When) -> str:
    return when.text().replace("/", " to ") or "unknown"
