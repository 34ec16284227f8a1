"""Openings an animal may leave by: its carapace is the rigid part, so that decides (common practice).

A round hole lets an animal out whose carapace is no wider than the hole; a slit one whose carapace is no
higher than the slit is wide, and no wider than it is long. No opening is left out for being high in a home:
web and dust give grip on any wall, unless the keeper's rule says that walls hold this animal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from nightround.foundation.quantities import both
from nightround.journal.kinds.surroundings import Opening
from nightround.plans.fit_build import Build
from nightround.plans.rules import RuleBook
from nightround.plans.sizes import SPAN_OF_CARAPACE, Size, Span
from nightround.record.model import Animal, Home
from nightround.reports.fit import FitFault, Sureness
from nightround.reports.tonight import RuleUsed

# Leg span of stretched legs in carapace lengths, at most. Published legs I and IV together reach 7.3 (Jäger
# 2011, a nursery-web spider); the rest is the body between them (from memory).
LONGEST_LEGS: Final = 8.0
SURE: Final[dict[Sureness, int]] = {"sure": 0, "likely": 1, "possible": 2}
_AT = {"lid": " in the lid", "side_high": " high in the side", "side_low": " low in the side"}


@dataclass(frozen=True, slots=True)
class Gap:
    """One opening as an animal meets it.

    width_mm      narrow side, or diameter of the hole
    carapace_mm   carapaces up to this length may go through
    rule          the share that says so
    """

    words: str
    width_mm: float
    carapace_mm: float
    rule: RuleUsed

    @property
    def span_mm(self) -> float:
        """Leg span above which nothing goes through, at the longest legs for a carapace."""
        return self.carapace_mm * LONGEST_LEGS


@dataclass(frozen=True, slots=True)
class Gaps:
    """The openings of a home for one animal. `unknown` says what is not on record of them."""

    found: tuple[Gap, ...]
    unknown: tuple[str, ...]
    held_by_walls: int = 0

    @property
    def widest(self) -> Gap | None:
        """The opening that the largest animal goes through."""
        return max(self.found, key=lambda gap: gap.carapace_mm, default=None)


def openings_of(home: Home) -> tuple[Opening, ...] | None:
    """Return the openings on record, none when all are closed, None when nobody noted any."""
    if home.openings:
        return home.openings
    return () if any(isinstance(act.body, Opening) for act in home.acts) else None


def gaps_of(
    openings: Sequence[Opening] | None, build: Build, book: RuleBook, animal: Animal | None = None
) -> Gaps:
    """Return what may be left by. `openings` None: not on record, which is never 'closed'."""
    if openings is None:
        return Gaps((), ("which openings it has",))
    found, unknown, held = [], [], 0
    walls_hold = build.climbs == "poor" and book.ask("walls_hold_it", animal).yes
    for opening in openings:
        if opening.number == 0:
            continue
        if walls_hold and opening.at in ("lid", "side_high"):
            held += 1
            continue
        gap = _gap(opening, book, animal)
        if gap is None:
            unknown.append(f"how wide its {opening.label or opening.shape} is")
        else:
            found.append(gap)
    return Gaps(tuple(found), tuple(dict.fromkeys(unknown)), held)


def _gap(opening: Opening, book: RuleBook, animal: Animal | None) -> Gap | None:
    width_share = book.ask("carapace_width_share", animal)
    wide = width_share.number or 1.0
    if opening.shape in ("mesh", "perforated"):
        hole = book.ask("mesh_hole_mm" if opening.shape == "mesh" else "perforated_hole_mm", animal)
        sides = [side for side in (opening.width_mm, opening.length_mm) if side is not None]
        across = min([hole.number or 0.0, *sides])
        where = _AT.get(opening.at or "", "")
        words = f"{opening.shape}{where}, holes of {both(across, 'mm')} ({hole.used.grade})"
        return Gap(words, across, across / wide, hole.used)
    if opening.width_mm is None:
        return None
    if opening.shape == "hole":
        return Gap(
            _words(opening, opening.width_mm), opening.width_mm, opening.width_mm / wide, width_share.used
        )
    return _slit(opening, book, animal, wide)


def _slit(opening: Opening, book: RuleBook, animal: Animal | None, wide: float) -> Gap:
    share = book.ask("carapace_height_share", animal)
    assert opening.width_mm is not None
    # A slit of unknown length counts as long.
    long = float("inf") if opening.length_mm is None else max(opening.width_mm, opening.length_mm)
    narrow = min(opening.width_mm, long if opening.length_mm is None else opening.length_mm)
    passing = min(narrow / (share.number or 1.0), long / wide)
    return Gap(_words(opening, narrow), narrow, passing, share.used)


def _words(opening: Opening, width_mm: float) -> str:
    what = "slit" if opening.shape == "slot" else opening.shape
    many = f"{opening.number} {what}s" if (opening.number or 1) > 1 else what
    return f"{many} of {both(width_mm, 'mm')}{_AT.get(opening.at or '', '')}"


def gap_faults(
    gaps: Gaps, size: Size, book: RuleBook, animal: Animal
) -> tuple[tuple[FitFault, ...], tuple[str, ...]]:
    """Return the openings it may leave by, the widest first, and what is unknown about that."""
    carapace = size.carapace or carapace_of(size.span_or_guess)
    if carapace is None:
        most = book.ask("opening_most_mm", animal)
        wide = [
            FitFault(
                "gap", "possible", f"{gap.words}: over {most.used.value}, and its size is not on record",
                gap.width_mm - (most.number or 0.0), gap.width_mm, most.number or 0.0, most.used,
            )
            for gap in gaps.found
            if most.number is not None and gap.width_mm > most.number
        ]  # fmt: skip
        return tuple(wide), (("its size",) if gaps.found else ())
    found = [_gap_fault(gap, carapace) for gap in gaps.found if gap.carapace_mm >= carapace.low]
    return tuple(sorted(found, key=lambda fault: (SURE[fault.sure], -fault.has_mm))), ()


def carapace_of(span: Span | None) -> Span | None:
    """A carapace reckoned from the leg span: long legs make it short."""
    if span is None:
        return None
    shortest, middle, _ = SPAN_OF_CARAPACE
    return Span(span.low / LONGEST_LEGS, span.value / middle, span.high / shortest)


def _gap_fault(gap: Gap, carapace: Span) -> FitFault:
    sure: Sureness = "possible"
    if gap.carapace_mm >= carapace.high:
        sure = "sure"
    elif gap.carapace_mm >= carapace.value:
        sure = "likely"
    may = "may be wide enough" if sure == "possible" else "wide enough"
    needs = gap.width_mm * carapace.low / gap.carapace_mm
    held = both(needs, "mm")
    # 1.02 mm against 1.00 mm must not read 'a hole of 1.0 mm; under 1.0 mm would hold it'.
    under = "a little under" if held == both(gap.width_mm, "mm") else "under"
    words = f"{gap.words}: {may} to leave by; {under} {held} would hold it"
    return FitFault("gap", sure, words, gap.width_mm - needs, gap.width_mm, needs, gap.rule)
