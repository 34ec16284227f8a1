"""Cold nights, sudden falls and heat waves: runs of days past a threshold, and gaps.

A day without a reading is no evidence of either: a run goes over at most `BRIDGED` such days when both sides
are past the threshold, and counts them apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.thermal import BoolArray, FloatArray

BRIDGED: Final = 2
BEFORE_DAYS: Final = 7
LEAST_BEFORE: Final = 3


@dataclass(frozen=True)
class Run:
    """A run of columns first to last (both in); `unread` of them have no reading.

    worst    column of the most extreme value, with the value
    """

    first: int
    last: int
    unread: int
    worst: int
    value: float

    @property
    def days(self) -> int:
        """Days that were read to be past the threshold."""
        return self.last - self.first + 1 - self.unread


def cold_days(coldest: FloatArray, mean: FloatArray, threshold_c: float, drop_c: float) -> BoolArray:
    """Which days [T] are cold: lowest under the threshold, or mean fallen by `drop_c` under the week before.

    The week before is the mean of its known daily means, at least three; it is no more than the mean of the
    three weeks before, so that the end of a heat wave is no cold. A fall goes on while the mean stays that
    far under the week before it began.
    """
    cold = coldest < threshold_c
    before = np.fmin(_days_before(mean, BEFORE_DAYS), _days_before(mean, 3 * BEFORE_DAYS))
    fallen = mean < before - drop_c
    # Inside a fall the week before itself grows cold: the floor stays that of its first day.
    for start in np.flatnonzero(fallen):
        floor = before[start] - drop_c
        at = int(start) + 1
        while at < mean.size and not mean[at] >= floor:
            fallen[at] |= mean[at] < floor
            at += 1
    return np.asarray(cold | fallen)


def _days_before(mean: FloatArray, days: int) -> FloatArray:
    """Mean of the known days among so many before each day [T]; NaN with fewer than three."""
    known = np.isfinite(mean)
    total = np.concatenate([[0.0], np.cumsum(np.where(known, mean, 0.0))])
    count = np.concatenate([[0], np.cumsum(known)])
    end = np.arange(mean.size)
    begin = np.maximum(end - days, 0)
    number = count[end] - count[begin]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number >= LEAST_BEFORE, (total[end] - total[begin]) / number, np.nan)


def runs(past: BoolArray, known: BoolArray, value: FloatArray, *, lowest: bool) -> tuple[Run, ...]:
    """Runs of days past a threshold [T], over short gaps; `value` gives each run's worst day."""
    found: list[list[int]] = []
    for at in np.flatnonzero(past):
        if found and not known[found[-1][1] + 1 : at].any() and at - found[-1][1] - 1 <= BRIDGED:
            found[-1][1] = int(at)
        else:
            found.append([int(at), int(at)])
    return tuple(_run(first, last, known, value, lowest) for first, last in found)


def _run(first: int, last: int, known: BoolArray, value: FloatArray, lowest: bool) -> Run:
    part = value[first : last + 1]
    worst = first + int(np.nanargmin(part) if lowest else np.nanargmax(part))
    return Run(first, last, int((~known[first : last + 1]).sum()), worst, float(value[worst]))


def gaps(known: BoolArray, least: int = 1) -> tuple[tuple[int, int], ...]:
    """Runs of at least so many unread days between readings, and after the last: (first, last) columns."""
    at = np.flatnonzero(known)
    if not at.size:
        return ()
    ends = np.concatenate([at, [known.size]])
    return tuple(
        (int(a) + 1, int(b) - 1) for a, b in zip(ends[:-1], ends[1:], strict=True) if b - a - 1 >= least
    )
