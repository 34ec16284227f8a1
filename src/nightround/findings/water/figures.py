"""A followed home in figures for a page: when it is dry, its days to come, its loss, how well it is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.water.air import RoomAir
from nightround.findings.water.course import DRY, Course
from nightround.findings.water.doubt import more_to_ten, spacing_of
from nightround.findings.water.evidence import Described
from nightround.foundation.estimate import Estimate
from nightround.foundation.sources import COMMON_PRACTICE, OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.reports.water import Calibrated as HowCalibrated
from nightround.reports.water import Calibration, MoistureDay, UntilDry
from nightround.science.water import ventilation
from nightround.science.water.calibrate import Calibrated
from nightround.science.water.demand import COLDEST_C, WARMEST_C

FloatArray = NDArray[np.float64]

LEVEL: Final = 0.8
LEVELS: Final = (0.1, 0.5, 0.9)
# From when on a home's figures are its own (choices): sd of log m, days since it was felt.
KNOWN_SD_LOG: Final = 0.35
FELT_LATELY_DAYS: Final = 14
METHOD: Final = (
    "water leaves through openings, air films and dry substrate; the home's own multiplier from its weighings"
    " and felt moisture; equally likely members of both, followed ahead under the expected climate"
)


def quantile(values: FloatArray, level: float) -> float | None:
    """Quantile of equally likely members (inverted distribution function); None where it is not reached."""
    found = float(np.sort(values)[min(values.size - 1, math.ceil(level * values.size) - 1)])
    return found if math.isfinite(found) else None


def until_dry(course: Course, layer: int) -> UntilDry:
    """When surface (0) or bottom (1) is dry."""
    days = course.days_until_dry(layer)
    levels = {f"{level:g}": _days(quantile(days, level)) for level in (0.1, 0.5, 0.9)}
    now = float((course.wetness[layer, 0] < DRY).mean())
    return UntilDry("surface" if layer == 0 else "bottom", levels, now)


def _days(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def course_days(on: date, course: Course) -> tuple[MoistureDay, ...]:
    """The days to come, 10, 50 and 90 % of wetness."""
    levels = np.quantile(np.minimum(course.wetness, 1.0), [0.1, 0.5, 0.9], axis=2).round(3)
    return tuple(
        MoistureDay(
            on + timedelta(days=day),
            (float(levels[0, 0, day]), float(levels[1, 0, day]), float(levels[2, 0, day])),
            (float(levels[0, 1, day]), float(levels[1, 1, day]), float(levels[2, 1, day])),
        )
        for day in range(levels.shape[2])
    )


def calibration_of(course: Course, on: date) -> Calibration:
    """How far the home's own figures go, in numbers and words."""
    found, each = course.calibrated, course.described
    low, middle, high = (found.quantile(level) for level in (0.1, 0.5, 0.9))
    how = how_calibrated(found, each, on)
    method = "before any weighing" if how == "not" else "its weighings and felt moisture against the physics"
    source = COMMON_PRACTICE if how == "not" else OWN_RECORDS
    n = found.n_weighings + found.n_felt
    multiplier = Estimate(middle, low, high, "× the physics", 1, n, method, LEVEL, (source,))
    within = max(high / middle, middle / low) - 1.0
    if how == "not":
        words = f"not weighed yet: the loss may be {low:.1f} to {high:.1f} times the physics"
    else:
        words = f"its loss is known to ±{within:.0%}, from {_evidence_words(found)}"
    weighed_lately = found.n_weighings > 0 and how != "not"
    more = more_to_ten(
        course.lost_ml, found.members.multiplier, found.sd_log, *spacing_of(each), weighed_lately
    )
    if more:
        words += f"; about {more_words(more)} would bring it to ±10 %"
    return Calibration(how, multiplier, found.n_weighings, found.n_felt, more, words, course.questioned)


def more_words(more: int) -> str:
    """'two more weighings', 'one more weighing'."""
    numbers = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}
    return f"{numbers.get(more, more)} more weighing{'' if more == 1 else 's'}"


def how_calibrated(found: Calibrated, each: Described, on: date) -> HowCalibrated:
    """Whether weighings or fingers have told enough of this home to name days and millilitres."""
    if found.n_weighings > 1 and found.sd_log < KNOWN_SD_LOG:
        return "weighed"
    felt = max((day for day, _, _ in each.home.felt), default=None)
    lately = felt is not None and (on - felt).days <= FELT_LATELY_DAYS
    return "felt" if found.n_felt and (lately or found.sd_log < KNOWN_SD_LOG) else "not"


def _evidence_words(found: Calibrated) -> str:
    told = []
    if found.n_weighings:
        told.append(counted(found.n_weighings, "weighing"))
    if found.n_felt:
        told.append(f"felt {counted(found.n_felt, 'time')}")
    return " and ".join(told)


def loss_estimate(values: FloatArray, found: Calibrated) -> Estimate:
    """Millilitres a day of equally likely members as an estimate."""
    return _loss(np.quantile(values, LEVELS).tolist(), found)


def _loss(levels: Sequence[float], found: Calibrated) -> Estimate:
    low, middle, high = levels
    n = found.n_weighings + found.n_felt
    return Estimate(middle, low, high, "ml a day", 1, n, METHOD, LEVEL, (OWN_RECORDS,))


def loss_months(air: RoomAir, on: date, course: Course) -> tuple[tuple[date, Estimate], ...]:
    """Loss of the kept-moist home in each of the next twelve months, under the expected climate."""
    home, row = course.described.air, air.row(course.described.home.place)
    if home is None:
        return ()
    first = air.now + 1
    days = [on + timedelta(days=ahead + 1) for ahead in range(air.temperature_c.shape[1] - first)]
    months = sorted({day.replace(day=1) for day in days})[:12]
    which = np.array([day.year * 12 + day.month for day in days])
    columns = [first + np.flatnonzero(which == month.year * 12 + month.month) for month in months]
    warm, moist = (
        np.array([rows[row, column].mean() for column in columns])
        for rows in (air.temperature_c, air.humidity)
    )
    plain = ventilation.loss_g_day(home, np.clip(warm, COLDEST_C, WARMEST_C), np.clip(moist, 0.0, 1.0))
    multiplier = np.quantile(course.calibrated.members.multiplier, LEVELS)
    return tuple(
        (month, _loss((loss * multiplier).tolist(), course.calibrated))
        for month, loss in zip(months, plain.tolist(), strict=True)
    )


def chance_dry(course: Course, layer: int, days: int) -> float:
    """Chance that a layer is dry within so many days."""
    return float((course.days_until_dry(layer) <= days).mean())
