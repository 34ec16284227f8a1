"""Taking in a climate logger's file from the command line."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, TextIO

import click

from nightround.cli.options import open_desk
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from nightround.desk.loggers import LoggerTaken

_ORDERS = {None: None, "day-first": "day_first", "month-first": "month_first", "year-first": "year_first"}
BAR = 24


def take_logger_file(path: Path, place: str, asked: Mapping[str, Any], *, commit: bool) -> None:
    """Read it, say what was understood, and write it with --commit."""
    from nightround.desk.loggers import LoggerAnswers, take_logger

    answers = LoggerAnswers(
        unit=asked["unit"].upper() if asked["unit"] else None,
        dates=asked["dates"].replace("-", "_") if asked["dates"] else None,
        clock=asked["clock"],
        column=asked["column"],
        humidity=asked["humidity"],
        humidity_unit=asked["humidity_unit"],
        drift_minutes=asked["fast"],
    )
    with open_desk() as desk, RowsRead(sys.stderr) as rows:
        done = take_logger(desk, path, place, answers, commit=commit, progress=rows)
    _tell(done)


class RowsRead:
    """One line that tells how far a file is read, on a terminal only; it is wiped out at the end."""

    def __init__(self, screen: TextIO) -> None:
        self._screen = screen if screen.isatty() else None
        self._told = ""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._show("")

    def __call__(self, words: str, done: int, rows: int) -> None:
        """Show a step and its rows: '  350,000 of 1,000,000 rows: dates and times'."""
        share = done / rows if rows else 0.0
        bar = "#" * round(BAR * share)
        self._show(f"[{bar:-<{BAR}}] {done:,} of {rows:,} rows: {words}" if rows else words)

    def _show(self, line: str) -> None:
        if self._screen is None or line == self._told:
            return
        wiped = " " * max(0, len(self._told) - len(line))
        self._screen.write(f"\r{line}{wiped}" if line else f"\r{wiped}\r")
        self._screen.flush()
        self._told = line


def _tell(done: LoggerTaken) -> None:
    days = f"{done.first.isoformat()} to {done.last.isoformat()}"
    click.echo(f"{done.file} for {done.place}: {counted(done.readings, 'reading')}, {days}")
    if done.mean_c is not None and done.low_c is not None and done.high_c is not None:
        click.echo(f"from {both(done.low_c, 'C')} to {both(done.high_c, 'C')}, mean {both(done.mean_c, 'C')}")
    for words in done.words:
        click.echo(f"  {words}")
    for words in done.doubts:
        click.echo(f"  Look: {words}")
    if done.new_place:
        click.echo(f"  {done.place} is not on record yet: this file begins it.")
    click.echo(f"{'Written' if done.committed else 'Would write'}: {counted(done.new, 'day')}.")
    if done.already:
        click.echo(f"In the room already: {counted(done.already, 'day')}.")
    if done.act:
        click.echo(f"To take it back as a whole: nightround import --take-back {done.act}")
    elif not done.committed:
        click.echo("Nothing was written: this was a dry run. Add --commit to write.")
