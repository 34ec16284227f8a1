"""What lies ahead of one animal, at the desk: worked out from the fit behind the forecast, and held."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from nightround.desk.kept import kept_or
from nightround.desk.track import asked_with
from nightround.reports.ahead import AheadReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.journal.entries import Entry


class LookingAhead:
    """What the desk knows of an animal's future; `Desk` brings the rest."""

    def ahead(  # type: ignore[misc]
        self: Desk,
        code: str,
        on: date | None = None,
        *,
        days: Sequence[date] = (),
        spans_mm: Sequence[float] = (),
    ) -> AheadReport:
        """Return what lies ahead of one animal: growth to come, and its next moult if it were warmer.

        days, spans_mm   asked for: its leg span on those days, and when it reaches those spans
        """
        from nightround.findings.ahead import ahead

        with self.one_state():
            record, animal = self.record(on), self.find(code, on)
            question = _question(self, animal.code, record.on, days, spans_mm)

            def work_out() -> AheadReport:
                odds = self.odds(record.on)
                return ahead(record, odds, animal.code, days=days, spans_mm=spans_mm)

            def answer(entries: list[Entry]) -> AheadReport:
                if self._odds_of(record.on, len(entries)) is not None:
                    # The fit is at hand, perhaps one that took entries in: nothing to be gained by the disk.
                    return work_out()
                return kept_or(question, entries, record.on, AheadReport, work_out, drawer="animals")

            return self._once(question, record.on, answer)

    def ahead_known(self: Desk, code: str, on: date | None = None) -> AheadReport | None:  # type: ignore[misc]
        """Return what lies ahead of one animal if that is worked out already, else None: asks for no fit."""
        with self.one_state():
            day = self.record(on).on
            asked = _question(self, self.find(code, on).code, day, (), ())
            count, known = self._answers.get((asked, day), (-1, None))
            return known if count == len(self.entries()) else None


def _question(desk: Desk, code: str, on: date, days: Sequence[date], spans_mm: Sequence[float]) -> str:
    """The name under which an answer is held; another widening of the forecast is another answer."""
    asked = [day.isoformat() for day in days], [f"{span:g}" for span in spans_mm]
    return asked_with(f"ahead {code} {asked}", desk._widenings(desk.record(on)))
