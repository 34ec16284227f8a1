"""How far a file is read, for whoever waits."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Called with what is being done, the rows done so far, and all rows (0: not counted yet)."""
EVERY = 50_000
"""Rows after which it is told anew."""


def unheard(words: str, done: int, rows: int) -> None:
    """Nobody wants to know."""
