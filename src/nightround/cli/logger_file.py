"""Taking in a climate logger's file from the command line."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nightround.cli.options import open_desk
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from nightround.desk.loggers import LoggerTaken

_ORDERS = {None: None, "day-first": "day_first", "month-first": "month_first"}
STEPS = 5


def take_logger_file(path: Path, place: str, asked: Mapping[str, Any], *, commit: bool) -> None:
    """Read it, say what was understood, and write it with --commit."""
    from nightround.desk.loggers import LoggerAnswers, take_logger

    answers = LoggerAnswers(
        unit=asked["unit"].upper() if asked["unit"] else None,
        dates=_ORDERS[asked["dates"]],  # type: ignore[arg-type]
        clock=asked["clock"],
        column=asked["column"],
        drift_minutes=asked["fast"],
    )
    with open_desk() as desk, _bar() as bar:

        def step(words: str) -> None:
            bar.label = words
            bar.update(1)

        done = take_logger(desk, path, place, answers, commit=commit, progress=step)
        bar.update(STEPS)
    _tell(done)


def _bar() -> Any:
    """A progress bar on standard error; nothing where that is no terminal."""
    return click.progressbar(length=STEPS, file=sys.stderr, show_eta=False, item_show_func=None, width=30)


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
