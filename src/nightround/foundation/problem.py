"""Problems: faults in the keeper's data, as values that name the entries they are about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["contradiction", "doubt"]


@dataclass(frozen=True, order=True)
class Problem:
    """A fault that the record noticed and shows instead of mending it.

    kind      short stable word, e.g. `moult_after_death`
    subject   what it is about, as text: `animal K12`, `home H3`, `room`
    message   one sentence for the keeper
    todo      what would settle it
    entries   numbers of the entries that disagree, ascending
    severity  `contradiction` cannot be true; `doubt` is unlikely
    """

    kind: str
    subject: str
    message: str
    todo: str
    entries: tuple[int, ...] = ()
    severity: Severity = "contradiction"
