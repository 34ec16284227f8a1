"""Plain tables in and out of a room: said first, written whole, taken back as one."""

from __future__ import annotations

import os
import secrets
import shlex
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from nightround.desk.acts import IMPORT_MARK
from nightround.foundation.clock import RoomClock, machine_zone
from nightround.foundation.problem import Problem
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.journal.coding import body_text
from nightround.journal.entries import Draft, Entry, Ref, Written
from nightround.journal.kinds.animal import Measured, OfferSeen
from nightround.journal.kinds.knowledge import Renamed, TakenBack
from nightround.journal.tables import (
    DateOrder,
    RoomSettings,
    RowRefusal,
    TablesRead,
    read_pasted_list,
    read_tables,
    write_rejects,
    write_tables,
)
from nightround.record.corrections import standing_entries
from nightround.record.fold import fold

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.record.model import Record

__all__ = [
    "DateOrder",
    "ExportDone",
    "FileTaken",
    "ImportDone",
    "ImportRefused",
    "export_tables",
    "import_pasted",
    "import_tables",
    "settings_for",
    "take_in",
]


@dataclass(frozen=True)
class FileTaken:
    """One file of an import: its rows, and how many of them were refused."""

    file: str
    table: str
    rows: int
    refused: int


@dataclass(frozen=True)
class ImportDone:
    """What an import did, or (not `committed`) would do.

    act         what takes it back; '' when nothing was written
    new         entries written, or that would be
    already     rows whose entry is in the room already
    animals     animals that are new to the room by it
    kinds       entries by kind, the most frequent first
    refusals    every row that was refused, with what to do
    problems    what the record would show as contradicting itself that it does not show now
    rejects     the files that hold the refused rows
    forecasts   issued forecasts that came along, for the track record
    """

    committed: bool
    act: str
    files: tuple[FileTaken, ...]
    new: int
    already: int
    animals: int
    kinds: tuple[tuple[str, int], ...]
    refusals: tuple[RowRefusal, ...]
    problems: tuple[Problem, ...]
    rejects: tuple[Path, ...] = ()
    forecasts: int = 0

    @property
    def clean(self) -> bool:
        """Whether every row could be read."""
        return not self.refusals

    @property
    def rows(self) -> int:
        """How many rows there were."""
        return sum(file.rows for file in self.files)


@dataclass(frozen=True)
class ExportDone:
    """Where the tables are, and the rows of each."""

    directory: Path
    rows: tuple[tuple[str, int], ...]


class ImportRefused(Refusal):
    """Rows were refused, so nothing was written; `done` says which and why."""

    def __init__(self, done: ImportDone) -> None:
        self.done = done
        rows = len({(refusal.file, refusal.row) for refusal in done.refusals})
        super().__init__(
            "tables whose every row can be read",
            got=f"{rows} refused row{'' if rows == 1 else 's'} of {done.rows}; nothing was written",
            todo="Mend them and import again, or add --keep-good to write the others",
        )


def import_tables(
    desk: Desk,
    path: Path,
    *,
    commit: bool = False,
    keep_good: bool = False,
    rejects: Path | None = None,
    dates: DateOrder = "ask",
) -> ImportDone:
    """Take in a folder of plain tables, one file of them, or a pasted list in a file.

    rejects   the folder for the files of refused rows when good ones are kept; None: no such file
    dates     how a list's days such as 3/4/2026 are read
    Raises Refusal when nothing can be read, ImportRefused when rows were refused and none may be left out.
    """
    read = _read(path, desk.journal.clock, _known(desk.entries()), dates)
    return take_in(desk, read, commit=commit, keep_good=keep_good, rejects=rejects)


def import_pasted(
    desk: Desk,
    text: str,
    *,
    commit: bool = False,
    keep_good: bool = False,
    rejects: Path | None = None,
    dates: DateOrder = "ask",
) -> ImportDone:
    """Take in a pasted list (code, taxon, shelf, span, last moult) that describes today.

    Unlike a table it is answered, not refused, when a row cannot be read: nothing is written then.
    """
    read = read_pasted_list(text, desk.journal.clock, desk.today(), known=_known(desk.entries()), dates=dates)
    if commit and read.refusals and not keep_good:
        return take_in(desk, read, commit=False)
    return take_in(desk, read, commit=commit, keep_good=keep_good, rejects=rejects)


