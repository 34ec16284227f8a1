"""Who moves into which home, and when: the plan of a room over the months to come.

Each animal gets a course through the homes that there are and those for sale, from its drawn leg spans: as
few weeks in a home that does not fit, as few moves and as few homes bought as go together, joint over one
stock (`science.housing`). Nothing unknown is guessed: an animal never measured, or in a home without sizes
on record, is named and not planned.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import Final

from nightround.findings.spans import RoomSpans
from nightround.foundation.wording import joined
from nightround.plans.fit import room_fit, worst_first
from nightround.plans.rehousing_costs import (
    DANGER,
    HOME_WEEKS,
    MOVE_WEEKS,
    PERIOD_DAYS,
    Planned,
    not_planned,
    planned,
)
from nightround.plans.rehousing_courses import Courses, courses_of
from nightround.plans.rehousing_ways import Choice, choice_of
from nightround.plans.rehousing_words import CAUTIONS, errands_of, preparations_of
from nightround.plans.rules import RuleBook
from nightround.plans.shopping import shopping
from nightround.record.model import Record
from nightround.reports.forecast import ForecastReport
from nightround.reports.homes import Course, HomesReport
from nightround.reports.size import SizeReport
from nightround.science.housing.problem import HousingPlan
from nightround.science.housing.solve import solve

MONTHS: Final = 18
SECONDS: Final = 8.0
DRAWS: Final = 100
SAY_EVERY_SECONDS: Final = 1.0
Heard = Callable[[str], object]


def fortnights(on: date, months: int = MONTHS) -> list[date]:
    """Return the first days of the fortnights that a plan of so many months looks at."""
    return [on + timedelta(days=PERIOD_DAYS * step) for step in range(round(months * 30.4375 / PERIOD_DAYS))]


def plan(
    record: Record,
    spans: RoomSpans,
    sizes: Mapping[str, SizeReport],
    forecast: ForecastReport | None = None,
    *,
    room: str = "",
    invented: bool = False,
    seconds: float = SECONDS,
    heard: Heard | None = None,
    stop: Callable[[], bool] | None = None,
) -> HomesReport:
    """Return the plan of a room's homes.

    spans      drawn at the begins of the fortnights (`fortnights`)
    forecast   tonight's, so that nobody is moved who is to be left alone now; None: only drawn moults count
    heard      is told how the search goes; False as its answer, or `stop`, ends it with the best plan so far
    """
    book = RuleBook(record)
    choice = choice_of(record, _kept_back(record))
    found = planned(record, spans, sizes, forecast, choice, book)
    telling = _Telling(heard, stop)
    made = solve(found.problem, seconds=seconds, heard=telling.tell, stop=telling.stopped)
    courses = courses_of(record, spans, found, choice, made)
    return _report(record, spans, sizes, book, choice, found, made, courses, room, invented)


def _kept_back(record: Record) -> frozenset[str]:
    """Homes with several in them: nobody else may use them, whoever moves out."""
    several = {code for code, home in record.homes.items() if len(home.occupants) > 1}
    return frozenset(several | {batch.home for batch in record.batches.values() if batch.home})


class _Telling:
    """Tells how the search goes, now and then; `stopped` once the listener has answered False."""

    def __init__(self, heard: Heard | None, stop: Callable[[], bool] | None) -> None:
        self._heard, self._stop = heard, stop
        self._cost, self._said, self._ended = 0.0, 0.0, False

    def tell(self, cost: float, bound: float) -> None:
        """Say the best cost and how far from proven it is, when it is cheaper or a second has passed."""
        if self._heard is None or (
            cost == self._cost and time.monotonic() - self._said < SAY_EVERY_SECONDS
        ):  # fmt: skip
            return
        self._cost, self._said = cost, time.monotonic()
        gap = (cost - bound) / cost if cost > 0 and bound > 0 else 1.0
        words = f"weighing homes: best so far {cost:.0f} weeks' worth, {min(gap, 1.0):.1%} over the best"
        self._ended = self._heard(words) is False

    def stopped(self) -> bool:
        """Whether to end the search."""
        return self._ended or (self._stop is not None and self._stop())


def _report(
    record: Record,
    spans: RoomSpans,
    sizes: Mapping[str, SizeReport],
    book: RuleBook,
    choice: Choice,
    found: Planned,
    made: HousingPlan,
    courses: Courses,
    room: str,
    invented: bool,
) -> HomesReport:
    moves = tuple(sorted(courses.moves, key=lambda move: (move.day, move.animal)))
    bought = shopping(record.on, choice, courses.purchases, spans.days)
    unplanned = _unplanned(record, spans)
    preparations = preparations_of(record.on, moves)
    until = spans.days[-1] + timedelta(days=PERIOD_DAYS - 1)
    return HomesReport(
        on=record.on,
        room=room,
        invented=invented,
        until=until,
        fits=tuple(worst_first(room_fit(record, sizes, book))),
        courses=tuple(sorted((*courses.courses, *unplanned), key=lambda each: each.animal)),
        moves=moves,
        to_buy=bought.to_buy,
        preparations=preparations,
        costs=bought.costs,
        unpriced=bought.unpriced,
        gap=made.gap,
        done=_done(made, len(found.animals)),
        seconds=round(made.seconds, 2),
        draws=len(spans.span_mm),
        misfit_weeks=sum(course.misfit_weeks or 0.0 for course in courses.courses),
        stay_weeks=sum(course.stay_weeks or 0.0 for course in courses.courses),
        planned=len(found.animals),
        batches=_batches(record),
        errands=errands_of(record.on, moves, preparations, bought.to_buy),
        notices=tuple(_notices(choice, unplanned, courses, made)),
        method=_method(made, len(spans.span_mm), len(found.animals)),
        assumptions=_assumptions(choice),
        cautions=CAUTIONS,
    )


def _done(made: HousingPlan, animals: int) -> str:
    if not animals:
        return "nothing to plan"
    if made.interrupted:
        return "stopped"
    return "best" if made.gap == 0.0 else "within the gap"


def _unplanned(record: Record, spans: RoomSpans) -> list[Course]:
    return [
        Course(animal.code, animal.taxon, animal.home, (), None, None, (), "", (), reason)
        for animal in record.living()
        if (reason := not_planned(record, animal, spans))
    ]


def _batches(record: Record) -> tuple[str, ...]:
    """Batches have no futures: they are counted, with what will be needed when they are separated."""
    told = []
    for code, batch in sorted(record.batches.items()):
        if batch.living == 0:
            continue
        number = "number not known" if batch.living is None else f"{batch.living} of them"
        vials = "as many vials as there are of them" if batch.living is None else f"{batch.living} vials"
        told.append(
            f"Batch {code}, {number}: not planned one by one; {vials} with about "
            "2.5 cm (1 in) of moist substrate when they are separated (common practice, no source)"
        )
    return tuple(told)


def _notices(choice: Choice, unplanned: Sequence[Course], courses: Courses, made: HousingPlan) -> list[str]:
    told = []
    if made.interrupted:
        told.append(f"Stopped early: the best plan may cost {100 * made.gap:.1f} % less by this model")
    if choice.unsized:
        told.append(f"Inner sizes of {joined(choice.unsized)} are not on record: not planned with")
    if choice.generic:
        told.append(
            "No home for sale is on record: usual sizes stand in, counted without a price. "
            "Write down what can be bought on the larder page"
        )
    if choice.left_out:
        told.append(f"{choice.left_out} kinds of home on record are not handed on: the least common ones")
    if unplanned:
        told.append(f"{len(unplanned)} of the animals cannot be planned yet: what is missing is said of each")
    told += courses.without_home
    return told


def _method(made: HousingPlan, draws: int, animals: int) -> tuple[str, ...]:
    return (
        f"{animals} animals, {draws} drawn futures each: size staircase, waits from the moult clock",
        "single courses by shortest paths, put together by a mixed-integer programme (HiGHS); the gap is "
        "proven by relaxing the stock",
        f"proven gap {100 * made.gap:.2f} %, {made.seconds:.1f} s",
    )


def _assumptions(choice: Choice) -> tuple[str, ...]:
    told = [
        f"a move weighs as much as {MOVE_WEEKS:g} weeks in a home that does not fit, a home of the middle "
        f"price as {HOME_WEEKS:g}, a week in a home that may be left or fallen in as {DANGER:g} (choice)",
        "a home left is cleaned for a fortnight, then free for another animal; not after quarantine",
        "no move in premoult, while hardening, with a sac, or in the first two weeks (CP)",
        "gaps of the home it has are covered from outside, as tonight's round asks, not moved away from",
        "nobody dies, no legs are lost, nothing comes new",
        "a large home from the start only where the web finds the prey (web-builders); a small ground "
        "dweller, burrower, tree dweller or wanderer may not find its prey in it (CP)",
    ]
    if any(kind.supply is not None and kind.price is None for kind in choice.kinds) or choice.generic:
        told.append("homes without a price weigh by their size and are in no sum: their cost is unknown")
    return tuple(told)
