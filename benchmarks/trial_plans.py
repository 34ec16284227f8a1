"""The program's plans as policies of a trial room: they see the keeper's book and nothing else.

Homes are planned again every four weeks, a year ahead, orders every two, eight weeks ahead; what is to be
done in the weeks between is done as the kept plan says. The moult clock takes in what came every four weeks
and is fitted in full every half year. A keeper may plan again every evening: this is the least.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from nightround.findings.moult import ClockOdds, clock_odds, report_of
from nightround.findings.size import sizes
from nightround.findings.spans import room_spans
from nightround.plans import larder, rehousing
from nightround.plans.prey_demand import prey_demand, week_ends
from nightround.record.model import Record
from nightround.reports.homes import HomesReport, Move
from nightround.reports.larder import LarderReport
from nightround.simulate.policies import PACKS, VESSELS, HomePolicy, MoveWanted, OrderPolicy, TrialRoom, View

FIT_WEEKS = 26
HOMES_WEEKS = 4
HOMES_MONTHS = 12
ASKED_DAYS = 14
DRAWS = 100
HOMES_SECONDS = 4.0
ORDERS_WEEKS = 2
LARDER_WEEKS = 8
LARDER_SECONDS = 1.5


@dataclass
class Clock:
    """The moult clock's fit of one room, kept between Sundays."""

    odds: ClockOdds | None = None
    asked_week: int = -(10**6)
    fitted_week: int = -(10**6)

    def of(self, record: Record, week: int) -> ClockOdds | None:
        """Odds of at most four weeks ago: a full fit now and then, else the kept one with what came since."""
        if week - self.asked_week < HOMES_WEEKS:
            return self.odds
        self.asked_week = week
        full = self.odds is None or week - self.fitted_week >= FIT_WEEKS
        appetite = None if self.odds is None else self.odds.weighed.fit
        self.odds = clock_odds(record, appetite=appetite, earlier=None if full else self.odds)
        if full:
            self.fitted_week = week
        return self.odds


@dataclass
class PlannedHomes:
    """`plans.rehousing`: what it asks for until it is asked again is done, what is to be ordered bought."""

    clock: Clock
    plan: HomesReport | None = None
    gaps: list[float] = field(default_factory=list)

    def moves(self, view: View) -> Sequence[MoveWanted]:
        """Moves of the plan whose day comes before the next asking."""
        if self.plan is None or view.week % HOMES_WEEKS == 0:
            self.plan = self._plan(view)
        first = view.on if (view.on - self.plan.on).days else self.plan.on
        due = view.on + timedelta(days=ASKED_DAYS)
        now = [move for move in self.plan.moves if first <= move.day < due]
        wanted = [move for move in now if move.animal in view.living and move.animal not in view.pending]
        return [_wanted(move, view) for move in wanted]

    def buys(self, view: View) -> Mapping[str, int]:
        """Homes that are to be ordered before the next asking, for moves that come later."""
        assert self.plan is not None
        first, due = view.on, view.on + timedelta(days=ASKED_DAYS)
        found: Counter[str] = Counter()
        for buy in self.plan.to_buy:
            order = buy.order_by or buy.needed
            fresh = order < due and (order >= first or self.plan.on == view.on)
            if fresh and buy.needed >= due:
                found[buy.name] += buy.number
        return found

    def _plan(self, view: View) -> HomesReport:
        record = view.record()
        odds = self.clock.of(record, view.week)
        spans = room_spans(record, odds, rehousing.fortnights(record.on, HOMES_MONTHS), DRAWS)
        pages = sizes(record)
        forecast = None if odds is None else report_of(record, odds, pages)
        plan = rehousing.plan(record, spans, pages, forecast, seconds=HOMES_SECONDS)
        self.gaps.append(plan.gap)
        return plan


def _wanted(move: Move, view: View) -> MoveWanted:
    vessel = view.homes[move.to_home] if move.to_home else move.to
    assert vessel in VESSELS, vessel
    return MoveWanted(move.animal, vessel, move.depth_mm)


@dataclass
class PlannedOrders:
    """`plans.larder`: orders of the plan whose last day comes before the next Sunday are sent."""

    clock: Clock
    plan: LarderReport | None = None
    gaps: list[float] = field(default_factory=list)

    def orders(self, view: View) -> Mapping[str, int]:
        """Packs by name; cultures are not set up, the shop sells flies."""
        if self.plan is None or view.week % ORDERS_WEEKS == 0:
            self.plan = self._plan(view)
        first = view.on if (view.on - self.plan.on).days else self.plan.on
        found: Counter[str] = Counter()
        for order in self.plan.orders:
            if first <= order.order_by < view.on + timedelta(days=7):
                assert order.name in PACKS, order.name
                found[order.name] += order.packs
        return found

    def _plan(self, view: View) -> LarderReport:
        record = view.record()
        odds = self.clock.of(record, view.week)
        spans = room_spans(record, odds, week_ends(record.on, LARDER_WEEKS), DRAWS)
        plan = larder.plan(record, prey_demand(record, spans, sizes(record)), seconds=LARDER_SECONDS)
        self.gaps.append(float("nan") if plan.gap is None else plan.gap)
        return plan


@dataclass
class Planned:
    """The two policies of one room."""

    homes: PlannedHomes
    orders: PlannedOrders

    def make(self, room: TrialRoom, mean_use: Mapping[str, float]) -> tuple[HomePolicy, OrderPolicy]:
        """The plans know nothing of the room but its book."""
        return self.homes, self.orders

    def gaps_taken(self) -> dict[str, list[float]]:
        """Proven gaps of all plans."""
        return {"homes": self.homes.gaps, "orders": self.orders.gaps}


def planned(*_: object) -> Planned:
    """New policies for a room."""
    clock = Clock()
    return Planned(PlannedHomes(clock), PlannedOrders(clock))
