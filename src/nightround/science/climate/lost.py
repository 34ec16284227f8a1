"""What a winter cost: thermal days lived against the same days at the place's own warm half-year.

With r the rate of development relative to 25 C (`science.thermal`) and W a winter's days,

    lost = sum over W of (r_ref - r(T(d))),   r_ref = mean of r over the known days of the warm half-year

in days at 25 C. Q10 is known by the normal law of its log, from the room's own moults or the published
prior; missing days are taken as the mean of the days around, with the doubt that goes with it
(`thermal.prepare_warmth`). The law of `lost` is the mixture over Q10 of normals with the missing days' sd;
what is told is its mean and central interval. An animal's next moult is later by its share of the lost days
at the pace of the warm half-year.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.thermal import (
    BoolArray,
    DailyClimate,
    FloatArray,
    Warmth,
    prepare_warmth,
    relative_rate,
    thermal_table,
)

HALF_YEAR: Final = 182
_NODES: Final = 31
_STEPS: Final = 15


@dataclass(frozen=True)
class Lost:
    """Thermal days lost: mean, and the interval that holds them four times in five; the reference's rate."""

    value: float
    low: float
    high: float
    reference_rate: float

    @property
    def later_days(self) -> tuple[float, float, float]:
        """Days that the next moult is later, at the pace of the reference."""
        return (
            self.value / self.reference_rate,
            self.low / self.reference_rate,
            self.high / self.reference_rate,
        )


@dataclass(frozen=True)
class Q10Law:
    """Q10 by the normal law of its log."""

    log_mean: float
    log_sd: float

    def nodes(self) -> FloatArray:
        """Equally likely values of log Q10 [N]."""
        from scipy.special import ndtri

        return np.asarray(self.log_mean + self.log_sd * ndtri((np.arange(_NODES) + 0.5) / _NODES))


class Winters:
    """Daily means of one place with everything needed to ask what stretches of days were worth.

    mean [T]   daily means, NaN where unknown, from day number `first_day`
    warm [T]   which days belong to the warm half-year (the reference); `target_c` is used instead if given
    """

    def __init__(
        self,
        first_day: int,
        mean: FloatArray,
        warm: BoolArray,
        law: Q10Law,
        *,
        target_c: float | None = None,
    ) -> None:
        self.first_day = first_day
        self._law = law
        self._nodes = law.nodes()
        self._warmth: Warmth = prepare_warmth(DailyClimate(first_day, mean[None, :]))
        self._tables = [thermal_table(self._warmth, float(q)) for q in self._nodes]
        self.by_target = target_c is not None
        reference = mean[warm & np.isfinite(mean)] if target_c is None else np.array([target_c])
        self._rates = [
            float(np.mean(relative_rate(reference, float(q)))) if reference.size else np.nan
            for q in self._nodes
        ]
        self.reference_c = float(reference.mean()) if reference.size else None

    def lost(self, first: int, last: int) -> Lost | None:
        """Thermal days lost from day number `first` to `last`, both in; None without a reference."""
        if self.reference_c is None:
            return None
        a, b = first - self.first_day, last - self.first_day + 1
        number = b - a
        value = np.array(
            [number * rate - (table.elapsed[0, b] - table.elapsed[0, a])
             for rate, table in zip(self._rates, self._tables, strict=True)]
        )  # fmt: skip
        sd = np.array([table.doubtful[0, b] - table.doubtful[0, a] for table in self._tables])
        low, high = _mixed(value, sd)
        return Lost(float(value.mean()), low, high, float(np.mean(self._rates)))


def _mixed(value: FloatArray, sd: FloatArray, level: float = 0.8) -> tuple[float, float]:
    """Central interval of an even mixture of normals, each told by its own even quantiles."""
    from scipy.special import ndtri

    steps = ndtri((np.arange(_STEPS) + 0.5) / _STEPS)
    points = value[:, None] + sd[:, None] * steps
    low, high = np.quantile(points, ((1.0 - level) / 2.0, (1.0 + level) / 2.0))
    return float(low), float(high)


def winter_spans(
    coldest_phase: float, first_day: int, last_day: int, year_days: float
) -> list[tuple[int, int]]:
    """Cold half-years (day numbers, both in) around each coldest day that begin before the last day.

    The running one is cut at the last day, the first one at the first day.
    """
    spans = []
    middle = first_day - year_days + (coldest_phase - first_day) % year_days
    while middle - HALF_YEAR / 2 <= last_day:
        first, last = round(middle - HALF_YEAR / 2), round(middle + HALF_YEAR / 2)
        if last >= first_day:
            spans.append((max(first, first_day), min(last, last_day)))
        middle += year_days
    return spans


def warm_days(coldest_phase: float, first_day: int, days: int, year_days: float) -> BoolArray:
    """Whether each day belongs to the warm half-year [T]."""
    phase = (first_day + np.arange(days) - coldest_phase) % year_days
    return np.asarray(np.abs(phase - year_days / 2) < HALF_YEAR / 2)
