"""The claims of a room held against its records: a verdict for each, with what stands behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from itertools import combinations
from typing import Final

from nightround.findings.claims_ages import judge_ages, life_ages, maturity_ages, since_sexed
from nightround.findings.claims_habit import judge_habit
from nightround.findings.claims_names import near
from nightround.findings.claims_read import (
    AGE_KINDS,
    KIND_WORDS,
    SIZE_KINDS,
    Limits,
    grade_words,
    limits_of,
    said_words,
)
from nightround.findings.claims_sizes import judge_sizes
from nightround.findings.claims_starter import DISPUTED
from nightround.findings.claims_words import Found
from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import joined
from nightround.journal.kinds.knowledge import Claim
from nightround.record.model import Animal, Record, Taxon
from nightround.reports.claims import STANDING_WORDS, ClaimsReport, Compared, TaxonClaims, Verdict
from nightround.reports.forecast import ForecastReport

METHOD: Final = (
    "a maximum is contradicted when the chance that some animal's true size exceeds it is 99 % or more, all "
    "measuring doubt counted; a longest life when an animal is surely older",
    "a typical range is read as the central 90 %; a single typical number as the middle one, half below it "
    "and half above",
    "e is what a fair bet against the claim would have won for each unit staked: 5 and more strained, 20 and "
    "more contradicted; a true claim ever comes to 20 in at most one room of twenty, however often one "
    "looks. e for it likewise: 20 and more supported, which says that more than half lie where it says (of a "
    "maximum: more than nine in ten adults below it)",
    "an animal that is young and alive says nothing about old age",
)
CAUTIONS: Final = (
    "No verdict says that a spider is harmless: bites and hairs are for doctors and the poison service. Law, "
    "and illness of animals, are for the authorities and for a veterinarian.",
    "These are the animals of one room, kept in one way: another room may find otherwise.",
)
_BEYOND: Final[dict[str, str]] = {
    "venom": "the effect of a bite is not decided by a room's records, and none is a reason to be careless: "
    "after a bite seek medical advice and call the local poison service",
    "temperature": "the warmth they lived through is on the climate page; it does not decide what they bear",
    "humidity": "the air's humidity is not what they drink from: how wet the substrate was is on the water "
    "page; records of one way of keeping do not decide it",
    "other": "words without a number that records could be held against",
}


def claims(
    record: Record, *, room: str, invented: bool, forecast: ForecastReport | None = None, taxon: str = ""
) -> ClaimsReport:
    """Return the verdicts on all claims, or on those about one taxon (its present name).

    forecast   of the same record, to say about when an animal can be measured again
    """
    moults = _moults(record, forecast)
    names = sorted(record.taxa)
    shown = [record.taxa[name] for name in names if (not taxon or name == taxon)]
    taxa = tuple(_of_taxon(record, each, moults, names) for each in shown if each.claims or taxon)
    groups = (
        {record.taxa[taxon].group} if taxon in record.taxa else {each.group for each in record.taxa.values()}
    )
    disputed = tuple(_of_group(record, group, moults) for group in sorted(groups) if _disputed(group))
    return ClaimsReport(record.on, room, invented, taxa, disputed, METHOD, CAUTIONS)


def _moults(record: Record, forecast: ForecastReport | None) -> dict[str, date]:
    found = {}
    for row in forecast.animals if forecast else ():
        middle = row.next_moult.quantiles_days.get("0.50") if row.next_moult else None
        if middle is not None:
            found[row.animal] = record.on + timedelta(days=round(middle))
    return found


def _of_taxon(
    record: Record, taxon: Taxon, moults: Mapping[str, date], names: Sequence[str]
) -> TaxonClaims:  # fmt: skip
    animals = [animal for _, animal in sorted(record.animals.items()) if animal.taxon == taxon.name]
    verdicts = tuple(verdict(record, taxon.name, animals, n, claim, moults) for n, claim in taxon.claims)
    others = tuple(name for name in taxon.names if name != taxon.name)
    strangers = [name for name in names if name != taxon.name and name not in taxon.names]
    return TaxonClaims(
        taxon.name, others, near(taxon.name, strangers), len(animals), verdicts,
        _compared(taxon.claims, verdicts),
    )  # fmt: skip


def _disputed(group: str) -> list[Claim]:
    return [claim for of, claim in DISPUTED if of == group]


def _of_group(record: Record, group: str, moults: Mapping[str, date]) -> TaxonClaims:
    """Claims about a whole group, held against all of its animals here, whatever their taxon."""
    taxa = {taxon.name for taxon in record.taxa.values() if taxon.group == group}
    animals = [animal for _, animal in sorted(record.animals.items()) if animal.taxon in taxa]
    held = [(0, claim) for claim in _disputed(group)]
    verdicts = tuple(verdict(record, group, animals, 0, claim, moults) for _, claim in held)
    return TaxonClaims(group, (), (), len(animals), verdicts, ())


def verdict(
    record: Record,
    taxon: str,
    animals: Sequence[Animal],
    number: int,
    claim: Claim,
    moults: Mapping[str, date],
) -> Verdict:
    """Hold one claim against these animals, narrowed by its sex."""
    meant = [animal for animal in animals if claim.sex is None or animal.sex == claim.sex]
    limits: Limits | None = None
    try:
        limits = limits_of(claim) if claim.claim in (*SIZE_KINDS, *AGE_KINDS) else None
        found = _found(record, meant, claim, limits, moults)
    except NotReadable as fault:
        found = Found("not_decided", f"the claim cannot be read: wanted {fault}".rstrip("."))
    return Verdict(
        number, taxon, claim.claim, said_words(claim, limits), claim.text,
        claim.source or "source not written", grade_words(claim), found.standing, found.words,
        found.against, found.support, found.chance, found.counted, len(meant), found.evidence,
        found.settle, found.settle_day, found.assumptions,
    )  # fmt: skip


def _found(
    record: Record, animals: list[Animal], claim: Claim, limits: Limits | None, moults: Mapping[str, date]
) -> Found:
    kind = claim.claim
    if kind == "habit":
        return judge_habit(animals, claim.text)
    if limits is None or kind not in (*SIZE_KINDS, *AGE_KINDS):
        words = _BEYOND.get(kind, "no number is written that records could be held against")
        return Found("not_decided", words)
    if kind in SIZE_KINDS:
        return judge_sizes(record, animals, limits, kind, moults)
    ages = life_ages(record, animals) if kind == "life_span" else maturity_ages(record, animals)
    if claim.sex is not None:
        ages = since_sexed(record, ages)
    return judge_ages(record, ages, limits, "life_span" if kind == "life_span" else "years_to_maturity")


def _compared(
    claims: Iterable[tuple[int, Claim]], verdicts: Sequence[Verdict]
) -> tuple[Compared, ...]:  # fmt: skip
    """Compare claims of one kind and sex pair by pair, when there is more than one."""
    rows = list(zip(claims, verdicts, strict=True))
    pairs = [
        (first, second)
        for first, second in combinations(rows, 2)
        if first[0][1].claim == second[0][1].claim and _sexes_meet(first[0][1], second[0][1])
    ]
    return tuple(_pair(first, second) for first, second in pairs)


def _sexes_meet(first: Claim, second: Claim) -> bool:
    return first.sex is None or second.sex is None or first.sex == second.sex


def _pair(
    first: tuple[tuple[int, Claim], Verdict], second: tuple[tuple[int, Claim], Verdict]
) -> Compared:  # fmt: skip
    one, other = first[1], second[1]
    agree = _agreement(first[0][1], second[0][1])
    states = joined([f"“{_short(each)}” {STANDING_WORDS[each.standing]}" for each in (one, other)])
    return Compared(one.number, other.number, f"{KIND_WORDS[first[0][1].claim]}: {agree}. {states}")


def _short(verdict_: Verdict) -> str:
    return verdict_.said.partition(": ")[2] or verdict_.said


def _agreement(first: Claim, second: Claim) -> str:
    one: Limits | None = None
    other: Limits | None = None
    if first.claim in (*SIZE_KINDS, *AGE_KINDS):
        try:
            one, other = limits_of(first), limits_of(second)
        except NotReadable:
            return "one of them cannot be read"
    if one is None or other is None:
        same = first.text.strip().casefold() == second.text.strip().casefold()
        return "they say the same" if same else "they stand side by side"
    if (one.low, one.high) == (other.low, other.high):
        return "they say the same"
    if one.sense == other.sense and one.sense in ("maximum", "minimum"):
        return "they differ: one would fall before the other"
    apart = one.high < other.low or other.high < one.low
    return "they cannot both hold" if apart else "they can both hold"
