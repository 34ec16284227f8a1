"""Which room is meant: a file or a database URL, and where a keeper's room lies by default."""

from __future__ import annotations

import os
from pathlib import Path

FILE_NAME = "room.nightround"


def default_room() -> str:
    """Return `NIGHTROUND_ROOM`, else the room file in the platform's user data folder."""
    named = os.environ.get("NIGHTROUND_ROOM", "").strip()
    return named or str(data_folder() / FILE_NAME)


def data_folder() -> Path:
    """Return the platform's folder for this user's data (not created here)."""
    from platformdirs import user_data_path

    return user_data_path("nightround", appauthor=False)


def is_url(room: str) -> bool:
    """Whether `room` is a database URL rather than a file."""
    return "://" in room


def database_url(room: str) -> str:
    """Return the SQLAlchemy URL of a room."""
    if not is_url(room):
        return "sqlite+pysqlite:///" + str(Path(room).expanduser().absolute())
    scheme, _, rest = room.partition("://")
    return f"postgresql+psycopg://{rest}" if scheme in ("postgres", "postgresql") else room


def shown(room: str) -> str:
    """Return the room as a message may name it: a URL without who asks and the password."""
    return room.rpartition("@")[2] if is_url(room) else room


def put_in_place(unfinished: Path, path: Path) -> None:
    """Give a finished file its name, for good, and never over a file that came meanwhile.

    Raises FileExistsError, and OSError for what else the disk refuses.
    """
    try:
        os.link(unfinished, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if path.exists():
            raise FileExistsError(f"{path} is there already") from None
        unfinished.rename(path)
    else:
        unfinished.unlink()
    if os.name == "posix":  # the new name is on the disk as well
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def sqlite_path(room: str) -> Path | None:
    """Return the file of a SQLite room, None for a database server."""
    if not is_url(room):
        return Path(room).expanduser().absolute()
    scheme, _, path = room.partition(":///")
    return Path(path).absolute() if scheme.startswith("sqlite") and path else None
