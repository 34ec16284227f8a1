"""Days and lengths as people write them in a list of their animals: only what can mean one thing is read."""

from __future__ import annotations

import calendar
import re
from datetime import date
from fractions import Fraction
from typing import Literal

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import MONTHS, When, between, on_day, parse

DateOrder = Literal["ask", "day_first", "month_first"]
"""How a day such as 3/4/2026 is read; `ask` refuses it where it can be read either way round."""

_NUMBERS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
_NAMED = re.compile(r"(?:(\d{1,2})(?:st|nd|rd|th)?\.?\s+)?([a-z]+)\.?(?:\s+(\d{1,2})(?:st|nd|rd|th)?)??"
                    r"(?:,?\s+(\d{4}))?", re.ASCII | re.IGNORECASE)  # fmt: skip
_DECIMAL_COMMA = re.compile(r"(\d+),(\d{1,2})", re.ASCII)
_FRACTION = re.compile(r"(?:(\d{1,2})\s+)?(\d{1,2})/(\d{1,2})", re.ASCII)
_LENGTH = re.compile(r"\s*([\d.,/\s+-]*\d)\s*([a-zA-Z\"″]*)\s*", re.ASCII)


def loose_when(text: str, clock: RoomClock, on: date, order: DateOrder = "ask") -> When:
    """Read an ISO day or interval, 13/10/2026, 15 Nov 2026, Nov 2026 or 15 Nov (the latest up to `on`).

    Raises NotReadable for anything else, and for a day and month that can be read either way round.
    """
    text = text.strip()
    if match := _NUMBERS.fullmatch(text):
        return _of_numbers(text, int(match[1]), int(match[3]), _year(match[4], on), order)
    if (match := _NAMED.fullmatch(text)) and match[2].casefold() in MONTHS and not (match[1] and match[3]):
        day, month = match[1] or match[3], MONTHS[match[2].casefold()]
        if day or match[4]:
            return _of_words(text, int(day) if day else None, month, int(match[4] or 0), on)
    return parse(text, clock)


def _year(text: str, on: date) -> int:
    year = int(text)
    return year if len(text) == 4 else on.year - (on.year - year) % 100


def _of_numbers(text: str, first: int, second: int, year: int, order: DateOrder) -> When:
    if order == "ask" and first != second and first <= 12 and second <= 12:
        raise NotReadable(
            "a date whose order of day and month is clear", got=repr(text),
            todo="Say whether the day or the month comes first in this list, or write it as year-month-day",
        )  # fmt: skip
    day, month = (second, first) if order == "month_first" else (first, second)
    if order == "ask" and month > 12:
        day, month = month, day
    return on_day(_date(text, year, month, day))


def _of_words(text: str, day: int | None, month: int, year: int, on: date) -> When:
    if day is None:
        last = calendar.monthrange(year, month)[1]
        return between(_date(text, year, month, 1), _date(text, year, month, last))
    if year:
        return on_day(_date(text, year, month, day))
    found = _date(text, on.year, month, day)
    return on_day(found if found <= on else _date(text, on.year - 1, month, day))


def _date(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as fault:
        raise NotReadable(
            "a day that there is", got=repr(text), todo="Write the date as year-month-day"
        ) from fault


def loose_length(cell: str) -> tuple[str, str]:
    """Return the number and unit of a length such as 4.5 cm, 4,5 cm, 1/2 inch or 1 3/4". Raises NotReadable.

    A range or a word such as 'about' is refused: it does not say which length was measured.
    """
    match = _LENGTH.fullmatch(cell.replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4"))
    if match is None:
        raise _no_length(cell)
    number, unit = match[1].strip(), match[2].replace("″", '"')
    if comma := _DECIMAL_COMMA.fullmatch(number):
        return f"{comma[1]}.{comma[2]}", unit
    if (part := _FRACTION.fullmatch(number)) and int(part[3]):
        return f"{float(int(part[1] or 0) + Fraction(int(part[2]), int(part[3]))):g}", unit
    if not re.fullmatch(r"\d+(\.\d+)?", number):
        raise _no_length(cell)
    return number, unit


def _no_length(cell: str) -> NotReadable:
    return NotReadable(
        "one length such as 4.5 cm, 4,5 cm or 1/2 in", got=repr(cell),
        todo="Write one number and its unit, or leave it empty",
    )  # fmt: skip
