"""The `nightround` command: subcommands are loaded only when they are called."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import click

from nightround import __version__

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


class ServePages(Protocol):
    """Serves the pages of an open desk until stopped; handed in from above (faces know no other)."""

    def __call__(self, desk: Desk, *, port: int | None = None, open_browser: bool = True) -> None: ...


@click.group()
@click.version_option(__version__)
def nightround() -> None:
    """The evening round, workbench and evidence book of a keeper of long-lived spiders."""


def main(serve_pages: ServePages | None = None) -> None:
    """Run the command line; exit code 0 done, 1 refused, 2 bad usage."""
    nightround(obj=serve_pages)
