"""What is said beside a survival curve, and in its place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.foundation.estimate import Estimate
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.reports.taxon import CLOCKS, Clock
from nightround.science.survival.data import ALIVE, DIED, FEWEST

if TYPE_CHECKING:
    from nightround.findings.survival import Followed

METHOD_DATED: Final = "product limit with late entry (Kaplan and Meier 1958); interval of 95 %"
METHOD_VAGUE: Final = (
    "Turnbull's estimate (1976), deaths on the last day they can have been; the band reaches from the "
    "product limit of their first possible days to that of their last, 95 % each"
)
METHOD_LATE: Final = (
    "product limit with late entry, deaths on the last day they can have been; the band reaches from the "
    "product limit of their first possible days, 95 % each"
)
_YEAR: Final = 365.25
_OLD: Final[dict[Clock, str]] = {
    "age": "old",
    "care": "here",
    "mature": "past the ultimate moult",
}


def span_words(days: float) -> str:
    """A stretch of time as it is said: days up to four months, then years."""
    if days < 122:
        return counted(round(days), "day")
    return f"{days / _YEAR:.1f} years"


def words_of(clock: Clock, followed: Sequence[Followed], oldest: float | None, drawn: bool) -> str:
    """Who lives and how old the oldest is, always; why there is no curve where there is none."""
    alive = sum(each.fate == ALIVE for each in followed)
    if not followed:
        return "nobody yet"
    told = (
        f"{alive} alive, the oldest {span_words(oldest)} {_OLD[clock]}"
        if oldest is not None
        else "none alive"
    )
    if drawn:
        return told
    if len(followed) < FEWEST:
        return f"{told}; no curve under three animals"
    if not any(each.fate == DIED for each in followed):
        return f"{told}; no death among {counted(len(followed), 'animal')}: nothing to draw"
    return f"{told}; never three watched together: no curve"


def median_of(
    clock: Clock, n: int, deaths: int, found: tuple[float, float, float] | None, begins: float | None
) -> tuple[Estimate | None, str]:
    """The median with its interval, or why it cannot be told."""
    if found is None:
        return None, f"not enough yet: {counted(deaths, 'death')} among {counted(n, 'animal')}"
    value, low, high = found
    if not np.isfinite(value):
        return None, "not enough yet: more than half outlive what has been watched"
    if low <= (begins or 0.0) and not np.isfinite(high):
        return None, f"not enough yet: the median is open at both ends with {counted(deaths, 'death')}"
    open_end = () if np.isfinite(high) else ("the upper end is later than all that was watched",)
    return (
        Estimate(value, low, high, "day", n, deaths, f"median of the survival curve by {CLOCKS[clock]}", 0.95,
                 (OWN_RECORDS,), open_end),
        "",
    )  # fmt: skip
