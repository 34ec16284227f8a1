"""What would settle a claimed range of ages: how many more must outlive it, die before it, or fall inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from nightround.science.claims.bets import CONTRADICTED, Floats
from nightround.science.claims.waits import Held, Waits

Fate = Literal["above", "below", "inside"]
_MOST_NEW: Final = 60
_NEVER: Final = float("inf")


@dataclass(frozen=True, slots=True)
class Needed:
    """The least number of outcomes of one fate, all of them so, that bring e to 20.

    of_these   how many of them those watched now can be (oldest first for `above` and `inside`)
    new        further animals, watched since hatching, that it takes beside them
    days       days until the last of `of_these` can have come so far (0: at once; nan: without any)
    """

    fate: Fate
    of_these: int
    new: int
    days: float

    @property
    def number(self) -> int:
        """Outcomes in all."""
        return self.of_these + self.new


def needed(
    waits: Waits, living: np.ndarray[tuple[int], np.dtype[np.bool_]], ages: Floats, low: float, high: float,
    fate: Fate, held: Callable[[Waits, float, float], Held],
) -> Needed | None:  # fmt: skip
    """Return what it takes until the claim is contradicted (`above`, `below`) or supported (`inside`).

    living   who is still watched (n,), and `ages` in days now; `held` judges ages against the range.
             None: not even 60 new ones do
    """
    now = held(waits, low, high)
    can = np.flatnonzero(living & now.open & _can(waits, low, high, fate))
    can = can[np.argsort(-ages[can], kind="stable")]
    most = len(can) + _MOST_NEW
    enough = [k for k in _counts(most) if _e(waits, can, k, low, high, fate, held) >= CONTRADICTED]
    if not enough:
        return None
    first, last = max(0, min(enough) - max(1, min(enough) // 2)), min(enough)
    while first < last:
        middle = (first + last) // 2
        if _e(waits, can, middle, low, high, fate, held) >= CONTRADICTED:
            last = middle
        else:
            first = middle + 1
    used = min(last, len(can))
    goal = {"above": high, "below": 0.0, "inside": low}[fate]
    days = float(max(0.0, goal - ages[can[used - 1]])) if used else float("nan")
    return Needed(fate, used, last - used, days)


def _counts(most: int) -> list[int]:
    return sorted({*range(min(most, 8) + 1), *(int(k) for k in np.geomspace(8, max(9, most), 8)), most})


def _can(waits: Waits, low: float, high: float, fate: Fate) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if fate == "below":
        return np.asarray(waits.without < low)
    return np.asarray(waits.without <= high)


def _e(
    waits: Waits, can: np.ndarray[tuple[int], np.dtype[np.int64]], k: int, low: float, high: float,
    fate: Fate, held: Callable[[Waits, float, float], Held],
) -> float:  # fmt: skip
    used, new = can[:k], max(0, k - len(can))
    without, by = waits.without.copy(), waits.by.copy()
    late = low * 0.999
    if fate == "above":
        without[used], reached, ended = high + 1.0, high + 1.0, _NEVER
    elif fate == "below":
        by[used], reached, ended = late, late, late
    else:
        ended = high if high != _NEVER else max(low, 1.0)
        without[used], by[used], reached = np.maximum(without[used], low), ended, low
    whole = Waits(
        np.append(waits.entry, np.zeros(new)),
        np.append(without, np.full(new, reached)),
        np.append(by, np.full(new, ended)),
    )
    judged = held(whole, low, high)
    return judged.support if fate == "inside" else judged.against
