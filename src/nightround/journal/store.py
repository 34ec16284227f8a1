"""The journal's store: one append-only table, one transaction per intention."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from nightround.foundation import clock as clocks
from nightround.foundation.clock import DAY_TURNS_AT, RoomClock
from nightround.foundation.collector import collector_paused
from nightround.foundation.refusal import NotReadable, RoomRefusal
from nightround.journal import coding
from nightround.journal import issued as forecasts
from nightround.journal.database import ENTRY, SETTING, engine_of, migrate, schema_number, writing
from nightround.journal.entries import Draft, Entry, Written
from nightround.journal.issued import Issued
from nightround.journal.kinds.animal import OfferSeen
from nightround.journal.migrations import APPLICATION_ID, NEWEST
from nightround.journal.rooms import put_in_place, shown, sqlite_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import Connection, Engine

    from nightround.journal.verify import VerifyReport


class Journal:
    """A room's journal. Create it with `create` or `open`; close it, or use it in a `with`."""

    def __init__(self, room: str, engine: Engine) -> None:
        self.room = room
        self._engine = engine
        settings = self._settings()
        self.name = settings["name"]
        self.invented = settings["invented"] == "yes"
        self.clock = RoomClock(settings["time_zone"], time.fromisoformat(settings["turns_at"]))

    @classmethod
    def create(
        cls,
        room: str | Path,
        *,
        time_zone: str,
        name: str = "",
        turns_at: time = DAY_TURNS_AT,
        invented: bool = False,
    ) -> Journal:
        """Create an empty room; a file appears whole or not at all. Raises RoomRefusal if it is there."""
        room = str(room)
        clock = RoomClock(time_zone, turns_at)
        settings = {
            "name": name or "Spider room",
            "time_zone": clock.zone_name,
            "turns_at": turns_at.isoformat("minutes"),
            "invented": "yes" if invented else "no",
            "room_id": secrets.token_hex(8),
        }
        path = sqlite_path(room)
        if path is None:
            _fill(room, settings)
        else:
            _create_file(path, settings)
        return cls.open(room)

    @classmethod
    def open(cls, room: str | Path) -> Journal:
        """Open a room and bring its schema up to date. Raises RoomRefusal: missing, foreign, too new."""
        room = str(room)
        path = sqlite_path(room)
        if path is not None and path.is_dir():
            raise RoomRefusal(
                f"a room's file at {shown(room)}",
                got="a folder",
                todo=f"Name a file in it, such as {path / 'room.nightround'}",
            )
        if path is not None and not path.is_file():
            raise RoomRefusal(
                f"a room at {shown(room)}",
                got="nothing there",
                todo="Create one with 'nightround start', or name another with --room",
            )
        if path is not None:
            _recognised_or_refused(path)
        engine = engine_of(room)
        try:
            with _database_faults(room):
                _bring_up_to_date(engine, room)
                return cls(room, engine)
        except RoomRefusal:
            engine.dispose()
            raise

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def append(
        self,
        drafts: Sequence[Draft],
        *,
        intention: str = "",
        device: str = "",
        issued: Sequence[Issued] = (),
    ) -> Written:
        """Write drafts as one act: all or none, on the disk when this returns.

        A draft whose key is there with the same content writes nothing; with other content it is refused.
        issued   forecasts that an import brings along, kept in the same transaction
        """
        intention = intention or secrets.token_hex(8)
        with _database_faults(self.room), writing(self._engine).begin() as connection:
            written = _append(connection, drafts, intention, device)
            forecasts.add(connection, issued)
            return written

    def issue(self, issued: Sequence[Issued]) -> int:
        """Keep forecasts as they were issued; return how many were new. One that is there by key stays."""
        if not issued:
            return 0
        with _database_faults(self.room), writing(self._engine).begin() as connection:
            return forecasts.add(connection, issued)

    def issued(self, after: int = 0) -> list[Issued]:
        """Return the issued forecasts numbered above `after`, ascending."""
        with _database_faults(self.room), self._engine.connect() as connection:
            return forecasts.read(connection, after)

    def rehearse(self, drafts: Sequence[Draft], *, intention: str = "") -> tuple[Written, list[Entry]]:
        """Return what `append` would write, and its entries: it is done and rolled back, nothing stays."""
        intention = intention or secrets.token_hex(8)
        with (
            _database_faults(self.room),
            writing(self._engine).connect() as connection,
            connection.begin() as transaction,
        ):
            last = _last_number(connection)
            written = _append(connection, drafts, intention, "")
            query = ENTRY.select().where(ENTRY.c.number > last).order_by(ENTRY.c.number)
            entries = list(coding.entries_of(connection.execute(query)))
            transaction.rollback()
        return written, entries

    def entries(self, after: int = 0) -> list[Entry]:
        """Return all entries numbered above `after`, ascending."""
        query = ENTRY.select().where(ENTRY.c.number > after).order_by(ENTRY.c.number)
        with _database_faults(self.room), self._engine.connect() as connection, collector_paused():
            return list(coding.entries_of(connection.execute(query)))

    def last_number(self) -> int:
        """Return the number of the newest entry, 0 in an empty room."""
        with _database_faults(self.room), self._engine.connect() as connection:
            return _last_number(connection)

    def verify(self) -> VerifyReport:
        """Check the whole journal: the file, the guards, numbers, keys, moments and bodies."""
        from nightround.journal.verify import verify

        with _database_faults(self.room), self._engine.connect() as connection:
            return verify(connection, self.clock)

    def _settings(self) -> dict[str, str]:
        with self._engine.connect() as connection:
            return {row.name: row.value for row in connection.execute(SETTING.select())}


