"""Each place's months and weeks, the wave of its year, its last year by days, and what is to be expected."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.climate_tables import NO_THRESHOLDS, RoomTable
from nightround.findings.clock_climate import expected_climate
from nightround.findings.clock_effects import FOUR_IN_FIVE
from nightround.foundation.estimate import Estimate
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.record.histories import DailyClimate as PlaceDays
from nightround.record.model import Record
from nightround.reports.climate import (
    AheadDay,
    CourseDay,
    PlaceClimate,
    PlaceStretch,
    Thresholds,
    YearWave,
)
from nightround.science.climate.levels import YEAR_DAYS
from nightround.science.climate.season import (
    NotEnough,
    Stretch,
    Wave,
    fit_waves,
    months_of,
    next_day_of_phase,
    stretches,
    weeks_of,
)
from nightround.science.thermal import DailyClimate, FloatArray, IntArray

COURSE_DAYS: Final = 365
AHEAD_DAYS: Final = 90
WEEKS_SHOWN: Final = 13
MONTHS_SHOWN: Final = 1200
WAVE_METHOD: Final = "a yearly wave by least squares, errors that remember from day to day"
# Under this share a wave says little about the place: a thermostat holds it.
POOR_FIT: Final = 0.5


def place_reports(
    record: Record,
    tables: tuple[RoomTable, ...],
    climate: Mapping[str, PlaceDays],
    thresholds: Mapping[str, Thresholds],
    log_q10: float,
) -> tuple[PlaceClimate, ...]:
    """Return every place in the order of its room's walk."""
    animals = Counter(animal.place for animal in record.living())
    found: list[PlaceClimate] = []
    for table in tables:
        waves = fit_waves(table.first_day, table.mean)
        ahead = expected_climate(
            table.names, climate, record.on.toordinal(), DailyClimate(table.first_day, table.mean)
        )
        months, weeks = months_of(table.first_day, table.days), weeks_of(table.first_day, table.days)
        for row, name in enumerate(table.names):
            limits = thresholds.get(name, NO_THRESHOLDS)
            found.append(
                _place(
                    table, row, animals[name], limits, waves[row], ahead, (months, weeks), log_q10, record.on
                )
            )
    return tuple(found)


def _place(
    table: RoomTable,
    row: int,
    animals: int,
    limits: Thresholds,
    wave: Wave | NotEnough,
    ahead: DailyClimate,
    labels: tuple[IntArray, IntArray],
    log_q10: float,
    on: date,
) -> PlaceClimate:
    days = table.of(row)
    at = np.flatnonzero(days.known)
    if not at.size:
        return PlaceClimate(table.names[row], table.room, animals, None, None, 0, None, limits,
                            wave_words="no reading yet")  # fmt: skip
    months, weeks = (
        _stretches(table, row, label, limits, log_q10, int(at[0]), most)
        for label, most in zip(labels, (MONTHS_SHOWN, WEEKS_SHOWN), strict=True)
    )
    told, words = _wave(wave, on)
    mean = np.flatnonzero(np.isfinite(days.mean))
    return PlaceClimate(
        place=table.names[row],
        room=table.room,
        animals=animals,
        first=table.day(int(at[0])),
        last=table.day(int(at[-1])),
        days_known=int(at.size),
        latest_c=float(days.mean[mean[-1]]) if mean.size else None,
        thresholds=limits,
        months=months,
        weeks=weeks,
        wave=told,
        wave_words=words,
        course=_course(table, row),
        ahead=_ahead(ahead, row, on),
        ahead_words=_ahead_words(table, row, on),
    )


def _stretches(
    table: RoomTable, row: int, label: IntArray, limits: Thresholds, log_q10: float, first: int, most: int
) -> tuple[PlaceStretch, ...]:
    """The latest months or weeks, from the one with the first reading on."""
    cold = -np.inf if limits.cold_c is None else limits.cold_c
    heat = np.inf if limits.heat_c is None else limits.heat_c
    told = stretches(table.of(row), label, cold_c=cold, heat_c=heat, log_q10=log_q10)
    begun = table.first_day + first
    return tuple(_stretch(each, table, row) for each in told[-most:] if each.last >= begun)


