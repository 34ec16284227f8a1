"""The plan of the homes at the desk: worked out when somebody asks, never for tonight's round."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from nightround.desk.kept import keep, kept, kept_or
from nightround.desk.track import asked_with
from nightround.reports.homes import HomesReport, RunSheet
from nightround.reports.larder import Errand

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.journal.entries import Entry

MONTHS = 18
SHORTEST_MONTHS, LONGEST_MONTHS = 2, 36
ERRANDS_HOLD_DAYS = 28
"""A plan of homes is made anew each month: what it asked for is asked no longer than this."""

Heard = Callable[[str], object]


class HomePlans:
    """What the desk knows of moves to come; `Desk` brings the rest."""

    def homes(  # type: ignore[misc]
        self: Desk, on: date | None = None, *, months: int = MONTHS, heard: Heard | None = None
    ) -> HomesReport:
        """Return the plan of the homes: verdicts tonight, moves, what to buy and to prepare.

        heard   is told how the search goes; False ends it, and that plan is not kept; so does the keyboard
        """
        with self.one_state():
            record = self.record(on)
            question = asked_with(f"homes {months}", self._widenings(record))

            def answer(entries: list[Entry]) -> HomesReport:
                def work_out() -> HomesReport:
                    return _planned(self, record.on, months, heard)

                if self._odds_of(record.on, len(entries)) is not None:
                    return work_out()
                return kept_or(question, entries, record.on, HomesReport, work_out, drawer="plans")

            try:
                report = self._once(question, record.on, answer)
            except _StoppedByHandError as stopped:
                return stopped.report
        if record.on == self.today() and months == MONTHS:
            keep("errands", _name(self), report.errands)
            with self._lock:
                # The round rests on what is held: it is worked out anew when it is next asked for.
                self._answers.pop(("tonight", record.on), None)
        return report

    def run_sheet(  # type: ignore[misc]
        self: Desk, animal: str, number: int = 1, on: date | None = None
    ) -> RunSheet:
        """Return the run sheet of a planned move. Raises NoSuchThing when there is none."""
        from nightround.plans.rehousing_words import run_sheet

        with self.one_state():
            code = self.find(animal, on).code
            return run_sheet(self.record(on), self.homes(on), code, number)

    def home_errands(self: Desk, on: date | None = None) -> tuple[Errand, ...]:  # type: ignore[misc]
        """Return what the last plan of homes asks for and nobody has done since: asks for no new plan."""
        from nightround.plans.rehousing_words import still_asked

        record = self.record(on)
        first = record.on - timedelta(days=ERRANDS_HOLD_DAYS - 1)
        held: tuple[Errand, ...] = kept("errands", _name(self), tuple[Errand, ...]) or ()
        return still_asked(record, [each for each in held if first <= each.made <= record.on])

    def planned_moves(self: Desk, on: date | None = None) -> tuple[Errand, ...]:  # type: ignore[misc]
        """Return the moves among what the last plan asks for."""
        return tuple(each for each in self.home_errands(on) if each.sort == "rehouse")


class _StoppedByHandError(Exception):
    """Carries a plan that was ended early past what would keep it."""

    def __init__(self, report: HomesReport) -> None:
        super().__init__("stopped by hand")
        self.report = report


def _planned(desk: Desk, on: date, months: int, heard: Heard | None) -> HomesReport:
    from nightround.findings.spans import room_spans
    from nightround.plans.rehousing import DRAWS, fortnights, plan

    record, sizes, forecast = desk.record(on), desk.sizes(on), desk.forecast(on)
    if heard is not None:
        heard("drawing sizes and moults to come")
    spans = room_spans(record, desk.odds(on), fortnights(on, months), DRAWS)
    report = plan(record, spans, sizes, forecast, room=desk.name, invented=desk.invented, heard=heard)
    if report.done == "stopped":
        raise _StoppedByHandError(report)
    return report


def _name(desk: Desk) -> str:
    return "homes-" + hashlib.sha256(str(desk.journal.room).encode()).hexdigest()[:24]
