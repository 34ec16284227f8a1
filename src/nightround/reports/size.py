"""The size of one animal: its staircase, what it is now, and after the next moult."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.foundation.estimate import Estimate
from nightround.reports.forecast import NextSize


@dataclass(frozen=True, slots=True)
class Step:
    """One instar: smoothed carapace length in mm with its 80 % interval; `began` is its moult's last day."""

    instar: int
    began: date | None
    carapace_mm: float
    low_mm: float
    high_mm: float
    measured: bool


@dataclass(frozen=True, slots=True)
class ReadingPoint:
    """A reading on the staircase, as written (mm, or g for mass).

    carapace_mm   the carapace length it stands for under the fitted allometry of its taxon, to draw it on the
                  staircase (None: it does not enter the fit, such as the mass of a shed skin)
    """

    instar: int
    day: date | None
    item: str
    value: float
    unit: str
    on: str | None
    carapace_mm: float | None = None


@dataclass(frozen=True, slots=True)
class SizeReport:
    """One animal's sizes. None where no reading of this animal stands behind them: unknown is never zero.

    next_quantiles   level → carapace mm after the next moult (None also when it will not moult again here)
    next_size        the same for the part that its taxon is measured in, as `forecast --json` prints it
    mature_chance    chance that it is mature by now, from size and growth; 1 where noted, 0 for other males
    """

    animal: str
    steps: tuple[Step, ...]
    readings: tuple[ReadingPoint, ...]
    carapace_now: Estimate | None
    leg_span_now: Estimate | None
    body_now: Estimate | None
    carapace_next: Estimate | None
    leg_span_next: Estimate | None
    next_quantiles: dict[str, float] | None
    next_size: NextSize | None = None
    mass_now: Estimate | None = None
    mature_chance: float | None = None
