"""What became of each forecast: its level, its fate, its score.

Days are counted from the close of the day of the forecast. A moult on one day counts at noon of it, one
that was found late in the middle of its window. A wait counts up to the last look. A window counts on the
day it is over, whatever happened before: counting moults as they come would favour early ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from nightround.findings.clock_rows import NEVER, Row
from nightround.findings.issued import each_outcome
from nightround.journal.issued import Issued
from nightround.record.model import Animal, Record
from nightround.reports.track_record import Fate
from nightround.science.thermal import FloatArray
from nightround.science.track import crps


@dataclass(frozen=True, slots=True)
class Outcome:
    """One forecast and what happened.

    level, beyond   between which levels the moult lies: equal where it is known, beyond = 1 where the wait
                    still runs or what was told ends before it
    moulted         days until the moult, from the close of the forecast's day (None: not moulted)
    looked          days until the last look without a moult
    window          (from, to) of the 80 % window in days; `to` None where it has no end
    """

    issued: Issued
    animal: str
    fate: Fate
    level: float
    beyond: float
    moulted: float | None
    between: tuple[date, date] | None
    looked: float
    window: tuple[float, float | None]

    @property
    def score(self) -> float | None:
        """The continuous ranked probability score in days; None while it has not moulted."""
        return (
            None if self.moulted is None or self.fate == "unseen" else crps(*told(self.issued), self.moulted)
        )

    @property
    def over(self) -> date | None:
        """Day on which the window is over, None where it has no end."""
        return None if self.window[1] is None else self.issued.day + timedelta(math.ceil(self.window[1]))

    @property
    def days_off(self) -> float:
        """Days between the window and the moult, or the last look past it; 0 inside."""
        at = self.looked if self.moulted is None else self.moulted
        low, high = self.window
        return low - at if at < low else 0.0 if high is None or at <= high else at - high


def outcomes(record: Record, forecasts: tuple[Issued, ...]) -> list[Outcome]:
    """Return what became of the forecasts whose interval still stands in the record."""
    return [_outcome(record, *found) for found in each_outcome(record, forecasts)]


def told(issued: Issued) -> tuple[FloatArray, FloatArray]:
    """Return the distribution function as it was told: days and chances [P], ascending from (0, 0)."""
    odds = issued.odds
    points = [(0.0, 0.0)]
    points += [(days, float(level)) for level, days in odds.quantiles_days.items() if days is not None]
    points += [(float(days), chance) for days, chance in odds.within_days.items()]
    table = np.array(sorted(points))
    return table[:, 0], np.maximum.accumulate(table[:, 1])


def _outcome(record: Record, issued: Issued, animal: Animal, row: Row) -> Outcome:
    days, chances = told(issued)
    begun = issued.day.toordinal()
    low = issued.odds.quantiles_days.get("0.10")
    window = (math.inf if low is None else low, issued.odds.quantiles_days.get("0.90"))
    if row.end == NEVER:
        looked = float(max(row.looked - begun, 0))
        fate = _waiting(record, issued, animal, window, looked)
        level = float(np.interp(looked, days, chances))
        return Outcome(issued, animal.code, fate, level, 1.0, None, None, looked, window)
    first, last = max(row.end[0] - begun - 1.0, 0.0), float(row.end[1] - begun)
    moulted = (row.end[0] - begun - 1.0 + row.end[1] - begun) / 2.0
    between = (date.fromordinal(row.end[0]), date.fromordinal(row.end[1]))
    if moulted <= 0.0:
        return Outcome(issued, animal.code, "unseen", 0.0, 1.0, moulted, between, 0.0, window)
    moulted = (first + last) / 2.0
    level = float(np.interp(moulted, days, chances))
    beyond = 1.0 if moulted > days[-1] else level
    fate = _moulted(record, issued, window, moulted)
    return Outcome(issued, animal.code, fate, level, beyond, moulted, between, first, window)


def _is_over(record: Record, issued: Issued, end: float) -> bool:
    return issued.day + timedelta(days=math.ceil(end)) <= record.on


def _moulted(record: Record, issued: Issued, window: tuple[float, float | None], at: float) -> Fate:
    low, high = window
    if high is None:
        return "open_ended"
    if not _is_over(record, issued, high):
        return "running"
    return "before" if at < low else "inside" if at <= high else "after"


def _waiting(
    record: Record, issued: Issued, animal: Animal, window: tuple[float, float | None], looked: float
) -> Fate:
    high = window[1]
    if high is not None and looked >= high:
        return "after" if _is_over(record, issued, high) else "running"
    if animal.status != "alive":
        return "ended"
    if high is None:
        return "open_ended"
    return "unlooked" if _is_over(record, issued, high) else "running"
