"""Engines and schema: opening a database so that what is acknowledged is on the disk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Column, Integer, MetaData, Table, Text, create_engine, event, text

from nightround.foundation import clock
from nightround.foundation.refusal import RoomRefusal
from nightround.journal.migrations import APPLICATION_ID, MIGRATIONS, NEWEST
from nightround.journal.rooms import database_url

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
    f"{table}_no_{what}" for table in ("entry", "setting") for what in ("update", "delete", "replace")
}


def engine_of(room: str) -> Engine:
    """Return an engine for the room; SQLite in WAL mode, every commit on the disk, foreign keys on."""
    engine = create_engine(database_url(room))
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
        "busy_timeout = 20000",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _on_begin(connection: Connection) -> None:
    # A writer takes its lock at once, so that a number read is a number kept.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


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
