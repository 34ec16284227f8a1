"""From the numbers of a plan to moves: which home, in which fortnight, by which window, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import inf
from typing import Final

import numpy as np

from nightround.findings.spans import RoomSpans
from nightround.foundation.quantities import both
from nightround.plans.fit import FitRange
from nightround.plans.rehousing_costs import MOST_DANGER, MOST_MISFIT, PERIOD_DAYS, Planned
from nightround.plans.rehousing_ways import Choice, litres_of
from nightround.plans.words import percent
from nightround.record.model import Record
from nightround.reports.homes import Course, Move, Other, SpanRange, Window
from nightround.science.housing.paths import with_moves
from nightround.science.housing.problem import OWN, HousingPlan, Integers, before, moves_of

NEW: Final = "new "
"""Homes to be bought are numbered within the plan: 'new 3'."""
MOST_OTHERS: Final = 3
SPARED_WEEKS: Final = 0.5
"""Weeks of misfit that a middle home must spare to be named; chosen for this program."""


@dataclass(frozen=True)
class Purchase:
    """One home bought: its kind, the fortnight it is needed in, for whom, and what to look at."""

    kind: int
    period: int
    animal: str
    checks: tuple[str, ...]


@dataclass
class Courses:
    """What the plan means: courses of animals, their moves, and homes bought."""

    courses: list[Course] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    purchases: list[Purchase] = field(default_factory=list)
    without_home: list[str] = field(default_factory=list)


@dataclass
class FreeHomes:
    """Which homes of each kind are free from which period on, of the record and bought before."""

    free: dict[int, list[tuple[int, str]]]
    bought: int = 0

    def take(self, kind: int, period: int) -> tuple[str, bool]:
        """Return the code of a free home, else a new one's, and whether it is to be bought."""
        ready = sorted(each for each in self.free.get(kind, []) if each[0] <= period)
        if ready:
            self.free[kind].remove(ready[0])
            return ready[0][1], False
        self.bought += 1
        return f"{NEW}{self.bought}", True

    def give(self, kind: int, period: int, code: str) -> None:
        """A home left in a period is free from the next on."""
        if kind >= 0:
            self.free.setdefault(kind, []).append((period + 1, code))


def courses_of(
    record: Record, spans: RoomSpans, found: Planned, choice: Choice, made: HousingPlan
) -> Courses:
    """Return every animal's course in words."""
    result = Courses()
    homes = FreeHomes({at: [(0, code) for code in kind.homes] for at, kind in enumerate(choice.kinds)})
    moves = _moves(record, spans, found, choice, made.way, homes, result)
    others = _others(found, choice, made)
    for at, animal in enumerate(found.animals):
        way = made.way[at]
        weeks = _misfit_weeks(found, at, way)
        stay = float(found.own_misfit[at].sum() * PERIOD_DAYS / 7)
        skips = _skipped(others[at], sum(moves_of(made.way[at : at + 1])[0]))
        course = Course(
            animal.code, animal.taxon, animal.home, tuple(moves[at]), weeks, stay, others[at], skips,
            tuple(_notes(found, at)),
        )  # fmt: skip
        result.courses.append(course)
        result.moves += moves[at]
        told = _no_home(found, choice, at, way)
        result.without_home += [told] if told else []
    return result


def _misfit_weeks(found: Planned, at: int, way: Integers) -> float:
    when = np.arange(len(way))
    inside = found.misfit[at, np.maximum(way, 0), when] if found.misfit.shape[1] else found.own_misfit[at]
    return float(np.where(way == OWN, found.own_misfit[at], inside).sum() * PERIOD_DAYS / 7)


