"""What the air asks of many homes, hour by hour: the loss of wet substrate [mm/h], from each place's climate.

    demand = m G(T, RH) / area * (rho_s(T + warmer) - RH rho_s(T))

G is tabulated for each home every 2 C, and by humidity where openings at two heights make it depend on it,
and interpolated: within 1 % of `ventilation` (tested) between 0 and 46 C, and as at the nearer end outside.
Densities are not tabulated; under 0 C they are those over supercooled water.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water import air
from nightround.science.water.openings import MM, SIDE_LOW
from nightround.science.water.ventilation import Ventilation, home_conductance_m3_s

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Ends of the table of conductances: colder and warmer air is taken to flow as at the nearer end.
COLDEST_C: Final = 0.0
WARMEST_C: Final = 46.0
STEP_C: Final = 2.0
# What a climate may hold at all: vapour itself is worked out at the temperature as it is.
LEAST_C: Final = -30.0
MOST_C: Final = 60.0
TEMPERATURES_C: Final = np.arange(COLDEST_C, WARMEST_C + STEP_C / 2.0, STEP_C)
HUMIDITIES: Final = np.linspace(0.0, 1.0, 9)
USUAL_C: Final = 22.0
USUAL_HUMIDITY: Final = 0.5


@dataclass(frozen=True)
class Climate:
    """Hourly temperature [C] and humidity [fraction] by place, both [P, K]; NaN where unknown."""

    temperature_c: FloatArray
    humidity_fraction: FloatArray

    def __post_init__(self) -> None:
        if self.temperature_c.ndim != 2 or self.temperature_c.shape != self.humidity_fraction.shape:
            raise Refusal(
                "temperature and humidity with one row a place and one column an hour were wanted",
                got=f"{self.temperature_c.shape} and {self.humidity_fraction.shape}",
            )
        air.checked_humidity(self.humidity_fraction)
        known = self.temperature_c[np.isfinite(self.temperature_c)]
        if known.size and (known.min() < LEAST_C or known.max() > MOST_C):
            raise Refusal(
                f"temperatures between {LEAST_C:g} and {MOST_C:g} C were wanted",
                got=f"{known.min():.1f} to {known.max():.1f}",
            )


@dataclass(frozen=True)
class HomesAir:
    """The air's side of many homes, one entry a column of substrate: make it with `homes_air`.

    conductance_m_s [C, T, R]  per area of substrate, on `TEMPERATURES_C` and `HUMIDITIES`
    by_humidity [C]            whether the home has openings at two heights
    place [C]                  row of the climate
    warmer_c [C]               substrate over room (a heated shelf), or under it
    multiplier [C]             the home's own m
    """

    conductance_m_s: FloatArray
    by_humidity: NDArray[np.bool_]
    place: IntArray
    warmer_c: FloatArray
    multiplier: FloatArray

    def members(self, rows: IntArray, multiplier: FloatArray) -> HomesAir:
        """Some of the homes, each as often as asked, with multipliers of their own."""
        return HomesAir(
            self.conductance_m_s[rows],
            self.by_humidity[rows],
            self.place[rows],
            self.warmer_c[rows],
            np.asarray(multiplier, dtype=np.float64),
        )

    def crust_per_mm(self, crust_mm: FloatArray) -> FloatArray:
        """What `balance.run` asks: conductance over the crust's diffusivity, at 22 C and 50 %."""
        column = round((USUAL_C - COLDEST_C) / STEP_C)
        usual = self.conductance_m_s[:, column, HUMIDITIES.size // 2] * self.multiplier
        return np.asarray(usual / float(air.diffusivity_m2_s(USUAL_C)) * crust_mm * MM, dtype=np.float64)


def homes_air(
    homes: list[Ventilation],
    place: list[int],
    warmer_c: list[float] | None = None,
    multiplier: list[float] | None = None,
) -> HomesAir:
    """Tabulate homes (equal ones once). Lists are one entry a column; nothing said: as warm as the room, m
    = 1.
    """
    count = len(homes)
    warmer = np.zeros(count) if warmer_c is None else np.asarray(warmer_c, dtype=np.float64)
    factor = np.ones(count) if multiplier is None else np.asarray(multiplier, dtype=np.float64)
    if not (len(place) == warmer.size == factor.size == count) or not (factor >= 0.0).all():
        raise Refusal(
            "one place, warmth and multiplier of 0 or more a home were wanted", got=f"{count} homes"
        )
    known: dict[tuple[Ventilation, float], FloatArray] = {}
    tables = []
    for home, offset in zip(homes, warmer, strict=True):
        key = (home, float(offset))
        if key not in known:
            known[key] = _table(home, float(offset))
        tables.append(known[key])
    two_heights = np.array([_two_heights(home) for home in homes])
    return HomesAir(np.stack(tables), two_heights, np.asarray(place, dtype=np.int64), warmer, factor)


def _two_heights(home: Ventilation) -> bool:
    low = [opening.at == SIDE_LOW for opening in home.openings if opening.number]
    return any(low) and not all(low)


def _table(home: Ventilation, warmer_c: float) -> FloatArray:
    humidity = HUMIDITIES if _two_heights(home) else np.array([USUAL_HUMIDITY])
    room = TEMPERATURES_C[:, None]
    found = home_conductance_m3_s(home, room, humidity[None, :], room + warmer_c)
    per_area = found / (home.floor_area_mm2 * MM**2)
    return np.ascontiguousarray(np.broadcast_to(per_area, (TEMPERATURES_C.size, HUMIDITIES.size)))


@dataclass(frozen=True)
class Demand:
    """Rows of demand for `balance.run`: call it with the first step and the one after the last.

    Climate is taken at its mean over the hours of a step.
    """

    homes: HomesAir
    climate: Climate
    hours_a_step: int = 1

    def __call__(self, start: int, end: int) -> FloatArray:
        """Demand [end - start, C] in mm/h; NaN where the place's climate is unknown."""
        room, humidity = (
            self._steps(series, start, end)
            for series in (self.climate.temperature_c, self.climate.humidity_fraction)
        )
        drive = self._drive(room, humidity)
        conductance = self._conductance(room, humidity)
        np.multiply(drive, conductance, out=drive)
        return drive

    def _steps(self, series: FloatArray, start: int, end: int) -> FloatArray:
        """Means of the steps [steps, P]."""
        hours = series[:, start * self.hours_a_step : end * self.hours_a_step]
        if self.hours_a_step == 1:
            return np.ascontiguousarray(hours.T)
        whole = hours.shape[1] // self.hours_a_step
        cut = whole * self.hours_a_step
        means = hours[:, :cut].reshape(hours.shape[0], whole, self.hours_a_step).mean(axis=2)
        if cut < hours.shape[1]:
            means = np.concatenate([means, hours[:, cut:].mean(axis=1, keepdims=True)], axis=1)
        return np.ascontiguousarray(means.T)

    def _drive(self, room: FloatArray, humidity: FloatArray) -> FloatArray:
        """3600 m (rho_s(substrate) - RH rho_s(room)), each pair of place and warmth worked out once."""
        pairs, which = np.unique(
            np.stack([self.homes.place.astype(np.float64), self.homes.warmer_c]), axis=1, return_inverse=True
        )
        places = pairs[0].astype(np.int64)
        inside = air.vapour_density_kg_m3(room[:, places] + pairs[1])
        outside = humidity[:, places] * air.vapour_density_kg_m3(room[:, places])
        drive = 3600.0 * np.maximum(inside - outside, 0.0)
        return np.asarray(np.take(drive, which.ravel(), axis=1) * self.homes.multiplier, dtype=np.float64)

    def _conductance(self, room: FloatArray, humidity: FloatArray) -> FloatArray:
        """Interpolated conductance [K, C], a place at a time: weights of table points times the tables."""
        homes = self.homes
        found = np.empty((room.shape[0], homes.place.size))
        for place in np.unique(homes.place):
            within = np.clip(room[:, place], COLDEST_C, WARMEST_C)
            warmth = _weights(within, COLDEST_C, STEP_C, TEMPERATURES_C.size)
            here = homes.place == place
            plain = np.flatnonzero(here & ~homes.by_humidity)
            if plain.size:
                found[:, plain] = warmth @ homes.conductance_m_s[plain, :, 0].T
            own = np.flatnonzero(here & homes.by_humidity)
            if own.size:
                moist = _weights(humidity[:, place], 0.0, float(HUMIDITIES[1]), HUMIDITIES.size)
                both = (warmth[:, :, None] * moist[:, None, :]).reshape(room.shape[0], -1)
                found[:, own] = both @ homes.conductance_m_s[own].reshape(own.size, -1).T
        return found


def _weights(values: FloatArray, first: float, step: float, points: int) -> FloatArray:
    """Weights [K, points] of linear interpolation at values [K]; a row of NaN where the value is unknown."""
    offset = (values - first) / step
    distance = np.abs(offset[:, None] - np.arange(points))
    return np.where(np.isnan(distance), np.nan, np.clip(1.0 - distance, 0.0, 1.0))
