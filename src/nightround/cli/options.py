"""What the commands have in common: the room, the day, JSON, and how a refusal is said."""

from __future__ import annotations

import errno
from collections.abc import Callable
from contextlib import contextmanager
from datetime import date
from typing import IO, TYPE_CHECKING, Any, TypeVar

import click

from nightround.foundation.refusal import Refusal, UsageRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from nightround.desk.desk import Desk

Command = TypeVar("Command", bound=Callable[..., Any])

_ROOM = "nightround.room"
_ROOM_HELP = (
    "The room: a file or a database URL. Default: NIGHTROUND_ROOM, else the file in your user data folder."
)


class Said(click.ClickException):
    """A refusal on standard error: what was wanted, what came, what to do. Exit code 1 (2 for usage)."""

    def __init__(self, refusal: Refusal, *before: str) -> None:
        super().__init__(f"Wanted {refusal}")
        if isinstance(refusal, UsageRefusal):
            self.exit_code = 2  # type: ignore[misc]
        self.before = before

    def show(self, file: IO[Any] | None = None) -> None:
        """Print it, and first the lines that belong to it."""
        for line in (*self.before, self.format_message()):
            click.echo(line, file=file, err=file is None)


class RefusingGroup(click.Group):
    """A group whose commands' refusals end in an exit code and a message, never in a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was called."""
        try:
            return super().invoke(ctx)
        except Refusal as refusal:
            raise Said(refusal) from refusal
        except OSError as fault:
            if fault.errno == errno.EPIPE:  # the reader of our output has seen enough: click knows
                raise
            got = ": ".join(filter(None, [str(fault.filename or ""), fault.strerror or str(fault)]))
            raise Said(Refusal("files and outputs that can be read and written", got=got)) from fault


class Day(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """A day as YYYY-MM-DD."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read the day, or end with exit code 2."""
        if isinstance(value, date):
            return value
        from nightround.foundation.when import parse_day

        try:
            return parse_day(value)
        except Refusal as refusal:
            return self.fail(f"wanted {refusal}", param, ctx)


def _keep_room(ctx: click.Context, _: click.Parameter, value: str | None) -> str | None:
    if value is not None:
        ctx.find_root().meta[_ROOM] = value
    return value


def room_option(command: Command) -> Command:
    """Give a command `--room`."""
    return click.option(
        "--room", metavar="PATH|URL", callback=_keep_room, expose_value=False, help=_ROOM_HELP
    )(command)


def on_option(command: Command) -> Command:
    """Give a command `--on`."""
    words = "As of the close of this day of the room. Default: today."
    return click.option("--on", type=Day(), metavar="DATE", help=words)(command)


def json_option(command: Command) -> Command:
    """Give a command `--json`."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")(command)


def reading_options(command: Command) -> Command:
    """Give a command `--on`, `--json` and `--room`."""
    return on_option(json_option(room_option(command)))


def room_named() -> str:
    """Return the room that the call means."""
    from nightround.desk.rooms import default_room

    named = click.get_current_context().find_root().meta.get(_ROOM)
    return str(named) if named else default_room()


@contextmanager
def open_desk() -> Iterator[Desk]:
    """Open the desk of the room that the call means. Raises RoomRefusal."""
    from nightround.desk.desk import Desk

    with Desk.open(room_named()) as desk:
        yield desk
