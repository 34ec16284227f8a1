"""Which room a face works on: the keeper's, a new one, or the invented demo room."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from nightround.desk.desk import Desk
from nightround.foundation.clock import DAY_TURNS_AT, RoomClock, machine_zone
from nightround.foundation.refusal import RoomRefusal
from nightround.journal.rooms import data_folder, default_room, put_in_place, shown, sqlite_path
from nightround.journal.store import Journal, is_there
from nightround.journal.tables import RoomSettings

if TYPE_CHECKING:
    from nightround.simulate.truth import SimulatedRoom

__all__ = [
    "create_room",
    "default_room",
    "demo_room",
    "is_there",
    "keep_zone",
    "new_room",
    "shown",
    "told_room",
]

_DEMO_KEPT_DAYS = 3


def create_room(room: str, settings: RoomSettings | None = None) -> Desk:
    """Create a room and open its desk; without settings it takes the machine's time zone."""
    settings = settings or RoomSettings(time_zone=machine_zone())
    return Desk(
        Journal.create(
            room,
            time_zone=settings.time_zone,
            name=settings.name,
            turns_at=settings.turns_at,
            invented=settings.invented,
        )
    )


@contextmanager
def new_room(room: str, settings: RoomSettings) -> Iterator[Desk]:
    """Create a room that appears, with whatever is written into it here, whole or not at all.

    (In a database server it is there at once, empty, and stays so when what is done here fails.)
    """
    path = sqlite_path(room)
    if path is None:
        with create_room(room, settings) as desk:
            yield desk
        return
    unfinished = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with create_room(str(unfinished), settings) as desk:
            yield desk
        put_in_place(unfinished, path)
    except RoomRefusal as fault:  # says the name that was asked for
        wanted = fault.wanted.replace(str(unfinished), str(path))
        raise RoomRefusal(wanted, got=fault.got, todo=fault.todo) from fault
    except FileExistsError as fault:
        raise RoomRefusal(
            f"a new room at {path}", got="one that came meanwhile", todo="Import again"
        ) from fault
    except OSError as fault:
        raise RoomRefusal(f"a new room at {path}", got=fault.strerror or str(fault)) from fault
    finally:
        for ending in ("", "-wal", "-shm"):
            with suppress(OSError):
                unfinished.with_name(unfinished.name + ending).unlink()


def keep_zone(desk: Desk, time_zone: str | None) -> None:
    """Refuse a time zone that differs from the room's own: its days are already counted by it."""
    own = desk.journal.clock.zone_name
    if time_zone and time_zone != own:
        raise RoomRefusal(
            f"the time zone of this room, {own}",
            got=time_zone,
            todo="Leave --time-zone away, or name a new room with --room",
        )


def demo_room(say: Callable[[str], None] = lambda _: None) -> str:
    """Return the path of the invented demo room, told anew when it is missing or stale.

    It is stale on the next day, and after any change of the simulator or of the kinds of entries.
    say   hears what takes some seconds
    """
    from nightround.simulate.rooms import ZONE

    clock = RoomClock(ZONE, DAY_TURNS_AT)
    end = clock.today() - timedelta(days=1)
    folder = data_folder() / "demo"
    room = folder / f"demo-{end.isoformat()}-{_simulator_mark()}.nightround"
    if not room.is_file():
        say("Inventing the demo room: three years of a keeper who does not exist (some seconds) …")
        _tell_demo(room, end)
    _forget_old_demos(folder, room, end)
    return str(room)


def told_room(room: str, told: SimulatedRoom) -> Desk:
    """Create a room that holds what an invented keeper wrote, and open its desk. Raises RoomRefusal."""
    clock = told.clock
    settings = RoomSettings(told.name, clock.zone_name, clock.turns_at, invented=True)
    with ExitStack() as closing:
        desk = closing.enter_context(create_room(room, settings))
        desk.write(told.drafts, intention="demo", device="simulator")
        closing.pop_all()
    return desk


def _tell_demo(path: Path, end: date) -> None:
    """Simulate into an unfinished file beside it, so that a room that was broken off is never opened."""
    from nightround import simulate

    told = simulate.room(end=end)
    unfinished = path.with_name(f".{path.stem}.{secrets.token_hex(4)}")
    try:
        told_room(str(unfinished), told).close()
        with suppress(FileExistsError):  # another program told the same room meanwhile
            put_in_place(unfinished, path)
    finally:
        for ending in ("", "-wal", "-shm"):
            unfinished.with_name(unfinished.name + ending).unlink(missing_ok=True)


def _simulator_mark() -> str:
    """Return a short text that changes whenever the simulator or the kinds of entries do."""
    import hashlib

    package = Path(__file__).resolve().parent.parent
    sources = [*(package / "simulate").glob("*.py"), *(package / "journal" / "kinds").glob("*.py")]
    mark = hashlib.blake2b(digest_size=4)
    for source in sorted([*sources, package / "journal" / "migrations.py"]):
        mark.update(source.read_bytes())
    return mark.hexdigest()


def _forget_old_demos(folder: Path, kept: Path, end: date) -> None:
    """Remove demo rooms of some days ago; one of yesterday may still be on a screen."""
    for path in folder.glob("demo-*.nightround"):
        try:
            day = date.fromisoformat(path.name[5:15])
        except ValueError:
            continue
        if path != kept and (end - day).days >= _DEMO_KEPT_DAYS:
            for ending in ("", "-wal", "-shm"):
                path.with_name(path.name + ending).unlink(missing_ok=True)
