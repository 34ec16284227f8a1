"""Small pieces of wording that every layer says alike."""

from __future__ import annotations


def counted(number: int, one: str, many: str = "") -> str:
    """Return '1 animal' or '3 animals'; `many` where the plural is not just an s."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
