"""Which home fits which animal: a plain verdict with its reasons. Frozen data, nothing is worked out here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nightround.reports.tonight import RuleUsed

Aspect = Literal["floor", "depth", "height", "drop", "prey", "gap"]
"""What a rule is about. `drop` is the height it can fall from, `height` the space that climbers need."""

VerdictKind = Literal["gaps", "too_tall", "small", "shallow", "low", "too_large", "unknown", "fits"]
"""gaps: it may leave; too_tall: it may fall; small: the floor; shallow: the substrate; low: no room to climb
or to spin; too_large: prey is not found; unknown: something that decides is not on record."""

Sureness = Literal["sure", "likely", "possible"]
"""sure: at either end of its size; likely: at the middle; possible: only at the end where it harms most."""


@dataclass(frozen=True, slots=True)
class FitReason:
    """One end of the leg spans a home fits, and the rule behind it.

    side     high: fits up to `limit_mm`; low: fits from `limit_mm` on (leg spans [mm])
    has_mm   what the home has [mm]
    """

    aspect: Aspect
    side: Literal["low", "high"]
    limit_mm: float
    has_mm: float
    words: str
    rule: RuleUsed


@dataclass(frozen=True, slots=True)
class FitFault:
    """One thing that does not fit, by how much [mm], how sure that is, and the rule that says so.

    needs_mm   what the home should have at least (floor, depth, height) or at most (drop, prey, gap) [mm]
    """

    aspect: Aspect
    sure: Sureness
    words: str
    by_mm: float
    has_mm: float
    needs_mm: float
    rule: RuleUsed


@dataclass(frozen=True, slots=True)
class FitVerdict:
    """Whether its home fits one animal, as far as known.

    kind       the gravest that is so; 'unknown' is never 'fits'
    headline   the verdict in plain words
    faults     likely or sure ones, the gravest first; `doubts` are those only possible
    gaps       openings that it may leave by: a safety warning, also in `faults` or `doubts`
    unknown    what is not on record and decides
    notes      about climbing, lids and openings, in words
    low_mm, high_mm   leg spans that this home fits [mm]; high_mm None: no upper end; low above high: none
    from_mm    leg span from which nothing leaves by its openings [mm]; None: openings not on record
    basis      what the size rests on
    """

    animal: str
    taxon: str
    home: str
    kind: VerdictKind
    headline: str
    faults: tuple[FitFault, ...]
    doubts: tuple[FitFault, ...]
    gaps: tuple[FitFault, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    low_mm: float
    high_mm: float | None
    from_mm: float | None
    basis: str

    @property
    def fits(self) -> bool | None:
        """Whether it fits; None when that is not known."""
        return None if self.kind == "unknown" else self.kind == "fits"
