"""The larder months ahead: what the animals will need, what is in the house, what to order, and by when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

ErrandSort = Literal["order", "culture", "count", "prepare", "weigh", "rehouse", "measure"]


@dataclass(frozen=True, slots=True)
class Range:
    """A number with the range that holds it four times in five, and its mean."""

    mean: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class SizeClass:
    """Prey over `over_mm` and up to `upto_mm` long.

    needed   prey asked for in each week
    stock    prey of this length in the house in each week by the plan, before that week's offers (expected)
    short    chance of each week that some of it is missing, after what may stand in for it
    feeders  kinds of feeder that are of this length at some time in the weeks to come
    """

    over_mm: float
    upto_mm: float
    words: str
    needed: tuple[Range, ...]
    stock: tuple[float, ...]
    short: tuple[float, ...]
    feeders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LotNow:
    """A lot in the house tonight. None: unknown, never zero.

    kind            the kind of feeder whose growth is used, '' when no kind is known by that name
    number, size_mm as expected tonight: counted or bought, less what was offered and what dies, grown since
    basis           what both rest on
    weeks           number expected at the start of each week to come, with nothing offered
    outgrows        first day it is of no use any more: too long, dead or flown
    """

    lot: str
    feeder: str
    kind: str
    begun: date | None
    number: float | None
    size_mm: float | None
    basis: str
    counted: date | None = None
    weeks: tuple[float, ...] = ()
    outgrows: date | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Order:
    """Packs to order of one thing for one week.

    order_by, arrives   None where neither lead days nor days of delivery are known
    cost                packs times the price, '' when the price is unknown (it is then in no sum)
    """

    name: str
    feeder: str
    from_whom: str
    packs: int
    pack: int
    size_words: str
    order_by: date
    arrives: date
    cost: str
    currency: str
    supply: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Culture:
    """A culture to start in time: when, how many, and when its animals come."""

    feeder: str
    number: int
    start_by: date
    from_day: date
    until: date
    words: str


@dataclass(frozen=True, slots=True)
class Shortage:
    """A week in which prey of a length may be missing, how many, and what to offer instead."""

    week: date
    over_mm: float
    upto_mm: float
    chance: float
    missing: float
    instead: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Errand:
    """Something to do for the room before a day: one job of the room, never one an animal.

    made    the day of the plan that asks for it
    after   number of the newest entry that plan knew (0: none is said)
    """

    sort: ErrandSort
    title: str
    by: date
    reason: str
    made: date
    about: str = ""
    cautions: tuple[str, ...] = ()
    after: int = 0


@dataclass(frozen=True, slots=True)
class LarderReport:
    """The plan for the feeders of one room.

    weeks       first days of the weeks (seven days each)
    apart       offers a week that need no length: pieces for the smallest, animals of unknown size, batches
    costs       sum of the orders by currency; `unpriced` packs are in no sum
    waste       prey expected to die, outgrow all use or be left at the end; `offered` expected to be used
    gap         proven: at most this share of what the next weeks cost by the model could be saved (None: not
                proven)
    done        why the search ended: 'optimal', 'time', 'stopped', 'nothing to order'
    """

    on: date
    room: str
    invented: bool
    weeks: tuple[date, ...]
    classes: tuple[SizeClass, ...]
    pieces: tuple[Range, ...]
    unsized: tuple[Range, ...]
    batches: tuple[float, ...]
    lots: tuple[LotNow, ...]
    orders: tuple[Order, ...]
    cultures: tuple[Culture, ...]
    shortages: tuple[Shortage, ...]
    errands: tuple[Errand, ...]
    offered: float
    eaten_share: float
    n_outcomes: int
    waste: tuple[tuple[str, float], ...]
    costs: tuple[tuple[str, str], ...]
    unpriced: int
    gap: float | None
    done: str
    animals: int
    unsized_animals: tuple[str, ...]
    notices: tuple[str, ...]
    instead: tuple[str, ...]
    method: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SundayReport:
    """What to do on a Sunday for the week to come: orders, preparations, weighings, in that order.

    planned   whether the larder and the homes were planned for this page ('' or why not)
    """

    on: date
    room: str
    invented: bool
    until: date
    sections: tuple[tuple[str, tuple[Errand, ...]], ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]
