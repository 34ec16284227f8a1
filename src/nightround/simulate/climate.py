"""The invented room's air: seasons, weather, a heat failure, a heat wave, shelves, and a logger with gaps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Shelf:
    """A place of the room: how much warmer than the room, a thermostat's floor, a logger or none."""

    name: str
    position: int
    warmer_c: float
    held_at_c: float | None = None
    logger: bool = True


SHELVES: Final = (
    Shelf("shelf A", 1, 1.1),
    Shelf("shelf B", 2, 0.4),
    Shelf("shelf C", 3, -0.3),
    Shelf("shelf D", 4, -1.0),
    Shelf("warm cabinet", 5, 1.0, held_at_c=24.5),
    Shelf("sling drawer", 6, 0.8, held_at_c=23.5),
    Shelf("quarantine bench", 7, -0.2, logger=False),
)
QUARANTINE: Final = 6
ROOM_NAME: Final = "spare room"
MEAN_C: Final = 23.4
SWING_C: Final = 3.5
WEATHER_SD_C: Final = 0.7
WEATHER_MEMORY: Final = 0.75


@dataclass(frozen=True)
class RoomClimate:
    """True daily means and what the loggers kept.

    first          day of column 0
    temperature_c  [shelves + 1, days] true daily mean, the last row is the room's air
    humidity       [days] percent
    logged         [shelves + 1, days] whether a reading was kept
    failure, wave, gap  (first column, last column) of heat failure, heat wave, dead logger battery
    """

    first: date
    temperature_c: FloatArray
    humidity: FloatArray
    logged: NDArray[np.bool_]
    failure: tuple[int, int]
    wave: tuple[int, int]
    gap: tuple[int, int]

    def humidity_at(self, row: int) -> FloatArray:
        """Relative humidity of a shelf [days], a fraction: it has the room's vapour at its own warmth."""
        from nightround.science.water.air import vapour_density_kg_m3

        room = self.humidity / 100.0 * vapour_density_kg_m3(self.temperature_c[-1])
        return np.clip(room / vapour_density_kg_m3(self.temperature_c[row]), 0.05, 0.98)

    def column(self, day: date) -> int:
        """Return the column of a day."""
        return (day - self.first).days


def season(first: date, days: int) -> FloatArray:
    """Return -1 on about 20 January, +1 in mid July, for each day [days]."""
    start = first.timetuple().tm_yday
    return np.asarray(-np.cos(2 * np.pi * (start - 20 + np.arange(days)) / 365.25), dtype=np.float64)


def _weather(rng: np.random.Generator, days: int) -> FloatArray:
    shocks = rng.normal(0.0, WEATHER_SD_C * np.sqrt(1 - WEATHER_MEMORY**2), days)
    air = np.empty(days)
    state = rng.normal(0.0, WEATHER_SD_C)
    for day, shock in enumerate(shocks):
        state = WEATHER_MEMORY * state + shock
        air[day] = state
    return air


def _event(turn: FloatArray, coldest: bool, after: int, length: int) -> tuple[int, int]:
    """First and last column of an event in the first deep season after a column (the last known one else)."""
    deep = np.flatnonzero(turn < -0.9 if coldest else turn > 0.9)
    later = deep[deep >= after]
    at = int(later[len(later) // 8]) if later.size else int(deep[0]) if deep.size else len(turn) // 2
    return at, min(at + length - 1, len(turn) - 1)


def make_climate(rng: np.random.Generator, first: date, days: int, kept: int) -> RoomClimate:
    """Draw `days` days from `first`; the loggers run over the first `kept` of them."""
    turn = season(first, days)
    air = MEAN_C + SWING_C * turn + _weather(rng, days)
    failure = _event(turn[:kept], True, kept * 2 // 5, 3)
    wave = _event(turn[:kept], False, kept // 2, 6)
    air[failure[0] : failure[1] + 1] -= np.array([3.5, 6.0, 4.0])[: failure[1] - failure[0] + 1]
    air[wave[0] : wave[1] + 1] += np.array([2.0, 3.5, 4.5, 4.5, 3.5, 2.0])[: wave[1] - wave[0] + 1]
    rows = []
    for shelf in SHELVES:
        row = air + shelf.warmer_c + rng.normal(0.0, 0.15, days)
        if shelf.held_at_c is not None:
            held = np.maximum(row, shelf.held_at_c + rng.normal(0.0, 0.2, days))
            held[failure[0] : failure[1] + 1] = row[failure[0] : failure[1] + 1]
            row = held
        rows.append(row)
    rows.append(air)
    gap = (kept * 3 // 10, min(kept * 3 // 10 + 22, kept - 1))
    logged = rng.random((len(rows), days)) > 0.012
    logged[:, gap[0] : gap[1] + 1] = False
    logged[:, kept:] = False
    logged[QUARANTINE] = False
    humidity = np.clip(51 + 6 * turn + rng.normal(0, 3.5, days), 28, 80)
    return RoomClimate(first, np.array(rows), humidity, logged, failure, wave, gap)


def day_at(climate: RoomClimate, column: int) -> date:
    """Return the day of a column."""
    return climate.first + timedelta(days=column)