def take_in(
    desk: Desk, read: TablesRead, *, commit: bool, keep_good: bool = False, rejects: Path | None = None
) -> ImportDone:
    """Write what was read when that is wanted and may be; else rehearse it, and say what would happen."""
    entries, before = desk.entries(), desk.record()
    read, listed = _without_listed_before(read, entries)
    drafts = _again_after_taking_back(read.drafts, entries)
    clashes = _clashes(read, drafts, entries)
    if clashes:
        read = replace(read, refusals=(*read.refusals, *clashes))
        drafts = []
    act = IMPORT_MARK + secrets.token_hex(4)
    refused = bool(read.refusals) and (not keep_good or read.blocked or not drafts)
    if refused or not commit:
        written, fresh = desk.journal.rehearse(drafts, intention=act)
        after = fold([*entries, *fresh], before.on, desk.journal.clock) if fresh else before
        done = _told(read, written, fresh, before, after)
        done = replace(done, already=done.already + listed)
        if commit:
            raise ImportRefused(done)
        return done
    files = _write_rejects(read, rejects, act) if rejects is not None and read.refusals else ()
    written = desk.journal.append(drafts, intention=act, issued=read.issued)
    fresh = [entry for entry in desk.entries()[len(entries) :] if entry.belongs_to(act)]
    done = _told(read, written, fresh, before, desk.record(before.on))
    return replace(
        done,
        committed=True,
        act=act if written.numbers else "",
        already=done.already + listed,
        rejects=tuple(files),
    )


def export_tables(desk: Desk, directory: Path) -> ExportDone:
    """Write every entry into plain tables. Raises Refusal."""
    journal = desk.journal
    settings = RoomSettings(journal.name, journal.clock.zone_name, journal.clock.turns_at, journal.invented)
    rows = write_tables(desk.entries(), directory, journal.clock, settings, desk.issued())
    return ExportDone(directory, tuple(rows.items()))


def settings_for(path: Path | None, time_zone: str | None) -> RoomSettings:
    """Return the settings of a room to create: as told, else of the export, else of this machine."""
    from nightround.journal.tables.descriptor import read_settings

    told = read_settings(path) if path is not None and path.is_dir() else None
    settings = told or RoomSettings(time_zone=machine_zone())
    return replace(settings, time_zone=time_zone) if time_zone else settings


def _read(path: Path, clock: RoomClock, known: Collection[Ref], dates: DateOrder) -> TablesRead:
    try:
        read = read_tables(path, clock, known=known, dates=dates)
        if path.is_file() and (read.on is not None or not read.drafts):
            _refuse_logger(path)
        return read
    except NotReadable:
        _refuse_logger(path)
        raise
    except OSError as fault:
        raise Refusal(
            f"tables that can be read at {path}",
            got=fault.strerror or str(fault),
            todo="Check that the file is there and may be read",
        ) from fault


def _refuse_logger(path: Path) -> None:
    """Raise Refusal for a climate logger's file, which needs its place."""
    from nightround.desk.loggers import looks_like_logger

    if not path.is_file() or not looks_like_logger(path):
        return
    raise Refusal(
        "plain tables or a pasted list",
        got=f"{path.name}, which looks like a climate logger's file",
        todo=f'Say where it stood: nightround import {shlex.quote(str(path))} --logger --place "shelf B"',
    )


def _known(entries: Sequence[Entry]) -> set[Ref]:
    """Return the animals that any entry is about, by every code."""
    known = {entry.about for entry in entries if entry.about.kind == "animal"}
    renames = (entry for entry in entries if entry.kind == "renamed" and entry.about.kind == "animal")
    return known | {Ref("animal", entry.body.name) for entry in renames if isinstance(entry.body, Renamed)}


# -- rows that are there already ------------------------------------------------------------------------


