"""How dates are written: which number is the day, the month and the year; where that is open, it is asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Final, Literal

from nightround.foundation.refusal import NotReadable
from nightround.journal.loggers.questions import Question

Order = Literal["year_first", "day_first", "month_first"]
ORDERS: Final[tuple[Order, ...]] = ("year_first", "day_first", "month_first")
OPTION: Final = "--dates"

DATE = re.compile(r"(?<!\d)(\d{4}|\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{1,2})(?!\d)")
# Dates that follow each other day by day for so long are no dates of single months.
FEWEST_DAYS = 4
STEADY = 0.9

Parts = tuple[str, str, str]


def parts_of(text: str) -> Parts | None:
    """The three numbers of the date in a text."""
    match = DATE.search(text)
    return (match[1], match[3], match[4]) if match else None


def day_of(parts: Parts, order: Order) -> date | None:
    """The day, None where there is none. Years of two digits are of this century."""
    first, second, third = parts
    written = (first, second, third) if order == "year_first" else (third, second, first)
    if order == "month_first":
        written = (third, first, second)
    year, month, day = written
    if len(year) not in (2, 4) or len(month) > 2 or len(day) > 2:
        return None
    try:
        return date(int(year) if len(year) == 4 else 2000 + int(year), int(month), int(day))
    except ValueError:
        return None


def date_order(cells: Sequence[str], asked: Order | None, name: str) -> Order:
    """The one order by which every date is a day, or by which alone the days follow each other.

    Raises Question where several are left, NotReadable where none is or the one asked for is not among them.
    """
    # A date in front ends within ten signs: a million times of day are some thousand such heads.
    heads = dict.fromkeys(cell[:10] if cell[:1].isdigit() else cell for cell in cells)
    found = dict.fromkeys(each for head in heads if (each := parts_of(head)) is not None)
    parts = tuple(found)
    fitting = [order for order in ORDERS if parts and all(day_of(each, order) for each in parts)]
    if parts and all(len(first) == 4 for first, _, _ in parts) and fitting:
        return "year_first"
    if asked is not None:
        if asked not in fitting:
            raise NotReadable(f"dates that can be read as asked in {name}", got=_two(parts))
        return asked
    if not fitting:
        raise _none_fits(parts, name)
    if len(fitting) == 1:
        return fitting[0]
    steady = [order for order in fitting if _steady([day_of(each, order) for each in parts])]
    if len(steady) == 1:
        return steady[0]
    raise Question(
        f"a clear order of day, month and year in {name}", got=_two(parts), option=OPTION,
        choices=tuple(order.replace("_", "-") for order in fitting),
    )  # fmt: skip


def _none_fits(parts: Sequence[Parts], name: str) -> NotReadable:
    for each in parts:
        if not any(day_of(each, order) for order in ORDERS):
            return NotReadable(f"a day that there is in {name}", got="/".join(each))
    return NotReadable(
        f"dates written one way in {name}", got=f"dates that no single order reads, such as {_two(parts)}",
        todo="Export the readings again with one way of dates",
    )  # fmt: skip


def _two(parts: Sequence[Parts]) -> str:
    ends = dict.fromkeys("/".join(each) for each in (parts[0], parts[-1])) if parts else {"none": None}
    return " and ".join(ends)


def _steady(days: Sequence[date | None]) -> bool:
    """Whether they follow each other day by day."""
    known = [day for day in days if day is not None]
    gaps = [abs((later - one).days) for one, later in zip(known, known[1:], strict=False)]
    return len(known) >= FEWEST_DAYS and sum(gap == 1 for gap in gaps) >= STEADY * len(gaps)
