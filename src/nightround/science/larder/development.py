"""How fast a feeder develops at a temperature: share of its whole development in one day.

Two forms, both fixed by published times and never fitted here:

- degree-days: rate(T) = max(T - threshold, 0) / constant;
- points: the log of the rate runs straight from one published temperature to the next, goes on with the
  slope of the coolest pair below them, and stays at the warmest rate above. A source with one temperature
  borrows a Q10, and says so.

Above the warmest temperature of its source either form falls straight to zero at 42 C (the lethal limit of
`science.thermal`, a working value). Outside the range of its source a rate is used but told as outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.foundation.sources import Source
from nightround.science.thermal import LAW, FloatArray


class Development(Protocol):
    """A law of development: its source, the range [C] it was seen in, and the rate."""

    @property
    def source(self) -> Source: ...
    @property
    def from_c(self) -> float: ...
    @property
    def to_c(self) -> float: ...
    def rate(self, temperature_c: FloatArray) -> FloatArray:
        """Share of development in a day at a daily mean temperature [C], any shape."""
        ...


def days_at(law: Development, temperature_c: float) -> float:
    """Days of the whole development at a constant temperature [C]; infinite where nothing develops."""
    rate = float(law.rate(np.array([temperature_c]))[0])
    return 1.0 / rate if rate > 0.0 else math.inf


def outside(law: Development, temperature_c: FloatArray) -> FloatArray:
    """Which temperatures lie outside the range of the law's source: 1.0 or 0.0, same shape."""
    return np.asarray((temperature_c < law.from_c) | (temperature_c > law.to_c), dtype=np.float64)


def _heat(temperature_c: FloatArray, to_c: float) -> FloatArray:
    return np.asarray(np.clip((LAW.lethal_c - temperature_c) / (LAW.lethal_c - to_c), 0.0, 1.0))


@dataclass(frozen=True)
class DegreeDays:
    """Degree-days [C d] above a threshold [C], seen between two temperatures [C]."""

    threshold_c: float
    degree_days: float
    from_c: float
    to_c: float
    source: Source

    def rate(self, temperature_c: FloatArray) -> FloatArray:
        above = np.maximum(np.minimum(temperature_c, self.to_c) - self.threshold_c, 0.0)
        return np.asarray(above / self.degree_days * _heat(temperature_c, self.to_c))


@dataclass(frozen=True)
class Points:
    """Published days at one or more temperatures, coolest first: ((C, days), ...).

    borrowed_q10   slope for a source of one temperature; used between `from_c` and `to_c`
    """

    points: tuple[tuple[float, float], ...]
    source: Source
    borrowed_q10: float | None = None
    from_c: float = math.nan
    to_c: float = math.nan

    def __post_init__(self) -> None:
        temperatures = [point[0] for point in self.points]
        if temperatures != sorted(set(temperatures)) or any(days <= 0 for _, days in self.points):
            raise Refusal("published times run from cool to warm, with days above 0", got=str(self.points))
        if (len(self.points) == 1) == (self.borrowed_q10 is None):
            raise Refusal("two temperatures, or one and a borrowed Q10, were wanted", got=str(self.points))
        if self.borrowed_q10 is None:
            object.__setattr__(self, "from_c", temperatures[0])
            object.__setattr__(self, "to_c", temperatures[-1])

    def _line(self) -> tuple[FloatArray, FloatArray]:
        """Temperatures and log rates of the line, with a far point in the cold."""
        temperature = np.array([point[0] for point in self.points])
        log_rate = -np.log([point[1] for point in self.points])
        slope = math.log(self.borrowed_q10) / 10.0 if self.borrowed_q10 else None
        if slope is not None:
            temperature = np.append(temperature, self.to_c)
            log_rate = np.append(log_rate, log_rate[-1] + slope * (self.to_c - self.points[-1][0]))
        else:
            slope = (log_rate[1] - log_rate[0]) / (temperature[1] - temperature[0])
        far = temperature[0] - 100.0
        return np.insert(temperature, 0, far), np.insert(log_rate, 0, log_rate[0] - slope * 100.0)

    def rate(self, temperature_c: FloatArray) -> FloatArray:
        knots, log_rate = self._line()
        return np.asarray(np.exp(np.interp(temperature_c, knots, log_rate)) * _heat(temperature_c, self.to_c))


def scaled(law: Points, share: float) -> Points:
    """The law of a part of development that takes `share` of the whole's days at every temperature."""
    points = tuple((temperature, days * share) for temperature, days in law.points)
    return Points(points, law.source, law.borrowed_q10, law.from_c, law.to_c)
