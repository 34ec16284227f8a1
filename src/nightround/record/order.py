"""Which entries are known as of a day, and in which order they take effect."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from nightround.journal.entries import Entry
from nightround.record.corrections import Standing

FIRST_OF_DAY = frozenset(
    {"arrived", "hatched", "batch_begun", "made_up", "place_set_up", "lot_begun", "named", "renamed"}
)
"""What begins a thing comes before whatever else happened to it on that day, however it was written."""
LAST_OF_DAY = frozenset({"died", "left"})
"""What ends a thing comes after whatever else happened to it on that day; with no day, after everything."""

_PHASE: dict[str, int] = {**dict.fromkeys(FIRST_OF_DAY, 0), **dict.fromkeys(LAST_OF_DAY, 2)}
_NEVER_KNOWN_DAY = date.max.toordinal()


def known_entries(entries: Iterable[Entry], standing: Standing, on: date) -> list[Entry]:
    """Return the standing entries known at the close of day `on`, in order of time.

    Known is what ended by then, what has no date, and every `expected` climate. Unknown dates come first.
    """
    void = standing.void
    known = [
        entry
        for entry in entries
        if ((last := entry.when.last) is None or last <= on or entry.kind == "expected")
        and entry.number not in void
    ]
    root = standing.root
    known.sort(key=lambda entry: _key(entry, root))
    return _by_instant(known)


def _key(entry: Entry, root: Mapping[int, int]) -> tuple[int, int, int]:
    phase = _PHASE.get(entry.kind, 1)
    last = entry.when.last
    day = last.toordinal() if last is not None else (_NEVER_KNOWN_DAY if phase == 2 else 0)
    number = entry.number
    return day, phase, root.get(number, number) if root else number


def _instant(entry: Entry) -> float:
    return entry.when.instant.timestamp() if entry.when.instant is not None else 0.0


def _by_instant(known: list[Entry]) -> list[Entry]:
    """Put entries of one day whose instants are known in their order, leaving the others where they are."""
    disordered: set[date | None] = set()
    before = None
    for entry in known:
        instant = entry.when.instant
        if instant is None:
            continue
        if before is not None and instant < before and entry.kind not in LAST_OF_DAY:
            disordered.add(entry.when.last)
        before = instant
    if not disordered:
        return known
    slots: dict[date | None, list[int]] = {}
    for place, entry in enumerate(known):
        if entry.when.last in disordered and entry.when.instant is not None and entry.kind not in _PHASE:
            slots.setdefault(entry.when.last, []).append(place)
    for places in slots.values():
        ordered = sorted((known[place] for place in places), key=_instant)
        for place, entry in zip(places, ordered, strict=True):
            known[place] = entry
    return known
