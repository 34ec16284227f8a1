"""Joins the faces: the one module above them, so the command line opens pages it does not import."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


def serve_pages(desk: Desk, *, port: int | None = None, open_browser: bool = True) -> None:
    """Serve the pages of an open desk until stopped; without a `port`, the usual or a free one."""
    from nightround.web.serve import serve

    serve(desk, port=port, open_browser=open_browser)


def main() -> None:
    """Run the `nightround` command."""
    from nightround.cli.main import main as command_line

    command_line(serve_pages=serve_pages)
