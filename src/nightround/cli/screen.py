"""The terminal: its width, whether it shows colour, and tables that stay readable at 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

NARROW = 80


def console() -> Console:
    """Return a console on standard output; without a terminal it is 80 wide and plain."""
    import sys

    from rich.console import Console

    width = None if sys.stdout.isatty() else NARROW
    return Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)


def table(*columns: tuple[str, int | None], title: str = "") -> Table:
    """Return an empty table; a column with a number is that wide, the others share the rest."""
    from rich.table import Table

    made = Table(title=title or None, title_justify="left", box=None, padding=(0, 1, 0, 0), expand=True)
    for heading, width in columns:
        made.add_column(heading, width=width, overflow="fold", ratio=None if width else 1)
    return made


def lines(shown: Console, heading: str, words: Sequence[str]) -> None:
    """Print a heading with its lines, each with its own indent; nothing when there are none."""
    from rich.padding import Padding

    if not words:
        return
    shown.print()
    shown.print(heading, style="bold")
    for word in words:
        shown.print(Padding("- " + word, (0, 0, 0, 2)))


def percent(chance: float | None) -> str:
    """Return a chance in words short enough for a column; the ends are never said to be certain."""
    if chance is None:
        return "?"
    if chance < 0.01:
        return "<1 %"
    return ">99 %" if chance > 0.99 else f"{chance:.0%}".replace("%", " %")


def days(number: float | int | None) -> str:
    """Return a number of days, '?' when it is not known."""
    return "?" if number is None else f"{number:.0f}"


def day(value: date | None) -> str:
    """Return a day, '?' when it is not known."""
    return "?" if value is None else value.isoformat()
