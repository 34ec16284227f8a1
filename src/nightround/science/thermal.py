"""Thermal time: how much development a stretch of days was worth, in days at 25 C.

Rate relative to 25 C, with q = log Q10 and T the day's mean temperature [C]:

    rate(T) = exp(q * (min(T, upper) - 25) / 10) * clip((lethal - T) / (lethal - upper), 0, 1)

a Q10 law up to the upper turn (LIERIG: fastest seen at 32 C, slower at 35 C), then a straight fall to zero at
the lethal limit. The limit, 42 C, is a working value (common practice, no source). Daily means are used;
swings within a day are left out, which is worth under 2 % for swings of 3 C each way.

Days are counted as integers (proleptic ordinals). Day d reaches from the moment d to d + 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import lierig

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

REFERENCE_C: Final = 25.0
UNREAD_PLACE_C: Final = 23.0
# Doubt of log rate for a place or a gap about which nothing is known: about 2.7 C at Q10 2.5.
UNREAD_LOG_RATE_SD: Final = 0.25
# Half-width of the neighbourhood whose known days stand in for a missing one.
NEIGHBOUR_DAYS: Final = 21
LOG_RATE_SD_FLOOR: Final = 0.05


@dataclass(frozen=True)
class ThermalLaw:
    """Where the Q10 law ends: upper turn and lethal limit [C]."""

    upper_turn_c: float = lierig.FASTEST_SEEN_C
    lethal_c: float = 42.0


LAW: Final = ThermalLaw()


def exponent_and_taper(temperature_c: FloatArray, law: ThermalLaw = LAW) -> tuple[FloatArray, FloatArray]:
    """The two parts of the rate that do not depend on Q10: rate = taper * exp(q * exponent)."""
    exponent = (np.minimum(temperature_c, law.upper_turn_c) - REFERENCE_C) / 10.0
    taper = np.clip((law.lethal_c - temperature_c) / (law.lethal_c - law.upper_turn_c), 0.0, 1.0)
    return exponent, taper


def relative_rate(temperature_c: FloatArray, log_q10: float, law: ThermalLaw = LAW) -> FloatArray:
    """Rate of development relative to 25 C (any shape); NaN where the temperature is unknown."""
    exponent, taper = exponent_and_taper(np.asarray(temperature_c, dtype=np.float64), law)
    return np.asarray(taper * np.exp(log_q10 * exponent), dtype=np.float64)


@dataclass(frozen=True)
class DailyClimate:
    """Daily mean temperature by place.

    first_day             day number of column 0
    temperature_c [P, T]  NaN where unknown; never filled by the caller
    spread_c [P, T]       sd of a shared error of each day's mean [C]: 0 for a reading, more for an
                          expectation
    """

    first_day: int
    temperature_c: FloatArray
    spread_c: FloatArray | None = None

    def __post_init__(self) -> None:
        shape = self.temperature_c.shape
        if self.temperature_c.ndim != 2 or shape[1] == 0:
            raise Refusal("temperatures need one row a place and one column a day", got=f"shape {shape}")
        if self.spread_c is not None and self.spread_c.shape != shape:
            raise Refusal(
                "the spread needs the shape of the temperatures", got=f"shape {self.spread_c.shape}"
            )
        known = self.temperature_c[np.isfinite(self.temperature_c)]
        if known.size and (known.min() < -60.0 or known.max() > 80.0):
            raise Refusal(
                "temperatures between -60 and 80 degrees Celsius were wanted",
                got=f"{known.min():.1f} to {known.max():.1f}",
                todo="Look for readings in another unit.",
            )

    @property
    def places(self) -> int:
        return int(self.temperature_c.shape[0])

    @property
    def end_day(self) -> int:
        """The first day after the table."""
        return self.first_day + int(self.temperature_c.shape[1])


def _window_sum(values: FloatArray, half_width: int) -> FloatArray:
    """Sum over the columns within `half_width` of each column."""
    columns = values.shape[1]
    total = np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(values, axis=1)], axis=1)
    column = np.arange(columns)
    upper = total[:, np.minimum(column + half_width + 1, columns)]
    return np.asarray(upper - total[:, np.maximum(column - half_width, 0)], dtype=np.float64)


@dataclass(frozen=True)
class Warmth:
    """Daily climate made ready for any Q10: build with `prepare_warmth`.

    exponent, taper [P, T]   see `exponent_and_taper`; a missing day has the mean of what is known near it
    missing [P, T]           1.0 where the day's temperature was not known
    gap_spread_c [P]         sd [C] of the doubt about a missing day's temperature
    spread_c [P, T]          sd [C] of expected days
    unread [P]               places without any reading
    """

    first_day: int
    exponent: FloatArray
    taper: FloatArray
    missing: FloatArray
    gap_spread_c: FloatArray
    spread_c: FloatArray
    unread: BoolArray

    @property
    def end_day(self) -> int:
        return self.first_day + int(self.exponent.shape[1])


def prepare_warmth(climate: DailyClimate, law: ThermalLaw = LAW) -> Warmth:
    """Stand in for missing days by the mean of the known days near them, and keep the doubt.

    A missing day gets the mean temperature of the place's known days within 21 days, else of all its known
    days. Nothing is invented: the day stays marked as missing, and the spread of the known days, never under
    what 0.05 in log rate needs, travels with it. A place without any reading is taken at 23 C and marked
    unread.
    """
    temperature = climate.temperature_c
    known = np.isfinite(temperature)
    value = np.where(known, temperature, 0.0)
    count = known.sum(axis=1)
    mean = np.where(count > 0, value.sum(axis=1) / np.maximum(count, 1), UNREAD_PLACE_C)
    near = _window_sum(known.astype(np.float64), NEIGHBOUR_DAYS)
    near_mean = np.where(near > 0, _window_sum(value, NEIGHBOUR_DAYS) / np.maximum(near, 1.0), mean[:, None])
    filled = np.where(known, temperature, near_mean)
    exponent, taper = exponent_and_taper(filled, law)
    variance = np.where(known, (value - mean[:, None]) ** 2, 0.0).sum(axis=1) / np.maximum(count - 1, 1)
    # Few readings say little about their own spread: shrink towards 2.7 C with the weight of five days.
    gap = np.sqrt((variance * np.maximum(count - 1, 0) + 5.0 * 2.7**2) / (np.maximum(count - 1, 0) + 5.0))
    spread = np.zeros_like(filled) if climate.spread_c is None else np.where(known, climate.spread_c, 0.0)
    unread = count == 0
    missing = np.where(unread[:, None], 0.0, (~known).astype(np.float64))
    return Warmth(climate.first_day, exponent, taper, missing, gap, np.nan_to_num(spread), unread)


@dataclass(frozen=True)
class ThermalTable:
    """Cumulative thermal time by place for one Q10; column t is the sum before day first_day + t.

    elapsed [P, T+1]   days at 25 C
    doubtful [P, T+1]  the part of elapsed that stands on missing days, times its sd of log rate
    """

    first_day: int
    elapsed: FloatArray
    doubtful: FloatArray


def _cumulate(daily: FloatArray) -> FloatArray:
    out = np.zeros((daily.shape[0], daily.shape[1] + 1))
    np.cumsum(daily, axis=1, out=out[:, 1:])
    return out


def thermal_table(warmth: Warmth, log_q10: float) -> ThermalTable:
    """Cumulative thermal time of every place for one Q10, with the part that rests on missing days."""
    rate = warmth.taper * np.exp(log_q10 * warmth.exponent)
    gap_sd = np.maximum(abs(log_q10) / 10.0 * warmth.gap_spread_c, LOG_RATE_SD_FLOOR)
    sd = warmth.missing * gap_sd[:, None] + abs(log_q10) / 10.0 * warmth.spread_c
    return ThermalTable(warmth.first_day, _cumulate(rate), _cumulate(rate * sd))


def extended(cumulative: FloatArray, days: FloatArray) -> FloatArray:
    """A cumulative table [P, T+1] after so many days [H], by place [P, H]; its last year goes on for ever."""
    whole = cumulative.shape[1] - 1
    tail = min(whole, 365)
    rate = (cumulative[:, -1] - cumulative[:, -1 - tail]) / tail
    near = np.stack([np.interp(days, np.arange(whole + 1), row) for row in cumulative])
    return np.asarray(near + np.maximum(days - whole, 0.0) * rate[:, None])


@dataclass(frozen=True)
class Stays:
    """Where each animal lived: one row a stay, any order.

    animal [S], place [S]   integer indices
    from_day [S]            first day at that place; a stay ends where the animal's next one begins.

    The first stay of an animal also covers the days before it, the last one all days after it.
    """

    animal: IntArray
    place: IntArray
    from_day: IntArray

    def __post_init__(self) -> None:
        if not (self.animal.shape == self.place.shape == self.from_day.shape and self.animal.ndim == 1):
            raise Refusal(
                "stays need three lists of one length", got=f"{self.animal.shape} {self.place.shape}"
            )


@dataclass(frozen=True)
class Paths:
    """Stays sorted by animal and day, with the start of each animal's rows: build with `make_paths`."""

    place: IntArray
    from_day: IntArray
    first_row: IntArray
    sort_key: IntArray
    is_first: BoolArray


