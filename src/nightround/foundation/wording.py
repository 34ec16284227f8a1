"""Small pieces of wording that every layer says alike."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def counted(number: int, one: str, many: str = "") -> str:
    """Return '1 animal' or '3 animals'; `many` where the plural is not just an s."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def joined(words: Sequence[str]) -> str:
    """Return 'a', 'a and b' or 'a, b and c'."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


@lru_cache(maxsize=4096)
def day_words(day: date, on: date | None = None) -> str:
    """Write a day as '12 Nov', with its year when it is not the year of `on`."""
    short = f"{day.day} {MONTHS[day.month - 1]}"
    return short if on is not None and day.year == on.year else f"{short} {day.year}"