def _moves(
    record: Record,
    spans: RoomSpans,
    found: Planned,
    choice: Choice,
    way: Integers,
    homes: FreeHomes,
    result: Courses,
) -> list[list[Move]]:
    """Walk the fortnights in order, so that a home is given on only after it was left."""
    made: list[list[Move]] = [[] for _ in found.animals]
    moving, earlier = moves_of(way), before(way)
    lives: list[tuple[int, str]] = [
        (int(kind), animal.home) for kind, animal in zip(found.problem.own_kind, found.animals, strict=True)
    ]
    for period in range(way.shape[1]):
        for at in np.flatnonzero(moving[:, period]):
            kind = choice.ways[way[at, period]].kind
            code, buy = homes.take(kind, period)
            move = _move(record, spans, found, choice, int(at), period, way, earlier, lives[at][1], code)
            move = replace(move, buy=buy)
            if buy:
                result.purchases.append(Purchase(kind, period, move.animal, move.checks))
            made[at].append(_numbered(move, len(made[at]) + 1))
            homes.give(*_left(lives[at], period))
            lives[at] = (kind, code)
    return made


def _left(lived: tuple[int, str], period: int) -> tuple[int, int, str]:
    return lived[0], period, lived[1]


def _numbered(move: Move, number: int) -> Move:
    return replace(move, number=number)


def _move(
    record: Record,
    spans: RoomSpans,
    found: Planned,
    choice: Choice,
    at: int,
    period: int,
    way: Integers,
    earlier: Integers,
    from_home: str,
    code: str,
) -> Move:
    animal, row = found.animals[at], int(found.rows[at])
    target = int(way[at, period])
    into, kind = choice.ways[target], choice.kinds[choice.ways[target].kind]
    left = found.own[at] if earlier[at, period] == OWN else found.fits[at][int(earlier[at, period])]
    span = np.quantile(spans.span_mm[:, row, period], (0.1, 0.5, 0.9))
    gap = _gap_most(spans, row, period, found.holes[at])
    on_record = code if code in record.homes else ""
    told = f"{code}, {kind.words}" if on_record else kind.words
    was = _home_words(from_home, choice, found, at, int(earlier[at, period]))
    return Move(
        animal=animal.code, taxon=animal.taxon, place=animal.place, number=1, day=spans.days[period],
        opens=_opens(spans, found, at, target), outgrows=_window(spans, row, left.high_mm),
        limit_mm=None if left.high_mm == inf else left.high_mm, from_home=was,
        to=told, to_home=on_record, buy=False, depth_mm=into.depth_mm, litres=litres_of(into),
        span=SpanRange(*(float(value) for value in span)), put_off=float(found.blocked[at, period]),
        gap_most_mm=gap,
        reasons=tuple(_reasons(found, at, period, target, earlier[at, period] == OWN, left)),
        checks=tuple(_checks(kind.openings is None, gap, bool(on_record))),
    )  # fmt: skip


def _home_words(home: str, choice: Choice, found: Planned, at: int, way: int) -> str:
    """The code of a home on record, or what kind of home it is by then."""
    return home if way == OWN or not home.startswith(NEW) else choice.kinds[choice.ways[way].kind].words


def _gap_most(spans: RoomSpans, row: int, period: int, rules: tuple[float, float]) -> float | None:
    """The width of a round hole that holds one of 20 draws' carapaces, at most that for anybody [mm]."""
    share, most = rules
    carapace = float(np.quantile(spans.carapace_mm[:, row, period], 0.05))
    return None if not np.isfinite(carapace) else min(share * carapace, most)


def _checks(unknown: bool, gap: float | None, on_record: bool) -> list[str]:
    told = []
    if gap is not None and unknown:
        what = "its openings are not on record" if on_record else "openings not told"
        told.append(f"{what}: none may be over {both(gap, 'mm')} wide, slits a third of that")
    return told


def _opens(spans: RoomSpans, found: Planned, at: int, way: int) -> date | None:
    fine = (found.misfit[at, way] <= MOST_MISFIT) & (found.danger[at, way] <= MOST_DANGER)
    return spans.days[int(fine.argmax())] if fine.any() else None


