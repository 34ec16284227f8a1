"""Export and import again: nothing changes, nothing doubles, nothing is lost."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.clock import RoomClock
from nightround.journal.entries import Draft, Entry
from nightround.journal.kinds import KINDS
from nightround.journal.kinds.animal import OfferSeen
from nightround.journal.store import Journal
from nightround.journal.tables import read_tables, write_tables
from nightround.journal.tables.cells import join_detail, join_list, split_detail, split_list
from strategies import clocks, codes, entries, journals


def numbered(drafts: Sequence[Draft]) -> list[Entry]:
    """What an empty room makes of drafts: numbers from 1, references of −k resolved."""
    made = []
    for number, draft in enumerate(drafts, start=1):
        body = draft.body
        if isinstance(body, OfferSeen) and body.offer is not None:
            body = msgspec.structs.replace(body, offer=-body.offer)
        assert draft.recorded is not None
        made.append(
            Entry(number, draft.kind.name, draft.about, draft.when, body, draft.recorded, draft.device,
                  draft.key, None if draft.corrects is None else -draft.corrects, draft.intention,
                  draft.kind.version)
        )  # fmt: skip
    return made


def through_tables(clock: RoomClock, journal: Sequence[Entry]) -> list[Entry]:
    """Write entries as tables (without waiting for the disk), read them back, and number them anew."""
    with TemporaryDirectory() as folder, patch("os.fsync"):
        write_tables(journal, Path(folder) / "tables", clock)
        read = read_tables(Path(folder) / "tables", clock)
    assert [] == [str(refusal) for refusal in read.refusals]
    return numbered(read.drafts)


@given(journals())
@settings(max_examples=100)
def test_import_of_export_is_the_same_journal(journal: tuple[RoomClock, list[Entry]]) -> None:
    """import(export(x)) == x: kinds, subjects, moments, bodies, corrections, times of writing, keys, acts."""
    clock, written = journal
    assert written == through_tables(clock, written)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_survives(kind: str) -> None:
    """Each kind of entry by itself comes back as it was."""

    @given(clocks.flatmap(lambda clock: st.tuples(st.just(clock), entries(1, clock, (kind,)))))
    @settings(max_examples=10)
    def check(room: tuple[RoomClock, Entry]) -> None:
        clock, entry = room
        assert [entry] == through_tables(clock, [entry])

    check()


@given(st.dictionaries(codes.map(lambda c: c.lower().strip()).filter(bool), st.text()))
def test_detail_is_read_back(detail: dict[str, str]) -> None:
    """A detail cell gives back its keys and values, whatever characters they hold."""
    plain = {key.replace("=", "").replace(";", "").replace("\\", ""): value for key, value in detail.items()}
    plain = {key.strip().lower(): value for key, value in plain.items() if key.strip()}
    assert plain == split_detail(join_detail(plain))


@given(st.lists(st.text(min_size=1)).map(tuple))
def test_lists_are_read_back(names: tuple[str, ...]) -> None:
    """A list cell gives back its names."""
    assert names == split_list(join_list(names))


def plain(entry: Entry) -> tuple[object, ...]:
    """What must be the same in another room: everything but the importing act."""
    return (entry.number, entry.kind, entry.about, entry.when, entry.body, entry.recorded, entry.device,
            entry.key, entry.corrects, entry.version)  # fmt: skip


@given(journals(max_size=8))
@settings(max_examples=12)
def test_two_rooms_with_a_store(journal: tuple[RoomClock, list[Entry]]) -> None:
    """Through real rooms: the second room equals the first, importing again adds nothing, acts stay known."""
    clock, written = journal
    with (
        TemporaryDirectory() as folder,
        _room(folder, "first", clock) as first,
        _room(folder, "second", clock) as second,
    ):
        first.append([_draft(entry) for entry in written], intention="first")
        write_tables(first.entries(), Path(folder) / "tables", clock)
        read = read_tables(Path(folder) / "tables", clock)
        assert len(written) == len(second.append(read.drafts, intention="import").numbers)
        assert [plain(entry) for entry in first.entries()] == [plain(entry) for entry in second.entries()]
        assert all(entry.belongs_to("first") and entry.belongs_to("import") for entry in second.entries())
        assert () == second.append(read.drafts).numbers
        assert () == first.append(read.drafts).numbers
        assert second.verify().clean


def _room(folder: str, name: str, clock: RoomClock) -> Journal:
    return Journal.create(Path(folder) / name, time_zone=clock.zone_name, turns_at=clock.turns_at)


def _draft(entry: Entry) -> Draft:
    return Draft(entry.about, entry.when, entry.body, entry.corrects, entry.key, entry.device, entry.recorded)
