"""The moult forecast of every living animal, in the shape that `forecast --json` prints."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

QUANTILES: tuple[str, ...] = tuple(f"{step / 20:.2f}" for step in range(1, 20))
WITHIN_DAYS: tuple[int, ...] = (1, 2, 3, 5, 7, 10, 14, 21, 30, 45, 60, 90, 120, 180, 365)


@dataclass(frozen=True, slots=True)
class NextMoult:
    """When it moults next if it has not moulted up to the report's day.

    quantiles_days  level → days from `on` (None: not reachable, it may have been its last moult)
    within_days     n → probability up to and including day on + n
    widened         by what its spread was multiplied because past forecasts had been too sure
    """

    quantiles_days: dict[str, float | None]
    within_days: dict[int, float]
    n_animals: int
    n_intervals: int
    method: str
    reasons: tuple[str, ...]
    widened: float = 1.0


@dataclass(frozen=True, slots=True)
class NextSize:
    """Size after the next moult."""

    kind: str
    unit: str
    quantiles: dict[str, float]


@dataclass(frozen=True, slots=True)
class AppetiteNote:
    """What appetite and signs say of one animal's running interval, for reasons and for plans.

    offers, taken   offers with a known outcome since the last moult, and how many were taken
    run, since      latest offers in a row not taken, and the day of the first of them
    signs           (day, sign) first noted since the last moult, oldest first
    in_premoult     chance that premoult has begun, all evidence taken together
    unexplained     chance that it fasts for a reason that has nothing to do with moulting
    phase           share of the interval passed, by the median that counts now; None: last moult not known
    words           the reasons in words, empty when nothing speaks
    """

    animal: str
    offers: int
    taken: int
    run: int
    since: date | None
    signs: tuple[tuple[date, str], ...]
    in_premoult: float
    unexplained: float
    phase: float | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AnimalForecast:
    """One living animal.

    appetite        what it ate and showed since its last moult (None: it waits for no moult)
    elapsed_level   chance, judged at its last moult, that it would have moulted again by `on`:
                    0.97 means beyond the 95 % point of its interval (None: not computed)
    """

    animal: str
    taxon: str
    last_moult: date | None
    days_since: int | None
    last_look: date | None
    may_have_moulted_unseen: float
    next_moult: NextMoult | None
    next_size: NextSize | None = None
    mature: dict[str, Any] | None = None
    elapsed_level: float | None = None
    appetite: AppetiteNote | None = None


@dataclass(frozen=True, slots=True)
class WarmthEffect:
    """What the room's moults say of warmth: the normal law of log Q10, and what it rests on."""

    log_mean: float
    log_sd: float
    n_animals: int
    n_intervals: int


@dataclass(frozen=True, slots=True)
class ForecastReport:
    """All living animals, by code, and what the fit rests on and says of itself.

    climate_notices   those of the notices that are about warmth and places, which the round says its own way
    """

    on: date
    animals: tuple[AnimalForecast, ...]
    notices: tuple[str, ...] = ()
    climate_notices: tuple[str, ...] = ()
    warmth: WarmthEffect | None = None

    def of(self, animal: str) -> AnimalForecast | None:
        """Return the forecast of one animal."""
        return next((row for row in self.animals if row.animal == animal), None)
