"""The journal's store: append-only, one act one transaction, sound after anything."""

from __future__ import annotations

import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from nightround.foundation import clock
from nightround.foundation.refusal import NotReadable, RoomRefusal
from nightround.foundation.when import UNKNOWN, at, between, on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds import KINDS
from nightround.journal.kinds.animal import Arrived, Moulted, Noted, Offered, OfferSeen
from nightround.journal.kinds.knowledge import Struck
from nightround.journal.kinds.surroundings import Reading
from nightround.journal.store import Journal

K1 = Ref("animal", "K1")
DAY = on_day(date(2026, 3, 1))


@pytest.fixture
def room(tmp_path: Path) -> str:
    return str(tmp_path / "room.nightround")


@pytest.fixture
def journal(room):
    with Journal.create(room, time_zone="Europe/Lisbon", name="Spare room") as made:
        yield made


def test_what_is_written_is_read_back(journal):
    """Every part of an entry survives: an interval, an instant, an unknown day, body, device, correction."""
    instant = at(datetime(2026, 3, 2, 1, 30, tzinfo=UTC), journal.clock)
    drafts = [
        Draft(K1, UNKNOWN, Arrived(taxon="Invented alpha", origin="unknown"), key="a"),
        Draft(
            K1,
            between(date(2026, 2, 1), date(2026, 2, 9)),
            Moulted(exuvia="kept", note="im Netz · ½"),
            key="b",
        ),
        Draft(Ref("place", "shelf B"), instant, Reading(temperature_c=19.5, humidity_percent=60.0), key="c"),
        Draft(K1, DAY, Struck(why="wrong animal"), corrects=-2, key="d"),
    ]
    with clock.fixed(datetime(2026, 3, 2, 9, 0, tzinfo=UTC)):
        written = journal.append(drafts, device="phone")
    entries = journal.entries()
    assert (1, 2, 3, 4) == written.numbers == tuple(entry.number for entry in entries)
    assert [(d.about, d.when, d.body, d.key) for d in drafts] == [
        (e.about, e.when, e.body, e.key) for e in entries
    ]
    assert [None, None, None, 2] == [entry.corrects for entry in entries]
    assert {("phone", datetime(2026, 3, 2, 9, 0, tzinfo=UTC))} == {(e.device, e.recorded) for e in entries}
    assert date(2026, 3, 1) == entries[2].when.last  # 01:30 belongs to the evening before


def test_a_second_tap_writes_nothing(journal):
    """The same key with the same content is the same entry."""
    draft = Draft(K1, DAY, Offered(prey="cricket", number=1), key="tap-1")
    first, second = journal.append([draft]), journal.append([draft])
    assert ((1,), ()) == (first.numbers, first.already)
    assert ((), (1,)) == (second.numbers, second.already)
    assert 1 == journal.last_number()


def test_the_same_key_with_other_content_is_refused(journal):
    """A key is spent once: other content under it is refused and nothing of the act is written."""
    journal.append([Draft(K1, DAY, Offered(prey="cricket"), key="tap-1")])
    with pytest.raises(RoomRefusal, match="correction"):
        journal.append(
            [Draft(K1, DAY, Noted(note="new")), Draft(K1, DAY, Offered(prey="roach"), key="tap-1")]
        )
    assert 1 == journal.last_number()


def test_an_act_is_all_or_nothing(journal):
    """A reference to nothing refuses the whole act."""
    with pytest.raises(NotReadable, match="number"):
        journal.append(
            [Draft(K1, DAY, Noted(note="one")), Draft(K1, DAY, OfferSeen(outcome="taken", offer=99))]
        )
    assert [] == journal.entries()


def test_an_outcome_may_name_an_offer_of_the_same_act(journal):
    """−1 names the first draft of the act, and becomes its number."""
    journal.append([Draft(K1, DAY, Noted(note="before"))])
    journal.append(
        [Draft(K1, DAY, Offered(prey="cricket")), Draft(K1, DAY, OfferSeen(outcome="taken", offer=-1))]
    )
    assert 2 == journal.entries()[-1].body.offer


def test_an_entry_about_the_wrong_thing_is_refused():
    """A moult is an animal's, not a shelf's."""
    with pytest.raises(NotReadable, match="animal"):
        Draft(Ref("place", "shelf B"), DAY, Moulted())
    with pytest.raises(NotReadable, match="code"):
        Draft(Ref("animal", " "), DAY, Moulted())
    assert Draft(ROOM, DAY, Noted(note="room")).about == ROOM


@pytest.mark.parametrize(
    "when", [on_day(date(226, 3, 1)), between(date(1, 1, 1), DAY.last), on_day(date.max)]
)
def test_a_day_off_the_calendars_ends_never_gets_in(when):
    """By whatever door it comes, a slip such as 0226 is refused before it is written for ever."""
    with pytest.raises(NotReadable, match="a day from 1000 to 2999"):
        Draft(K1, when, Moulted())