def _window(spans: RoomSpans, row: int, limit_mm: float) -> Window | None:
    if limit_mm == inf:
        return None
    days = spans.reached(spans.codes[row], limit_mm)
    reached = [float(np.sort(days)[max(int(np.ceil(level * len(days))) - 1, 0)]) for level in (0.1, 0.5, 0.9)]
    return Window(*(spans.on + timedelta(days=day) if np.isfinite(day) else None for day in reached))


def _reasons(found: Planned, at: int, period: int, way: int, from_own: bool, left: FitRange) -> list[str]:
    told = []
    if from_own:
        now = float(found.own_misfit[at, period])
        told.append(f"{percent(now)} that the home it leaves does not fit it by then")
        if now < MOST_MISFIT:
            told.append(
                "more likely than not it still fits then: measure first, this move may prove needless"
            )
    told.append(f"{percent(1 - float(found.misfit[at, way, period]))} that the new one does")
    ends = [end for end in left.ends if end.side == "high" and end.limit_mm == left.high_mm]
    told += [f"{end.words} ({end.rule.grade})" for end in ends]
    return told


def _notes(found: Planned, at: int) -> list[str]:
    if found.builds[at].webs_for_prey:
        return ["its web finds prey in a home of any size: a large home from the start holds for it (CP)"]
    return []


def _others(found: Planned, choice: Choice, made: HousingPlan) -> list[tuple[Other, ...]]:
    """Best courses of each animal by number of moves, at the stock's prices."""
    problem = found.problem
    prices = np.zeros((problem.kinds, problem.periods)) if made.prices is None else made.prices
    costs, ways = with_moves(problem, prices, MOST_OTHERS)
    planned_moves = moves_of(made.way).sum(axis=1)
    result = []
    for at in range(len(found.animals)):
        told = []
        for count in range(MOST_OTHERS + 1):
            moves = int(moves_of(ways[at : at + 1, count]).sum())
            is_planned = moves == int(planned_moves[at])
            way = made.way[at] if is_planned else ways[at, count]
            if moves == count:
                weeks = _misfit_weeks(found, at, way)
                cost = float(costs[at, count])
                told.append(Other(moves, _through(choice, way), weeks, cost, is_planned))
        result.append(tuple(told))
    return result


def _through(choice: Choice, way: Integers) -> tuple[str, ...]:
    at = np.flatnonzero(moves_of(way[None])[0])
    return tuple(choice.kinds[choice.ways[way[period]].kind].words for period in at)


def _skipped(others: Sequence[Other], moves: int) -> str:
    """Say which middle home is skipped, and what that costs, when another move would fit better."""
    mine = next((each for each in others if each.planned), None)
    more = next((each for each in others if each.moves == moves + 1), None)
    if mine is None or more is None or moves == 0 or mine.misfit_weeks - more.misfit_weeks < SPARED_WEEKS:
        return ""
    middle = [home for home in more.homes if home not in mine.homes]
    by_way = f" by way of {middle[0]}" if middle else ""
    return (
        f"Skips a middle home: {moves + 1} moves{by_way} would spare "
        f"{mine.misfit_weeks - more.misfit_weeks:.1f} weeks in a home that does not fit "
        f"({mine.misfit_weeks:.1f} to {more.misfit_weeks:.1f}) and cost one move more"
    )


def _no_home(found: Planned, choice: Choice, at: int, way: Integers) -> str:
    """Say when nothing fits any more, and which rule stands in the way."""
    if way[-1] != OWN or found.own_misfit[at, -1] <= MOST_MISFIT:
        return ""
    animal = found.animals[at]
    fine = (found.misfit[at] <= MOST_MISFIT) & (found.danger[at] <= MOST_DANGER)
    if fine.any():
        return ""
    fits = found.fits[at]
    ends = {end.aspect for fit in fits for end in fit.ends}
    rules = ", ".join(sorted(ends)) or "size"
    return (
        f"{animal.code}: its home will likely not fit it and no home on record or for sale does "
        f"(rules of {rules}): look for another"
    )
