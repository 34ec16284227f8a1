"""The air around the homes, hour by hour: what was read, and guesses where nothing was, counted in words.

Hours that a logger read stand as they were read; the other hours of a day are taken as its mean.

Only the water of homes uses these guesses: days without readings stay unknown everywhere else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.clock_climate import expected_climate, past_climate
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted
from nightround.record.histories import DailyClimate
from nightround.record.hourly import DAY_HOURS, HourlyClimate, Hours
from nightround.science.water.air import vapour_density_kg_m3
from nightround.science.water.demand import LEAST_C, MOST_C, Climate

FloatArray = NDArray[np.float64]

# A room nobody reads (common practice, no source): said beside every figure.
UNREAD_C: Final = 22.0
UNREAD_HUMIDITY: Final = 0.50
# Doubt of a level that nobody read, and of the days to come: temperature [C], humidity [fraction].
UNREAD_SD: Final = (2.0, 0.10)
AHEAD_SD_HUMIDITY: Final = 0.06
RECENT_DAYS: Final = 14
LEVEL_DAYS: Final = 60


@dataclass(frozen=True)
class RoomAir:
    """Daily air of every place from `first` (a day's ordinal) on, known or guessed, no gaps.

    temperature_c, humidity [P, D]      past days up to and with the record's day, then `ahead` days
    temperature_sd, humidity_sd [P]     doubt of the level of the days to come
    now                                 index of the record's day
    logged                              hours read, by row [2, 24 (now + 1)]: C and fraction, NaN elsewhere
    """

    places: tuple[str, ...]
    first: int
    now: int
    temperature_c: FloatArray
    humidity: FloatArray
    temperature_sd: FloatArray
    humidity_sd: FloatArray
    known: NDArray[np.bool_]
    logged: Mapping[int, FloatArray] = field(default_factory=dict)

    def row(self, place: str) -> int:
        """Row of a place ('' and places without a row: the last, which stands for the room)."""
        return self.places.index(place) if place in self.places else len(self.places) - 1

    def hourly(self, until_day: int, since_day: int = 0) -> Climate:
        """Every hour of days `since_day` to before `until_day`, as it was read, else at the day's mean."""
        days = slice(since_day, until_day)
        warm, moist = (
            np.repeat(rows[:, days], DAY_HOURS, axis=1) for rows in (self.temperature_c, self.humidity)
        )
        for row, read in self.logged.items():
            part = read[:, since_day * DAY_HOURS : until_day * DAY_HOURS]
            for series, values in ((warm, part[0]), (moist, part[1])):
                there = np.flatnonzero(np.isfinite(values))
                series[row, there] = values[there]
        return Climate(np.clip(warm, LEAST_C, MOST_C), np.clip(moist, 0.0, 1.0))

    def words(self, place: str, since_day: int) -> tuple[str, ...]:
        """What was guessed of a place's air, to be said beside the figures."""
        row, told = self.row(place), []
        temperature, humidity = (self.known[kind, row, since_day : self.now + 1] for kind in (0, 1))
        name = place or "the room"
        for what, known in (("temperature", temperature), ("humidity", humidity)):
            missing = int((~known).sum())
            if missing == known.size:
                usual = (
                    both(float(self.temperature_c[row, self.now]), "C")
                    if what == "temperature"
                    else f"{self.humidity[row, self.now]:.0%}"
                )
                shared = what == "humidity" and bool(self.known[1].any())
                why = "the room's vapour at its own warmth" if shared else "nobody read it"
                told.append(f"{what} at {name} about {usual}: {why}")
            elif missing:
                told.append(f"{counted(missing, 'day')} without {what} at {name} taken as the days around")
        return tuple(told)


def room_air(
    climate: Mapping[str, DailyClimate],
    places: Sequence[str],
    on: date,
    days_back: int,
    days_ahead: int,
    hours: Mapping[str, HourlyClimate] | None = None,
) -> RoomAir:
    """Air of the places (and of the room as a whole, last) around the record's day.

    hours   what loggers read, by place
    """
    first = on.toordinal() - days_back
    read = [name for name, place in climate.items() if place.temperature_c or place.humidity_percent]
    names = [name for name in dict.fromkeys((*places, *read)) if name in climate]
    past = past_climate(names, climate, first, on.toordinal())
    since = min((day.toordinal() for name in names for day in climate[name].temperature_c), default=first)
    whole = past_climate(names, climate, min(since, first), on.toordinal())
    coming = expected_climate(names, climate, on.toordinal(), whole)
    spread = coming.spread_c if coming.spread_c is not None else np.zeros_like(coming.temperature_c)
    temperature = np.concatenate([past.temperature_c, coming.temperature_c[:, :days_ahead]], axis=1)
    moist_before, moist_ahead = _humidity(names, climate, first, on, days_ahead)
    humidity = np.concatenate([moist_before, moist_ahead], axis=1)
    known = np.stack([np.isfinite(past.temperature_c), np.isfinite(moist_before)])
    known = np.concatenate([known, np.zeros((2, 1, known.shape[2]), dtype=bool)], axis=1)
    temperature, unread_c = _filled(temperature, UNREAD_C)
    humidity, unread_h = _filled(humidity, UNREAD_HUMIDITY)
    if not unread_h.all():
        humidity[unread_h] = _same_vapour(temperature, humidity, unread_h)
    level_sd = spread[:, :LEVEL_DAYS].mean(axis=1) if names else np.zeros(0)
    return RoomAir(
        (*names, ""),
        first,
        days_back,
        temperature,
        humidity,
        np.append(np.where(unread_c[:-1], UNREAD_SD[0], level_sd), UNREAD_SD[0]),
        np.where(unread_h & unread_h[:-1].all(), UNREAD_SD[1], AHEAD_SD_HUMIDITY),
        known,
        _logged(names, hours or {}, first, days_back + 1),
    )


def _logged(
    names: Sequence[str], hours: Mapping[str, HourlyClimate], first: int, days: int
) -> dict[int, FloatArray]:
    """Hours that were read, by row of the places that have some."""
    found: dict[int, FloatArray] = {}
    for row, name in enumerate(names):
        if name not in hours:
            continue
        each = hours[name]
        series = np.stack(
            [_spread(each.temperature_c, first, days), _spread(each.humidity_percent, first, days) / 100.0]
        )
        if np.isfinite(series).any():
            found[row] = series
    return found


def _spread(read: Mapping[date, Hours], first: int, days: int) -> FloatArray:
    """Hours by day on one line [24 days]; NaN where nothing was read."""
    line = np.full((days, DAY_HOURS), np.nan)
    for day, values in read.items():
        at = day.toordinal() - first
        if 0 <= at < days:
            line[at] = [np.nan if value is None else value for value in values]
    return line.ravel()


def _humidity(
    names: Sequence[str], climate: Mapping[str, DailyClimate], first: int, on: date, days_ahead: int
) -> tuple[FloatArray, FloatArray]:
    """Humidity [fraction] of the past days and a guess of those to come: earlier years' same weeks, else the
    last two weeks' mean.
    """
    today = on.toordinal()
    before = np.full((len(names), today - first + 1), np.nan)
    ahead = np.full((len(names), days_ahead), np.nan)
    for row, name in enumerate(names):
        read = {day.toordinal(): value / 100.0 for day, value in climate[name].humidity_percent.items()}
        if not read:
            continue
        before[row] = [read.get(day, np.nan) for day in range(first, today + 1)]
        recent = [read[day] for day in range(today - RECENT_DAYS + 1, today + 1) if day in read]
        level = float(np.mean(recent or list(read.values())))
        for column in range(days_ahead):
            years = [
                read[day]
                for back in range(1, 5)
                for day in range(today + 1 + column - 365 * back - 7, today + 1 + column - 365 * back + 8)
                if day in read
            ]
            fade = float(np.exp(-(column + 1) / 10.0))
            ahead[row, column] = fade * level + (1.0 - fade) * float(np.mean(years)) if years else level
    return before, ahead


def _filled(rows: FloatArray, usual: float) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Rows without gaps, one more for the room as a whole, and which of them nobody ever read."""
    unread = np.array([not np.isfinite(row).any() for row in rows], dtype=bool)
    known = rows[~unread]
    middle = _between(_mean_known(known), usual)
    filled = [middle if no else _between(row, usual) for row, no in zip(rows, unread, strict=True)]
    return np.stack([*filled, middle]), np.append(unread, len(known) == 0)


def _mean_known(rows: FloatArray) -> FloatArray:
    """Mean of the rows that know the day [D]; NaN where none does."""
    there = np.isfinite(rows)
    count = there.sum(axis=0)
    total = np.where(there, rows, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _same_vapour(temperature: FloatArray, humidity: FloatArray, unread: NDArray[np.bool_]) -> FloatArray:
    """Humidity of unread places: the vapour of those that were read, at their own warmth."""
    vapour = vapour_density_kg_m3(temperature[~unread], humidity[~unread]).mean(axis=0)
    shared = np.clip(vapour / vapour_density_kg_m3(temperature[unread]), 0.02, 0.98)
    return np.asarray(shared, dtype=np.float64)


def _between(row: FloatArray, usual: float) -> FloatArray:
    """Unknown days as the known ones around them."""
    days = np.flatnonzero(np.isfinite(row))
    if days.size == 0:
        return np.full(row.size, usual)
    return np.asarray(np.interp(np.arange(row.size), days, row[days]), dtype=np.float64)


def day_at(air: RoomAir, column: int) -> date:
    """The day of a column."""
    return date.min + timedelta(days=air.first + column - 1)
