"""Small pieces of wording that every layer says alike."""

from __future__ import annotations

from collections.abc import Sequence


def counted(number: int, one: str, many: str = "") -> str:
    """Return '1 animal' or '3 animals'; `many` where the plural is not just an s."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def joined(words: Sequence[str]) -> str:
    """Return 'a', 'a and b' or 'a, b and c'."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
