"""Commands that bring tables in and out: import, export."""

from __future__ import annotations

import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nightround.cli.logger_file import take_logger_file
from nightround.cli.options import Said, open_desk, room_named, room_option
from nightround.cli.pages import time_zone_option
from nightround.foundation.refusal import UsageRefusal
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.desk.exchange import DateOrder, ImportDone

_SHOWN_PROBLEMS = 8
_ORDERS: dict[str | None, DateOrder] = {
    None: "ask", "year-first": "ask", "day-first": "day_first", "month-first": "month_first",
}  # fmt: skip


@dataclass(frozen=True)
class How:
    """How an import was asked for, by the desk's own names."""

    commit: bool
    keep_good: bool
    rejects: Path
    dates: DateOrder


@click.command("import", short_help="Take in plain tables or a pasted list.")
@click.argument("path", required=False)
@click.option("--commit", is_flag=True, help="Write the rows: all of them or none.")
@click.option(
    "--keep-good", is_flag=True, help="With --commit: write the good rows, and the refused ones into files."
)
@click.option(
    "--rejects",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the files of refused rows. Default: the current folder.",
)
@click.option(
    "--dates",
    type=click.Choice(["day-first", "month-first", "year-first"]),
    help="How days such as 3/4/2026 are read. Default: a list is refused, a logger's file asks.",
)
@click.option(
    "--logger", is_flag=True, help="It is a climate logger's file: times and temperatures of one place."
)
@click.option("--place", metavar="NAME", help="With --logger: the shelf or room it stood at.")
@click.option(
    "--unit", type=click.Choice(["c", "f"]), help="With --logger: its temperatures are in °C or °F."
)
@click.option("--column", metavar="NAME", help="With --logger: which of several temperatures; none.")
@click.option("--humidity", metavar="NAME", help="With --logger: which of several humidities; none.")
@click.option(
    "--humidity-unit",
    type=click.Choice(["percent", "share"]),
    help="With --logger: its humidities are percent, or shares of one.",
)
@click.option(
    "--clock",
    type=click.Choice(["local", "winter", "summer", "utc"]),
    help="With --logger: its clock follows summer time, keeps winter or summer time all year, or runs on UTC."
    " Default: the place's rule logger_clock, else what the file says, else local.",
)
@click.option(
    "--fast", type=float, metavar="MINUTES", help="With --logger: how far ahead its clock was at the end."
)
@click.option("--take-back", metavar="ID", help="Take back a whole import, by the ID that it told.")
@time_zone_option
@room_option
def import_(
    path: str | None,
    commit: bool,
    keep_good: bool,
    rejects: Path | None,
    dates: str | None,
    logger: bool,
    place: str | None,
    unit: str | None,
    column: str | None,
    humidity: str | None,
    humidity_unit: str | None,
    clock: str | None,
    fast: float | None,
    take_back: str | None,
    time_zone: str | None,
) -> None:
    """Take in plain tables: a folder of them, one file, or a pasted list ('-' reads one from standard input).

    Without --commit nothing is written: it says what would happen and names every row it cannot read.
    The same rows again add nothing. A room that does not exist is created by --commit.
    """
    if take_back:
        if path or commit or keep_good:
            raise UsageRefusal("--take-back with its ID alone", got="more", todo="Leave the rest away")
        return _take_back(take_back)
    if not path:
        raise UsageRefusal("what to import", got="nothing", todo="Name a folder or file, or '-'")
    if keep_good and not commit:
        raise UsageRefusal("--keep-good together with --commit", got="it alone", todo="Add --commit")
    if logger or place:
        asked = {
            "unit": unit, "dates": dates, "clock": clock, "column": column, "humidity": humidity,
            "humidity_unit": humidity_unit, "fast": fast,
        }  # fmt: skip
        return take_logger_file(Path(path), place or "", asked, commit=commit)
    how = How(commit, keep_good, rejects or Path.cwd(), _ORDERS[dates])
    return _import(path, how, time_zone)


