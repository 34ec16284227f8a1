"""What one rule of the trade is: its figure, its source, its grade and what it is for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

RuleKind = Literal[
    "days",
    "share",
    "length",
    "volume",
    "count",
    "factor",
    "temperature",
    "degrees",
    "minutes",
    "text",
    "yes_no",
]
"""`temperature` is a reading, `degrees` a difference between two."""


@dataclass(frozen=True, slots=True)
class TradeRule:
    """One rule: `default` is a text as a keeper would write it ('' unknown, 'never' switched off).

    low, high   bounds of a number, in `unit`, both ends allowed
    never       whether a keeper may switch it off with the word 'never'
    choices     the only words that a rule of words may have (none: any)
    """

    key: str
    words: str
    default: str
    kind: RuleKind
    grade: str
    source: str
    applies_to: str = "every animal"
    disputed: str = ""
    low: float = 0.0
    high: float = 3650.0
    never: bool = False
    choices: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit of the number ('' for words)."""
        return _UNITS.get(self.kind, "")


_UNITS: dict[str, str] = {
    "days": "days", "length": "mm", "volume": "ml", "factor": "times", "count": "animals",
    "temperature": "C", "degrees": "C", "minutes": "minutes",
}  # fmt: skip


PRACTICE = "common practice, no source"
CHOICE = "chosen for this program, no source"
