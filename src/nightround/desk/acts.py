"""Acts upon earlier acts: strike, undo, take an import back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nightround.foundation.refusal import NoSuchThing
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Entry
from nightround.journal.kinds.knowledge import Struck, TakenBack

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

_MANY = 60

IMPORT_MARK = "import-"
"""How the act of an import is named, so that it is undone as one."""


def strike_draft(desk: Desk, entry: Entry, why: str, key: str = "") -> Draft:
    """Return the draft that strikes one entry."""
    return Draft(entry.about, on_day(desk.today()), Struck(why=why), corrects=entry.number, key=key)


def undo_drafts(desk: Desk, intention: str, key: str = "") -> list[Draft]:
    """Return the drafts that undo one act: strikes, or one taking-back for a large one.

    key   makes a second tap harmless: nothing is written while nothing of the act stands
    """
    entries = entries_of_act(desk, intention)
    if key:
        if not _stands(desk, entries):
            return []
        key = f"{key}:{_times_undone(desk, intention, entries)}"
    if len(entries) > _MANY or intention.startswith(IMPORT_MARK):
        return [take_back_draft(desk, intention, key)]
    return [
        strike_draft(desk, entry, "undone", f"{key}:{entry.number}" if key else "")
        for entry in reversed(entries)
    ]


def _stands(desk: Desk, entries: list[Entry]) -> bool:
    """Whether anything stands of what an act wrote; of an act of strikes alone that is not asked."""
    from nightround.record.corrections import CONTROL_KINDS, standing_entries

    void = standing_entries(desk.entries()).void
    said = [entry.number for entry in entries if entry.kind not in CONTROL_KINDS]
    return not said or any(number not in void for number in said)


def _times_undone(desk: Desk, intention: str, entries: list[Entry]) -> int:
    """An act that was brought back can be undone again, under another key."""
    numbers = {entry.number for entry in entries}
    return sum(
        entry.body.intention == intention if isinstance(entry.body, TakenBack) else entry.corrects in numbers
        for entry in desk.entries()
        if isinstance(entry.body, Struck | TakenBack)
    )


def take_back_draft(desk: Desk, intention: str, key: str = "") -> Draft:
    """Return the draft that voids a whole act."""
    entries_of_act(desk, intention)
    body = TakenBack(intention=intention, why="taken back")
    return Draft(ROOM, on_day(desk.today()), body, key=key)


def entries_of_act(desk: Desk, intention: str) -> list[Entry]:
    """Return what one act wrote. Raises NoSuchThing."""
    entries = [entry for entry in desk.entries() if entry.belongs_to(intention)]
    if not entries:
        raise NoSuchThing(
            "an act of this room to undo", got=repr(intention), todo="Look it up in the journal"
        )
    return entries


def standing_of_act(desk: Desk, intention: str) -> int:
    """Return how many of the entries that one act wrote still stand; strikes and the like all count.

    Raises NoSuchThing.
    """
    from nightround.record.corrections import CONTROL_KINDS, standing_entries

    void = standing_entries(desk.entries()).void
    mine = entries_of_act(desk, intention)
    return sum(entry.kind in CONTROL_KINDS or entry.number not in void for entry in mine)
