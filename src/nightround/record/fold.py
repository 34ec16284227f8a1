"""Fold the journal's entries into what was true of the room at the close of a day."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from operator import attrgetter
from types import MappingProxyType
from typing import cast

from nightround.foundation.clock import RoomClock
from nightround.foundation.collector import collector_paused
from nightround.foundation.problem import Problem
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import SubjectKind
from nightround.journal.kinds.animal import Measured
from nightround.record.about_animals import Handler
from nightround.record.about_surroundings import HANDLERS
from nightround.record.builders import AnimalBuilder, Builder, RoomBuilder
from nightround.record.climate_problems import climate_problems
from nightround.record.corrections import standing_entries
from nightround.record.freeze import freeze_rules, freeze_supplies, freeze_views, freeze_winterings
from nightround.record.looks import LOOK_RULES, shed_skin
from nightround.record.model import Record
from nightround.record.names import ANNOUNCES, Names, names_of, taxon_names
from nightround.record.offers import settle_waiting
from nightround.record.order import in_order_of_time, known_entries
from nightround.record.problems import AFTER_END, calendar_problems, record_problems


def fold(entries: Iterable[Entry], on: date, clock: RoomClock) -> Record:
    """Return what is true at the close of the room-local day `on`, by the entries that are known then.

    entries   all entries of the journal, in any order
    Known are the entries whose `when` ends by the close of `on`, whenever they were written, with corrections
    applied for every day; entries of unknown date; and `expected` climate. Contradictions become problems.
    """
    written = _by_number(entries)
    with collector_paused():
        standing = standing_entries(written)
        known = known_entries(written, standing, on)
        ordered = in_order_of_time(known, standing)
        problems = list(standing.problems)
        room = RoomBuilder(on, clock, _names(ordered, problems), standing)
        room.problems = problems
        _apply(room, ordered)
        settle_waiting(room)
        record = _record(room, known)
        not_void = (entry for entry in written if entry.number not in standing.void)
        problems += calendar_problems(record, not_void, ordered)
        problems += record_problems(record, room)
        problems += climate_problems(record)
    return replace(record, problems=tuple(sorted(set(problems))))


def _record(room: RoomBuilder, known: list[Entry]) -> Record:
    animals, batches, homes, places, lots, taxa = freeze_views(room)
    entries = {entry.number: entry for entry in known}
    return Record(
        on=room.on,
        clock=room.clock,
        animals=MappingProxyType(animals),
        batches=MappingProxyType(batches),
        homes=MappingProxyType(homes),
        places=MappingProxyType(places),
        lots=MappingProxyType(lots),
        taxa=MappingProxyType(taxa),
        supplies=freeze_supplies(room),
        rules=freeze_rules(room),
        winterings=freeze_winterings(room),
        entries=MappingProxyType(entries),
        last_number=next(reversed(entries), 0),
        last_recorded=max(map(attrgetter("recorded"), known), default=None),
    )


_number = attrgetter("number")


def _by_number(entries: Iterable[Entry]) -> Sequence[Entry]:
    listed = entries if isinstance(entries, list) else list(entries)
    numbers = list(map(_number, listed))
    return listed if numbers == sorted(numbers) else sorted(listed, key=_number)


def _names(ordered: list[Entry], problems: list[Problem]) -> dict[SubjectKind, Names]:
    renames: dict[str, list[Entry]] = {}
    announced: dict[str, list[Entry]] = {}
    described: list[Entry] = []
    for entry in ordered:
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


def _apply(room: RoomBuilder, ordered: list[Entry]) -> None:
    """Run every entry through the handler of its kind."""
    targets: dict[Ref, _Target] = {}
    for entry in ordered:
        about = entry.about
        target = targets.get(about) or _target(room, targets, entry)
        builder, note, handlers, animal = target
        note(entry.number)
        kind = entry.kind
        if animal is not None:
            if animal.ended_by is not None:
                _after_end(animal, entry)
            if kind in LOOK_RULES:
                _look(animal, entry)
        handler = handlers.get(kind)
        if handler is not None:
            handler(room, builder, entry, entry.body)


_Target = tuple[Builder, Callable[[int], None], dict[str, Handler], AnimalBuilder | None]


def _target(room: RoomBuilder, targets: dict[Ref, _Target], entry: Entry) -> _Target:
    """Return what the entry is about; a code that means the same thing every day is looked up once."""
    about = entry.about
    builder: Builder = room.of(about, entry.when.last)
    animal = builder if isinstance(builder, AnimalBuilder) else None
    target = (builder, builder.numbers.append, HANDLERS[about.kind], animal)
    names = room.names.get(about.kind)
    if names is None or names.fixed(about.code):
        targets[about] = target
    return target


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
