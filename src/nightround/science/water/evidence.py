"""What a keeper noted of a home's water: the evidence that `calibrate` weighs. Hours count from the climate's
first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.foundation.sources import COMMON_PRACTICE, Source
from nightround.science.water.substrate import Parts, checked_parts
from nightround.science.water.ventilation import Ventilation

Feel = Literal["dry", "damp", "wet"]

# What nobody published (common practice, no source); said beside every calibrated figure by `ASSUMED`.
SOURCE: Final[Source] = COMMON_PRACTICE
PRIOR_SD_LOG: Final = 0.5
MULTIPLIERS: Final = (0.1, 8.0)
SCALE_SD_G: Final = 1.0
POUR_ERROR: Final = 0.05
LEAST_POUR_SD_ML: Final = 0.5
# An amount nobody noted: by floor area, with as much doubt.
UNKNOWN_ML_PER_CM2: Final = 0.01
# Draught and weather that the hourly climate does not tell: share of a day's loss, from day to day.
DAY_SPREAD: Final = 0.10
# Wetness (0 air-dry, 1 as wet as it drains to) at which fingers say damp, and wet; their doubt; slips.
FELT_THRESHOLDS: Final = (0.25, 0.70)
FELT_SD: Final = 0.12
FELT_SLIP: Final = 0.03
# Weighings that do not fit: a single misreading; an unrecorded step before it. Both of the order of a tenth
# of what the substrate holds, and of twenty scale errors at least.
MISREAD: Final = 0.03
STEPPED: Final = 0.02
WIDE_SHARE: Final = 0.1
WIDE_SCALE_ERRORS: Final = 20.0
ASSUMED: Final = (
    f"loss differs from the physics by a factor whose log has a standard deviation of {PRIOR_SD_LOG:g}",
    "that factor stays the same when openings change",
    f"poured millilitres are right within {POUR_ERROR:.0%}",
    f"draught and weather change a day's loss by {DAY_SPREAD:.0%} that nobody noted",
    f"damp begins at {FELT_THRESHOLDS[0]:.0%} of what stays after draining, wet at {FELT_THRESHOLDS[1]:.0%}",
)


@dataclass(frozen=True, slots=True)
class Given:
    """Water given at an hour.

    ml       None: an unknown amount (misted)
    column   index into the spell's `ends`; None: all over, by area
    deep     poured to below the top layer
    sd_ml    doubt; None: 5 %, half a millilitre at least
    """

    hour: int
    ml: float | None
    column: int | None = None
    deep: bool = False
    sd_ml: float | None = None

    def amount(self, area_mm2: float) -> tuple[float, float]:
        """Expected millilitres and their standard deviation."""
        if self.ml is None:
            usual = UNKNOWN_ML_PER_CM2 * area_mm2 / 100.0
            return usual, usual
        return self.ml, max(POUR_ERROR * self.ml, LEAST_POUR_SD_ML) if self.sd_ml is None else self.sd_ml


@dataclass(frozen=True, slots=True)
class Weighing:
    """The whole home on a scale [g]; `sd_g` is the scale's error.

    Weighings and waterings of one hour: the weighing counts as before the water, unless `after`.
    """

    hour: int
    g: float
    sd_g: float = SCALE_SD_G
    after: bool = False


@dataclass(frozen=True, slots=True)
class Felt:
    """How surface and bottom felt; None where nobody felt."""

    hour: int
    surface: Feel | None = None
    bottom: Feel | None = None


@dataclass(frozen=True, slots=True)
class Spell:
    """A home from being made up until it is made up anew. Its weighings share one empty mass.

    parts           substrate
    ends            columns: (share of the area, depth [mm]), as `vessels.ends_mm` gives them
    area_mm2        of the substrate
    air             (hour, home as vapour sees it) from that hour on; the first one from `start`
    start, end      hours; end None: until now
    start_content   mean content [volume fraction] and its doubt; None: unknown, anything up to drained
    empty_g         mass with air-dry substrate and its doubt; None: unknown, so only differences speak
    """

    parts: Parts
    ends: tuple[tuple[float, float], ...]
    area_mm2: float
    air: tuple[tuple[int, Ventilation], ...]
    start: int = 0
    end: int | None = None
    place: int = 0
    warmer_c: float = 0.0
    start_content: tuple[float, float] | None = None
    empty_g: tuple[float, float] | None = None
    given: tuple[Given, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    felt: tuple[Felt, ...] = ()

    @property
    def ordered(self) -> tuple[Weighing, ...]:
        """Weighings in order of time; at one hour those before the water first."""
        return tuple(sorted(self.weighings, key=lambda one: (one.hour, one.after)))

    def __post_init__(self) -> None:
        checked_parts(self.parts)
        if not self.air or not self.ends or not self.area_mm2 > 0.0:
            raise Refusal("a home with openings, depth and area was wanted", got=f"{self.ends}")
        if abs(sum(share for share, _ in self.ends) - 1.0) > 1e-6:
            raise Refusal("shares of the area that add up to 1 were wanted", got=f"{self.ends}")
        for weighing in self.weighings:
            if not (np.isfinite(weighing.g) and weighing.g > 0.0 and weighing.sd_g > 0.0):
                raise Refusal("a mass and a scale error above 0 g were wanted", got=str(weighing))
        for given in self.given:
            if given.ml is not None and not given.ml >= 0.0:
                raise Refusal("0 ml or more were wanted", got=str(given))


@dataclass(frozen=True, slots=True)
class HomeEvidence:
    """All spells of one home, in order of time; the multiplier belongs to all of them."""

    spells: tuple[Spell, ...]

    def __post_init__(self) -> None:
        if not self.spells:
            raise Refusal("a home made up at least once was wanted", got="none")
