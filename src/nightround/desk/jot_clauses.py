"""What a clause of a jotted line can be, and what the clauses of one line share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from nightround.desk.jot_names import RoomNames
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import When, between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import KIND_OF_BODY, Body
from nightround.record.model import Animal, Record


@dataclass(frozen=True, slots=True)
class Made:
    """One entry that a clause makes: its body, its day ('words' replace the usual ones)."""

    body: Body
    when: When
    words: str = ""


@dataclass(slots=True)
class OpenOffer:
    """An offer nobody has looked after: entry number, or −k for the k-th draft of this line."""

    number: int
    when: When
    prey: str
    count: int | None
    prey_mm: float | None
    prekilled: bool | None


@dataclass
class Line:
    """What is known while a line is read: the room, the day, and what the line itself has said so far.

    offers     open offers by what they were made to, oldest first; the line's own come last
    answered   what already got an outcome in the present part
    written    how many drafts the line has made
    own_day    the day inside the clause that is being read, if one stood there
    new_lots   codes of lots that the line has begun
    """

    record: Record
    on: date
    names: RoomNames
    offers: dict[Ref, list[OpenOffer]] = field(default_factory=dict)
    answered: set[Ref] = field(default_factory=set)
    written: int = 0
    own_day: When | None = None
    new_lots: set[str] = field(default_factory=set)

    def animal(self, ref: Ref) -> Animal | None:
        """Return the animal that is meant, None for anything else."""
        return self.record.animals.get(ref.code) if ref.kind == "animal" else None

    def open_offers(self, ref: Ref) -> list[OpenOffer]:
        """Return the open offers of an animal or batch, to be changed as the line goes on."""
        if ref not in self.offers:
            self.offers[ref] = self._recorded(ref)
        return self.offers[ref]

    def _recorded(self, ref: Ref) -> list[OpenOffer]:
        batch = self.record.batches.get(ref.code) if ref.kind == "batch" else None
        animal = self.animal(ref)
        offers = batch.offers if batch else animal.offers if animal else ()
        return [
            OpenOffer(offer.number, offer.when, offer.prey, offer.count, offer.prey_mm, offer.prekilled)
            for offer in offers
            if offer.outcome is None
        ]


Maker = Callable[[Line, Ref, "When | None"], Sequence[Made]]
"""Says what a clause makes for one subject; the day is None when the clause names none."""

Clause = Callable[[Cursor, Line], Maker]
"""Reads the words after a verb. Raises NotReadable."""


def plain(body: Body, words: str = "") -> Maker:
    """Return a maker of one body on the day that is named, else on the line's day."""
    return lambda line, _, when: [Made(body, when or on_day(line.on), words)]


def since_last(body: Body, last: Callable[[Animal], date | None], what: str) -> Maker:
    """Return a maker of something found now: without a day it happened between the last look and now."""

    def make(line: Line, ref: Ref, when: When | None) -> Sequence[Made]:
        if when is not None or ref.kind not in KIND_OF_BODY[type(body)].subjects:
            return [Made(body, when or on_day(line.on))]  # the draft itself refuses what it cannot be about
        animal = line.animal(ref)
        first = last(animal) if animal else None
        if first is None:
            raise NotReadable(
                f"the day {ref.code or ref} {what}, as nobody is recorded to have looked before",
                got="no day",
                todo="Say today, yesterday, a date, or 'between mon and wed'",
            )
        return [Made(body, between(min(first, line.on), line.on))]

    return make
