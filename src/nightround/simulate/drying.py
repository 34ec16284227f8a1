"""How the invented homes really dry: the physics of `science.water`, each home with a hidden multiplier."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.journal.kinds.surroundings import Felt, MadeUp
from nightround.journal.kinds.surroundings import Opening as OpeningEntry
from nightround.science.water.balance import REST, TOP
from nightround.science.water.columns import Columns, balanced_water_mm, make_columns, side_by_side
from nightround.science.water.demand import homes_air
from nightround.science.water.long_steps import Layers
from nightround.science.water.openings import Opening
from nightround.science.water.predicted import drained_mm
from nightround.science.water.substrate import Parts, curves
from nightround.science.water.ventilation import Ventilation, loss_g_day
from nightround.science.water.vessels import Fill, Vessel, ends_mm
from nightround.simulate.climate import RoomClimate

FloatArray = NDArray[np.float64]

# What a keeper's substrates are to water: clay as loam, leaf litter as coir.
PARTS: Final[dict[str, Parts]] = {
    "coir 70, sand 30": (("coir", 0.7), ("sand", 0.3)),
    "coir 80, leaf litter 20": (("coir", 1.0),),
    "coir 100": (("coir", 1.0),),
    "coir 80, vermiculite 20": (("coir", 0.8), ("vermiculite", 0.2)),
    "topsoil 50, coir 30, clay 20": (("topsoil", 0.5), ("coir", 0.3), ("loam", 0.2)),
    "topsoil 50, sand 20, clay 30": (("topsoil", 0.5), ("sand", 0.2), ("loam", 0.3)),
    "topsoil 60, sand 30, clay 10": (("topsoil", 0.6), ("sand", 0.3), ("loam", 0.1)),
}
MULTIPLIER_SD_LOG: Final = 0.4
START_WETNESS: Final = (0.55, 0.9)
FELT_AT: Final = (0.25, 0.70)
FINGER_SD: Final = 0.08
SCALE_SD_G: Final = 0.7
LID_OPEN_TIMES: Final = 6.0


@dataclass(slots=True)
class WetHome:
    """One home: its hidden multiplier, its ends, the water in them [mm above air-dry], its dry mass [g].

    per_day [days]      demand of wet substrate at m = 1 [mm/h]
    open_until          column until which its lid lies open
    """

    code: str
    multiplier: float
    parts: Parts
    ends: tuple[tuple[float, float], ...]
    area_mm2: float
    air: Ventilation
    columns: Columns
    per_day: FloatArray
    crust: FloatArray
    water: FloatArray
    drained: FloatArray
    dry_g: float
    watched: bool
    last_weighed: int = -100
    weighings: int = 0
    open_until: int = -1

    @property
    def share(self) -> FloatArray:
        """Share of the area of each end."""
        return np.array([share for share, _ in self.ends])

    @property
    def wetness(self) -> tuple[float, float]:
        """Surface and bottom over what stays after draining, means by area."""
        top, rest = (self.water / self.drained) @ self.share
        return float(top), float(rest)

    @property
    def substrate_ml(self) -> float:
        """Volume of the substrate."""
        return self.area_mm2 * sum(share * depth for share, depth in self.ends) * 1e-3

    def mass_g(self) -> float:
        """What a perfect scale would show."""
        return self.dry_g + float(self.water.sum(axis=0) @ self.share) * self.area_mm2 * 1e-3

    def lacking_ml(self, target: float) -> float:
        """Millilitres that bring the bottom to a share of what it keeps."""
        lacking = np.maximum(target * self.drained[REST] - self.water[REST], 0.0)
        return float(lacking @ self.share) * self.area_mm2 * 1e-3

    def pour(self, millilitres: float) -> None:
        """Water down a side, to the bottom of both ends alike."""
        self.water[REST] += millilitres / (self.area_mm2 * 1e-3)


@dataclass
class DryingHomes:
    """All homes with somebody in them, drying together a day at a time."""

    climate: RoomClimate
    rng: Random
    homes: dict[str, WetHome] = field(default_factory=dict)
    true_multiplier: dict[str, float] = field(default_factory=dict)
    stacked: list[str] = field(default_factory=list)
    layers: Layers | None = None

    def add(
        self, code: str, body: MadeUp, openings: list[OpeningEntry], shelf: int, column: int, watched: bool
    ) -> None:
        """A home as it is made up, its bottom damp to wet."""
        vessel, fill = _vessel(body), Fill(body.depth_low_mm or 0.0, body.depth_high_mm or 0.0)
        parts, ends = PARTS[body.substrate], ends_mm(fill)
        area = vessel.area_at(fill.mean_mm)
        air = Ventilation(
            tuple(_opening(entry) for entry in openings),
            vessel.area_at(vessel.height_mm), area, vessel.height_mm - fill.mean_mm, vessel.outside_area_mm2,
            rim_mm=vessel.rim_mm,
        )  # fmt: skip
        columns = make_columns([parts] * len(ends), [depth for _, depth in ends])
        drained = np.array([drained_mm(parts, depth) for _, depth in ends]).T
        wet = self.rng.uniform(*START_WETNESS)
        tables = curves(parts)
        water = np.array([
            balanced_water_mm(parts, depth, tables.air_dry + wet * float(drained[:, at].sum()) / depth)
            for at, (_, depth) in enumerate(ends)
        ]).T  # fmt: skip
        litres = area * fill.mean_mm * 1e-6
        dry_g = (
            1000.0 * litres * (tables.bulk_density_g_cm3 + tables.air_dry)
            + 25.0
            + 0.4 * vessel.litres * 100.0
        )
        multiplier = float(np.exp(self.rng.gauss(0.0, MULTIPLIER_SD_LOG)))
        crust = homes_air([air] * len(ends), [0] * len(ends)).crust_per_mm(columns.crust_mm)
        self.true_multiplier[code] = multiplier
        self.homes[code] = WetHome(
            code, multiplier, parts, ends, area, air, columns, self._demand(air, area, shelf, column),
            crust, water, drained, dry_g, watched,
        )  # fmt: skip
        self.layers = None

    def _demand(self, air: Ventilation, area_mm2: float, shelf: int, column: int) -> FloatArray:
        """Demand of every day from a column on [mm/h]; the days before stay 0."""
        warm = self.climate.temperature_c[shelf]
        found = np.zeros(warm.size)
        moist = self.climate.humidity_at(shelf)
        found[column:] = loss_g_day(air, warm[column:], moist[column:]) / 24.0 / (area_mm2 * 1e-3)
        return found

    def shelve(self, code: str, shelf: int, column: int) -> None:
        """It stands on another shelf from now on."""
        home = self.homes.get(code)
        if home is not None:
            home.per_day = self._demand(home.air, home.area_mm2, shelf, column)

    def drop(self, code: str) -> None:
        """Nobody lives in it any more."""
        if self.homes.pop(code, None) is not None:
            self.layers = None

    def day(self, column: int) -> None:
        """A day of all homes."""
        if not self.homes:
            return
        if self.layers is None:
            self._stack()
        assert self.layers is not None
        homes = [self.homes[code] for code in self.stacked]
        factor = [home.multiplier * (LID_OPEN_TIMES if column <= home.open_until else 1.0) for home in homes]
        asked = np.concatenate(
            [np.full(len(h.ends), f * h.per_day[column]) for h, f in zip(homes, factor, strict=True)]
        )
        crust = np.concatenate([f * home.crust for home, f in zip(homes, factor, strict=True)])
        water = np.concatenate([home.water for home in homes], axis=1)[:, None, :]
        after = self.layers.forward(water, asked[None, :], crust[None, :], 24.0)[:, 0, :]
        at = 0
        for home in homes:
            home.water = after[:, at : at + len(home.ends)].copy()
            at += len(home.ends)

    def _stack(self) -> None:
        self.stacked = list(self.homes)
        homes = list(self.homes.values())
        self.layers = Layers(side_by_side([home.columns for home in homes]))

    def felt(self, home: WetHome) -> tuple[Felt, Felt]:
        """How surface and bottom feel to fingers that err a little."""
        surface, bottom = home.wetness
        return self._feel(surface), self._feel(bottom)

    def _feel(self, wetness: float) -> Felt:
        shown = wetness + self.rng.gauss(0.0, FINGER_SD)
        return "dry" if shown < FELT_AT[TOP] else "wet" if shown > FELT_AT[REST] else "damp"


def _vessel(body: MadeUp) -> Vessel:
    length, height = body.inner_length_mm or 0.0, body.inner_height_mm or 0.0
    if body.shape == "box":
        return Vessel("box", length, body.inner_width_mm or length, height)
    across = 0.5 * (length + (body.base_length_mm or length)) if body.shape == "tapered" else length
    return Vessel("cylinder", across, across, height)


def _opening(entry: OpeningEntry) -> Opening:
    return Opening(
        entry.shape, entry.number or 0, entry.width_mm or 0.0, entry.length_mm or 0.0,
        entry.thickness_mm or 2.0, open_fraction=entry.open_fraction or 0.0, at=entry.at or "lid",
    )  # fmt: skip