FORBIDDEN = [
    "UPDATE entry SET about = 'K2' WHERE number = 1",
    "UPDATE OR REPLACE entry SET number = 2 WHERE number = 1",
    "DELETE FROM entry WHERE number = 1",
    "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE number = 1",
    "REPLACE INTO entry SELECT 77, kind, version, about_kind, about, happened, first_day, last_day,"
    " body, recorded, device, key, corrects, intention FROM entry WHERE number = 1",
    "INSERT INTO entry SELECT * FROM entry WHERE number = 1 ON CONFLICT (number) DO UPDATE SET about = 'K2'",
    "UPDATE setting SET value = 'UTC' WHERE name = 'time_zone'",
    "REPLACE INTO setting VALUES ('time_zone', 'UTC')",
    "DELETE FROM setting",
]


@pytest.mark.parametrize("statement", FORBIDDEN)
@pytest.mark.parametrize("recursive", [0, 1])
def test_the_database_itself_refuses_to_change_an_entry(journal, room, statement, recursive):
    """A foreign connection with default pragmas cannot change, delete or replace what is written."""
    journal.append([Draft(K1, DAY, Offered(prey="cricket"), key="tap-1")])
    before = journal.entries()
    connection = sqlite3.connect(room)
    connection.execute(f"PRAGMA recursive_triggers = {recursive}")
    with pytest.raises(sqlite3.IntegrityError, match="never changed"):
        connection.execute(statement)
    connection.close()
    assert before == journal.entries()


def test_verify_finds_a_tampered_room(journal, room):
    """With its guards dropped and a row edited by hand, the room is not sound, and the entry is named."""
    journal.append([Draft(K1, DAY, Offered(prey="cricket")), Draft(K1, DAY, Moulted())])
    assert journal.verify().clean
    connection = sqlite3.connect(room)
    connection.execute("DROP TRIGGER entry_no_update")
    connection.execute("""UPDATE entry SET body = '{"prey": 7}' WHERE number = 1""")
    connection.execute("UPDATE entry SET happened = '2026-04-01' WHERE number = 2")
    connection.commit()
    connection.close()
    faults = journal.verify().faults
    assert 3 == len(faults)
    assert "entry_no_update" in faults[0]
    assert faults[1].startswith("entry 1:")
    assert faults[2].startswith("entry 2:")


def test_a_missing_room_says_what_to_do(room):
    """Opening nothing does not create anything."""
    with pytest.raises(RoomRefusal, match="nightround start"):
        Journal.open(room)
    assert not Path(room).exists()


def test_a_room_is_never_overwritten(journal, room):
    """Creating a room where one is, is refused."""
    with pytest.raises(RoomRefusal, match="already"):
        Journal.create(room, time_zone="UTC")


def test_a_foreign_database_is_refused(tmp_path):
    """A database that holds something else is not touched."""
    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE recipe (name TEXT)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    with pytest.raises(RoomRefusal, match="another program"):
        Journal.open(str(path))
    assert before == path.read_bytes()
    path.write_text("not a database at all, but long enough to be looked at as one" * 20)
    with pytest.raises(RoomRefusal, match="another kind"):
        Journal.open(str(path))


def test_a_room_from_the_future_is_refused(journal, room):
    """A schema newer than this program is not opened."""
    connection = sqlite3.connect(room)
    connection.execute("INSERT INTO migration VALUES (999, 'later', '2030-01-01')")
    connection.commit()
    connection.close()
    with pytest.raises(RoomRefusal, match="newer"):
        Journal.open(room)


def test_the_file_is_durable_and_strict(journal, room):
    """WAL, full synchronisation and STRICT tables are on (sqlite.org: pragma.html, stricttables.html)."""
    with journal._engine.connect() as connection:
        pragmas = [connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in
                   ("journal_mode", "synchronous", "foreign_keys")]  # fmt: skip
        sql = connection.exec_driver_sql("SELECT sql FROM sqlite_master WHERE name = 'entry'").scalar()
    assert ["wal", 2, 1] == pragmas
    assert sql.rstrip().endswith("STRICT")


def test_only_new_entries_are_read(journal):
    """`entries(after)` gives what was written since."""
    journal.append([Draft(K1, DAY, Noted(note=str(count))) for count in range(5)])
    assert [4, 5] == [entry.number for entry in journal.entries(3)]


def test_every_kind_has_a_default_body_that_survives():
    """Each kind's body type is known under one name, and no two kinds share one."""
    assert len(KINDS) == len({kind.body for kind in KINDS.values()})


def test_a_folder_is_no_room(tmp_path: Path) -> None:
    """A folder's name is a slip: the refusal says what to name, and does not send round in a circle."""
    with pytest.raises(RoomRefusal, match=r"got a folder. Name a file in it"):
        Journal.open(tmp_path)
