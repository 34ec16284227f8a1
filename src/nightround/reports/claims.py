"""Claims held against the room's records: verdicts with what stands behind each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

Standing = Literal["contradicted", "strained", "supported", "no_evidence", "not_decided"]

STANDING_WORDS: Final[dict[str, str]] = {
    "contradicted": "contradicted",
    "strained": "strained",
    "supported": "supported",
    "no_evidence": "no evidence yet",
    "not_decided": "not for records to decide",
}
STANDING_MARKS: Final[dict[str, str]] = {
    "contradicted": "×",
    "strained": "≠",
    "supported": "✓",
    "no_evidence": "…",
    "not_decided": "–",
}
"""A sign beside the words, so that no verdict is told by colour."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one animal says of a claim.

    speaks    against, for, open (its day is still to come) or nothing (it cannot speak; the words say why)
    entries   numbers of the entries behind it
    """

    animal: str
    words: str
    speaks: Literal["against", "for", "open", "nothing"]
    entries: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Verdict:
    """One claim and what the records say of it.

    number      of its entry (0: from the list of disputed claims, not written by the keeper)
    said        the claim in words, numbers in both unit systems
    against     e against it: at most 5 % of true claims ever reach 20; None where none is defined
    support     e for it, likewise
    chance      of a stated maximum or minimum: that some animal's true size (or age) lies beyond it
    counted     animals that can speak, of `animals` in all
    settle      what would settle it; `settle_day` about when at the earliest (None: not known)
    """

    number: int
    taxon: str
    kind: str
    said: str
    text: str
    source: str
    grade: str
    standing: Standing
    words: str
    against: float | None = None
    support: float | None = None
    chance: float | None = None
    counted: int = 0
    animals: int = 0
    evidence: tuple[Evidence, ...] = ()
    settle: tuple[str, ...] = ()
    settle_day: date | None = None
    assumptions: tuple[str, ...] = ()

    @property
    def standing_words(self) -> str:
        """The verdict in words."""
        return STANDING_WORDS[self.standing]

    @property
    def mark(self) -> str:
        """The verdict as a sign."""
        return STANDING_MARKS[self.standing]


@dataclass(frozen=True, slots=True)
class Compared:
    """Two claims of one kind about one taxon, side by side."""

    first: int
    second: int
    words: str


@dataclass(frozen=True, slots=True)
class TaxonClaims:
    """The claims about one taxon (or, of the list of disputed claims, one group).

    names    every other name it goes by here
    near     names of other taxa in this room that differ from it by a slip of spelling only
    """

    taxon: str
    names: tuple[str, ...]
    near: tuple[str, ...]
    animals: int
    verdicts: tuple[Verdict, ...]
    compared: tuple[Compared, ...] = ()


@dataclass(frozen=True, slots=True)
class ClaimsReport:
    """All claims of the room as of a day; `disputed` are those that everybody repeats, by group."""

    on: date
    room: str
    invented: bool
    taxa: tuple[TaxonClaims, ...]
    disputed: tuple[TaxonClaims, ...]
    method: tuple[str, ...]
    cautions: tuple[str, ...]
