"""Water: what each home holds and loses, when it is dry, and what to pour tonight, with its doubt.

Nothing of one home is known better than its weighings make it: an uncalibrated home says "feel first".
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from nightround.foundation.estimate import Estimate

Calibrated = Literal["weighed", "felt", "not"]
Advised = Literal["water", "not_before", "feel_first", "describe"]
Quantiles = dict[str, float | None]


@dataclass(frozen=True, slots=True)
class UntilDry:
    """Days from the report's day until the surface or the bottom is dry, by level ('0.1', '0.5', '0.9').

    None: later than was looked ahead.
    """

    part: Literal["surface", "bottom"]
    days: Quantiles
    dry_now: float


@dataclass(frozen=True, slots=True)
class MoistureDay:
    """One day to come: wetness of surface and bottom, 10, 50 and 90 %.

    0 is air-dry, 1 as wet as it drains to.
    """

    day: date
    surface: tuple[float, float, float]
    bottom: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Questioned:
    """An entry that does not fit the others: not averaged in, asked about instead."""

    number: int
    day: date
    words: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """How far this home's own figures go.

    multiplier     loss over what the physics says, as an estimate
    more_to_ten    how many more weighings would bring it to ±10 % (0: it is there; None: cannot be said)
    words          the same in words
    """

    how: Calibrated
    multiplier: Estimate
    n_weighings: int
    n_felt: int
    more_to_ten: int | None
    words: str
    questioned: tuple[Questioned, ...] = ()


@dataclass(frozen=True, slots=True)
class Dose:
    """What to do about the substrate tonight.

    advised      water · not_before (see `until`) · feel_first (uncalibrated) · describe (see `missing`)
    ml           millilitres, rounded as they are poured; None: unknown
    until        not before this day
    """

    advised: Advised
    title: str
    reason: str
    ml: float | None = None
    where: str = ""
    until: date | None = None
    sureness: str = ""


@dataclass(frozen=True, slots=True)
class Dish:
    """A drinking dish: size as last filled, when filled, found dry, and by when likely dry."""

    ml: float | None
    filled: date | None
    found_dry: date | None
    dry_by: date | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A change of the lid or openings, before it is made: loss, its share of the present one, when dry."""

    label: str
    loss_ml_day: Estimate
    share: float
    surface: UntilDry | None
    bottom: UntilDry | None


@dataclass(frozen=True, slots=True)
class HomeWater:
    """One home. `missing` says in words what must be recorded before more can be said; then the rest is None.

    loss_now        ml a day now;  loss_months  (first day of the month, ml a day if kept moist)
    course          days to come without watering
    assumed         what the figures take for granted, to be shown beside them
    """

    home: str
    place: str
    occupants: tuple[str, ...]
    made_up: date | None
    vessel: str
    openings: str
    substrate: str
    missing: tuple[str, ...]
    dose: Dose
    calibration: Calibration | None = None
    loss_now: Estimate | None = None
    loss_months: tuple[tuple[date, Estimate], ...] = ()
    surface: UntilDry | None = None
    bottom: UntilDry | None = None
    course: tuple[MoistureDay, ...] = ()
    changes: tuple[Change, ...] = ()
    dish: Dish | None = None
    last_watered: date | None = None
    last_weighed: tuple[date, float] | None = None
    assumed: tuple[str, ...] = ()
    method: str = ""

    @property
    def basis(self) -> str:
        """What its figures rest on, shortly: '3 weighed, 2 felt'."""
        found = self.calibration
        if found is None:
            return "not described"
        told = [f"{n} {word}" for n, word in ((found.n_weighings, "weighed"), (found.n_felt, "felt")) if n]
        return ", ".join(told) or "physics alone"


@dataclass(frozen=True, slots=True)
class Away:
    """One home while the keeper is away: chance that bottom or surface is dry by the end."""

    home: str
    place: str
    occupants: tuple[str, ...]
    bottom: float | None
    surface: float | None
    words: str


@dataclass(frozen=True, slots=True)
class WaterReport:
    """All homes with somebody in them, or that hold water, in walking order."""

    on: date
    room: str
    invented: bool
    homes: tuple[HomeWater, ...]
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AwayReport:
    """Which homes dry first if nobody waters for so many days."""

    on: date
    room: str
    invented: bool
    days: int
    homes: tuple[Away, ...]


@dataclass(frozen=True, slots=True)
class RecipeReport:
    """What a new home takes: litres of each part, water to add, mass to expect (all loose, as bought).

    vessel_litres   inner volume;  substrate_litres   of the fill
    full_g          substrate and water together, the scale's reading above the empty vessel
    """

    vessel: str
    vessel_litres: float
    substrate_litres: float
    litres: tuple[tuple[str, float], ...]
    water_there_ml: float
    water_to_add_ml: float
    dry_g: float
    full_g: float
    assumed: tuple[str, ...]
    sources: tuple[str, ...]
