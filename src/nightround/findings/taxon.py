"""The taxa of a room: the list with its counts, and everything found out about one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from nightround.findings import taxon_fits, taxon_lived
from nightround.findings.size import fit_room
from nightround.findings.survival import CLOCK_OF
from nightround.findings.survival_ages import with_ages
from nightround.findings.survival_groups import batch_losses, curves_of
from nightround.findings.survival_lives import Life, Lives, room_lives
from nightround.foundation.refusal import NoSuchThing
from nightround.foundation.wording import counted
from nightround.record.make_histories import daily_climate, moult_histories
from nightround.record.model import Record
from nightround.reports.size import SizeReport
from nightround.reports.taxon import Clock, Finding, LifeCurve, TaxaReport, TaxonLine, TaxonReport
from nightround.science.survival.data import ALIVE

if TYPE_CHECKING:
    from nightround.findings.moult import ClockOdds

METHOD: Final = (
    "Follow-up of an animal without an exit ends at its last sign of life, not on this day.",
    "Sold and given animals are censored, never dead; lost and escaped ones are a kind of their own, censored"
    " at their last sign of life.",
    "On one day entries come first, then deaths, then those who leave sight: what arrives and dies on one day"
    " was at risk that day.",
    "By age stand only animals whose hatching is known within a year, or worked back so from their size, from"
    " the day their death would have been seen; the others stand by their time in this room.",
    "An animal stands in a sex's curve from the day its sex was known.",
    "Males after the ultimate moult have a clock of their own, besides their whole lives.",
)
ASSUMPTIONS: Final = (
    "those sold or given would have lived as long as those that stayed; the curves beside show half and twice"
    " their hazard",
    "an animal that came back is followed from its latest arrival, one found again from that day",
)
CAUTIONS: Final = (
    "What was found in one room is no rule of care: it holds for these animals, this climate, this keeper.",
    "How long an animal lives says nothing of its venom or hairs: no spider here is called harmless.",
)


def taxa_report(record: Record, *, room: str, invented: bool) -> TaxaReport:
    """List the taxa of the record with their counts; taxa with animals or batches only."""
    lives = room_lives(record)
    names = {animal.taxon for animal in record.animals.values()}
    names |= {batch.taxon for batch in record.batches.values()}
    lines = tuple(_line(record, lives, name) for name in sorted(names, key=lambda name: (not name, name)))
    return TaxaReport(record.on, room, invented, lines)


def _line(record: Record, lives: Lives, name: str) -> TaxonLine:
    animals = [animal for animal in record.animals.values() if animal.taxon == name]
    of = lives.of(name)
    fates = [animal.status for animal in animals]
    lost = sum(animal.status == "left" and animal.ended_how == "lost" for animal in animals)
    taxon = record.taxa.get(name)
    oldest, clock = _oldest(of)
    return TaxonLine(
        name, taxon.group if taxon else "", len(animals), fates.count("alive"), fates.count("dead"),
        fates.count("left") - lost, fates.count("escaped") + lost,
        sum(batch.taxon == name for batch in record.batches.values()),
        sum(len(animal.moults) for animal in animals),
        sum(bool(animal.measurements) for animal in animals), oldest, clock,
    )  # fmt: skip


def _oldest(lives: Sequence[Life]) -> tuple[float | None, Clock | None]:
    """The oldest one alive by age where any age is known, else by its time here."""
    alive = [life for life in lives if life.fate == ALIVE]
    clocks: tuple[Clock, ...] = ("age", "care")
    for clock in clocks:
        found = [followed.left for life in alive if (followed := CLOCK_OF[clock](life)) is not None]
        if found:
            return max(found), clock
    return None, None


def fits_of(record: Record, odds: ClockOdds | None) -> dict[str, tuple[Finding, ...]]:
    """What the fits of sizes and of the moult clock say, by taxon; odds None: in a room without animals."""
    names = {animal.taxon for animal in record.animals.values()}
    names |= {batch.taxon for batch in record.batches.values()}
    room = fit_room(record)
    return {
        name: (taxon_fits.growth_ratio(room, name), taxon_fits.intermoult(odds, name))
        for name in sorted(names)
    }


def taxon_report(
    record: Record,
    name: str,
    sizes: Mapping[str, SizeReport],
    fitted: Mapping[str, tuple[Finding, ...]],
    *,
    room: str,
    invented: bool,
) -> TaxonReport:
    """Everything found out about one taxon, under any name it ever had. Raises NoSuchThing.

    fitted   what the fits say of the taxa (`fits_of`)
    """
    name = taxon_named(record, name)
    known = room_lives(record)
    lives = with_ages(known, sizes)
    line, taxon = _line(record, known, name), record.taxa.get(name)
    own = lives.of(name)
    group = lives.of_group(line.group)
    curves = curves_of(own, name)
    wider = curves_of(group, line.group) if len(group) > len(own) else ()
    animals = [animal for _, animal in sorted(record.animals.items()) if animal.taxon == name]
    return TaxonReport(
        record.on, room, invented, line, taxon.names if taxon else (),
        taxon.described.hazard if taxon and taxon.described else "", curves,
        wider, _findings(record, name, own, curves, sizes, fitted), batch_losses(record, name),
        taxon_lived.homes_used(record, animals), lives.missing(name), _worked_back(own),
        METHOD, ASSUMPTIONS, CAUTIONS,
    )  # fmt: skip


def _worked_back(lives: Sequence[Life]) -> tuple[str, ...]:
    return tuple(
        f"{life.code}: hatched between {life.hatched[0].isoformat()} and {life.hatched[1].isoformat()}"
        for life in lives
        if life.worked_back and life.hatched is not None
    )


def taxon_named(record: Record, name: str) -> str:
    """Return the present name of a taxon, asked for in any spelling of upper and lower case."""
    wanted = " ".join(name.split()).casefold()
    known = {animal.taxon for animal in record.animals.values()}
    known |= {batch.taxon for batch in record.batches.values()}
    for taxon in record.taxa.values():
        if wanted in (each.casefold() for each in (taxon.name, *taxon.names)):
            return taxon.name
    found = next((each for each in known if each.casefold() == wanted), None)
    if found is None:
        raise NoSuchThing(
            "a taxon of this room", got=repr(name), todo="The list of taxa names them: nightround evidence"
        )
    return found


def _findings(
    record: Record,
    name: str,
    lives: Sequence[Life],
    curves: Sequence[LifeCurve],
    sizes: Mapping[str, SizeReport],
    fitted: Mapping[str, tuple[Finding, ...]],
) -> tuple[Finding, ...]:
    animals = [animal for _, animal in sorted(record.animals.items()) if animal.taxon == name]
    histories = moult_histories(record)
    return (
        *life_spans(curves),
        *taxon_fits.years_to_maturity(lives),
        *taxon_fits.adult_sizes(record, sizes, name),
        *fitted.get(name, ()),
        taxon_lived.appetite(animals),
        *taxon_lived.climate_lived(lives, histories, daily_climate(record)),
        taxon_lived.moves_a_year(lives, record.animals),
        taxon_lived.deaths_a_year(lives),
    )


def life_spans(curves: Sequence[LifeCurve]) -> list[Finding]:
    """Median ages at death by sex, and of all: the medians of the curves by age."""
    found = []
    for who in ("all", "females", "males"):
        curve = next((each for each in curves if each.clock == "age" and each.who == who), None)
        key, name = f"life_span_{who}", f"Age that half of them reach, {who}"
        if curve is None or curve.median is None:
            missing = _missing_life_span(curve)
            found.append(Finding(key, name, "day", None, missing))
            continue
        words = (curve.words, *_reached(curve.from_days))
        found.append(Finding(key, name, "day", curve.median, words=words))
    return found


def _missing_life_span(curve: LifeCurve | None) -> str:
    if curve is None or not curve.n:
        return "no animal whose hatching is known within a year"
    reason = curve.median_words.removeprefix("not enough yet: ")
    return f"{reason}; {curve.words}"


def _reached(from_days: float | None) -> tuple[str, ...]:
    if not from_days:
        return ()
    return (f"of those that reached {counted(round(from_days), 'day')}",)