def _stretch(each: Stretch, table: RoomTable, row: int) -> PlaceStretch:
    damp = table.humidity[row, each.first - table.first_day : each.last - table.first_day + 1]
    damp = damp[np.isfinite(damp)]
    return PlaceStretch(
        first=date.fromordinal(each.first),
        last=date.fromordinal(each.last),
        days=each.days,
        known=each.known,
        low_c=each.low,
        mean_c=each.mean,
        high_c=each.high,
        coldest=None if each.coldest is None else date.fromordinal(each.coldest),
        hottest=None if each.hottest is None else date.fromordinal(each.hottest),
        under=each.under,
        over=each.over,
        short_degree_days=each.short_degree_days,
        thermal_days=each.thermal_days,
        humidity_percent=float(damp.mean()) if damp.size else None,
    )


def _wave(wave: Wave | NotEnough, on: date) -> tuple[YearWave | None, str]:
    if isinstance(wave, NotEnough):
        if wave.days == 0:
            return None, "no daily mean yet"
        return None, f"not a year of days yet: {counted(wave.days, 'day')} over {counted(wave.span, 'day')}"
    coldest = None if wave.flat else date.fromordinal(next_day_of_phase(wave.coldest[0], on.toordinal() + 1))
    words = ""
    if wave.flat:
        words = "hardly any yearly wave"
    elif wave.fits_share < POOR_FIT:
        words = f"the wave explains only {100 * wave.fits_share:.0f} % of the days' spread: heated, or held"
    told = YearWave(
        _estimate(wave.mean, wave.n), _estimate(wave.swing, wave.n), coldest, wave.coldest[1], wave.fits_share
    )
    return told, words


def _estimate(told: tuple[float, float, float], n: int) -> Estimate:
    return Estimate(*told, "C", 0, n, WAVE_METHOD, 0.8, (OWN_RECORDS,))


def _course(table: RoomTable, row: int) -> tuple[CourseDay, ...]:
    """The read days of the last year."""
    days = table.of(row)
    low, mean, high = (_told(each) for each in (days.low, days.mean, days.high))
    return tuple(
        CourseDay(table.day(at), low[at], mean[at], high[at])
        for at in range(max(0, table.days - COURSE_DAYS), table.days)
        if low[at] is not None or mean[at] is not None or high[at] is not None
    )


def _told(values: FloatArray) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]


def _ahead(ahead: DailyClimate, row: int, on: date) -> tuple[AheadDay, ...]:
    mean = ahead.temperature_c[row, :AHEAD_DAYS]
    spread = np.zeros_like(mean) if ahead.spread_c is None else ahead.spread_c[row, :AHEAD_DAYS]
    reach = FOUR_IN_FIVE * spread
    return tuple(
        AheadDay(on + timedelta(days=at + 1), float(middle - half), float(middle), float(middle + half))
        for at, (middle, half) in enumerate(zip(mean, reach, strict=True))
        if np.isfinite(middle)
    )


def _ahead_words(table: RoomTable, row: int, on: date) -> str:
    """What the expectation rests on: the keeper's own, earlier years, or the last weeks going on."""
    known = np.flatnonzero(np.isfinite(table.mean[row]))
    if not known.size:
        return ""
    earlier = (on - table.day(int(known[0]))).days >= YEAR_DAYS - AHEAD_DAYS
    words = "the same weeks of earlier years, from the last two weeks on" if earlier else (
        "the last two weeks going on, with the doubt of a season not seen yet"
    )  # fmt: skip
    planned = sum(day > on for day in table.expected[row])
    return f"what you expect ({counted(planned, 'day')}), then {words}" if planned else words
