"""The command `track`: how the program's own past forecasts did."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.refusal import NoSuchThing, UsageRefusal
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.track_record import Miss, Share, TrackLine, TrackPart, TrackReport


@click.command(short_help="Show how past forecasts did.")
@click.option("--group", metavar="NAME", help="Only this group of taxa.")
@click.option(
    "--look-back", is_flag=True, help="First work out what past days would have forecast (minutes)."
)
@click.option(
    "--every", type=click.IntRange(1), metavar="DAYS", help="With --look-back: days between. Usual: 28."
)
@click.option(
    "--most", type=click.IntRange(1), metavar="N", help="With --look-back: at most so many days. Usual: 40."
)
@reading_options
def track(
    group: str | None,
    look_back: bool,
    every: int | None,
    most: int | None,
    on: date | None,
    as_json: bool,
) -> None:
    """Show how past forecasts did: the odds that were given, held against what happened.

    Forecasts are kept when the round is opened: one after each moult and one at half time. A window counts on
    the day it is over. Where errors are wider than claimed, windows are widened.

    --look-back works out what today's program would have forecast on past days from what had been written by
    then; these forecasts are counted apart.
    """
    if (every or most) and not look_back:
        raise UsageRefusal("--every and --most together with --look-back", got="them alone")
    with open_desk() as desk:
        if look_back:
            found = desk.look_back(every=every, most=most, heard=_heard)
            click.echo(f"Looked back: {counted(found, 'forecast')}.", err=True)
        report = desk.track(on)
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(report))
    return show_track(report, group)


def _heard(done: int, of: int) -> None:
    if done < of:
        click.echo(f"Looking back, day {done + 1} of {of} …", err=True)


def show_track(report: TrackReport, group: str | None) -> None:
    """Print the track record: what it comes to, by group, and the worst misses."""
    from nightround.cli.screen import console, lines
    from nightround.cli.tables import heading

    _known_or_refused(report, group)
    shown = console()
    heading(
        shown, f"How past forecasts did, as known on {report.on.isoformat()}: {report.room}", report.invented
    )
    if report.kept is None and report.looked_back is None:
        shown.print(
            "No forecast has been kept yet. They are kept from the first evening on which the round is "
            "opened; --look-back works out what past days would have forecast."
        )
        return
    for sentence in report.verdict:
        shown.print(sentence)
    if report.next_due is not None:
        shown.print(f"The next window is over on {report.next_due.isoformat()}.")
    for part in (report.kept, report.looked_back):
        if part is not None:
            _show_part(shown, part, group)
    lines(shown, "Worst misses", [_miss(miss) for miss in report.misses if group in (None, miss.group)])
    lines(
        shown,
        "Widened now",
        [f"{each.group or 'no group'}: {each.words}" for each in report.widenings if each.words],
    )
    lines(shown, "How it is counted", [report.method, *report.assumptions])


def _known_or_refused(report: TrackReport, group: str | None) -> None:
    known = sorted({each.group for each in report.widenings})
    if group is not None and group not in known:
        raise NoSuchThing(
            "a group of taxa of this room", got=repr(group), todo="Use one of: " + ", ".join(known)
        )


def _show_part(shown: Console, part: TrackPart, group: str | None) -> None:
    from nightround.cli.screen import table

    origin = "Worked out by looking back" if part.looked_back else "Kept on their day"
    shown.print()
    title = f"{origin}, {part.first.isoformat()} to {part.last.isoformat()}: 80 % windows"
    made = table(
        ("group", None), ("forecast made", 15), ("inside/over", 11), ("held", 15), ("early", 5),
        ("late", 4), ("open", 5), title=title,
    )  # fmt: skip
    for line in (
        *(part.lines if not group else ()),
        *(line for line in part.groups if not group or line.group == group),
    ):
        made.add_row(*_cells(line))
    shown.print(made)


def _cells(line: TrackLine) -> Sequence[str]:
    from nightround.reports.track_record import STAGE_WORDS

    waiting = line.issued - line.due
    return (
        line.group or "all",
        STAGE_WORDS[line.stage].removeprefix("made "),
        f"{line.fates['inside']}/{line.due}",
        _held(line.share),
        str(line.fates["before"]),
        str(line.fates["after"]),
        str(waiting),
    )


def _held(share: Share | None) -> str:
    if share is None:
        return "-"
    return f"{100 * share.value:.0f} % ({100 * share.low:.0f}-{100 * share.high:.0f})"


def _miss(miss: Miss) -> str:
    window = f"{miss.first.isoformat()} to {miss.last.isoformat()}"
    if miss.moulted is None:
        what = f"still waiting on {miss.looked.isoformat() if miss.looked else '?'}"
    else:
        first, last = miss.moulted
        what = f"moulted {first.isoformat()}" + (f" to {last.isoformat()}" if last != first else "")
    back = ", looking back" if miss.looked_back else ""
    return f"{miss.animal} ({miss.taxon}): {window} was said on {miss.day.isoformat()}{back}; {what}"
