"""Names of feeders as keepers write them, and how many of each lot are left tonight."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from nightround.record.larder import Lot
from nightround.record.model import Animal, Batch, Offer, Record

_WORD = re.compile(r"[^\W\d_]+")
_PLURALS = {"flies": "fly", "larvae": "larva"}
_NO_KIND = frozenset(
    ("small", "medium", "large", "tiny", "big", "adult", "baby", "flightless", "live", "pinhead", "micro",
     "pre", "killed")
)  # fmt: skip


def words_of(name: str) -> tuple[str, ...]:
    """Return the words that say which animal is meant, in the singular: size and state are left out."""
    words = [_singular(word) for word in _WORD.findall(name.casefold())]
    return tuple(word for word in words if word not in _NO_KIND)


def _singular(word: str) -> str:
    if word in _PLURALS:
        return _PLURALS[word]
    if word.endswith(("ches", "shes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "is", "us")) else word


def alike(one: str, other: str) -> bool:
    """Whether two names may mean the same feeder: the words of one are all among those of the other."""
    first, second = set(words_of(one)), set(words_of(other))
    return bool(first and second) and (first <= second or second <= first)


@dataclass(frozen=True, slots=True)
class LotLeft:
    """A running lot: the latest day of known number, that number, and what was offered since.

    number   None: never counted, unknown
    used     prey offered since that was this lot's, as far as can be told
    lost     died off or culled since
    """

    lot: Lot
    day: date | None
    number: int | None
    used: float
    lost: int


def lots_left(record: Record) -> tuple[LotLeft, ...]:
    """Return the running lots with what was offered from each since it was counted.

    An offer belongs to the lots of its feeder that were in the house on its day: to the one nearest in length
    where both lengths are known, else to all in equal parts. An offer without a number counts as one.
    """
    running = {code: lot for code, lot in record.lots.items() if not lot.finished and lot.how != "started"}
    used = dict.fromkeys(running, 0.0)
    begun = (_known(lot) or lot.begun.last for lot in running.values())
    floor = min((day for day in begun if day is not None), default=None)
    if floor is not None:
        for offer in _offers_since(record, floor):
            for code, share in _shares(offer, running.values()).items():
                used[code] += share * (offer.count or 1)
    return tuple(
        LotLeft(lot, _known(lot), lot.counted[1] if lot.counted else None, used[code], _lost(lot))
        for code, lot in sorted(running.items())
    )


def _known(lot: Lot) -> date | None:
    return lot.counted[0] if lot.counted is not None else None


def _lost(lot: Lot) -> int:
    since = _known(lot)
    gone = [act for act in lot.acts if act.what in ("culled", "died_off") and act.count is not None]
    return sum(act.count or 0 for act in gone if since is None or (act.when.last and act.when.last >= since))


def _offers_since(record: Record, floor: date) -> Iterator[Offer]:
    holders: list[Animal | Batch] = [*record.animals.values(), *record.batches.values()]
    for holder in holders:
        for offer in reversed(holder.offers):
            day = offer.when.last
            if day is not None and day < floor:
                break
            if day is not None and offer.prey:
                yield offer


def _shares(offer: Offer, lots: Iterable[Lot]) -> dict[str, float]:
    day = offer.when.last
    assert day is not None
    meant = [
        lot
        for lot in lots
        if alike(lot.feeder, offer.prey)
        and (lot.begun.last is None or lot.begun.last <= day)
        and ((known := _known(lot)) is None or known < day or known == lot.begun.last == day)
    ]
    if offer.prey_mm is not None:
        sized = [lot for lot in meant if lot.size_mm is not None]
        if sized:
            nearest = min(sized, key=lambda lot: abs((lot.size_mm or 0.0) - (offer.prey_mm or 0.0)))
            return {nearest.code: 1.0}
    return {lot.code: 1.0 / len(meant) for lot in meant}
