"""What the keeper should know before the walk: who is missing, heating, climate, quarantine, batches."""

from __future__ import annotations

from nightround.plans.hazards import hazard_of
from nightround.plans.rules import RuleBook
from nightround.plans.words import ago, count
from nightround.record.model import Animal, Record
from nightround.reports.forecast import ForecastReport

_CLIMBS = {
    "smooth": "climbs clean glass",
    "rough": "climbs where it finds grip",
    "poor": "slips on smooth walls",
}


def notices(
    record: Record, forecast: ForecastReport, book: RuleBook, isolated: frozenset[str], more_problems: int
) -> tuple[str, ...]:
    """Return the notices of the round, the most pressing first."""
    found = [*_escaped(record), *_heat(record), *forecast.notices]
    found += [*_quarantine(record, book), *_batches(record)]
    if isolated:
        found.append(
            f"{count(len(isolated), 'animal')} in quarantine: last in the round, with tools of their own"
        )
    if more_problems > 0:
        found.append(f"{count(more_problems, 'more problem')} in the record")
    return tuple(dict.fromkeys(found))


def _escaped(record: Record) -> list[str]:
    missing = [animal for _, animal in sorted(record.animals.items()) if animal.status == "escaped"]
    return [_escape(record, animal) for animal in missing]


def _escape(record: Record, animal: Animal) -> str:
    taxon = record.taxa.get(animal.taxon)
    climbs = taxon.described.climbs if taxon and taxon.described else None
    since = f" {ago(animal.ended.last, record.on)}" if animal.ended and animal.ended.last else ""
    parts = [f"Missing: {animal.code}", animal.taxon or "taxon unknown", f"escaped{since}"]
    if climbs:
        parts.append(_CLIMBS[climbs])
    parts.append(hazard_of(animal.taxon, taxon) or "bite unknown: keep hands off")
    return ", ".join(parts) + ". Look along walls and in warm dark corners; cup it, never grab it"


def _heat(record: Record) -> list[str]:
    return [
        f"Heating failed at {name} {ago(place.heat_failed, record.on)} and is not on record as restored"
        for name, place in sorted(record.places.items())
        if place.heat_failed is not None
    ]


def _quarantine(record: Record, book: RuleBook) -> list[str]:
    """Quarantines begun by an entry whose days are over: they end by an entry only."""
    found = []
    for animal in record.living():
        days = book.ask("quarantine_days", animal).number
        begun = animal.quarantine_begun
        if animal.quarantined and begun and days and (record.on - begun).days > days:
            since = ago(begun, record.on)
            found.append(f"{animal.code}: quarantine began {since}; if it is well, end it with an entry")
    return found


def _batches(record: Record) -> list[str]:
    found = []
    for code, batch in sorted(record.batches.items()):
        if batch.living != 0:
            number = "number unknown" if batch.living is None else count(batch.living, "animal")
            found.append(f"Batch {code} ({batch.taxon or 'taxon unknown'}): {number}, looked after together")
    return found
