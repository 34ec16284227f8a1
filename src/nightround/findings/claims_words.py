"""What the judges of claims hand on, and how evidence becomes a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.reports.claims import Evidence, Standing
from nightround.science.claims.bets import CONTRADICTED, STRAINED


@dataclass(frozen=True, slots=True)
class Found:
    """A verdict before it is joined with its claim: see `reports.claims.Verdict`."""

    standing: Standing
    words: str
    against: float | None = None
    support: float | None = None
    chance: float | None = None
    counted: int = 0
    evidence: tuple[Evidence, ...] = ()
    settle: tuple[str, ...] = ()
    settle_day: date | None = None
    assumptions: tuple[str, ...] = ()


def of_e(against: float, support: float) -> Standing:
    """Turn two e into a verdict; evidence against comes first."""
    if against >= CONTRADICTED:
        return "contradicted"
    if against >= STRAINED:
        return "strained"
    return "supported" if support >= CONTRADICTED else "no_evidence"
