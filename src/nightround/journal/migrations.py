"""Numbered migrations of the journal's own tables. Never edit one that has landed: add the next."""

from __future__ import annotations

from dataclasses import dataclass

APPLICATION_ID = 0x4E523031
"""Written into the header of a SQLite room so that a foreign file is recognised."""


@dataclass(frozen=True)
class Migration:
    """One step: its number, what it does, and the statements per database dialect."""

    number: int
    says: str
    sqlite: tuple[str, ...]
    postgresql: tuple[str, ...]


_GUARD = "an entry is never changed or removed: write a correction"

_SQLITE_TABLES = (
    """CREATE TABLE setting (
        name TEXT NOT NULL PRIMARY KEY,
        value TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE entry (
        number INTEGER PRIMARY KEY AUTOINCREMENT CHECK (number > 0),
        kind TEXT NOT NULL,
        version INTEGER NOT NULL,
        about_kind TEXT NOT NULL,
        about TEXT NOT NULL,
        happened TEXT NOT NULL,
        first_day TEXT,
        last_day TEXT,
        body TEXT NOT NULL CHECK (json_valid(body)),
        recorded TEXT NOT NULL,
        device TEXT NOT NULL,
        key TEXT NOT NULL UNIQUE,
        corrects INTEGER REFERENCES entry (number),
        intention TEXT NOT NULL,
        CHECK ((first_day IS NULL) = (last_day IS NULL) AND (first_day IS NULL OR first_day <= last_day)),
        CHECK (corrects IS NULL OR corrects < number)
    ) STRICT""",
    "CREATE INDEX entry_intention ON entry (intention)",
)


_ISSUED_GUARD = "an issued forecast is never changed or removed: it is what was said"

_ISSUED_COLUMNS = """
        key TEXT NOT NULL UNIQUE,
        animal TEXT NOT NULL,
        stage TEXT NOT NULL CHECK (stage IN ('after_moult', 'half_time')),
        run TEXT NOT NULL,
        day TEXT NOT NULL,
        opened_first TEXT NOT NULL,
        opened_last TEXT NOT NULL,
        written TEXT NOT NULL,
        entries {integer} NOT NULL,
        program TEXT NOT NULL,
        odds TEXT NOT NULL CHECK ({valid}),
        CHECK (opened_first <= opened_last)"""


def _sqlite_guards(table: str, same: str, guard: str = _GUARD) -> tuple[str, ...]:
    # INSERT OR REPLACE deletes without firing delete triggers, so the insert itself is looked at.
    return (
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{guard}'); END",
        f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{guard}'); END",
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) "
        f"BEGIN SELECT RAISE(ABORT, '{guard}'); END",
    )


_POSTGRESQL = (
    "CREATE TABLE setting (name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL)",
    """CREATE TABLE entry (
        number BIGINT PRIMARY KEY CHECK (number > 0),
        kind TEXT NOT NULL,
        version INTEGER NOT NULL,
        about_kind TEXT NOT NULL,
        about TEXT NOT NULL,
        happened TEXT NOT NULL,
        first_day TEXT,
        last_day TEXT,
        body TEXT NOT NULL CHECK (body::json IS NOT NULL),
        recorded TEXT NOT NULL,
        device TEXT NOT NULL,
        key TEXT NOT NULL UNIQUE,
        corrects BIGINT REFERENCES entry (number),
        intention TEXT NOT NULL,
        CHECK ((first_day IS NULL) = (last_day IS NULL) AND (first_day IS NULL OR first_day <= last_day)),
        CHECK (corrects IS NULL OR corrects < number)
    )""",
    "CREATE INDEX entry_intention ON entry (intention)",
    f"""CREATE FUNCTION nightround_refuse() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '{_GUARD}'; END $$""",
    *(
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION nightround_refuse()"
        for table in ("setting", "entry")
    ),
    *(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_append_only" for table in ("setting", "entry")),
)

MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        1,
        "the journal: entries and the room's settings, append-only",
        (
            *_SQLITE_TABLES,
            *_sqlite_guards("setting", "name = NEW.name"),
            *_sqlite_guards("entry", "number = NEW.number OR key = NEW.key"),
        ),
        _POSTGRESQL,
    ),
    Migration(
        2,
        "issued forecasts, kept beside the entries, append-only",
        (
            "CREATE TABLE issued (number INTEGER PRIMARY KEY AUTOINCREMENT CHECK (number > 0),"
            + _ISSUED_COLUMNS.format(integer="INTEGER", valid="json_valid(odds)")
            + ") STRICT",
            *_sqlite_guards("issued", "number = NEW.number OR key = NEW.key", _ISSUED_GUARD),
        ),
        (
            "CREATE TABLE issued (number BIGINT PRIMARY KEY CHECK (number > 0),"
            + _ISSUED_COLUMNS.format(integer="BIGINT", valid="odds::json IS NOT NULL")
            + ")",
            f"""CREATE FUNCTION nightround_refuse_issued() RETURNS trigger LANGUAGE plpgsql AS
                $$ BEGIN RAISE EXCEPTION '{_ISSUED_GUARD}'; END $$""",
            "CREATE TRIGGER issued_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON issued "
            "FOR EACH STATEMENT EXECUTE FUNCTION nightround_refuse_issued()",
            "ALTER TABLE issued ENABLE ALWAYS TRIGGER issued_append_only",
        ),
    ),
)

NEWEST = MIGRATIONS[-1].number
