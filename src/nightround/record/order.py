"""Which entries are known as of a day, and in which order they take effect."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from nightround.journal.entries import Entry
from nightround.record.corrections import Standing

FIRST_OF_DAY = frozenset(
    {"arrived", "hatched", "batch_begun", "made_up", "place_set_up", "lot_begun", "named", "renamed"}
)
"""What begins a thing comes before whatever else happened to it on that day, however it was written."""
LAST_OF_DAY = frozenset({"died", "left"})
"""What ends a thing comes after whatever else happened to it on that day; with no day, after everything."""

_PHASE: dict[str, int] = {**dict.fromkeys(FIRST_OF_DAY, 0), **dict.fromkeys(LAST_OF_DAY, 2)}
_AFTER_ALL = date.max.toordinal() * 3


def known_entries(entries: Iterable[Entry], standing: Standing, on: date) -> list[Entry]:
    """Return the standing entries known at the close of day `on`, in the order given.

    Known is what ended by then, what has no date, and every `expected` climate.
    """
    void = standing.void
    known = [
        entry
        for entry in entries
        if (last := entry.when.last) is None or last <= on or entry.kind == "expected"
    ]
    return [entry for entry in known if entry.number not in void] if void else known


def in_order_of_time(known: Iterable[Entry], standing: Standing) -> list[Entry]:
    """Return the entries (ascending by number) in the order in which they take effect.

    Unknown dates come first. Within a day the order is that of writing (a correction takes the place of what
    it corrects), save that beginnings come first and ends last, and that known instants keep their order.
    """
    root = standing.root
    if root:
        known = sorted(known, key=lambda entry: root.get(entry.number, entry.number))
    return _by_instant(sorted(known, key=_rank))


def _rank(entry: Entry) -> int:
    """An end of unknown day comes after everything, anything else of unknown day before."""
    last = entry.when.last
    phase = _PHASE.get(entry.kind, 1)
    if last is None:
        return _AFTER_ALL if phase == 2 else phase
    return last.toordinal() * 3 + phase


def _by_instant(known: list[Entry]) -> list[Entry]:
    """Put entries of one day whose instants are known in their order, leaving the others where they are."""
    timed = [
        (instant, place)
        for place, entry in enumerate(known)
        if (instant := entry.when.instant) is not None and entry.kind not in _PHASE
    ]
    disordered = {
        known[place].when.last
        for (before, earlier), (instant, place) in zip(timed, timed[1:], strict=False)
        if instant < before and known[place].when.last == known[earlier].when.last
    }
    slots: dict[date | None, list[tuple[datetime, int]]] = {}
    for instant, place in timed if disordered else ():
        day = known[place].when.last
        if day in disordered:
            slots.setdefault(day, []).append((instant, place))
    for found in slots.values():
        ordered = [known[place] for _, place in sorted(found)]
        for (_, place), entry in zip(found, ordered, strict=True):
            known[place] = entry
    return known
