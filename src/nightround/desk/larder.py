"""The larder at the desk: planned when somebody asks, kept for its state, its errands held for some days."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from nightround.desk.kept import keep, kept, kept_or
from nightround.desk.track import asked_with
from nightround.reports.larder import Errand, LarderReport, SundayReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.journal.entries import Entry

WEEKS = 26
SHORTEST_WEEKS, LONGEST_WEEKS = 4, 52
ERRANDS_HOLD_DAYS = 8
"""A plan is made anew each week: what it asked for is asked no longer than this."""

Heard = Callable[[str], bool]


class Larders:
    """What the desk knows of feeders; `Desk` brings the rest."""

    def larder(  # type: ignore[misc]
        self: Desk, on: date | None = None, *, weeks: int = WEEKS, heard: Heard | None = None
    ) -> LarderReport:
        """Return the plan for the feeders: need, stock, orders, cultures, shortages.

        heard   is told what is being worked out; False ends the search, and that plan is not kept
        """
        with self.one_state():
            record = self.record(on)
            question = asked_with(f"larder {weeks}", self._widenings(record))

            def work_out() -> LarderReport:
                return _planned(self, record.on, weeks, heard)

            def answer(entries: list[Entry]) -> LarderReport:
                if self._odds_of(record.on, len(entries)) is not None:
                    return work_out()
                return kept_or(question, entries, record.on, LarderReport, work_out, drawer="plans")

            try:
                report = self._once(question, record.on, answer)
            except _StoppedByHand as stopped:
                return stopped.report
        if record.on == self.today() and weeks == WEEKS:
            _hold(self, report)
        return report

    def errands(self: Desk, on: date | None = None) -> tuple[Errand, ...]:  # type: ignore[misc]
        """Return what is due within a week by the last plan and not done yet: asks for no new plan."""
        from nightround.plans.errands import due, no_plan, still_to_do
        from nightround.plans.moving import for_the_round

        record = self.record(on)
        first = record.on - timedelta(days=ERRANDS_HOLD_DAYS - 1)
        held = [errand for errand in _held(self) if first <= errand.made <= record.on]
        of_homes = due(for_the_round(due(self.home_errands(on), record.on)), record.on)
        return (*due(still_to_do(record, held) if held else no_plan(record), record.on), *of_homes)

    def sunday(self: Desk, on: date | None = None, *, heard: Heard | None = None) -> SundayReport:  # type: ignore[misc]
        """Return what to do on a Sunday: orders, cultures, counts, preparations, weighings."""
        from nightround.plans.errands import sunday

        with self.one_state():
            record = self.record(on)
            larder, round_ = self.larder(on, heard=heard), self.tonight(on)
            homes = self.home_errands(on) or self.homes(on, heard=heard).errands
            return sunday(record, larder, round_, homes, room=self.name, invented=self.invented)


class _StoppedByHand(Exception):
    """Carries a plan that was ended early past what would keep it."""

    def __init__(self, report: LarderReport) -> None:
        super().__init__("stopped by hand")
        self.report = report


def _planned(desk: Desk, on: date, weeks: int, heard: Heard | None) -> LarderReport:
    from nightround.findings.spans import room_spans
    from nightround.plans.larder import STOPPED, plan
    from nightround.plans.prey_demand import prey_demand, week_ends

    record, sizes = desk.record(on), desk.sizes(on)
    if heard is not None:
        heard("drawing sizes and moults to come")
    spans = room_spans(record, desk.odds(on), week_ends(on, weeks))
    demand = prey_demand(record, spans, sizes)
    report = plan(record, demand, room=desk.name, invented=desk.invented, heard=heard)
    if report.done == STOPPED:
        raise _StoppedByHand(report)
    return report


def _name(desk: Desk) -> str:
    return "errands-" + hashlib.sha256(str(desk.journal.room).encode()).hexdigest()[:24]


def _hold(desk: Desk, report: LarderReport) -> None:
    keep("errands", _name(desk), report.errands)


def _held(desk: Desk) -> tuple[Errand, ...]:
    found: tuple[Errand, ...] = kept("errands", _name(desk), tuple[Errand, ...]) or ()
    return found