def _bring_up_to_date(engine: Engine, room: str) -> None:
    """Apply the migrations that are missing; a room that is up to date is not written to."""
    with engine.connect() as connection:
        have = schema_number(connection)
    if have == 0:
        raise RoomRefusal(f"a room at {shown(room)}", got="an empty database", todo="Create one with 'start'")
    if have != NEWEST:
        with writing(engine).begin() as connection:
            migrate(connection)


def _recognised_or_refused(path: Path) -> None:
    """Look at the file's header before SQLite opens it: opening alone would already change a foreign file."""
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as fault:
        raise RoomRefusal(
            f"to read the room at {path}",
            got=fault.strerror or str(fault),
            todo="Check who may read the file",
        ) from fault
    if not header.startswith(b"SQLite format 3\x00"):
        raise RoomRefusal(
            f"a Nightround room at {path}", got="a file of another kind", todo="Name another file"
        )
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:  # sqlite.org/fileformat.html, offset 68
        raise RoomRefusal(
            f"a Nightround room at {path}", got="a database of another program", todo="Name another file"
        )


def is_there(room: str) -> bool:
    """Whether there is anything at a room's path, or any table in a room's database. Raises RoomRefusal."""
    path = sqlite_path(room)
    if path is not None:
        return path.exists()
    from sqlalchemy import inspect

    engine = engine_of(room)
    try:
        with _database_faults(room):
            return bool(inspect(engine).get_table_names())
    finally:
        engine.dispose()


def _create_file(path: Path, settings: dict[str, str]) -> None:
    there = RoomRefusal(f"a new room at {path}", got="a file that is there already", todo="Name another file")
    if path.exists():
        raise there
    unfinished = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            _fill(str(unfinished), settings, str(path))
            put_in_place(unfinished, path)
        finally:
            for leftover in (unfinished, *(Path(f"{unfinished}{end}") for end in ("-wal", "-shm"))):
                leftover.unlink(missing_ok=True)
    except FileExistsError as fault:
        raise there from fault
    except OSError as fault:
        raise RoomRefusal(
            f"a new room at {path}",
            got=fault.strerror or str(fault),
            todo="Name a file in a folder that may be written, with --room",
        ) from fault


