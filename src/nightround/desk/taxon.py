"""What the records say of the room's taxa, at the desk: worked out once for each state and day."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from nightround.desk.kept import kept_or
from nightround.reports.taxon import Finding, TaxaReport, TaxonReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.journal.entries import Entry
    from nightround.record.model import Record

Fits = dict[str, tuple[Finding, ...]]


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
            fitted = self._taxon_fits(record)
            sizes = self.sizes(on)
            return self._once(
                f"taxon {named}",
                record.on,
                lambda _: taxon_report(record, named, sizes, fitted, room=self.name, invented=self.invented),
            )

    def _taxon_fits(self: Desk, record: Record) -> Fits:  # type: ignore[misc]
        """Return what the fits say of every taxon, kept on disk: they are what takes long."""
        from nightround.findings.taxon import fits_of

        def work_out() -> Fits:
            return fits_of(record, self.odds(record.on))

        def answer(entries: list[Entry]) -> Fits:
            if self._odds_of(record.on, len(entries)) is not None:
                return work_out()
            return kept_or("taxon fits", entries, record.on, Fits, work_out, drawer="taxa")

        return self._once("taxon fits", record.on, answer)
