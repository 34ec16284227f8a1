"""Commands that open a room's page: start, demo."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import click

from nightround.cli.options import open_desk, room_named, room_option
from nightround.foundation.refusal import Refusal, UsageRefusal

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


class ServePages(Protocol):
    """Serves the pages of an open desk until stopped; handed in from above (faces know no other)."""

    def __call__(self, desk: Desk, *, port: int | None = None, open_browser: bool = True) -> None: ...


_port = click.option("--port", type=click.IntRange(1, 65535), help="Port to serve the page on.")
_no_browser = click.option("--no-browser", is_flag=True, help="Serve the page without opening a browser.")
time_zone_option = click.option(
    "--time-zone",
    metavar="NAME",
    help="Time zone of a new room, such as Europe/Lisbon. Default: this machine's.",
)


@click.command(short_help="Open the room's page; create the room if there is none.")
@time_zone_option
@click.option("--name", default="", help="Name of a new room.")
@_port
@_no_browser
@room_option
def start(time_zone: str | None, name: str, port: int | None, no_browser: bool) -> None:
    """Open the room's page; the room is created if there is none."""
    from nightround.desk import rooms
    from nightround.desk.exchange import settings_for

    room = room_named()
    if rooms.is_there(room):
        if name:
            raise UsageRefusal("--name for a new room", got="a room that is there", todo="Leave --name away")
        return open_page(port=port, open_browser=not no_browser, time_zone=time_zone)
    from dataclasses import replace

    settings = replace(settings_for(None, time_zone), name=name)
    with rooms.create_room(room, settings) as desk:
        click.echo(f"Created the room at {rooms.shown(room)}, time zone {settings.time_zone}.")
        serve(desk, port, not no_browser)
    return None


@click.command(short_help="Open the invented demo room.")
@_port
@_no_browser
def demo(port: int | None, no_browser: bool) -> None:
    """Open the invented demo room; your own room is not touched.

    What you write into it is gone on another day, when it is invented anew.
    """
    from nightround.desk import rooms
    from nightround.desk.desk import Desk

    room = rooms.demo_room(click.echo)
    with Desk.open(room) as desk:
        click.echo(f"Invented animals of a keeper who does not exist; the room is {room}")
        serve(desk, port, not no_browser)


def open_page(*, port: int | None, open_browser: bool, time_zone: str | None = None) -> None:
    """Serve the pages of the room that the call means. Raises RoomRefusal when it is not there."""
    from nightround.desk import rooms

    with open_desk() as desk:
        rooms.keep_zone(desk, time_zone)
        serve(desk, port, open_browser)


def serve(desk: Desk, port: int | None, open_browser: bool) -> None:
    """Hand the desk to whoever serves pages."""
    serve_pages: ServePages | None = click.get_current_context().find_root().obj
    if serve_pages is None:
        raise Refusal("somebody to serve the pages", got="nobody", todo="Run the command 'nightround'")
    serve_pages(desk, port=port, open_browser=open_browser)
