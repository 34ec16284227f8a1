"""Dates and times of a logger's rows: how they are written, and which instants they are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import NotReadable
from nightround.journal.loggers.dates import DATE, Order, date_order, day_of, parts_of
from nightround.journal.loggers.progress import EVERY, Progress, unheard
from nightround.journal.loggers.questions import Question
from nightround.journal.loggers.wall import CHOICES, OPTION, Clock, Instants, instants

_TIME = re.compile(
    r"(\d{1,2})[:h.](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*(?:([ap])\.?\s?m?\.?|uhr|h)?", re.IGNORECASE
)
_OFFSET = re.compile(
    r"(?<=[\d\s.m])(?:(?:utc|gmt)\s?)?([+-]\d{1,2}(?::?\d{2})?)$|(?<=[\d\sm])(z|utc|gmt)$", re.IGNORECASE
)
_NAMED = re.compile(r"\b(?:utc|gmt)\b\s*([+-]\s?\d{1,2}(?::?\d{2})?)?", re.IGNORECASE)
# Names of zones mean different offsets in different lands: asked, not guessed.
_ZONE_NAME = re.compile(
    r"\b(?:CES?T|MES?Z|EES?T|WES?T|BST|MSK|IST|JST|[ECMP][SD]T|AK[SD]T|A[CEW][SD]T|NZ[SD]T|SAST)\b"
)
_WEEKDAY = re.compile(r"[^\W\d]{2,10}\.?,?\s*", re.UNICODE)
_EPOCH: Final = (978_307_200.0, 4_102_444_800.0)  # 2001 to 2100
DAY_S: Final = 86400

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Stamps:
    """Instants in seconds since 1970 [N] and how they were found.

    words   how the dates and the clock were read
    """

    instants: Instants
    order: Order
    words: str

    @property
    def seconds(self) -> FloatArray:
        """Seconds since 1970 [N], in the order of the rows."""
        return self.instants.seconds


@dataclass(frozen=True)
class Written:
    """The rows' dates and times as texts, their line numbers, what the column is called, and lines above."""

    dates: Sequence[str]
    times: Sequence[str] | None
    lines: Sequence[int]
    header: str
    above: Sequence[str] = ()


def is_epoch(cell: str) -> bool:
    """Whether a cell may be seconds or milliseconds since 1970, of this century."""
    head = cell.strip()
    if not re.fullmatch(r"\d{9,13}(\.\d+)?", head):
        return False
    return _EPOCH[0] <= _epoch(head) <= _EPOCH[1]


def _epoch(text: str) -> float:
    return float(text) * (1e-3 if len(text.split(".")[0]) >= 12 else 1.0)


def read_stamps(
    written: Written, name: str, zone: ZoneInfo, clock: Clock | None, asked: Order | None,
    progress: Progress = unheard,
) -> Stamps:  # fmt: skip
    """Instants of the rows. Raises NotReadable with the line, Question where something is left open."""
    if is_epoch(written.dates[0]):
        return Stamps(Instants(_epochs(written, name)), "year_first", "seconds since 1970")
    order = date_order(written.dates, asked, name)
    local, offsets, halves = _read(written, order, name, progress)
    _no_half_clock(local, halves, written, name)
    words = f"dates {order.replace('_', ' ')}"
    known = np.isfinite(offsets)
    if known.all():
        return Stamps(Instants(local - offsets), order, f"{words}, with their offsets from UTC")
    if known.any():
        line = written.lines[int(np.flatnonzero(~known)[0])]
        raise NotReadable(
            f"an offset from UTC in every row of {name} or in none", got=f"none in line {line}",
            todo="Export the readings again with one way of times",
        )  # fmt: skip
    if clock is None:
        said = _said(written, name)
        if said is not None:
            return Stamps(Instants(local - said[0]), order, f"{words}; clock {said[1]} by the header")
    return Stamps(instants(local, zone, clock, name), order, f"{words}; clock {clock or 'local'}")


def _epochs(written: Written, name: str) -> FloatArray:
    for cell, line in zip(written.dates, written.lines, strict=True):
        if not is_epoch(cell):
            raise NotReadable(f"seconds since 1970 in line {line} of {name}", got=repr(cell))
    return np.array([_epoch(each.strip()) for each in written.dates])


def _said(written: Written, name: str) -> tuple[float, str] | None:
    """The offset that the column's name says, with its words. Raises Question for a zone's name, or where
    only the lines above the table speak of one.
    """
    match = _NAMED.search(written.header)
    if match is not None:
        return (_offset(match[1].replace(" ", "")) if match[1] else 0.0), match[0].strip()
    texts = [written.header, *written.above]
    found = next((hit[0] for text in texts if (hit := _NAMED.search(text) or _ZONE_NAME.search(text))), None)
    if found is not None:
        raise Question(f"which clock {name} was written by", got=repr(found), option=OPTION, choices=CHOICES)
    return None


