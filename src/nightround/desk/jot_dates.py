"""Days as they are jotted: yesterday, tue, 3 days ago, 20 nov, between mon and wed. Never a day to come."""

from __future__ import annotations

import re
from datetime import date, timedelta

from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import MONTHS, When, between, on_day

_WEEKDAYS = {
    spelling: number
    for number, spellings in enumerate(
        ("mon monday", "tue tues tuesday", "wed weds wednesday", "thu thur thurs thursday", "fri friday",
         "sat saturday", "sun sunday")
    )
    for spelling in spellings.split()
}  # fmt: skip
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_ISO_MONTH = re.compile(r"(\d{4})-(\d{2})", re.ASCII)
_DAY_NUMBER = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?", re.ASCII)
_UNCLEAR = re.compile(
    r"\d{1,2}/\d{1,2}(/\d{2,4})?|\d{1,2}\.\d{1,2}\.\d{2,4}|\d{1,2}-\d{1,2}-\d{2,4}", re.ASCII
)
_UNITS_AGO = {"day": 1, "days": 1, "week": 7, "weeks": 7}


def take_when(cursor: Cursor, on: date) -> When | None:
    """Take a day or an interval of days, if one comes. Raises NotReadable for one after `on`."""
    at = cursor.at
    opening = cursor.phrase("between", "from", "since", "on")
    when = _after(opening, cursor, on)
    if when is None:
        cursor.at = at
        return None
    if when.last is not None and when.last > on:
        raise NotReadable(
            f"a day up to {on.isoformat()}", got=when.text(), todo="Give --on, or the day it happened"
        )
    return when


def _after(opening: str, cursor: Cursor, on: date) -> When | None:
    if opening == "since":
        first = _day(cursor, on, on)
        return between(_in_order(first, on), on) if first else None
    if opening in ("between", "from"):
        return _interval(opening, cursor, on)
    if not opening and (written := _iso_interval(cursor)):
        return written
    day = _day(cursor, on, on)
    return on_day(day) if day else None


def _interval(opening: str, cursor: Cursor, on: date) -> When | None:
    begins = cursor.at
    if _day(cursor, on, on) is None:
        return None
    if not cursor.phrase(*(("and",) if opening == "between" else ("to", "until", "till"))):
        if opening == "between":
            raise NotReadable("two days, such as 'between mon and wed'", got=repr(cursor.ahead()))
        return None
    last = _day(cursor, on, on)
    if last is None:
        raise NotReadable("the day that ends the interval", got=repr(cursor.ahead()))
    ends, cursor.at = cursor.at, begins
    # A weekday or a day without a year is the latest such day that is not after the interval's end.
    first = _day(cursor, on, last)
    cursor.at = ends
    return between(_in_order(first or last, last), last)


def _in_order(first: date, last: date) -> date:
    if first > last:
        raise NotReadable("an interval whose first day comes first", got=f"{first} to {last}")
    return first


def _iso_interval(cursor: Cursor) -> When | None:
    word = cursor.low()
    first, slash, last = word.partition("/")
    if slash and _ISO_DAY.fullmatch(first) and _ISO_DAY.fullmatch(last):
        cursor.at += 1
        return between(_in_order(_iso(first), _iso(last)), _iso(last))
    if month := _ISO_MONTH.fullmatch(word):
        cursor.at += 1
        begins = _iso(f"{month[1]}-{month[2]}-01")
        return between(begins, (begins + timedelta(days=31)).replace(day=1) - timedelta(days=1))
    return None


def _iso(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError as fault:
        raise NotReadable("a day that there is, as 2026-03-01", got=repr(text)) from fault
    if found.year > 9000:
        raise NotReadable("a day of these years", got=repr(text))
    return found


def _day(cursor: Cursor, on: date, latest: date) -> date | None:
    """Take one day; a weekday and a day without a year is the latest such day not after `latest`."""
    if cursor.phrase("today", "tonight"):
        return on
    if cursor.phrase("yesterday", "last night"):
        return on - timedelta(days=1)
    word = cursor.low()
    if word in _WEEKDAYS:
        cursor.at += 1
        return latest - timedelta(days=(latest.weekday() - _WEEKDAYS[word]) % 7)
    if _ISO_DAY.fullmatch(word):
        cursor.at += 1
        return _iso(word)
    if _UNCLEAR.fullmatch(word):
        raise NotReadable(
            "a day whose order of day and month is clear",
            got=repr(word),
            todo="Write 2026-11-20, or 20 nov",
        )
    return _days_ago(cursor, on) or _day_of_month(cursor, latest)


def _days_ago(cursor: Cursor, on: date) -> date | None:
    at = cursor.at
    number = cursor.whole()
    unit = _UNITS_AGO.get(cursor.low())
    if number is None or unit is None or cursor.low(1) != "ago" or number > 5000:
        cursor.at = at
        return None
    cursor.at += 2
    return on - timedelta(days=number * unit)


def _day_of_month(cursor: Cursor, latest: date) -> date | None:
    one, other = cursor.low(), cursor.low(1)
    for month_word, day_word in ((other, one), (one, other)):
        month, number = MONTHS.get(month_word), _DAY_NUMBER.fullmatch(day_word)
        if month and number:
            cursor.at += 2
            year = cursor.low()
            if len(year) == 4 and year.isascii() and year.isdigit() and "1900" <= year <= "2999":
                cursor.at += 1
                return _iso(f"{year}-{month:02d}-{int(number[1]):02d}")
            return _latest(month, int(number[1]), latest)
    return None


def _latest(month: int, number: int, latest: date) -> date:
    for year in range(latest.year, latest.year - 9, -1):
        try:
            found = date(year, month, number)
        except ValueError:
            continue  # 29 February: the latest year that has one
        if found <= latest:
            return found
    raise NotReadable("a day of the month that there is", got=f"day {number} of month {month}")