def _import(path: str, how: How, time_zone: str | None) -> None:
    from nightround.desk import rooms
    from nightround.desk.exchange import settings_for

    text = sys.stdin.read() if path == "-" else None
    room = room_named()
    if rooms.is_there(room):
        with open_desk() as desk:
            rooms.keep_zone(desk, time_zone)
            return _tell(_done(desk, path, text, how))
    settings = settings_for(None if text is not None else Path(path), time_zone)
    if how.commit:
        with rooms.new_room(room, settings) as desk:
            done = _done(desk, path, text, how)
        click.echo(f"Created the room at {rooms.shown(room)}, time zone {settings.time_zone}.")
        return _tell(done)
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder, rooms.new_room(str(Path(folder) / "room"), settings) as desk:
        done = _done(desk, path, text, how)
    click.echo(f"The room at {rooms.shown(room)} would be created, time zone {settings.time_zone}.")
    return _tell(done)


def _done(desk: Desk, path: str, text: str | None, how: How) -> ImportDone:
    """Take it in; a refusal first names every row on standard error."""
    from nightround.desk.exchange import ImportRefused

    try:
        if text is None:
            return desk.import_tables(path, **asdict(how))
        done = desk.import_pasted(text, **asdict(how))
        if how.commit and not done.committed:
            raise ImportRefused(done)
        return done
    except ImportRefused as refused:
        raise Said(refused, *(str(refusal) for refusal in refused.done.refusals)) from refused


def _tell(done: ImportDone) -> None:
    """Say what was done, or would be."""
    for file in done.files:
        refused = f", {file.refused} refused" if file.refused else ""
        click.echo(f"{file.file}: {counted(file.rows, 'row')}{refused}")
    for refusal in done.refusals:
        click.echo(f"  {refusal}")
    verb = "Written" if done.committed else "Would write"
    kinds = ", ".join(f"{number} {kind}" for kind, number in done.kinds)
    animals = f", {counted(done.animals, 'new animal')}" if done.animals else ""
    click.echo(f"{verb}: {counted(done.new, 'entry', 'entries')}{animals}{f' ({kinds})' if kinds else ''}.")
    if done.forecasts:
        click.echo(f"With it, for the track record: {counted(done.forecasts, 'issued forecast')}.")
    if done.already:
        click.echo(f"In the room already: {counted(done.already, 'row')}.")
    _tell_problems(done)
    if done.rejects:
        click.echo("Refused rows, to mend and import: " + ", ".join(str(path) for path in done.rejects))
    if done.act:
        click.echo(f"To take it back as a whole: nightround import --take-back {done.act}")
    elif not done.committed:
        click.echo("Nothing was written: this was a dry run. Add --commit to write.")


def _tell_problems(done: ImportDone) -> None:
    if not done.problems:
        return
    will = "Raised" if done.committed else "Would raise"
    click.echo(f"{will}: {counted(len(done.problems), 'problem')} (rows that were read but disagree).")
    for problem in done.problems[:_SHOWN_PROBLEMS]:
        click.echo(f"  {problem.subject}: {problem.message}")
    if len(done.problems) > _SHOWN_PROBLEMS:
        click.echo(f"  … and {len(done.problems) - _SHOWN_PROBLEMS} more; the page shows them all")


def _take_back(act: str) -> None:
    from nightround.desk.acts import standing_of_act

    with open_desk() as desk:
        standing = standing_of_act(desk, act)
        if not standing:
            click.echo("Nothing of it stands any more: it was taken back already.")
            return
        written = desk.take_back(act)
    click.echo(
        f"Took back {counted(standing, 'entry', 'entries')}. "
        f"To bring them in again: nightround undo {written.intention}"
    )


@click.command(short_help="Write every entry into plain tables.")
@click.argument("directory", type=click.Path(file_okay=False, path_type=Path))
@room_option
def export(directory: Path) -> None:
    """Write every entry into plain tables with their description, ready for import elsewhere."""
    with open_desk() as desk:
        done = desk.export_tables(directory)
    for table, rows in done.rows:
        click.echo(f"{table}.csv: {counted(rows, 'row')}")
    click.echo(f"Written to {done.directory}")