_KEY: Final = 1 << 32


def make_paths(stays: Stays, animals: int) -> Paths:
    """Sort the stays; every animal needs at least one."""
    order = np.lexsort((stays.from_day, stays.animal))
    animal, place, day = stays.animal[order], stays.place[order], stays.from_day[order]
    first_row = np.searchsorted(animal, np.arange(animals))
    if animals and (animal.size == 0 or np.any(np.bincount(animal, minlength=animals)[:animals] == 0)):
        homeless = int(np.argmin(np.bincount(animal, minlength=animals)[:animals]))
        raise Refusal("every animal needs at least one stay at a place", got=f"none for animal {homeless}")
    is_first = np.zeros(animal.size, dtype=bool)
    is_first[first_row] = True
    return Paths(place, day, first_row, animal * _KEY + np.where(is_first, 0, np.maximum(day, 0)), is_first)


@dataclass(frozen=True)
class Moments:
    """Moments in animals' lives, tied to rows of a cumulative table once and for all.

    stay [K]     row of `Paths`
    column [K]   whole part of the moment as a column of the table
    part [K]     fraction of the day
    """

    stay: IntArray
    column: IntArray
    part: FloatArray


def locate(paths: Paths, animal: IntArray, moment: FloatArray, first_day: int, columns: int) -> Moments:
    """Find stay and table column of each (animal, moment in days); moments beyond the table are clipped."""
    floor = np.floor(moment)
    key = animal * _KEY + np.maximum(floor.astype(np.int64), 0)
    stay = np.searchsorted(paths.sort_key, key, side="right") - 1
    offset = np.clip(moment - first_day, 0.0, columns - 1.0)
    column = np.minimum(offset.astype(np.int64), columns - 2)
    return Moments(stay, column, offset - column)


