"""The `nightround` command: whatever is heavy is imported by the subcommand that needs it."""

from __future__ import annotations

import click

from nightround import __version__
from nightround.cli import (
    claims,
    climate,
    evidence,
    exchanging,
    homes,
    jotting,
    larder,
    pages,
    reading,
    tracking,
    water,
)
from nightround.cli.options import RefusingGroup, room_option
from nightround.cli.pages import ServePages

EPILOG = "Exit codes: 0 done, 1 refused with a clear message on standard error, 2 bad usage."


@click.group(cls=RefusingGroup, invoke_without_command=True, epilog=EPILOG)
@click.version_option(__version__, help="Show the version and exit.")
@room_option
@click.pass_context
def nightround(ctx: click.Context) -> None:
    """The evening round, workbench and evidence book of a keeper of long-lived spiders.

    Without a command it opens the room's page.
    """
    if ctx.invoked_subcommand is None:
        pages.open_page(port=None, open_browser=True)


for _command in (
    pages.start,
    pages.demo,
    reading.tonight,
    jotting.jot,
    jotting.undo,
    reading.animal,
    reading.forecast,
    claims.claims,
    climate.climate,
    water.water,
    homes.homes,
    larder.larder,
    larder.sunday,
    tracking.track,
    evidence.evidence,
    exchanging.import_,
    exchanging.export,
    reading.verify,
):
    nightround.add_command(_command)


def main(serve_pages: ServePages | None = None) -> None:
    """Run the command line; exit code 0 done, 1 refused, 2 bad usage."""
    nightround(obj=serve_pages)