def _without_listed_before(read: TablesRead, entries: Sequence[Entry]) -> tuple[TablesRead, int]:
    """Leave out the sizes of a list that were taken in from a list before, and say how many.

    A list's sizes are dated by the day it is pasted: the same list on another day measures nothing anew.
    """
    if read.on is None:
        return read, 0
    void = standing_entries(entries).void
    before = {
        (entry.about, body_text(entry.body))
        for entry in entries
        if entry.kind == "measured" and entry.intention.startswith(IMPORT_MARK) and entry.number not in void
    }
    kept = [
        (draft, origin)
        for draft, origin in zip(read.drafts, read.origins, strict=True)
        if not isinstance(draft.body, Measured) or (draft.about, body_text(draft.body)) not in before
    ]
    left = replace(read, drafts=tuple(d for d, _ in kept), origins=tuple(o for _, o in kept))
    return left, len(read.drafts) - len(kept)


def _again_after_taking_back(drafts: Sequence[Draft], entries: Sequence[Entry]) -> list[Draft]:
    """Give rows of an import that was taken back new keys, so that the import can be made again.

    A row that carries when it was written is a copy from a journal and keeps its key.
    """
    taken_back = {entry.body.intention for entry in entries if isinstance(entry.body, TakenBack)}
    if not taken_back:
        return list(drafts)
    void = standing_entries(entries).void
    gone = {
        entry.key
        for entry in entries
        if entry.number in void and any(entry.belongs_to(act) for act in taken_back)
    }
    again = []
    for draft in drafts:
        key = draft.key
        while draft.recorded is None and key in gone:
            key += "~"
        again.append(draft if key == draft.key else draft.with_key(key))
    return again


def _clashes(read: TablesRead, drafts: Sequence[Draft], entries: Sequence[Entry]) -> list[RowRefusal]:
    """Return a refusal for every row whose key belongs to an entry of other content."""
    by_key = {entry.key: entry for entry in entries}
    clashes = []
    for draft, origin in zip(drafts, read.origins, strict=True):
        entry = by_key.get(draft.key)
        if entry is None or _content(entry) == _content(draft):
            continue
        clashes.append(
            RowRefusal(
                origin.file,
                origin.row,
                "key",
                repr(draft.key),
                f"what entry {entry.number} says, as it has this key",
                f"Empty the key and the number here, and write {entry.number} under corrects, "
                "if this row is to replace that entry",
            )
        )
    return clashes


def _content(said: Draft | Entry) -> tuple[object, ...]:
    body = said.body
    offer = isinstance(body, OfferSeen)
    # An offer's number may differ between rooms; the store compares what it resolves to.
    return (
        said.about,
        said.when.text(),
        (body.outcome, body.note) if isinstance(body, OfferSeen) else body,
        offer,
    )


# -- what is said ------------------------------------------------------------------------------------------


def _told(
    read: TablesRead, written: Written, fresh: Sequence[Entry], before: Record, after: Record
) -> ImportDone:
    known = set(_problems(before))
    kinds = Counter(entry.kind for entry in fresh)
    return ImportDone(
        committed=False,
        act="",
        files=tuple(FileTaken(file.file, file.table, file.rows, len(file.refused)) for file in read.files),
        new=len(written.numbers),
        already=len(written.already),
        animals=len(set(after.animals) - set(before.animals)),
        kinds=tuple(kinds.most_common()),
        refusals=read.refusals,
        problems=tuple(problem for problem in _problems(after) if problem not in known),
        forecasts=len(read.issued),
    )


def _problems(record: Record) -> tuple[Problem, ...]:
    """Return the record's contradictions, and overruled rules that cannot be read."""
    from nightround.plans.rules import RuleBook

    return (*record.problems, *RuleBook(record).problems)


def _write_rejects(read: TablesRead, folder: Path, act: str) -> Sequence[Path]:
    """Write the refused rows; a rejects file that is there already is somebody's work and stays."""
    there = [file.name for file in folder.glob("*.rejects.csv")] if folder.is_dir() else []
    target = folder / f"rejects-{act}" if there else folder
    try:
        written = write_rejects(read, target)
        for path in written:
            with path.open("rb") as file:
                os.fsync(file.fileno())
    except OSError as fault:
        raise Refusal(
            f"to write the refused rows into {target}",
            got=f"{fault.strerror or fault}; nothing was written into the room",
            todo="Name another folder with --rejects",
        ) from fault
    return written
