"""The cells in which Turnbull's estimate can place deaths, and where each life stands among them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.survival.data import Floats, Integers, Lives

# On one day: who comes has not died before it, deaths fall on it, open intervals begin after it.
_BEFORE, _ON, _AFTER = -1.0, 0.0, 1.0


@dataclass(frozen=True, slots=True)
class Cells:
    """m cells in order, and the lives among them.

    after, upto    ends of the cells in days (m,); death in (after, upto], on the day where equal;
                   some end right before somebody's entry on day upto
    first, last    cells of each death's interval (number of deaths,)
    entry          first cell in which each life was watched (n,)
    seen           cells that each life not known dead has behind it (number of those,)
    certain        lives known to have been watched and alive right through each cell (m,)
    closed         nobody came after the last cell: all may have died in it
    """

    after: Floats
    upto: Floats
    first: Integers
    last: Integers
    entry: Integers
    seen: Integers
    certain: Floats
    closed: bool


def cells_of(lives: Lives) -> Cells:
    """Cut time into cells: a beginning of an interval, followed by an end before another beginning."""
    died = lives.died
    dated = died & (lives.left_days == lives.right_days)
    begins = np.column_stack([lives.left_days, np.where(dated, _ON, _AFTER)])
    ends = np.column_stack([lives.right_days[died], np.full(int(died.sum()), _ON)])
    entries = np.column_stack([lives.entry_days, np.full(len(lives), _BEFORE)])
    points, place = np.unique(np.concatenate([begins, ends, entries]), axis=0, return_inverse=True)
    begin, end, entry = np.split(place.ravel(), [len(lives), len(lives) + len(ends)])
    opening, closing = _innermost(begin, np.concatenate([end, entry]), len(points))
    first = np.searchsorted(opening, begin)
    last = np.searchsorted(closing, end, side="right") - 1
    entered = np.searchsorted(opening, entry)
    m = len(opening)
    certain = np.cumsum(np.bincount(entered, minlength=m + 1) - np.bincount(first, minlength=m + 1))[:m]
    return Cells(
        points[opening, 0],
        points[closing, 0],
        first[died],
        last,
        entered,
        first[~died],
        certain.astype(np.float64),
        bool(entered.max() < m),
    )


def _innermost(begin: Integers, end: Integers, count: int) -> tuple[Integers, Integers]:
    """Begin and end of each cell, as numbers of points; at one point beginnings come first."""
    begins, ends = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    begins[begin], ends[end] = True, True
    order = np.flatnonzero(np.column_stack([begins, ends]).ravel())
    kind = order % 2
    at = np.flatnonzero((kind[:-1] == 0) & (kind[1:] == 1))
    return order[at] // 2, order[at + 1] // 2
