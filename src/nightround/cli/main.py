"""The `nightround` command: subcommands are loaded only when they are called."""

from typing import Protocol

import click

from nightround import __version__


class ServePages(Protocol):
    """Serves the pages of a room until stopped; handed in from above, since faces never import each other."""

    def __call__(self, room: str | None, host: str, port: int, open_browser: bool) -> None: ...


@click.group()
@click.version_option(__version__)
def nightround() -> None:
    """The evening round, workbench and evidence book of a keeper of long-lived spiders."""


def main(serve_pages: ServePages | None = None) -> None:
    """Run the command line; exit code 0 done, 1 refused, 2 bad usage."""
    nightround(obj=serve_pages)
