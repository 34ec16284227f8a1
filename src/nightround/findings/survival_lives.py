"""From the record to lives: when each animal began to be watched, to which day it lived, and how it ended.

Follow-up ends at the last sign of life, never on the day of the question. An animal that left is never dead.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from nightround.record.model import Animal, Record
from nightround.science.survival.data import ALIVE, DIED, LEFT, LOST

_DAY: Final = timedelta(days=1)
# A hatching known no better than this tells no age (a year written alone is 365 or 366 days).
WIDEST_HATCHING_DAYS: Final = 366
_SEX_KINDS: Final = ("arrived", "hatched", "sexed", "matured")


@dataclass(frozen=True, slots=True)
class Life:
    """One animal's life in this room.

    came       the day it came (latest arrival, or its own code out of a batch): zero of time in care
    watched    the day from which its death would have been known; later than `came` when it was found again
    alive_to   last day known alive; dead_by: first day known dead (None: not known dead), equal: that day
    hatched    first and last possible day, None when not known well enough; worked_back: from its size
    matured    last possible day of its maturing; sexed: the day from which its sex was known
    """

    code: str
    taxon: str
    group: str
    sex: str | None
    origin: str | None
    came: date
    watched: date
    alive_to: date
    dead_by: date | None
    fate: int
    hatched: tuple[date, date] | None
    worked_back: bool
    matured: date | None
    sexed: date | None
    during_moult: bool | None


@dataclass(frozen=True)
class Lives:
    """The lives of a room by code, and why others are in no curve."""

    followed: tuple[Life, ...]
    left_out: tuple[tuple[str, str, str], ...]

    def of(self, taxon: str) -> tuple[Life, ...]:
        """Return the lives of one taxon."""
        return tuple(life for life in self.followed if life.taxon == taxon)

    def of_group(self, group: str) -> tuple[Life, ...]:
        """Return the lives of one group of taxa; none for taxa without a group."""
        return tuple(life for life in self.followed if group and life.group == group)

    def missing(self, taxon: str) -> tuple[str, ...]:
        """Return in words which animals of a taxon are in no curve, and why."""
        return tuple(f"{code}: {why}" for code, of, why in self.left_out if of == taxon)


def room_lives(record: Record) -> Lives:
    """Return the life of every animal of the record that can be followed."""
    followed, left_out = [], []
    for code, animal in sorted(record.animals.items()):
        found = life_of(record, animal)
        if isinstance(found, Life):
            followed.append(found)
        else:
            left_out.append((code, animal.taxon, found))
    return Lives(tuple(followed), tuple(left_out))


def life_of(record: Record, animal: Animal) -> Life | str:
    """Return one animal's life, or in words why it cannot be followed."""
    came = animal.arrived.last or animal.promoted.last
    if came is None:
        return "the day it came is not known"
    watched = max(came, _found_again(record, animal) or came)
    ends = _ends(record, animal, watched)
    if isinstance(ends, str):
        return ends
    alive_to, dead_by, fate = ends
    taxon = record.taxa.get(animal.taxon)
    return Life(
        animal.code, animal.taxon, taxon.group if taxon else "", animal.sex, animal.origin, came, watched,
        alive_to, dead_by, fate, _hatched(animal, alive_to), False,
        animal.matured.last if animal.matured else None, _sexed(record, animal, watched), animal.during_moult,
    )  # fmt: skip


def _ends(record: Record, animal: Animal, watched: date) -> tuple[date, date | None, int] | str:
    """Last day alive, first day dead, and fate; in words where the days contradict each other."""
    seen = max(animal.last_life or watched, watched)
    ended = animal.ended
    if animal.status == "alive" or ended is None:
        return seen, None, ALIVE
    if animal.status == "dead":
        return _death(record, animal, watched, seen)
    last = ended.last or seen
    if last < watched:
        return "it left before it came, by the days written"
    if animal.status == "left" and animal.ended_how != "lost":
        return max(ended.first or seen, watched), None, LEFT
    return min(seen, last), None, LOST


def _death(record: Record, animal: Animal, watched: date, seen: date) -> tuple[date, date | None, int] | str:
    assert animal.ended is not None
    first, last = animal.ended.first, animal.ended.last
    if first is None or last is None:
        return seen, max(_written(record, animal), seen), DIED
    if last < watched:
        return "it died before it came, by the days written"
    if first == last:
        return last, last, DIED
    return min(max(first - _DAY, seen), last), last, DIED


def _written(record: Record, animal: Animal) -> date:
    """The day on which a death of unknown day was written down, no later than the record's."""
    for number in reversed(animal.entries):
        entry = record.entries.get(number)
        if entry is not None and entry.kind == "died":
            return min(record.clock.day_of(entry.recorded), record.on)
    return record.on


def _found_again(record: Record, animal: Animal) -> date | None:
    """The latest day it was found after an escape: what it did before, nobody could have seen."""
    days = [entry.when.last for entry in _entries(record, animal, ("found_again",))]
    return max((day for day in days if day is not None), default=None)


def _sexed(record: Record, animal: Animal, watched: date) -> date | None:
    """The first day on which the sex that now holds was known; None: not known."""
    if animal.sex is None:
        return None
    told = _entries(record, animal, _SEX_KINDS)
    days = [entry.when.last or watched for entry in told if getattr(entry.body, "sex", None) == animal.sex]
    return max(min(days, default=watched), watched)


def _entries(record: Record, animal: Animal, kinds: tuple[str, ...]) -> list[Any]:
    found = (record.entries.get(number) for number in animal.entries)
    return [entry for entry in found if entry is not None and entry.kind in kinds]


def _hatched(animal: Animal, alive_to: date) -> tuple[date, date] | None:
    first, last = animal.hatched.first, animal.hatched.last
    if first is None or last is None or first > alive_to:
        return None
    last = min(last, alive_to)
    return (first, last) if (last - first).days <= WIDEST_HATCHING_DAYS else None
