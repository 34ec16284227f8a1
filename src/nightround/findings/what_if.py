"""If it were warmer or cooler: one animal's next moult with the expected climate shifted, from the same fit.

Nothing is fitted anew. The shift counts for every day to come, at every place, planned climate included; the
doubt of the expectation stays as it is. Appetite and signs are weighed in as in the forecast itself.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np

from nightround.findings.clock_effects import q10_of
from nightround.findings.moult import ClockOdds, odds_of
from nightround.record.model import Record
from nightround.reports.ahead import Shifted, WhatIf
from nightround.science.clock.forecast import QUANTILES, WITHIN_DAYS, ClockForecast
from nightround.science.thermal import (
    LAW,
    REFERENCE_C,
    UNREAD_PLACE_C,
    DailyClimate,
    FloatArray,
    ThermalTable,
    clock_at,
)

SHIFTS_C: Final = (-2.0, -1.0, 0.0, 1.0, 2.0)
METHOD: Final = "moult clock, the same fit, every day to come shifted"
# A mean temperature further than this outside the recorded ones is called an extrapolation.
MARGIN_C: Final = 1.0
LEVELS: Final = (0.10, 0.50, 0.90)
_UNKNOWN_MIDDLE_DAYS: Final = 90
_RECORDS: Final = (0.05, 0.95)

CAUTIONS: Final = (
    "Never heat a spider to hurry a moult: this explains a warm or cool season and is no advice.",
    "Warmth makes it grow faster and need water and food more often (common practice, no source); whether"
    " fast growth shortens life is disputed, and no record settles it.",
    f"Above about {LAW.upper_turn_c:.0f} °C growth slows again, and at 35 °C eggs died (measured in one small"
    " sheet-web spider, grade A; other kinds may suffer well below that).",
    "Usual are 22 to 26 °C, from 20 °C up (keepers' pages, grade C). A heat mat or lamp without a thermostat"
    " passes 49 °C (grade C), burns, and sets fire.",
    "Kinds differ: go by those who breed this one, by local advice, and for illness by a veterinarian.",
)


def what_if(
    record: Record, odds: ClockOdds, code: str, shifts_c: tuple[float, ...] = SHIFTS_C
) -> WhatIf | None:
    """Return the next moult of one animal under other temperatures; None where it has no forecast.

    odds   of the same record (`findings.moult.clock_odds`)
    """
    row = odds.room.row_of.get(code)
    if row is None:
        return None
    room = odds.room
    animal = int(room.asked[row])
    stays = room.histories[animal].stays
    place = room.places.index(stays[-1][0] if stays else "")
    middle = odds.result.quantile_days[row, QUANTILES.index(0.50)]
    horizon = _UNKNOWN_MIDDLE_DAYS if np.isnan(middle) else int(np.clip(np.ceil(middle), 7, None))
    to_come = _filled(room.expected).temperature_c[place]
    lived = lived_temperatures(odds)
    lived = lived[np.isfinite(lived)]
    records = tuple(float(value) for value in np.quantile(lived, _RECORDS)) if lived.size else None
    rows = []
    for shift in sorted(shifts_c):
        days = to_come[: min(horizon, to_come.size)] + shift
        result, at = (odds.result, row) if shift == 0.0 else (_shifted(record, odds, animal, shift), 0)
        rows.append(_row(result, at, shift, days, records))
    q10 = q10_of(odds.fitted)
    return WhatIf(
        animal=code,
        on=date.fromordinal(room.on),
        rows=tuple(rows),
        read=bool(np.isfinite(room.data.climate.temperature_c[place]).any()),
        records_low_c=None if records is None else records[0],
        records_high_c=None if records is None else records[1],
        n_intervals=int(lived.size),
        q10=q10.middle,
        q10_low=q10.range[0],
        q10_high=q10.range[1],
        method=METHOD,
        cautions=CAUTIONS,
    )


def _filled(expected: DailyClimate) -> DailyClimate:
    """Places of which nothing is known stand at the temperature that the clock assumes for them."""
    known = np.isfinite(expected.temperature_c).any(axis=1, keepdims=True)
    return replace(expected, temperature_c=np.where(known, expected.temperature_c, UNREAD_PLACE_C))


def _shifted(record: Record, odds: ClockOdds, animal: int, shift_c: float) -> ClockForecast:
    """The forecast of one animal with every expected day shifted; the fits stand."""
    expected = _filled(odds.room.expected)
    warmer = replace(expected, temperature_c=expected.temperature_c + shift_c)
    room = replace(odds.room, asked=np.array([animal], dtype=np.int64), expected=warmer)
    again = odds_of(
        record, room, odds.fitted, odds.sizes, appetite=odds.weighed.fit, widenings=odds.widenings
    )
    return again.result


def _row(
    result: ClockForecast, at: int, shift_c: float, days: FloatArray, records: tuple[float, ...] | None
) -> Shifted:
    found = {level: float(result.quantile_days[at, QUANTILES.index(level)]) for level in LEVELS}
    mean = float(np.nanmean(days))
    return Shifted(
        shift_c,
        mean,
        {f"{level:.2f}": None if np.isnan(value) else value for level, value in found.items()},
        float(result.within[at, WITHIN_DAYS.index(30)]),
        _beyond(mean, days, records),
    )


def _beyond(mean_c: float, days: FloatArray, records: tuple[float, ...] | None) -> str:
    hot = int((days > LAW.upper_turn_c).sum())
    if hot:
        return f"{hot} days above {LAW.upper_turn_c:.0f} °C, where growth slows: never aim there"
    if records is None:
        return "no interval with readings recorded yet: published figures only"
    if mean_c > records[1] + MARGIN_C:
        return "warmer than any stretch on record here: an extrapolation"
    if mean_c < records[0] - MARGIN_C:
        return "cooler than any stretch on record here: an extrapolation"
    return ""


def lived_temperatures(odds: ClockOdds) -> FloatArray:
    """Mean temperature [C] of every completed interval most of whose days have a reading [N]; else NaN.

    Rows as in the clock's data. Days past the upper turn count as the turn itself.
    """
    design = odds.fitted.design
    warmth = design.warmth
    unread = np.maximum(warmth.missing, warmth.unread[:, None])
    degrees = ThermalTable(
        warmth.first_day, _cumulated(REFERENCE_C + 10.0 * warmth.exponent), _cumulated(unread)
    )
    days = _cumulated(np.ones_like(warmth.exponent))

    def spent(table: FloatArray) -> FloatArray:
        begin, end = (clock_at(design.paths, table, warmth.first_day, moments) for moments in design.span)
        return end - begin

    whole = spent(days)
    closed = ~design.data.intervals.running[design.order]
    told = closed & (whole > 0.5) & (spent(degrees.doubtful) < 0.5 * whole)
    found = np.full(whole.size, np.nan)
    found[design.order] = np.where(told, spent(degrees.elapsed) / np.maximum(whole, 0.5), np.nan)
    return found


def _cumulated(daily: FloatArray) -> FloatArray:
    return np.concatenate([np.zeros((daily.shape[0], 1)), np.cumsum(daily, axis=1)], axis=1)
