"""Small rooms for the tests of the moult clock, at a constant 25 C so that days are days at 25 C."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightround.science.clock.data import NO_DAY, ClockData, Intervals
from nightround.science.clock.priors import COVARIATE_NAMES, REFERENCE_LOG_SIZE
from nightround.science.thermal import DailyClimate, FloatArray, Stays

FIRST_DAY = 100_000
RECORD_DAYS = 1000
ON = FIRST_DAY + RECORD_DAYS - 1


@dataclass(frozen=True)
class Piece:
    """One interval, in days after FIRST_DAY; None where there is none."""

    animal: int
    start: tuple[int, int] | None = None
    end: tuple[int, int] | None = None
    looked: int | None = None
    watched: int | None = None
    size: float = 0.0
    covariates: tuple[float, ...] = (0.0,) * len(COVARIATE_NAMES)


def room(
    pieces: Sequence[Piece],
    taxa: Sequence[int] = (0,),
    groups: Sequence[int] = (0,),
    temperature_c: float = 25.0,
) -> ClockData:
    """A room of animals of the given taxa (taxon of animal i is taxa[i], or taxa[0]) at one place."""
    animals = max(piece.animal for piece in pieces) + 1
    taxon_of = np.array([taxa[min(i, len(taxa) - 1)] for i in range(animals)], dtype=np.int64)

    def day(value: int | None) -> int:
        return NO_DAY if value is None else FIRST_DAY + value

    def column(values: list[int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        return np.array(values, dtype=np.int64)

    intervals = Intervals(
        column([p.animal for p in pieces]),
        column([day(p.start[0] if p.start else None) for p in pieces]),
        column([day(p.start[1] if p.start else None) for p in pieces]),
        column([day(p.end[0] if p.end else None) for p in pieces]),
        column([day(p.end[1] if p.end else None) for p in pieces]),
        column([day(p.looked) for p in pieces]),
        column([day(p.watched) for p in pieces]),
        np.array([REFERENCE_LOG_SIZE + p.size for p in pieces]),
        np.zeros(len(pieces)),
        np.array([p.covariates for p in pieces]),
    )
    climate = DailyClimate(FIRST_DAY, np.full((1, RECORD_DAYS), temperature_c))
    stays = Stays(np.arange(animals), np.zeros(animals, dtype=np.int64), np.full(animals, FIRST_DAY))
    return ClockData(
        taxon_of,
        np.array(groups, dtype=np.int64),
        np.zeros(len(groups)),
        np.zeros(animals),
        np.zeros(animals),
        climate,
        stays,
        intervals,
    )


def expected(temperature_c: float = 25.0, spread_c: float = 0.0, on: int = ON) -> DailyClimate:
    """Two years to come at one temperature."""
    mean: FloatArray = np.full((1, 730), temperature_c)
    return DailyClimate(on + 1, mean, np.full((1, 730), spread_c))


def with_intervals(data: ClockData, **changes: FloatArray) -> ClockData:
    """The same room with other interval columns."""
    return replace(data, intervals=replace(data.intervals, **changes))