def _read(
    written: Written, order: Order, name: str, progress: Progress
) -> tuple[FloatArray, FloatArray, set[str]]:
    """Wall-clock seconds [N], offsets from UTC [N] (NaN: none written), and the halves of the day named."""
    days: dict[str, int] = {}
    times: dict[str, tuple[int, float, str]] = {}
    local, offsets = np.empty(len(written.dates)), np.empty(len(written.dates))
    usual = _date_ends(written.dates[0])
    for at, cell in enumerate(written.dates):
        head, rest = cell[:usual], cell[usual:]
        if head not in days or rest[:1].isdigit():
            head, rest = _cut(cell, written.lines[at], name)
            if head not in days:
                days[head] = _day_number(head, order, written.lines[at], name)
        if written.times is not None:
            rest = f"{rest} {written.times[at]}"
        if rest not in times:
            times[rest] = _time(rest.strip(" T,"), written.lines[at], name)
        local[at] = days[head] * DAY_S + times[rest][0]
        offsets[at] = times[rest][1]
        if at % EVERY == 0:
            progress("dates and times", at, len(written.dates))
    return local, offsets, {half for _, _, half in times.values()}


def _date_ends(cell: str) -> int:
    match = DATE.search(cell)
    return match.end() if match and match.start() == 0 else 0


def _cut(cell: str, line: int, name: str) -> tuple[str, str]:
    """A stamp's date and what follows it; a weekday may stand in front."""
    match = DATE.search(cell)
    if match is None or (match.start() and not _WEEKDAY.fullmatch(cell[: match.start()].strip() + " ")):
        raise NotReadable(f"a date in line {line} of {name}", got=repr(cell))
    return match[0], cell[match.end() :]


def _day_number(text: str, order: Order, line: int, name: str) -> int:
    """Days since 1970."""
    parts = parts_of(text)
    day = day_of(parts, order) if parts else None
    if day is None:
        raise NotReadable(f"a day that there is in line {line} of {name}", got=repr(text))
    return day.toordinal() - 719163


def _offset(text: str) -> float:
    """Seconds of an offset such as +01:00, +0100, +1."""
    digits = text[1:].replace(":", "")
    hours, minutes = (digits[:-2], digits[-2:]) if len(digits) > 2 else (digits, "0")
    return (int(hours) * 3600.0 + int(minutes) * 60.0) * (-1.0 if text[0] == "-" else 1.0)


def _time(text: str, line: int, name: str) -> tuple[int, float, str]:
    """Seconds of the day, the offset from UTC (NaN: none), 'a' or 'p' or ''. No time at all is midnight."""
    found = _OFFSET.search(text)
    offset = np.nan if found is None else _offset(found[1]) if found[1] else 0.0
    if found is not None:
        text = text[: found.start()].strip()
    if not text:
        return 0, offset, ""
    match = _TIME.fullmatch(text)
    if match is None:
        raise NotReadable(f"a time in line {line} of {name}", got=repr(text))
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    half = (match[4] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise NotReadable(f"an hour of a 12-hour clock in line {line} of {name}", got=repr(text))
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59 or second > 60:
        raise NotReadable(f"a time of day in line {line} of {name}", got=repr(text))
    return hour * 3600 + minute * 60 + second, offset, half or "whole"


def _no_half_clock(local: FloatArray, halves: set[str], written: Written, name: str) -> None:
    """Refuse times of a 12-hour clock that do not say which half of the day they are of."""
    named = {"a", "p"} & halves
    if named and "whole" in halves:
        raise NotReadable(
            f"am or pm in every row of {name} or in none", got="some rows with, some without",
            todo="Export the readings again with one way of times",
        )  # fmt: skip
    if named or len(local) < 2:
        return
    hours = np.floor(local % DAY_S / 3600.0)
    steps = np.diff(local) * (-1.0 if np.median(np.diff(local)) < 0 else 1.0)
    back = np.flatnonzero(steps < -2 * 3600)
    if len(back) and hours.min() >= 1 and hours.max() <= 12:
        at = int(back[0]) + 1
        shown = written.times[at] if written.times is not None else written.dates[at]
        raise NotReadable(
            f"times of a 24-hour clock, or am and pm, in {name}",
            got=f"hours from 1 to 12 only, going back in line {written.lines[at]}: {shown!r}",
            todo="Export the readings again with a 24-hour clock",
        )
