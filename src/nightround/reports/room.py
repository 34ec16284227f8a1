"""Frozen data of the animal's page, the shelves, and of what a command did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from nightround.foundation.problem import Problem
from nightround.foundation.when import When
from nightround.journal.entries import Written
from nightround.reports.forecast import AnimalForecast
from nightround.reports.size import SizeReport
from nightround.reports.tonight import TonightRow

__all__ = ["AnimalReport", "HistoryLine", "Shelf", "ShelfAnimal", "ShelvesReport", "Written"]


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One standing entry in words; `struck` lines are shown crossed out with the reason."""

    number: int
    when: When
    kind: str
    words: str
    note: str
    recorded: datetime
    device: str
    struck: str = ""


@dataclass(frozen=True, slots=True)
class AnimalReport:
    """Everything one animal's page shows."""

    on: date
    room: str
    invented: bool
    code: str
    taxon: str
    names: tuple[str, ...]
    sex: str | None
    status: str
    place: str
    home: str
    hazard: str
    facts: tuple[tuple[str, str], ...]  # label, words: arrived, hatched, origin, sexed how, …
    tonight: TonightRow | None
    forecast: AnimalForecast | None
    size: SizeReport | None
    history: tuple[HistoryLine, ...]  # newest first
    problems: tuple[Problem, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShelfAnimal:
    """One animal on a shelf."""

    code: str
    taxon: str
    home: str
    status: str
    days_since_moult: int | None
    within_14: float | None
    hazard: str
    quarantined: bool


@dataclass(frozen=True, slots=True)
class Shelf:
    """One shelf with its last reading."""

    place: str
    animals: tuple[ShelfAnimal, ...]
    last_read: date | None
    temperature_c: float | None
    humidity_percent: float | None


@dataclass(frozen=True, slots=True)
class ShelvesReport:
    """All shelves in walking order."""

    on: date
    room: str
    invented: bool
    shelves: tuple[Shelf, ...]
