"""Fold the journal's entries into what was true of the room at the close of a day."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import cast

from nightround.foundation.clock import RoomClock
from nightround.foundation.problem import Problem
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import SubjectKind
from nightround.journal.kinds.animal import Measured
from nightround.record.about_surroundings import HANDLERS
from nightround.record.builders import AnimalBuilder, Builder, RoomBuilder
from nightround.record.corrections import standing_entries
from nightround.record.freeze import freeze_rules, freeze_views
from nightround.record.looks import LOOK_RULES, shed_skin
from nightround.record.model import Record
from nightround.record.names import ANNOUNCES, Names, names_of, taxon_names
from nightround.record.offers import settle_waiting
from nightround.record.order import known_entries
from nightround.record.problems import AFTER_END, calendar_problems, record_problems


def fold(entries: Iterable[Entry], on: date, clock: RoomClock) -> Record:
    """Return what is true at the close of the room-local day `on`, by the entries that are known then.

    entries   all entries of the journal, in any order
    Known are the entries whose `when` ends by the close of `on`, whenever they were written, with corrections
    applied for every day; entries of unknown date; and `expected` climate. Contradictions become problems.
    """
    written = _by_number(entries)
    with _collector_paused():
        standing = standing_entries(written)
        known = known_entries(written, standing, on)
        problems = list(standing.problems)
        room = RoomBuilder(on, clock, _names(known, problems))
        room.root = dict(standing.root)
        room.problems = problems
        _apply(room, known)
        settle_waiting(room)
        views = freeze_views(room)
        record = Record(
            on, clock, *(MappingProxyType(view) for view in views), freeze_rules(room), (),
            MappingProxyType({entry.number: entry for entry in sorted(known, key=_number)}),
            max((entry.number for entry in known), default=0),
            max((entry.recorded for entry in known), default=None),
        )  # fmt: skip
        late = (entry for entry in written if entry.number not in standing.void)
        found = (*room.problems, *calendar_problems(record, late, known), *record_problems(record, room))
    return _with_problems(record, found)


def _number(entry: Entry) -> int:
    return entry.number


def _by_number(entries: Iterable[Entry]) -> Sequence[Entry]:
    listed = entries if isinstance(entries, list) else list(entries)
    ascending = all(a.number < b.number for a, b in zip(listed, listed[1:], strict=False))
    return listed if ascending else sorted(listed, key=_number)


@contextmanager
def _collector_paused() -> Iterator[None]:
    """The fold makes no cycles; hundreds of thousands of small objects would only be counted in vain."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _names(known: list[Entry], problems: list[Problem]) -> dict[SubjectKind, Names]:
    renames: dict[str, list[Entry]] = {}
    announced: dict[str, list[Entry]] = {}
    described: list[Entry] = []
    for entry in known:
        kind = entry.kind
        if kind == "renamed":
            renames.setdefault(entry.about.kind, []).append(entry)
        elif kind == "named":
            described.append(entry)
        elif kind in _ANNOUNCING:
            announced.setdefault(entry.about.kind, []).append(entry)
    names: dict[SubjectKind, Names] = {
        subject: names_of(subject, renames.get(subject, []), announced.get(subject, []), problems)
        for subject in ("animal", "home", "place")
    }
    names["taxon"] = taxon_names(renames.get("taxon", []), described, problems)
    return names


_ANNOUNCING = frozenset().union(*ANNOUNCES.values())


def _apply(room: RoomBuilder, known: list[Entry]) -> None:
    """Run every entry through the handler of its kind, in order of time."""
    builders: dict[Ref, Builder] = {}
    for entry in known:
        about = entry.about
        builder = builders.get(about)
        if builder is None:
            builder = room.of(about, entry.when.last)
            names = room.names.get(about.kind)
            if names is None or names.fixed(about.code):
                builders[about] = builder
        builder.numbers.append(entry.number)
        handler = HANDLERS[about.kind].get(entry.kind)
        if about.kind == "animal":
            animal = cast(AnimalBuilder, builder)
            if animal.ended_by is not None:
                _after_end(animal, entry)
            if entry.kind in LOOK_RULES:
                _look(animal, entry)
        if handler is not None:
            handler(room, builder, entry)


def _look(animal: AnimalBuilder, entry: Entry) -> None:
    """Note looks and signs of life."""
    rule = LOOK_RULES[entry.kind]
    day = entry.when.last if rule.late else entry.when.first
    if day is None:
        return
    if rule.look(entry.body):
        animal.looked(day)
    if rule.life(entry.body):
        animal.lived(day)


def _after_end(animal: AnimalBuilder, entry: Entry) -> None:
    """Note an entry about an animal that had died, left or escaped by then."""
    ended = animal.ended
    if ended is None or ended.last is None or entry.when.first is None or entry.when.first <= ended.last:
        return
    if entry.kind not in AFTER_END[animal.status] and not (
        entry.kind == "measured" and shed_skin(cast(Measured, entry.body))
    ):
        animal.after_end.append((animal.status, ended, entry))


def _with_problems(record: Record, found: Sequence[Problem]) -> Record:
    return replace(record, problems=tuple(sorted(set(found))))
