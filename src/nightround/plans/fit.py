"""Which home fits which animal: the leg spans a home is for, and the verdict on each animal's own home.

Floors, substrates and heights are judged at the middle of the animal's size, gaps at its low end, where they
harm most. What is not on record is unknown, never 'fits'. A gap is a safety warning of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from nightround.foundation.quantities import both
from nightround.foundation.wording import joined
from nightround.journal.kinds.surroundings import Opening
from nightround.plans.fit_build import UNKNOWN_BUILD, Build, build_of, build_of_taxon
from nightround.plans.fit_ends import FitEnd, Vessel, best_depth_mm, ends_of, floor_mm
from nightround.plans.fit_gaps import LONGEST_LEGS, SURE, Gaps, gap_faults, gaps_of, openings_of
from nightround.plans.rules import RuleBook
from nightround.plans.sizes import Size, Span, size_of
from nightround.record.model import Animal, Home, Record
from nightround.reports.fit import FitFault, FitReason, FitVerdict, Sureness, VerdictKind
from nightround.reports.size import SizeReport

__all__ = [
    "UNKNOWN_BUILD", "Build", "FitRange", "best_depth_mm", "build_of", "build_of_taxon", "fit_range",
    "floor_mm", "openings_of", "room_fit", "verdict", "worst_first",
]  # fmt: skip

_KIND: Final[dict[str, VerdictKind]] = {
    "gap": "gaps", "drop": "too_tall", "floor": "small", "depth": "shallow", "height": "low",
    "prey": "too_large",
}  # fmt: skip
_GRAVEST: Final = tuple(_KIND)
_NO_DEPTH: Final = "how deep its substrate is"


@dataclass(frozen=True)
class FitRange:
    """The leg spans [mm] that a home fits one build.

    low_mm, high_mm       ends (0 and inf: no end); `never` when low is above high: no span fits
    ends                  the rules behind them; `reasons` puts them in words
    escape_low_mm         leg span from which nothing leaves, at the longest legs for a carapace;
                          None: openings not on record
    escape_carapace_mm    the same as carapace length: carapaces up to it may leave
    lacking               what decides and is not on record; `unknown` names a guessed depth too
    """

    low_mm: float
    high_mm: float
    ends: tuple[FitEnd, ...]
    gaps: Gaps
    lacking: tuple[str, ...]

    @property
    def unknown(self) -> tuple[str, ...]:
        """What decides and is not on record; without a depth on record the drop is the whole height."""
        guessed = (_NO_DEPTH,) if any(end.guessed for end in self.ends) else ()
        return tuple(dict.fromkeys((*self.lacking, *guessed)))

    @property
    def never(self) -> bool:
        """Whether it fits no leg span at all."""
        return self.low_mm > self.high_mm

    @property
    def escape_low_mm(self) -> float | None:
        """Leg span above which nothing leaves by the openings."""
        carapace = self.escape_carapace_mm
        return None if carapace is None else carapace * LONGEST_LEGS

    @property
    def escape_carapace_mm(self) -> float | None:
        """Carapace length up to which it may leave by the openings, 0 when there are none."""
        if self.gaps.unknown:
            return None
        return self.gaps.widest.carapace_mm if self.gaps.widest else 0.0

    @property
    def reasons(self) -> tuple[FitReason, ...]:
        """The ends in words, each with its rule, source and grade."""
        return tuple(
            FitReason(end.aspect, end.side, end.limit_mm, end.has_mm, end.words, end.rule)
            for end in self.ends
        )

    def fits(self, span_mm: float) -> bool:
        """Whether it fits that leg span by everything that is on record."""
        return self.low_mm <= span_mm <= self.high_mm


def fit_range(
    body: Vessel | None,
    openings: Sequence[Opening] | None,
    build: Build,
    book: RuleBook,
    animal: Animal | None = None,
) -> FitRange:
    """Return the leg spans for which a home fits. `openings` None: not on record (docs/homes.md)."""
    ends, unknown = ends_of(body, build, book, animal)
    gaps = gaps_of(openings, build, book, animal)
    low = max((end.limit_mm for end in ends if end.side == "low"), default=0.0)
    high = min((end.limit_mm for end in ends if end.side == "high"), default=inf)
    return FitRange(low, high, ends, gaps, unknown)


# ---- verdicts ------------------------------------------------------------------------------------------


def room_fit(
    record: Record, sizes: Mapping[str, SizeReport], book: RuleBook | None = None
) -> tuple[FitVerdict, ...]:
    """Return the verdict on the home of every living animal, by code. A missing size counts as unknown."""
    book = book or RuleBook(record)
    return tuple(
        verdict(record, animal, record.homes.get(animal.home), size_of(animal, sizes.get(animal.code)), book)
        for animal in record.living()
    )


def verdict(
    record: Record, animal: Animal, home: Home | None, size: Size, book: RuleBook | None = None
) -> FitVerdict:
    """Return whether that home fits that animal, and why; unknown where what decides is not on record."""
    book = book or RuleBook(record)
    build = build_of(record, animal, book)
    span = size.span_or_guess
    if home is None:
        return _homeless(animal, build, size)
    fit = fit_range(home.body, openings_of(home), build, book, animal)
    found, unknown = _faults(fit, span)
    gaps, unsized = gap_faults(fit.gaps, size, book, animal)
    unknown = tuple(dict.fromkeys((*unknown, *fit.gaps.unknown, *unsized)))
    firm = [fault for fault in found if fault.sure != "possible"] + list(gaps)
    faults = tuple(sorted(firm, key=_gravity))
    doubts = tuple(sorted((fault for fault in found if fault.sure == "possible"), key=_gravity))
    kind: VerdictKind = _KIND[faults[0].aspect] if faults else "unknown" if unknown else "fits"
    return FitVerdict(
        animal=animal.code, taxon=animal.taxon, home=home.code, kind=kind,
        headline=_headline(faults, doubts, unknown), faults=faults, doubts=doubts, gaps=gaps, unknown=unknown,
        notes=_notes(build, fit.gaps, book, animal), low_mm=fit.low_mm,
        high_mm=None if fit.high_mm == inf else fit.high_mm, from_mm=fit.escape_low_mm, basis=_basis(size),
    )  # fmt: skip


def _homeless(animal: Animal, build: Build, size: Size) -> FitVerdict:
    lacking = ("which home it lives in",)
    return FitVerdict(
        animal.code, animal.taxon, "", "unknown", _headline((), (), lacking), (), (), (), lacking,
        (_climbing(build),), 0.0, None, None, _basis(size),
    )  # fmt: skip


def _gravity(fault: FitFault) -> tuple[int, int]:
    return _GRAVEST.index(fault.aspect), SURE[fault.sure]


def _basis(size: Size) -> str:
    if size.leg_span is not None or not size.known:
        return size.basis
    part = "carapace" if size.carapace is not None else "body length"
    return f"{size.basis}; leg span reckoned from its {part} (MEM, wide)"


def _faults(fit: FitRange, span: Span | None) -> tuple[list[FitFault], tuple[str, ...]]:
    """Return what does not fit, and what is unknown; without a size, what no size could mend or all would."""
    if span is None:
        decides = [end for end in fit.ends if 0.0 < end.limit_mm < inf]
        return [], (*fit.unknown, *(["its size"] if decides else []))
    found = []
    unknown = list(fit.lacking)
    for end in fit.ends:
        fault = _fault(end, span)
        if fault is None:
            continue
        if end.guessed:
            unknown.append(_NO_DEPTH)
        else:
            found.append(fault)
    return found, tuple(unknown)


def _fault(end: FitEnd, span: Span) -> FitFault | None:
    tolerance = 1e-9 * max(end.has_mm, 1.0)
    near, far = (span.low, span.high) if end.side == "high" else (span.high, span.low)
    sure: Sureness
    if end.short_mm(near) > tolerance:
        sure = "sure"
    elif end.short_mm(span.value) > tolerance:
        sure = "likely"
    elif end.short_mm(far) > tolerance:
        sure = "possible"
    else:
        return None
    judged = far if sure == "possible" else span.value
    by = end.short_mm(judged)
    return FitFault(
        end.aspect, sure, _fault_words(end, by, judged, sure), by, end.has_mm, end.needs_mm(judged), end.rule
    )


def _fault_words(end: FitEnd, by_mm: float, span_mm: float, sure: Sureness) -> str:
    head, tail = {
        "floor": ("small", ""),
        "depth": ("substrate shallow", ""),
        "height": ("too low above the substrate", ""),
        "drop": ("too tall", f": it can fall {both(end.has_mm, 'mm')}"),
        "prey": ("large", ": so small an animal may not find its prey"),
    }[end.aspect]
    at = " at the far end of its size" if sure == "possible" else ""
    return f"{head} by {both(by_mm, 'mm')} for a leg span of {both(span_mm, 'mm')}{at}{tail}"


def _headline(faults: Sequence[FitFault], doubts: Sequence[FitFault], unknown: Sequence[str]) -> str:
    lacking = f"unknown: {joined(unknown)}" if unknown else ""
    if faults:
        return "; ".join(filter(None, (*(fault.words for fault in faults), lacking)))
    if unknown:
        return lacking
    return f"fits; {doubts[0].words}" if doubts else "fits"


def _notes(build: Build, gaps: Gaps, book: RuleBook, animal: Animal) -> tuple[str, ...]:
    most = book.ask("opening_most_mm", animal)
    wide = [gap.words for gap in gaps.found if most.number is not None and gap.width_mm > most.number]
    return tuple(
        filter(
            None,
            (
                _climbing(build),
                f"By your rule walls hold it: {gaps.held_by_walls} high openings not counted"
                if gaps.held_by_walls
                else "",
                f"{joined(wide)}: over {most.used.value} at most ({most.used.grade})" if wide else "",
            ),
        )
    )


_CLIMBING: Final = {
    "smooth": "Climbs clean glass and plastic: it reaches any lid and opening; the lid stays on and fastened",
    "rough": "Climbs where it finds grip, on web and dust too: the lid stays on",
    "poor": "Slips on clean walls only until web or dust gives it grip: the lid stays on",
}


def _climbing(build: Build) -> str:
    return _CLIMBING.get(
        build.climbs or "", "Climbing unknown, counted as climbing any wall: the lid stays on"
    )


def worst_first(verdicts: Iterable[FitVerdict]) -> list[FitVerdict]:
    """Return the verdicts with the gravest first: gaps, falls, floors, and what fits last."""
    order = {kind: place for place, kind in enumerate((*_KIND.values(), "unknown", "fits"))}
    return sorted(verdicts, key=lambda each: (order[each.kind], each.home, each.animal))
