"""The size of one animal: its staircase, what it is now, and after the next moult."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

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
    mature           maturity by sex as `forecast --json` prints it (docs/size-staircase.md)
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
    mature: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class SizeToCome:
    """A size some moults from now or on a day: quantiles (level → mm, mass in g) and what it rests on.

    chance   chance that it moults that often (1 for sizes on a day)
    """

    part: str
    unit: str
    quantiles: dict[str, float]
    chance: float

    @property
    def words(self) -> str:
        """The part as it is said."""
        return {"carapace_length": "carapace", "leg_span": "leg span"}.get(self.part, self.part)


@dataclass(frozen=True, slots=True)
class MaturityToCome:
    """Maturity of one animal as of one sex; days are counted from the report's day.

    chance             chance to be of that sex
    mature_now         chance to be mature now, given the sex
    next_moult         chance that its next moult is the maturing one, given the sex
    days, carapace_mm  level → days to the maturing moult (None: not reached), carapace after it; of animals
                       not mature yet
    final_mm           level → carapace after the last moult (females: three moults past the maturing one)
    """

    sex: str
    chance: float
    mature_now: float
    next_moult: float
    days: dict[str, float | None] | None
    carapace_mm: dict[str, float] | None
    final_mm: dict[str, float] | None


@dataclass(frozen=True, slots=True)
class GrowthReport:
    """How one animal will grow, from drawn futures; None and empty where nothing of it was measured.

    after      sizes after the next moults, carapace first, then leg span
    on_days    (day, leg span) at the ends of the days asked for
    reached    (leg span mm, level → days until it is first reached, None: not in these futures)
    """

    animal: str
    on: date
    draws: int
    after: tuple[tuple[int, SizeToCome], ...]
    on_days: tuple[tuple[date, SizeToCome], ...]
    reached: tuple[tuple[float, dict[str, float | None]], ...]
    maturity: tuple[MaturityToCome, ...]
    final: SizeToCome | None
    method: str
    assumptions: tuple[str, ...]
