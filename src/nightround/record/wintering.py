"""Which days of an animal's life were wintering, by what the keeper said; what nobody said stays unknown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from nightround.record.model import Animal, Record, Wintering

DAY = timedelta(days=1)
BEFORE_IT_BEGAN = timedelta(days=183)
"""That wintering began says that there was none before, for half a year at most: the last one is not told."""

Span = tuple[date, date, bool]


def wintered(record: Record, animal: Animal, stays: Iterable[tuple[str, date, date]]) -> tuple[Span, ...]:
    """Return (first day, last day, wintering or not) in order of time, up to the record's day.

    stays   (place, first day, last day), as in its history
    What is said of the animal itself goes before what is said of its place, and that before the room's.
    Days of which nothing is said are in no span: they are unknown, never days without wintering.
    """
    if not record.winterings:
        return ()
    of_room = _spans(_about(record, "room", {""}), record.on)
    of_places = [
        span
        for place, first, last in stays
        if place
        for span in _within(_spans(_about(record, "place", {place}), record.on), first, last)
    ]
    known_from = min((first for _, first, _ in stays), default=None)
    own = _spans(_about(record, "animal", {animal.code, *animal.codes}), record.on)
    here = _within(of_room, known_from, record.on) if known_from is not None else []
    return tuple(_laid_over(_laid_over(here, of_places), own))


def _about(record: Record, kind: str, codes: set[str]) -> list[Wintering]:
    return [told for told in record.winterings if told.about.kind == kind and told.about.code in codes]


def _spans(told: list[Wintering], on: date) -> list[Span]:
    """Spans of one subject's words: each holds until the next one, the last until the record's day."""
    spans: list[Span] = []
    for at, word in enumerate(told):
        # The day on which wintering ends was still one of it.
        first = word.day if word.begins else word.day + DAY
        if word.begins and at == 0:
            spans.append((first - BEFORE_IT_BEGAN, first - DAY, False))
        following = told[at + 1] if at + 1 < len(told) else None
        last = on if following is None else following.day - DAY if following.begins else following.day
        if first <= last:
            spans.append((first, last, word.begins))
    return spans


def _within(spans: Iterable[Span], first: date, last: date) -> Iterator[Span]:
    for begun, ended, state in spans:
        if begun <= last and ended >= first:
            yield max(begun, first), min(ended, last), state


def _laid_over(under: Iterable[Span], over: Iterable[Span]) -> list[Span]:
    """The spans of `over`, and those of `under` where `over` says nothing."""
    above = sorted(over)
    found = list(above)
    for first, last, state in under:
        begun = first
        for taken, until, _ in above:
            if until < begun or taken > last:
                continue
            if taken > begun:
                found.append((begun, taken - DAY, state))
            begun = until + DAY
        if begun <= last:
            found.append((begun, last, state))
    return sorted(found)
