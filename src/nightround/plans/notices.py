"""What to know before the walk: who is missing, heating, gaps, climate, homes, quarantine, batches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nightround.plans.climate_notices import climate_notices
from nightround.plans.fit_batches import batch_fit
from nightround.plans.fit_safety import safety_notices
from nightround.plans.hazards import hazard_of
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation, sound
from nightround.plans.words import ago, count
from nightround.record.model import Animal, Record
from nightround.reports.forecast import ForecastReport
from nightround.reports.water import HomeWater

_CLIMBS = {
    "smooth": "climbs clean glass",
    "rough": "climbs where it finds grip",
    "poor": "slips on smooth walls",
}


def notices(
    record: Record,
    forecast: ForecastReport,
    book: RuleBook,
    isolated: frozenset[str],
    more_problems: int,
    situations: Sequence[Situation] = (),
    homes: Mapping[str, HomeWater] | None = None,
) -> tuple[str, ...]:
    """Return the notices of the round, the most pressing first."""
    fits = [*(s.fit for s in situations), *batch_fit(record, book)]
    found = [*_escaped(record), *_heat(record), *safety_notices(record, fits)]
    found += [*climate_notices(record, book, situations)]
    found += [words for words in forecast.notices if words not in forecast.climate_notices]
    unsound = [row.animal for row in forecast.animals if not sound(row)]
    if unsound:
        names = ", ".join(unsound) if len(unsound) <= 5 else count(len(unsound), "animal")
        found.append(f"No usable odds for {names}: they count as unknown")
    found += [*_troubles(record, book), *_quarantine(record, book), *_batches(record, book, homes or {})]
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
    hazard = hazard_of(animal.taxon, taxon)
    parts.append(hazard[:1].lower() + hazard[1:] if hazard else "bite unknown: keep hands off")
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


def _batches(record: Record, book: RuleBook, homes: Mapping[str, HomeWater]) -> list[str]:
    """Batches have no row of their own: how many, when they were last offered prey and watered."""
    found = []
    for code, batch in sorted(record.batches.items()):
        if batch.living == 0:
            continue
        number = "number unknown" if batch.living is None else count(batch.living, "animal")
        parts = [f"Batch {code} ({batch.taxon or 'taxon unknown'}): {number}"]
        offered = max((each.when.last for each in batch.offers if each.when.last is not None), default=None)
        days = book.ask("feed_sling_days", Animal(code, batch.taxon, place=batch.place)).number
        due = days is not None and (offered is None or (record.on - offered).days >= days)
        parts.append(f"last offer {ago(offered, record.on)}" if offered else "no offer on record")
        parts.append("prey is due" if due else "prey is not due")
        watered = max(batch.watered, default=None)
        parts.append(f"last watered {ago(watered, record.on)}" if watered else "no watering on record")
        water = homes.get(batch.home) if batch.home else None
        if water is not None:
            parts.append(f"home {water.home}: {water.dose.title[:1].lower()}{water.dose.title[1:]}")
        found.append("; ".join(parts))
    return found


def _troubles(record: Record, book: RuleBook) -> list[str]:
    """Mould, mites or a flood in a home with somebody in it, as long as it was seen lately."""
    recent = book.ask("ask_outcome_days").number or 0.0
    found = []
    for code, home in sorted(record.homes.items()):
        for day, what in home.troubles[-1:]:
            if home.occupants and (record.on - day).days <= recent:
                trouble = "was flooded" if what == "flooded" else f"had {what}"
                found.append(f"Home {code} ({', '.join(home.occupants)}) {trouble} {ago(day, record.on)}")
    return found
