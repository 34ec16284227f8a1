"""Offers and what became of them: by the number of the offer, or the latest open one not after the look."""

from __future__ import annotations

from datetime import date
from typing import cast

from nightround.journal.entries import Entry
from nightround.journal.kinds.animal import Offered, OfferSeen
from nightround.record.builders import AnimalBuilder, BatchBuilder, OfferBook, RoomBuilder
from nightround.record.looks import OUTCOME_LOOKS
from nightround.record.model import Offer


def _put(room: RoomBuilder, book: OfferBook, entry: Entry, body: Offered) -> Offer:
    when, outcome = entry.when, body.outcome
    seen_on: date | None = None
    seen_by: int | None = None
    if outcome is None:
        book.open_at.append(len(book.offers))
    else:
        seen_on, seen_by = when.last, entry.number
        if body.found:
            seen_on = room.when_of(body.found, entry).last or seen_on
    offer = Offer(
        entry.number, when, body.prey, body.number, body.prey_mm, body.prekilled, outcome, seen_on, seen_by
    )
    book.offers.append(offer)
    return offer


def _find(room: RoomBuilder, book: OfferBook, named: int | None) -> int | None:
    """Return the place of the offer that the look is about."""
    if named is not None:
        number = room.standing.now(named)
        places = range(len(book.offers) - 1, -1, -1)  # it is nearly always among the last
        return next((place for place in places if book.offers[place].number == number), None)
    if book.open_at:
        return book.open_at[-1]
    if book.offers and book.offers[-1].outcome == "not_seen":
        return len(book.offers) - 1
    return None


def _close(room: RoomBuilder, book: OfferBook, entry: Entry, body: OfferSeen) -> Offer | None:
    """Put the outcome to its offer and return it, or None where there is no such offer by then."""
    place = _find(room, book, body.offer)
    if place is None:
        return None
    before, look, still_open = book.offers[place], entry.when.last, book.open_at
    offer = Offer(
        before.number, before.when, before.prey, before.count, before.prey_mm, before.prekilled,
        body.outcome, look, entry.number,
    )  # fmt: skip
    book.offers[place] = offer
    if still_open and still_open[-1] == place:
        still_open.pop()
    elif place in still_open:
        still_open.remove(place)
    first = offer.when.first
    if look is not None and first is not None and look < first:
        room.problem(
            "outcome_before_offer", entry.about,
            f"The outcome in entry {entry.number} ({entry.when}) is dated before its offer ({offer.when}).",
            "Correct the date that is wrong.", entry.number, offer.number,
        )  # fmt: skip
    return offer


def _look(animal: AnimalBuilder, offer: Offer) -> None:
    if offer.outcome is None:
        return
    look, life = OUTCOME_LOOKS[offer.outcome]
    if look and offer.seen_on is not None:
        animal.looked(offer.seen_on)
    if life and offer.when.first is not None:
        animal.lived(offer.when.first)


def offered_to_animal(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Offered) -> None:
    """Put the offer down; an outcome that came with it is a look."""
    offer = _put(room, animal.book, entry, body)
    if offer.outcome is not None:
        _look(animal, offer)


def outcome_for_animal(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: OfferSeen) -> None:
    """Close the offer; an entry without an outcome says nothing."""
    if body.outcome is None:
        return
    offer = _close(room, animal.book, entry, body)
    if offer is None:
        animal.book.waiting.append(entry)
    else:
        _look(animal, offer)


def offered_to_batch(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: Offered) -> None:
    """Put the offer down."""
    _put(room, batch.book, entry, body)


def outcome_for_batch(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: OfferSeen) -> None:
    """Close the offer."""
    if body.outcome is not None and _close(room, batch.book, entry, body) is None:
        batch.book.waiting.append(entry)


def settle_waiting(room: RoomBuilder) -> None:
    """Give outcomes whose offer stands later in time their offer; the rest have none."""
    builders: list[AnimalBuilder | BatchBuilder] = [*room.animals.values(), *room.batches.values()]
    for builder in builders:
        book = builder.book
        for entry in book.waiting:
            body = cast(OfferSeen, entry.body)
            offer = _close(room, book, entry, body) if body.offer is not None else None
            if offer is not None:
                if isinstance(builder, AnimalBuilder):
                    _look(builder, offer)
                continue
            room.problem(
                "outcome_of_no_offer", entry.about,
                f"Entry {entry.number} says what became of an offer to {entry.about.code}, "
                "but no such offer is recorded by then.",
                "Record the offer, or strike the entry.", entry.number, severity="doubt",
            )  # fmt: skip
