"""The room's climate at the desk: worked out once for each state of the journal and day."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from nightround.reports.climate import ClimateReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


class Climates:
    """What the desk knows of winters and summers; `Desk` brings the rest."""

    def climate(self: Desk, on: date | None = None) -> ClimateReport:  # type: ignore[misc]
        """Return the room's climate: places, offsets, events, gaps, and what winters cost."""
        from nightround.findings.climate import climate
        from nightround.plans.climate_notices import thresholds_of

        with self.one_state():
            record, forecast = self.record(on), self.forecast(on)
            return self._once(
                "climate",
                record.on,
                lambda _: climate(
                    record,
                    thresholds_of(record),
                    warmth=forecast.warmth,
                    room=self.name,
                    invented=self.invented,
                ),
            )
