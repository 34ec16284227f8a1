"""Jotted offers and outcomes. An outcome is written only when its word was said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nightround.desk.jot_clauses import Clause, Line, Made, Maker, OpenOffer
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.quantities import both
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.animal import Offered, OfferSeen, Outcome, PassedOver
from nightround.record.model import Record

COMMON_PREY = (
    "cricket", "roach", "cockroach", "mealworm", "superworm", "waxworm", "locust", "fruit fly", "house fly",
    "fly", "maggot", "springtail", "earthworm", "silkworm", "grasshopper", "moth", "isopod", "beetle",
    "dubia roach", "lateralis roach", "red runner", "pinhead cricket", "house cricket", "larva",
)  # fmt: skip
"""Feeders in common use (common practice, no source); the room's own names come first."""

OUTCOME_PHRASES: dict[str, Outcome] = {
    "took": "taken", "taken": "taken", "ate": "taken", "eaten": "taken", "has eaten": "taken",
    "has taken": "taken", "refused": "refused", "rejected": "refused", "left uneaten": "uneaten",
    "uneaten": "uneaten", "not eaten": "uneaten", "prey not seen": "not_seen", "offer not seen": "not_seen",
}  # fmt: skip
OFFER_PHRASES = ("offered", "was offered", "fed", "was fed", "gave", "given")
PASSED_PHRASES = ("passed over", "skipped", "skip", "not fed", "not offered")

_ALL_OF_IT = ("it", "it all", "them", "them all", "all", "everything", "its prey", "the prey", "prey")
_SIZE_WORDS = ("small", "medium", "large", "tiny", "big", "adult", "baby")
_MOST_WORDS = 4


@dataclass(frozen=True, slots=True)
class Food:
    """Prey as it was said; None and '' where nothing was said."""

    prey: str = ""
    count: int | None = None
    prey_mm: float | None = None
    prekilled: bool | None = None
    note: str = ""

    @property
    def words(self) -> str:
        """The prey in words."""
        size = f"of {both(self.prey_mm, 'mm')}" if self.prey_mm else ""
        killed = "" if self.prekilled is None else "pre-killed" if self.prekilled else "live"
        count = "" if self.count is None else str(self.count)
        return " ".join(filter(None, [count, killed, self.prey or "prey", size]))


def singular(words: str) -> str:
    """Return a prey's name for comparing: lower case, its last word in the singular."""
    name = " ".join(words.casefold().split())
    for ending, instead in (("flies", "fly"), ("roaches", "roach"), ("larvae", "larva"), ("ies", "y")):
        if name.endswith(ending):
            return name.removesuffix(ending) + instead
    return name[:-1] if name.endswith("s") and not name.endswith("ss") else name


def prey_names(record: Record) -> dict[str, str]:
    """Return singular name → name as this room writes it, the common ones as far as the room has none."""
    names = {singular(name): name for name in COMMON_PREY}
    for name in _own_names(record):
        names[singular(name)] = name
    return names


def _own_names(record: Record) -> Iterable[str]:
    for animal in record.animals.values():
        yield from (offer.prey for offer in animal.offers if offer.prey)
    for batch in record.batches.values():
        yield from (offer.prey for offer in batch.offers if offer.prey)
    yield from (lot.feeder for lot in record.lots.values() if lot.feeder)


class FoodReader:
    """Reads prey: number, size, kind, in the orders in which they are said."""

    def __init__(self, record: Record) -> None:
        self._names = prey_names(record)

    def food(self, cursor: Cursor) -> Food:
        """Take whatever is said of the prey. Raises NotReadable for a word after a number that is no prey."""
        begins = cursor.at
        if cursor.phrase(*_ALL_OF_IT):
            return Food()
        size = self._size(cursor)
        count = None if size else cursor.whole()
        if count == 0:
            raise NotReadable("how many, from one on", got="0", todo="Say refused, or passed over")
        size = size or self._size(cursor)
        notes, killed = self._adjectives(cursor)
        prey = self._prey(cursor)
        if prey is None and (notes or killed is not None or count is not None and not self._may_end(cursor)):
            raise self._no_prey(cursor)
        size = size or (self._size(cursor) if cursor.at > begins else None)
        more_notes, killed_too = self._adjectives(cursor, after=True)
        return Food(
            prey or "",
            count,
            size,
            killed if killed is not None else killed_too,
            ", ".join((*notes, *more_notes)),
        )

    def _may_end(self, cursor: Cursor) -> bool:
        """Whether a number alone was meant: nothing follows that could have been meant as prey."""
        return cursor.done or cursor.low() in (",", "and", "of", "yesterday", "today", "tonight", "on")

    def _size(self, cursor: Cursor) -> float | None:
        at = cursor.at
        cursor.phrase("of")
        if cursor.measures("length"):
            value: float = cursor.amount("length", above_nothing=True)["value"]
            return value
        cursor.at = at
        return None

    def _adjectives(self, cursor: Cursor, after: bool = False) -> tuple[list[str], bool | None]:
        notes: list[str] = []
        killed: bool | None = None
        while True:
            at = cursor.at
            if after:
                cursor.phrase(",")
            if cursor.phrase("prekilled", "pre-killed", "pre killed", "killed"):
                killed = True
            elif cursor.phrase("live", "alive"):
                killed = False
            elif not after and (word := cursor.phrase(*_SIZE_WORDS)):
                notes.append(word)
            else:
                cursor.at = at
                return notes, killed

    def _prey(self, cursor: Cursor) -> str | None:
        quoted = cursor.quoted()
        if quoted:
            return quoted
        for length in range(_MOST_WORDS, 0, -1):
            words = [cursor.low(ahead) for ahead in range(length)]
            if all(words) and (known := self._names.get(singular(" ".join(words)))):
                cursor.at += length
                return known
        return None

    def _no_prey(self, cursor: Cursor) -> NotReadable:
        from rapidfuzz import process

        near = [name for name, _, _ in process.extract(cursor.low() or "", sorted(self._names), limit=3)]
        return NotReadable(
            "a prey that this room knows",
            got=repr(cursor.ahead(1)),
            todo=f'Nearest: {", ".join(near)}. Put a new one in quotes: took 2 "red beetles"',
        )


