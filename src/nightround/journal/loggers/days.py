"""From readings to entries: one a place and room day, with the means of its hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.surroundings import Logged
from nightround.journal.loggers.read import LoggerRead

FloatArray = NDArray[np.float64]
UNKNOWN = "-"


@dataclass(frozen=True)
class DaysRead:
    """The entries of a file, and the days they are of."""

    drafts: tuple[Draft, ...]
    first: date
    last: date


def drafts_of(read: LoggerRead, place: str, clock: RoomClock) -> DaysRead:
    """One entry a room day: means of its hours, counted from the turn of the day; hours without a reading
    stay unknown.
    """
    days, starts = _days(read.seconds, clock)
    drafts = []
    of = np.searchsorted(starts, read.seconds, side="right") - 1
    borders = np.searchsorted(of, np.arange(len(days) + 1))
    left_out = np.diff(np.searchsorted(read.left_out_s, starts))
    for number, day in enumerate(days):
        rows = slice(int(borders[number]), int(borders[number + 1]))
        if rows.start == rows.stop:
            continue
        hours = ((read.seconds[rows] - starts[number]) // 3600).astype(np.int64)
        length = round((starts[number + 1] - starts[number]) / 3600)
        drafts.append(
            Draft(Ref("place", place), on_day(day), _body(read, rows, hours, length, int(left_out[number])))
        )
    return DaysRead(tuple(drafts), days[0], days[-1])


def _days(seconds: FloatArray, clock: RoomClock) -> tuple[list[date], FloatArray]:
    """The room days from first to last reading, and the instants they begin at, one more at the end."""
    first, last = (
        clock.day_of(datetime.fromtimestamp(float(each), UTC)) for each in (seconds[0], seconds[-1])
    )
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    turns = [clock.close_of(day - timedelta(days=1)).timestamp() for day in [*days, last + timedelta(days=1)]]
    return days, np.array(turns)


def _body(read: LoggerRead, rows: slice, hours: NDArray[np.int64], length: int, left_out: int) -> Logged:
    celsius, percent = read.temperature_c[rows], read.humidity_percent[rows]
    known = celsius[np.isfinite(celsius)]
    return Logged(
        file=read.name,
        sha256=read.digest[:16],
        hours_c=_written(_means(celsius, hours, length), 2),
        hours_percent=_written(_means(percent, hours, length), 1) if np.isfinite(percent).any() else "",
        low_c=round(float(known.min()), 2) if known.size else None,
        high_c=round(float(known.max()), 2) if known.size else None,
        readings=int(np.isfinite(celsius).sum() or np.isfinite(percent).sum()),
        left_out=left_out or None,
    )


def _means(values: FloatArray, hours: NDArray[np.int64], length: int) -> FloatArray:
    """Mean of each hour [length]; NaN where nothing was read."""
    known = np.isfinite(values)
    at = np.clip(hours[known], 0, length - 1)
    count = np.bincount(at, minlength=length)
    total = np.bincount(at, weights=values[known], minlength=length)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _written(means: FloatArray, digits: int) -> str:
    """Hours as a text that stays readable in a table: '21.5 21.4 - 21.3'."""
    return " ".join(UNKNOWN if np.isnan(each) else f"{each:.{digits}f}" for each in means)
