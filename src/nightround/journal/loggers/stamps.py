"""Dates and times of a logger's rows: how they are written, and which instants they are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import NotReadable
from nightround.journal.loggers.progress import EVERY, Progress, unheard

Order = Literal["day_first", "month_first", "year_first"]
Clock = Literal["local", "winter", "utc"]

_DATE = re.compile(r"(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})")
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?m?", re.IGNORECASE)
_OFFSET = re.compile(r"(?<=\d)\s*(Z|[+-]\d{2}:?\d{2})$", re.IGNORECASE)
HOUR_S = 3600


class Ambiguous(NotReadable):
    """The file leaves open which number is the day and which the month."""


@dataclass(frozen=True)
class Stamps:
    """Instants in seconds since 1970 [N] and what was found about the clock.

    twice, skipped   rows in an hour that came twice, rows in one that never came
    """

    seconds: NDArray[np.float64]
    order: Order
    with_offset: bool
    twice: int
    skipped: int


def date_order(cells: Sequence[str], asked: Order | None, name: str) -> Order:
    """How dates are written: by the year's place, by a number over 12, by days that follow each other."""
    parts = [
        match.groups() for cell in dict.fromkeys(cell[:10] for cell in cells) if (match := _DATE.search(cell))
    ]
    if parts and all(len(first) == 4 for first, _, _ in parts):
        return "year_first"
    day_first = any(int(first) > 12 for first, _, _ in parts)
    month_first = any(int(second) > 12 for _, second, _ in parts)
    if day_first and month_first:
        raise NotReadable(
            f"dates written one way in {name}", got=f"days over 12 in both places, such as {_two(parts)}",
            todo="Export the readings again with one way of dates",
        )  # fmt: skip
    if asked in ("day_first", "month_first"):
        if (asked == "day_first" and month_first) or (asked == "month_first" and day_first):
            raise NotReadable(f"dates that can be read as asked in {name}", got=_two(parts))
        return asked
    if day_first or month_first:
        return "day_first" if day_first else "month_first"
    steady = _steady(parts)
    if steady:
        return steady
    raise Ambiguous(
        f"a clear order of day and month in {name}", got=_two(parts),
        todo="Say which it is: --dates day-first or --dates month-first",
    )  # fmt: skip


def _two(parts: Sequence[tuple[str, ...]]) -> str:
    return " and ".join("/".join(each) for each in (parts[0], parts[-1]))


def _steady(parts: Sequence[tuple[str, ...]]) -> Order | None:
    """The one way by which a week or more of dates follow each other day by day; None if both do or none."""
    fitting: list[Order] = []
    for order in ("day_first", "month_first"):
        days = [_day(each, order) for each in parts]
        if None in days or len(days) < 4:
            continue
        known = [day for day in days if day is not None]
        gaps = [abs((later - one).days) for one, later in zip(known, known[1:], strict=False)]
        if gaps and sum(gap == 1 for gap in gaps) >= 0.9 * len(gaps):
            fitting.append(order)
    return fitting[0] if len(fitting) == 1 else None


def _day(parts: tuple[str, ...], order: Order) -> date | None:
    first, second, third = (int(each) for each in parts)
    if order == "year_first":
        year, month, day = first, second, third
    else:
        day, month = (first, second) if order == "day_first" else (second, first)
        year = third if third > 99 else 2000 + third
    try:
        return date(year, month, day)
    except ValueError:
        return None


def read_stamps(
    dates: Sequence[str], times: Sequence[str] | None, lines: Sequence[int], name: str, zone: ZoneInfo,
    clock: Clock, asked: Order | None, progress: Progress = unheard,
) -> Stamps:  # fmt: skip
    """Instants of the rows. Raises NotReadable with the line; Ambiguous where the order is not clear."""
    first = dates[0]
    if first.replace(".", "", 1).isdigit() and len(first.split(".")[0]) >= 9:
        scale = 1e-3 if len(first.split(".")[0]) >= 12 else 1.0
        return Stamps(np.array([float(each) * scale for each in dates]), "year_first", True, 0, 0)
    order = date_order(dates, asked, name)
    day_of: dict[str, int] = {}
    time_of: dict[str, int] = {}
    offset_of: dict[str, int | None] = {}
    local = np.empty(len(dates))
    offsets = np.full(len(dates), np.nan)
    usual = len(dates[0].split(" ")[0].split("T")[0])
    for at, written in enumerate(dates):
        if at % EVERY == 0:
            progress("dates and times", at, len(dates))
        head, rest = written[:usual], written[usual:]
        if head not in day_of:
            head, rest = _cut(written, lines[at], name)
            if head not in day_of:
                day_of[head] = _day_number(head, order, lines[at], name)
        if times is not None:
            rest = times[at]
        if rest not in time_of:
            time_of[rest], offset_of[rest] = _time(rest.lstrip(" T,"), lines[at], name)
        local[at] = day_of[head] * 86400 + time_of[rest]
        if offset_of[rest] is not None:
            offsets[at] = offset_of[rest] or 0
    if np.isfinite(offsets).all():
        return Stamps(local - offsets, order, True, 0, 0)
    if clock == "utc":
        return Stamps(local, order, False, 0, 0)
    if clock == "winter":
        return Stamps(local - _winter_offset(zone, local[0]), order, False, 0, 0)
    return _by_local_clock(local, order, zone)


