"""Commands that write plain lines and undo them: jot, undo."""

from __future__ import annotations

import sys
from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import Said, on_option, open_desk, room_option
from nightround.foundation.refusal import Refusal

if TYPE_CHECKING:
    from nightround.desk.jot import JotReading


@click.command(short_help="Write what happened, in plain words.")
@click.argument("words", nargs=-1)
@click.option(
    "--yes", "-y", count=True, help="Write without asking. Said twice, also what ends an animal's stay."
)
@on_option
@room_option
def jot(words: tuple[str, ...], yes: int, on: date | None) -> None:
    """Write what happened in plain words, such as "K12 took 2 crickets; K07 refused".

    Parts are separated by ; or by lines; without words they are read from standard input. What was
    understood is shown first. When any part is not understood, nothing is written.
    """
    text = " ".join(words) if words and words != ("-",) else sys.stdin.read()
    with open_desk() as desk:
        day = on or desk.today()
        if day > desk.today():
            raise Refusal(
                "an evening that has come, to write what was done", got=day.isoformat(),
                todo="Leave --on out, or name a day up to today",
            )  # fmt: skip
        reading = desk.understand(text, day)
        _show(reading, day)
        _ask(reading, yes)
        written = desk.write(reading.drafts, device="terminal")
    number = len(written.numbers)
    click.echo(f"Written: {number} {'entry' if number == 1 else 'entries'}.")
    click.echo(f"To undo: nightround undo {written.intention}")


def _show(reading: JotReading, on: date) -> None:
    for item in reading.items:
        click.echo(f"  {item.words}")
    if reading.problems:
        told = [f"Not understood: {problem.part!r}. {problem.message}" for problem in reading.problems]
        raise Said(Refusal("words that can all be understood; nothing was written"), *told)
    if not reading.items:
        raise Refusal("something to write", got="nothing", todo='Say for example "K12 took 2 crickets"')
    click.echo(f"as of {on.isoformat()}")


def _ask(reading: JotReading, yes: int) -> None:
    if not yes:
        _confirm("Write this?", "--yes")
    ending = [item.words for item in reading.items if item.ends_a_stay]
    if ending and yes < 2:
        _confirm(
            "This ends an animal's stay in the room: " + "; ".join(ending) + ". Are you sure?",
            "--yes twice",
        )


def _confirm(question: str, option: str) -> None:
    refused = Refusal(
        f"a yes to '{question}'; nothing was written", todo=f"Answer y, or give {option} to be asked nothing"
    )
    try:
        if not click.confirm(question, default=False):
            raise refused
    except click.Abort as stopped:
        click.echo()
        raise refused from stopped


@click.command(short_help="Undo what one act wrote.")
@click.argument("act", metavar="ID")
@room_option
def undo(act: str) -> None:
    """Undo one act, by the ID that it told when it was written.

    Its entries stay in the journal, struck out.
    """
    from nightround.desk.acts import standing_of_act

    with open_desk() as desk:
        number = standing_of_act(desk, act)
        if not number:
            click.echo("Nothing of it stands any more: it was undone already.")
            return
        written = desk.undo(act, device="terminal")
    click.echo(f"Undone: {number} {'entry' if number == 1 else 'entries'}.")
    click.echo(f"To bring it back: nightround undo {written.intention}")
