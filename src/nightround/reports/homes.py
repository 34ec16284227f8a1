"""Who moves into which home, and when: the plan of a room's homes. Frozen data, nothing is worked out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.reports.fit import FitVerdict
from nightround.reports.larder import Errand


@dataclass(frozen=True, slots=True)
class Window:
    """Days by which a leg span is reached in one, five and nine of ten draws; None: not in these months."""

    early: date | None
    middle: date | None
    late: date | None


@dataclass(frozen=True, slots=True)
class SpanRange:
    """Leg span [mm] at 10, 50 and 90 % of the draws."""

    low_mm: float
    middle_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True)
class Move:
    """One move that the plan asks for.

    day           first day of the fortnight it is planned in
    opens         first day from which the new home fits more likely than not, without danger
    outgrows      when the home it leaves gets too small; None: it does not by its rules
    limit_mm      the leg span at which it does
    to            the home in words; `to_home` its code when it is on record, '' when it is to be bought
    depth_mm      substrate, even depth
    put_off       chance that premoult or hardening puts it off on the day
    gap_most_mm   no opening of the new home may be wider than this
    """

    animal: str
    taxon: str
    place: str
    number: int
    day: date
    opens: date | None
    outgrows: Window | None
    limit_mm: float | None
    from_home: str
    to: str
    to_home: str
    buy: bool
    depth_mm: float
    litres: float | None
    span: SpanRange
    put_off: float
    gap_most_mm: float | None
    reasons: tuple[str, ...]
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Other:
    """The best course of one animal with at most so many moves, other things of the plan as they are.

    misfit_weeks   weeks expected in a home that does not fit; risky ones are weighed more in `cost`
    """

    moves: int
    homes: tuple[str, ...]
    misfit_weeks: float
    cost: float
    planned: bool


@dataclass(frozen=True, slots=True)
class Course:
    """What the plan means for one animal.

    misfit_weeks, stay_weeks   weeks expected in a home that does not fit: by the plan, and without any move
    skips                      the middle home that is skipped, in words; '' when none is
    unplanned                  why it is not planned; '' when it is
    """

    animal: str
    taxon: str
    home: str
    moves: tuple[Move, ...]
    misfit_weeks: float | None
    stay_weeks: float | None
    others: tuple[Other, ...]
    skips: str
    notes: tuple[str, ...]
    unplanned: str = ""


@dataclass(frozen=True, slots=True)
class ToBuy:
    """Homes to buy, of one kind, for one day.

    order_by   None: lead days unknown
    cost       number times price, '' unknown: it is in no sum
    """

    name: str
    from_whom: str
    number: int
    needed: date
    order_by: date | None
    cost: str
    currency: str
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preparation:
    """A home to make up in time for a move."""

    home: str
    by: date
    animal: str
    depth_mm: float
    litres: float | None
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HomesReport:
    """The plan of the homes of one room.

    fits        verdict on the home of every animal tonight, the gravest first
    costs       sum of what is bought by currency; `unpriced` homes are in no sum
    gap         proven: the best plan costs at most this share less
    draws       drawn futures of each animal; `seconds` the search took
    """

    on: date
    room: str
    invented: bool
    until: date
    fits: tuple[FitVerdict, ...]
    courses: tuple[Course, ...]
    moves: tuple[Move, ...]
    to_buy: tuple[ToBuy, ...]
    preparations: tuple[Preparation, ...]
    costs: tuple[tuple[str, str], ...]
    unpriced: int
    gap: float
    done: str
    seconds: float
    draws: int
    misfit_weeks: float
    stay_weeks: float
    planned: int
    batches: tuple[str, ...]
    errands: tuple[Errand, ...]
    notices: tuple[str, ...]
    method: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RunSheet:
    """What to have ready and what to do, in order, for one move."""

    move: Move
    room: str
    invented: bool
    not_tonight: tuple[str, ...]
    ready: tuple[str, ...]
    steps: tuple[str, ...]
    after: tuple[str, ...]
    cautions: tuple[str, ...]
