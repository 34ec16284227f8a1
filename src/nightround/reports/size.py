"""The size of one animal: its staircase, what it is now, and after the next moult."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.foundation.estimate import Estimate


@dataclass(frozen=True, slots=True)
class Step:
    """One instar: smoothed carapace length in mm with its 80 % interval; days it lasted, as known."""

    instar: int
    began: date | None
    carapace_mm: float
    low_mm: float
    high_mm: float
    measured: bool


@dataclass(frozen=True, slots=True)
class ReadingPoint:
    """A reading on the staircase, as written (mm, or g for mass)."""

    instar: int
    day: date | None
    item: str
    value: float
    unit: str
    on: str | None


@dataclass(frozen=True, slots=True)
class SizeReport:
    """One animal's sizes. None where nothing is known: unknown is never zero."""

    animal: str
    steps: tuple[Step, ...]
    readings: tuple[ReadingPoint, ...]
    carapace_now: Estimate | None
    leg_span_now: Estimate | None
    body_now: Estimate | None
    carapace_next: Estimate | None
    leg_span_next: Estimate | None
    next_quantiles: dict[str, float] | None  # level → carapace mm after the next moult
