"""Homes of batches: spiderlings nobody measured, judged for gaps by the span they hatch at.

Only ground and tree dwellers have a figure; every other batch is of unknown size. They may have grown since.
"""

from __future__ import annotations

from typing import Final

from nightround.plans.fit_build import build_of
from nightround.plans.fit_gaps import gap_faults, gaps_of, openings_of
from nightround.plans.rules import RuleBook
from nightround.plans.sizes import UNKNOWN_SIZE, Size, Span
from nightround.record.model import Animal, Batch, Record
from nightround.reports.fit import FitVerdict

_HATCHED: Final = {"ground": "hatchling_ground_mm", "tree": "hatchling_tree_mm"}


def batch_fit(record: Record, book: RuleBook | None = None) -> tuple[FitVerdict, ...]:
    """Return the gaps of the home of every batch that has living animals and a home on record, by code.

    `animal` reads 'batch …'. Floors and heights are not judged: a batch is shared out before they matter.
    """
    book = book or RuleBook(record)
    return tuple(
        _judged(record, batch, book)
        for _, batch in sorted(record.batches.items())
        if batch.living != 0 and batch.home in record.homes
    )


def _judged(record: Record, batch: Batch, book: RuleBook) -> FitVerdict:
    stand_in = Animal(batch.code, batch.taxon, place=batch.place)
    build = build_of(record, stand_in, book)
    home = record.homes[batch.home]
    size = _size(build.habit, book, stand_in)
    gaps = gaps_of(openings_of(home), build, book, stand_in)
    found, unsized = gap_faults(gaps, size, book, stand_in)
    # By a rule's span the far end of every doubt would warn of every vial: the middle counts.
    faults = tuple(each for each in found if each.sure != "possible" or not size.known)
    unknown = tuple(dict.fromkeys((*gaps.unknown, *unsized)))
    said = [fault.words for fault in faults] + ([f"unknown: {', '.join(unknown)}"] if unknown else [])
    return FitVerdict(
        animal=f"batch {batch.code}", taxon=batch.taxon, home=home.code,
        kind="gaps" if faults else "unknown" if unknown else "fits",
        headline="; ".join(said) or "no opening on record is wide enough to leave by", faults=faults,
        doubts=(), gaps=faults, unknown=unknown, notes=(), low_mm=0.0, high_mm=None, from_mm=None,
        basis=size.basis,
    )  # fmt: skip


def _size(habit: str | None, book: RuleBook, batch: Animal) -> Size:
    key = _HATCHED.get(habit or "")
    if key is None:
        return UNKNOWN_SIZE
    rule = book.ask(key, batch)
    if rule.number is None:
        return UNKNOWN_SIZE
    return Size(
        leg_span=Span(rule.number, rule.number, rule.number),
        basis=f"{rule.used.value} of leg span at hatching ({rule.used.grade}); not measured",
    )
