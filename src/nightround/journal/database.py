"""Engines and schema: opening a database so that what is acknowledged is on the disk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Column, Integer, MetaData, Table, Text, create_engine, event, text
from sqlalchemy.exc import ArgumentError

from nightround.foundation import clock
from nightround.foundation.refusal import RoomRefusal
from nightround.journal.migrations import APPLICATION_ID, MIGRATIONS, NEWEST
from nightround.journal.rooms import database_url, is_url, shown

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

METADATA = MetaData()
SETTING = Table("setting", METADATA, Column("name", Text, primary_key=True), Column("value", Text))
ENTRY = Table(
    "entry",
    METADATA,
    Column("number", BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
    Column("kind", Text),
    Column("version", Integer),
    Column("about_kind", Text),
    Column("about", Text),
    Column("happened", Text),
    Column("first_day", Text),
    Column("last_day", Text),
    Column("body", Text),
    Column("recorded", Text),
    Column("device", Text),
    Column("key", Text),
    Column("corrects", BigInteger),
    Column("intention", Text),
)
MIGRATION = Table(
    "migration",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("says", Text),
    Column("applied", Text),
)
TRIGGERS = {
    "sqlite": {
        f"{table}_no_{what}"
        for table in ("entry", "setting", "issued")
        for what in ("update", "delete", "replace")
    },
    "postgresql": {"entry_append_only", "setting_append_only", "issued_append_only"},
}
_WAIT_SECONDS = 20


def engine_of(room: str) -> Engine:
    """Return an engine for the room; SQLite in WAL mode, every commit on the disk, foreign keys on.

    Raises RoomRefusal for an address that no database here can be reached by.
    """
    try:
        engine = create_engine(database_url(room), pool_pre_ping=is_url(room))
    except (ArgumentError, ImportError, ValueError) as fault:
        raise RoomRefusal(
            f"a room's file or the address of a database, got {shown(room)}",
            todo="Write a path or postgresql://user@host/database, and install nightround[postgres] for that",
        ) from fault
    if engine.dialect.name not in TRIGGERS:
        raise RoomRefusal(
            "a room in a file or in PostgreSQL", got=engine.dialect.name, todo="Name another with --room"
        )
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _on_connect(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # transactions are begun by _on_begin, not by the driver
    for pragma in (
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "recursive_triggers = ON",
        f"busy_timeout = {_WAIT_SECONDS * 1000}",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _on_begin(connection: Connection) -> None:
    # A writer takes its lock at once, so that a number read is a number kept.
    writes = connection.get_execution_options().get("writes", False)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    elif writes:
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{_WAIT_SECONDS}s'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({APPLICATION_ID})")


def writing(engine: Engine) -> Engine:
    """Return the engine whose transactions take the write lock when they begin."""
    return engine.execution_options(writes=True)


def schema_number(connection: Connection) -> int:
    """Return the number of the newest migration applied; 0 for an empty database.

    Raises RoomRefusal for a database that holds something else.
    """
    from sqlalchemy import inspect

    tables = set(inspect(connection).get_table_names())
    if not tables:
        return 0
    if "migration" not in tables:
        raise RoomRefusal("a Nightround room", got="a database with other tables", todo="Name another file")
    newest = connection.execute(text("SELECT max(number) FROM migration")).scalar()
    return int(newest or 0)


def guards_missing(connection: Connection) -> set[str]:
    """Return the names of append-only triggers that are absent or switched off."""
    wanted = TRIGGERS[connection.dialect.name]
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:  # A: fires always, also in a replica's session (postgresql.org, catalog pg_trigger)
        query = "SELECT tgname FROM pg_trigger WHERE tgenabled = 'A' AND tgrelid IN ('entry'::regclass, " \
            "'setting'::regclass, 'issued'::regclass)"  # fmt: skip
    return wanted - {name for (name,) in connection.exec_driver_sql(query)}


def migrate(connection: Connection) -> list[int]:
    """Apply every migration that is missing, inside the caller's transaction; return their numbers."""
    have = schema_number(connection)
    if have > NEWEST:
        raise RoomRefusal(
            f"a room up to schema {NEWEST}",
            got=f"schema {have}, written by a newer Nightround",
            todo="Update Nightround, then open the room again",
        )
    if have == 0:
        connection.exec_driver_sql(
            "CREATE TABLE migration (number INTEGER NOT NULL PRIMARY KEY, says TEXT NOT NULL, "
            "applied TEXT NOT NULL)"
        )
    done = []
    for step in MIGRATIONS[have:]:
        statements = step.sqlite if connection.dialect.name == "sqlite" else step.postgresql
        for statement in statements:
            connection.exec_driver_sql(statement)
        row = {"number": step.number, "says": step.says, "applied": clock.now().isoformat()}
        connection.execute(MIGRATION.insert(), row)
        done.append(step.number)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    return done