def _at(table: FloatArray, place: IntArray, column: IntArray, part: FloatArray) -> FloatArray:
    low = table[place, column]
    return np.asarray(low + part * (table[place, column + 1] - low), dtype=np.float64)


def stay_offsets(paths: Paths, table: FloatArray, first_day: int) -> FloatArray:
    """What to add to a place's cumulative value so that an animal's clock runs on through its moves [S]."""
    column = np.clip(paths.from_day - first_day, 0, table.shape[1] - 1)
    here = table[paths.place, column]
    before = table[np.concatenate([paths.place[:1], paths.place[:-1]]), column]
    jump = np.where(paths.is_first, 0.0, before - here)
    total = np.cumsum(jump)
    start = np.maximum.accumulate(np.where(paths.is_first, np.arange(total.size), 0))
    return np.asarray(total - total[start], dtype=np.float64)


def clock_at(paths: Paths, table: FloatArray, first_day: int, moments: Moments) -> FloatArray:
    """The animal's own cumulative value at each moment [K]; differences are what has elapsed between."""
    if paths.is_first.all():
        return _at(table, paths.place[moments.stay], moments.column, moments.part)
    offset = stay_offsets(paths, table, first_day)
    return _at(table, paths.place[moments.stay], moments.column, moments.part) + offset[moments.stay]


def missing_days(warmth: Warmth, place: int, from_day: int, to_day: int) -> list[int]:
    """Day numbers from `from_day` to `to_day` (both in) whose temperature at the place is not known."""
    days = np.arange(from_day, to_day + 1)
    column = days - warmth.first_day
    inside = (column >= 0) & (column < warmth.exponent.shape[1])
    if warmth.unread[place]:
        return [int(day) for day in days]
    unknown = ~inside
    unknown[inside] = warmth.missing[place, column[inside]] > 0
    return [int(day) for day in days[unknown]]
