"""Joins the faces: the one module above them, so that the command line can open the pages without importing them."""


def serve_pages(room: str | None, host: str, port: int, open_browser: bool) -> None:
    """Serve the pages of a room until stopped.

    room: the journal file or database URL, None for the room's usual place. port: 0 picks a free one.
    """
    from nightround.web.server import serve

    serve(room=room, host=host, port=port, open_browser=open_browser)


def main() -> None:
    """Run the `nightround` command."""
    from nightround.cli.main import main as command_line

    command_line(serve_pages=serve_pages)