def _cut(written: str, line: int, name: str) -> tuple[str, str]:
    """A stamp's date and what follows it."""
    match = _DATE.search(written)
    if match is None:
        raise NotReadable(f"a date in line {line} of {name}", got=repr(written))
    return match[0], written[match.end() :]


def _day_number(text: str, order: Order, line: int, name: str) -> int:
    """Days since 1970."""
    match = _DATE.fullmatch(text)
    day = _day(match.groups(), order) if match else None
    if day is None:
        raise NotReadable(f"a day that there is in line {line} of {name}", got=repr(text))
    return day.toordinal() - 719163


def _time(text: str, line: int, name: str) -> tuple[int, int | None]:
    """Seconds of the day, and the offset from UTC where one is written."""
    offset = _OFFSET.search(text)
    seconds: int | None = None
    if offset:
        sign = offset[1].upper()
        seconds = 0
        if sign != "Z":
            digits = sign[1:].replace(":", "")
            seconds = (int(digits[:2]) * 3600 + int(digits[2:]) * 60) * (-1 if sign[0] == "-" else 1)
        text = text[: offset.start()]
    match = _TIME.search(text)
    if match is None:
        if not text.strip():
            return 0, seconds
        raise NotReadable(f"a time in line {line} of {name}", got=repr(text))
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[4]:
        if not 1 <= hour <= 12:
            raise NotReadable(f"an hour of a 12-hour clock in line {line} of {name}", got=repr(text))
        hour = hour % 12 + (12 if match[4].lower() == "p" else 0)
    if hour > 23 or minute > 59 or second > 60:
        raise NotReadable(f"a time of day in line {line} of {name}", got=repr(text))
    return hour * 3600 + minute * 60 + second, seconds


def _winter_offset(zone: ZoneInfo, local_s: float) -> float:
    """The zone's offset without summer time, around that year: the smaller of January's and July's."""
    year = datetime.fromtimestamp(local_s, UTC).year
    offsets = [datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7)]
    return min(offsets).total_seconds()


def _by_local_clock(local: NDArray[np.float64], order: Order, zone: ZoneInfo) -> Stamps:
    """Instants of a clock that follows summer time; an hour that comes twice goes by the order of rows."""
    hours = np.floor(local / HOUR_S)
    known: dict[float, tuple[float, float]] = {}
    for hour in np.unique(hours).tolist():
        wall = datetime.fromtimestamp(hour * HOUR_S, UTC).replace(tzinfo=zone)
        both = [(wall.replace(fold=fold).utcoffset() or timedelta()).total_seconds() for fold in (0, 1)]
        known[hour] = both[0], both[1]
    first = np.array([known[hour][0] for hour in hours.tolist()])
    second = np.array([known[hour][1] for hour in hours.tolist()])
    seconds = local - first
    later = second < first
    if later.any():
        seconds = _second_time(seconds, local, first - second, later)
    skipped = second > first
    return Stamps(seconds, order, False, int(later.sum()), int(skipped.sum()))


def _second_time(
    seconds: NDArray[np.float64],
    local: NDArray[np.float64],
    apart: NDArray[np.float64],
    later: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Rows of an hour that came twice: after the wall clock has gone back, it is the second time."""
    found = seconds.copy()
    gone_back = False
    for at in np.flatnonzero(later).tolist():
        if at and not later[at - 1]:
            gone_back = False
        if at and later[at - 1] and local[at] <= local[at - 1] - 60.0:
            gone_back = True
        if gone_back:
            found[at] += apart[at]
    return found
