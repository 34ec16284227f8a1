"""Claims at the desk: verdicts once for each state of the journal and day, and a claim written down."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from nightround.desk.taps import FormRefusal, draft_of_form
from nightround.foundation.refusal import NoSuchThing, NotReadable
from nightround.journal.entries import Draft
from nightround.journal.kinds.knowledge import Claim
from nightround.record.model import Record
from nightround.reports.claims import ClaimsReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

SIZES = ("adult_span", "adult_carapace")


class Claims:
    """What the desk knows of claims; `Desk` brings the rest."""

    def claims(self: Desk, on: date | None = None, *, taxon: str = "") -> ClaimsReport:  # type: ignore[misc]
        """Return all claims with their verdicts, or those about one taxon. Raises NoSuchThing for a name."""
        from nightround.findings.claims import claims

        with self.one_state():
            record = self.record(on)
            name = taxon_named(record, taxon) if taxon.strip() else ""
            sized = any(claim.claim in SIZES for each in record.taxa.values() for _, claim in each.claims)
            forecast = self.forecast(on) if sized else None
            return self._once(
                f"claims {name}",
                record.on,
                lambda _: claims(
                    record, room=self.name, invented=self.invented, forecast=forecast, taxon=name
                ),
            )


def taxon_named(record: Record, typed: str) -> str:
    """Return the present name of the taxon that was meant, under any of its names or a slip of one."""
    from nightround.findings.claims_names import best_match

    known = {name: taxon.name for taxon in record.taxa.values() for name in (taxon.name, *taxon.names)}
    found = best_match(typed, known)
    if found is not None:
        return known[found]
    raise NoSuchThing("a taxon of this room", got=repr(typed), todo=_hint(record, typed))


def _hint(record: Record, typed: str) -> str:
    from rapidfuzz import process

    if not record.taxa:
        return "The room has no taxa yet: paste a list of animals, or import tables"
    return "Nearest names: " + ", ".join(
        name for name, _, _ in process.extract(typed, list(record.taxa), limit=4)
    )


def claim_draft(fields: Mapping[str, str], record: Record) -> Draft:
    """Return the draft of a filled-in claim. Raises FormRefusal with every fault.

    fields   those of the kind `claim`, `taxon`, and `as_written` (yes: keep the spelling of the name)
    """
    faults: dict[str, str] = {}
    taxon = _taxon_of(fields, record, faults)
    rest = {name: text for name, text in fields.items() if name not in ("taxon", "as_written")}
    try:
        draft = draft_of_form("claim", taxon or "?", rest, record.clock, "taxon")
    except FormRefusal as refused:
        raise FormRefusal({**refused.fields, **faults}) from refused
    assert isinstance(draft.body, Claim)
    faults.update(_says_nothing(draft.body))
    if faults:
        raise FormRefusal(faults)
    return draft


def _taxon_of(fields: Mapping[str, str], record: Record, faults: dict[str, str]) -> str:
    typed = " ".join(fields.get("taxon", "").split())
    if not typed:
        faults["taxon"] = "Write which taxon it is about."
    elif typed not in record.taxa and fields.get("as_written", "") != "yes":
        try:
            meant = taxon_named(record, typed)
        except NoSuchThing:
            return typed
        faults["taxon"] = f"Is {meant} meant? Write it so; or choose below to keep your spelling."
    return typed


def _says_nothing(claim: Claim) -> dict[str, str]:
    from nightround.findings.claims_read import limits_of

    if not claim.text.strip() and claim.low is None and claim.high is None:
        return {"text": "Write what is claimed, in words, in numbers, or both."}
    try:
        limits_of(claim)
    except NotReadable as fault:
        field = "unit" if "unit" in fault.wanted or " in " in f" {fault.wanted} " else "low"
        return {field: f"Wanted {fault}"}
    return {}
