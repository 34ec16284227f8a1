"""What the records say of the room's taxa, at the desk: worked out once for each state and day."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from nightround.reports.taxon import TaxaReport, TaxonReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


class Taxa:
    """What the desk knows of taxa; `Desk` brings the rest."""

    def taxa(self: Desk, on: date | None = None) -> TaxaReport:  # type: ignore[misc]
        """Return all taxa of the room with their counts."""
        from nightround.findings.taxon import taxa_report

        with self.one_state():
            record = self.record(on)
            return self._once(
                "taxa", record.on, lambda _: taxa_report(record, room=self.name, invented=self.invented)
            )

    def taxon(self: Desk, name: str, on: date | None = None) -> TaxonReport:  # type: ignore[misc]
        """Return everything found out about one taxon, under any name it ever had. Raises NoSuchThing."""
        from nightround.findings.taxon import taxon_named, taxon_report

        with self.one_state():
            record = self.record(on)
            named = taxon_named(record, name)
            sizes, odds = self.sizes(on), self.odds(on)
            return self._once(
                f"taxon {named}",
                record.on,
                lambda _: taxon_report(record, named, sizes, odds, room=self.name, invented=self.invented),
            )
