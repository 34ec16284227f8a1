"""What lies ahead of one animal: its growth to come, and its next moult if it were warmer or cooler."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.reports.size import GrowthReport


@dataclass(frozen=True, slots=True)
class Shifted:
    """The next moult if every day to come were `shift_c` warmer than expected (0: as expected).

    mean_c     mean temperature until the even chance of the forecast as it stands
    days       level ('0.10', '0.50', '0.90') → days from the report's day (None: not reachable)
    within_30  chance of a moult within 30 days
    beyond     why this row rests on no record of the room ('' where it does)
    """

    shift_c: float
    mean_c: float
    days: dict[str, float | None]
    within_30: float
    beyond: str = ""

    @property
    def words(self) -> str:
        """The shift as it is said: 'as expected', '1 °C (1.8 °F) warmer'."""
        if self.shift_c == 0.0:
            return "as expected"
        word = "warmer" if self.shift_c > 0.0 else "cooler"
        return f"{abs(self.shift_c):g} °C ({abs(self.shift_c) * 1.8:.1f} °F) {word}"


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The next moult under other temperatures, from the fit of the forecast itself.

    rows                    by rising shift
    read                    whether its place has temperature readings at all
    records_low_c, _high_c  mean temperatures of the completed intervals that show what warmth does here: nine
                            of ten lie between (None: none with readings)
    n_intervals             how many those are
    q10, q10_low, q10_high  how many times faster in 10 °C more, with its 80 % range
    """

    animal: str
    on: date
    rows: tuple[Shifted, ...]
    read: bool
    records_low_c: float | None
    records_high_c: float | None
    n_intervals: int
    q10: float
    q10_low: float
    q10_high: float
    method: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FanDay:
    """Carapace length [mm] at the end of a day to come, in half of the futures and in four fifths of them."""

    day: date
    low_mm: float
    middle_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True)
class AheadReport:
    """What an animal's page shows of the future; None and empty where nothing can be said.

    fan          carapace over the days to come, for the figure
    n_readings   readings of its own that stand behind the growth; n_of_taxon: of all animals of its taxon
    """

    animal: str
    on: date
    growth: GrowthReport | None
    fan: tuple[FanDay, ...]
    n_readings: int
    n_of_taxon: int
    what_if: WhatIf | None
