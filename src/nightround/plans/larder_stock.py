"""What is in the house tonight: each lot with its kind, number and length, grown since its last count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.quantities import both
from nightround.foundation.wording import counted, day_words, joined
from nightround.plans.feeders import LotLeft, lots_left, words_of
from nightround.record.larder import Lot
from nightround.record.make_histories import daily_climate
from nightround.record.model import Record
from nightround.science.larder.growth import development_share, length_at
from nightround.science.larder.kinds import FeederKind, kind_named
from nightround.science.thermal import UNREAD_PLACE_C

Floats = NDArray[np.float64]

WEEK: Final = 7
RECENT_DAYS: Final = 28
LEAST_DAYS: Final = 3


@dataclass(frozen=True)
class Warmth:
    """Daily means of the room [C]: of days on record, and those taken for the days to come.

    words   what the days to come rest on
    """

    known: dict[date, float]
    ahead: Floats
    words: str

    def between(self, first: date, last: date) -> Floats:
        """Daily means from one day to before another; unread days as the recent mean of the room."""
        usual = float(self.ahead[0])
        days = max((last - first).days, 0)
        return np.array([self.known.get(first + timedelta(days=day), usual) for day in range(days)])


@dataclass(frozen=True)
class InHouse:
    """One running lot or culture tonight. `number` and `length_mm` None: unknown, it then serves nothing.

    culture_day   day a culture was set up, counted from tonight (negative: before); None: a lot, no culture
    """

    lot: Lot
    kind: FeederKind | None
    number: float | None
    length_mm: float | None
    basis: str
    culture_day: int | None = None
    notes: tuple[str, ...] = ()

    @property
    def serves(self) -> bool:
        """Whether enough is known of it for the plan."""
        return self.kind is not None and self.number is not None and self.length_mm is not None


def warmth_of(record: Record, days: int) -> Warmth:
    """Return the room's daily means and what is taken for the days to come: the same weeks of the last year
    where they were read, else the last four weeks, else what an unread place is taken for."""
    sums: dict[date, list[float]] = {}
    for place in daily_climate(record).values():
        for day, value in place.temperature_c.items():
            sums.setdefault(day, []).append(value)
    known = {day: sum(values) / len(values) for day, values in sums.items()}
    recent = [known[d] for d in (record.on - timedelta(days=k) for k in range(RECENT_DAYS)) if d in known]
    usual = sum(recent) / len(recent) if len(recent) >= LEAST_DAYS else UNREAD_PLACE_C
    ahead, seasons = np.full(days, usual), 0
    for first in range(0, days, WEEK):
        last_year = [record.on + timedelta(days=first + k - 365) for k in range(WEEK)]
        read = [known[day] for day in last_year if day in known]
        if len(read) >= LEAST_DAYS:
            ahead[first : first + WEEK] = sum(read) / len(read)
            seasons += 1
    rest = "the last four weeks' mean" if len(recent) >= LEAST_DAYS else "23 °C (73 °F), as nothing was read"
    weeks = -(-days // WEEK)
    told = [f"{counted(seasons, 'week')} as the same weeks a year ago"] if seasons else []
    told += [f"{counted(weeks - seasons, 'week')} as {rest}"] if seasons < weeks else []
    return Warmth(known, ahead, f"warmth of the feeders: {joined(told)}")


def in_house(record: Record, warmth: Warmth) -> tuple[InHouse, ...]:
    """Return every running lot, and cultures that were started, as they are expected to be tonight."""
    found = [_lot(left, record.on, warmth) for left in lots_left(record)]
    for lot in record.lots.values():
        if not lot.finished and lot.how == "started":
            found.append(_culture(lot, kind_of(lot.feeder), record.on, 0))
    return tuple(sorted(found, key=lambda each: each.lot.code))


def kind_of(feeder: str) -> FeederKind | None:
    """Return the kind of feeder a name means, None when none is known by it."""
    return kind_named(frozenset(words_of(feeder)))


def _lot(left: LotLeft, on: date, warmth: Warmth) -> InHouse:
    lot, kind = left.lot, kind_of(left.lot.feeder)
    if kind is not None and kind.culture is not None and left.number is None:
        return _culture(lot, kind, on, round(kind.culture.first_days))
    number, basis, notes = _number(left, kind, on)
    length, sized = _length(lot, kind, on, warmth)
    if kind is None and lot.feeder:
        notes = (*notes, "nothing is known of how this feeder grows: it is in no figure")
    return InHouse(lot, kind, number, length, f"{basis}; {sized}", None, notes)


def _number(left: LotLeft, kind: FeederKind | None, on: date) -> tuple[float | None, str, tuple[str, ...]]:
    if left.number is None or left.day is None:
        return None, "never counted", ("count it, and it can be planned with",)
    days = (on - left.day).days
    alive = left.number * (1.0 - kind.deaths_per_day) ** days if kind is not None else float(left.number)
    used = f", {left.used:.0f} offered since" if left.used else ""
    basis = f"{left.number} on {day_words(left.day, on)}{used}"
    if left.used > left.number:
        return None, basis, ("more was offered than it held: count it again",)
    return max(alive - left.used - left.lost, 0.0), basis, ()


def _length(lot: Lot, kind: FeederKind | None, on: date, warmth: Warmth) -> tuple[float | None, str]:
    if kind is not None and not kind.grows:
        return kind.adult_mm, "its length as an adult"
    if lot.sized is None:
        return None, "length not written"
    day, size = lot.sized
    if kind is None:
        return None, f"{both(size, 'mm')} on {day_words(day, on)}"
    share = development_share(kind, size)
    grown = share + float(kind.law.rate(warmth.between(day, on)).sum())
    length = max(float(length_at(kind, np.array([grown]))[0]), min(size, kind.adult_mm))
    return length, f"{both(size, 'mm')} on {day_words(day, on)}, grown since by its warmth"


def _culture(lot: Lot, kind: FeederKind | None, on: date, before: int) -> InHouse:
    """A culture: set up on its day, or so many days before the flies that were written down."""
    day = lot.begun.last
    if kind is None or kind.culture is None or day is None:
        return InHouse(lot, kind, None, None, "a culture of unknown day or kind")
    culture = kind.culture
    basis = (
        f"a culture: about {culture.flies:.0f} flies in all over {culture.gives_days:.0f} days (from memory)"
    )
    return InHouse(lot, kind, culture.flies, kind.adult_mm, basis, (day - on).days - before)


def temperatures(warmth: Warmth, rows: int) -> Floats:
    """Return the days to come once for each of so many lots."""
    return np.tile(warmth.ahead, (rows, 1))


def kinds_named(lots: Sequence[InHouse]) -> tuple[str, ...]:
    """Return what is assumed of the kinds in the house, each once."""
    told = [words for each in lots if each.kind is not None for words in each.kind.warnings]
    return tuple(dict.fromkeys(told))