def offer_clause(reader: FoodReader) -> Clause:
    """Return the clause of an offer: its outcome is open, whatever is usually eaten."""

    def read(cursor: Cursor, _: Line) -> Maker:
        food = reader.food(cursor)
        return lambda line, ref, when: [_new_offer(line, ref, when or on_day(line.on), food)]

    return read


def _new_offer(line: Line, ref: Ref, when: When, food: Food) -> Made:
    offers = line.open_offers(ref)
    offers.append(OpenOffer(-(line.written + 1), when, food.prey, food.count, food.prey_mm, food.prekilled))
    return Made(_offered(food, None), when)


def _offered(food: Food, outcome: Outcome | None) -> Offered:
    return Offered(
        prey=food.prey,
        number=food.count,
        prey_mm=food.prey_mm,
        prekilled=food.prekilled,
        outcome=outcome,
        note=food.note,
    )


def outcome_clause(reader: FoodReader, outcome: Outcome) -> Clause:
    """Return the clause of an outcome: it answers an open offer, or tells of a new one."""

    def read(cursor: Cursor, _: Line) -> Maker:
        food = reader.food(cursor)
        return lambda line, ref, when: [_outcome(line, ref, when, food, outcome)]

    return read


def left_clause(reader: FoodReader) -> Clause:
    """Return the clause 'left 2 crickets uneaten'."""

    def read(cursor: Cursor, _: Line) -> Maker:
        food = reader.food(cursor)
        if not cursor.phrase("uneaten", "behind"):
            raise NotReadable(
                "'left … uneaten' for prey, or how an animal left: sold, given away, returned",
                got=repr(cursor.ahead()),
            )
        return lambda line, ref, when: [_outcome(line, ref, when, food, "uneaten")]

    return read


def _outcome(line: Line, ref: Ref, when: When | None, food: Food, outcome: Outcome) -> Made:
    day = when or on_day(line.on)
    if ref in line.answered:
        raise NotReadable(
            f"one outcome for {ref.code} in one part",
            got="a second",
            todo="Write another part after ';', with its prey or its day",
        )
    line.answered.add(ref)
    offer = _answered(line, ref, day, food)
    if offer is None and outcome == "not_seen":
        raise NotReadable(f"an open offer to {ref.code} by {day}", got="none", todo="Or say: not seen")
    if offer is None:
        return Made(_offered(food, outcome), day)
    line.open_offers(ref).remove(offer)
    known = Food(offer.prey, offer.count, offer.prey_mm, offer.prekilled)
    note = ", ".join(filter(None, [food.note, food.words if _says_more(food, known) else ""]))
    words = f"the offer of {known.words} on {offer.when}: {_WORDS[outcome]}{f' ({note})' if note else ''}"
    return Made(OfferSeen(outcome=outcome, offer=offer.number, note=note), day, words)


_WORDS: dict[Outcome, str] = {
    "taken": "taken", "refused": "refused", "uneaten": "not eaten", "not_seen": "not seen"
}  # fmt: skip


def _answered(line: Line, ref: Ref, day: When, food: Food) -> OpenOffer | None:
    """Return the open offer that is meant, None when the outcome belongs to a new one."""
    open_then = [offer for offer in line.open_offers(ref) if _not_after(offer.when, day)]
    if not open_then:
        return None
    if not food.prey:
        meant = open_then[-1]
    else:
        same = [offer for offer in open_then if singular(offer.prey) == singular(food.prey)]
        if not same and any(not offer.prey for offer in open_then):
            raise _which(ref, open_then, "its prey is not on record")
        if not same:
            return None
        meant = same[-1]
    if food.count is not None and meant.count not in (None, food.count):
        raise _which(ref, [meant], f"not {food.count}")
    if food.prey_mm and meant.prey_mm and abs(food.prey_mm - meant.prey_mm) > 0.5:
        raise _which(ref, [meant], f"not of {food.prey_mm:g} mm")
    if food.prekilled is not None and meant.prekilled not in (None, food.prekilled):
        raise _which(ref, [meant], "it was pre-killed" if meant.prekilled else "it was live")
    return meant


def _which(ref: Ref, offers: Sequence[OpenOffer], why: str) -> NotReadable:
    said = Food(offers[-1].prey, offers[-1].count, offers[-1].prey_mm, offers[-1].prekilled).words
    return NotReadable(
        f"what became of the open offer to {ref.code}: {said} on {offers[-1].when}",
        got=f"something else: {why}",
        todo=f"Say first what became of it ('{ref.code} took it', 'refused it', 'left it uneaten')",
    )


def _not_after(offer: When, look: When) -> bool:
    return offer.last is None or look.last is None or offer.last <= look.last


def _says_more(food: Food, known: Food) -> bool:
    return (food.count is not None and known.count is None) or (
        food.prey_mm is not None and known.prey_mm is None
    )


def passed_clause(cursor: Cursor, _: Line) -> Maker:
    """Read why it was passed over, to the letter."""
    reason = cursor.rest() if cursor.phrase("because", "as", "for") else ""

    def make(line: Line, ref: Ref, when: When | None) -> Sequence[Made]:
        return [Made(PassedOver(reason=reason), when or on_day(line.on))]

    return make
