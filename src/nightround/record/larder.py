"""Lots of feeders in the house, and what can be bought: frozen views of the record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from nightround.foundation.when import UNKNOWN, When
from nightround.journal.kinds.supplies import Supply

LotWord = Literal["bought", "hatched", "started", "counted", "culled", "died_off", "finished"]


@dataclass(frozen=True, slots=True)
class LotAct:
    """One thing that was written of a lot. `count` is how many came, are there, or went (None: unknown)."""

    number: int
    when: When
    what: LotWord
    count: int | None = None
    size_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot of feeders in the house.

    size_mm, number   as written last; feeders that were offered since are not taken off
    acts              everything written of it, in order of time
    """

    code: str
    feeder: str = ""
    begun: When = UNKNOWN
    size_mm: float | None = None
    number: int | None = None
    finished: bool = False
    how: Literal["bought", "hatched", "started"] | None = None
    price: str = ""
    from_whom: str = ""
    acts: tuple[LotAct, ...] = ()
    entries: tuple[int, ...] = ()

    @property
    def counted(self) -> tuple[date, int] | None:
        """The latest day of which its number is known, and that number (begun or counted)."""
        known = [
            (act.when.last, act.count)
            for act in self.acts
            if act.what in ("bought", "hatched", "counted") and act.count is not None and act.when.last
        ]
        return next(((day, count) for day, count in reversed(known) if day is not None), None)

    @property
    def sized(self) -> tuple[date, float] | None:
        """The latest day on which its size was written, and that size in mm."""
        known = [(act.when.last, act.size_mm) for act in self.acts if act.size_mm is not None]
        return next(((day, size) for day, size in reversed(known) if day is not None), None)


@dataclass(frozen=True, slots=True)
class Supplied:
    """Something that can be bought as of the record's day: the entry's body, and what of it was read.

    price      of one pack (None: unknown, never zero)
    weekdays   days of delivery, Monday 0 (empty: unknown)
    """

    number: int
    when: When
    body: Supply
    price: Decimal | None = None
    weekdays: tuple[int, ...] = ()

    @property
    def is_home(self) -> bool:
        """Whether it is a home to buy, else feeders."""
        return self.body.item == "home"

    @property
    def price_words(self) -> str:
        """The price with its currency as written; '' when unknown."""
        return "" if self.price is None else f"{self.price} {self.body.currency.strip()}".strip()