def _fill(room: str, settings: dict[str, str], called: str = "") -> None:
    """Make an empty database a room; `called` is what a refusal calls it."""
    engine = engine_of(room)
    try:
        with _database_faults(called or room), writing(engine).begin() as connection:
            if schema_number(connection):
                raise RoomRefusal(f"a new room at {shown(room)}", got="a room that is there already")
            migrate(connection)
            rows = [{"name": name, "value": value} for name, value in settings.items()]
            connection.execute(SETTING.insert(), rows)
    finally:
        engine.dispose()


def _last_number(connection: Connection) -> int:
    from sqlalchemy import func, select

    return int(connection.execute(select(func.max(ENTRY.c.number))).scalar() or 0)


def _append(connection: Connection, drafts: Sequence[Draft], intention: str, device: str) -> Written:
    known = _rows_by_key(connection, [draft.key for draft in drafts if draft.key])
    last = _last_number(connection)
    recorded = coding.instant_text(clocks.now())
    numbers: list[int] = []
    already: list[int] = []
    placed: list[int] = []
    rows: list[dict[str, Any]] = []
    for draft in drafts:
        row = coding.row_of(_resolved(draft, placed, last + len(rows)))
        old = known.get(draft.key) if draft.key else None
        if old is not None:
            _same_or_refused(old, row)
            already.append(old["number"])
            placed.append(old["number"])
            continue
        number = last + len(rows) + 1
        row |= {
            "number": number,
            "recorded": coding.instant_text(draft.recorded) if draft.recorded else recorded,
            "device": draft.device or device,
            "key": draft.key or secrets.token_hex(12),
            "intention": f"{intention}/{draft.intention}" if draft.intention else intention,
        }
        rows.append(row)
        known[row["key"]] = row
        numbers.append(number)
        placed.append(number)
    if rows:
        connection.execute(ENTRY.insert(), rows)
    return Written(intention, tuple(numbers), tuple(already))


def _rows_by_key(connection: Connection, keys: Sequence[str]) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    step = 500  # SQLite's oldest limit on the parameters of one statement is 999
    for start in range(0, len(keys), step):
        query = ENTRY.select().where(ENTRY.c.key.in_(keys[start : start + step]))
        found |= {row.key: dict(row._mapping) for row in connection.execute(query)}
    return found


def _resolved(draft: Draft, placed: Sequence[int], last: int) -> Draft:
    """Return the draft with references to drafts of the same act (−k) turned into entry numbers."""
    body = draft.body
    if isinstance(body, OfferSeen) and body.offer is not None:
        body = msgspec.structs.replace(body, offer=_number(body.offer, placed, last))
    corrects = None if draft.corrects is None else _number(draft.corrects, placed, last)
    if body is draft.body and corrects == draft.corrects:
        return draft
    return replace(draft, body=body, corrects=corrects)


def _number(reference: int, placed: Sequence[int], last: int) -> int:
    number = placed[-reference - 1] if -len(placed) <= reference < 0 else reference
    if not 0 < number <= last:
        raise NotReadable(
            "the number of an entry that is there",
            got=str(reference),
            todo="Name an entry by the number that the journal shows",
        )
    return number


def _same_or_refused(old: dict[str, Any], row: dict[str, Any]) -> None:
    differing = [name for name, value in row.items() if name != "version" and old[name] != value]
    if differing:
        raise RoomRefusal(
            f"new content under a new key, key {old['key']!r} belongs to entry {old['number']}",
            got=f"other {', '.join(differing)}",
            todo="Write a correction of that entry instead",
        )


@contextmanager
def _database_faults(room: str) -> Iterator[None]:
    """Turn the database's own faults into refusals that say what to do."""
    from sqlalchemy.exc import DatabaseError, OperationalError

    try:
        yield
    except OperationalError as error:
        raise RoomRefusal(
            f"to read and write the room at {shown(room)}",
            got=str(error.orig),
            todo="Check that the file or server is there, writable, and not locked by another program",
        ) from error
    except DatabaseError as error:
        raise RoomRefusal(
            f"a sound Nightround room at {shown(room)}",
            got=str(error.orig),
            todo="Run 'nightround verify', or go back to a backup",
        ) from error
