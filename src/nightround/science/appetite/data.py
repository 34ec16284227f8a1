"""What appetite is given: courses of intervals, each with its moments in order, checked on the way in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.thermal import BoolArray, FloatArray, IntArray

TAKEN: Final = 1
NOT_TAKEN: Final = 0
NO_OFFER: Final = -1


@dataclass(frozen=True)
class Courses:
    """What happened in N moult intervals, as M moments: offers with a known outcome, and looks.

    taxon [N]           index of the taxon; hardening_days [N]   days at 25 C without appetite, NaN unknown
    row [M]             interval of each moment, ascending; within one, `day` ascends
    day [M]             calendar day (any origin); elapsed [M]   days at 25 C since the interval opened
    outcome [M]         TAKEN, NOT_TAKEN, or NO_OFFER for a look
    temperature_c [M]   NaN where unknown
    since_meal_days [M] calendar days since the last meal known to be taken; NaN where unknown
    signs [M, 5]        signs first noted at this moment, order of SIGN_NAMES: each at most once an interval
    """

    taxon: IntArray
    hardening_days: FloatArray
    row: IntArray
    day: FloatArray
    elapsed: FloatArray
    outcome: IntArray
    temperature_c: FloatArray
    since_meal_days: FloatArray
    signs: BoolArray

    @property
    def count(self) -> int:
        """Number of intervals."""
        return int(self.taxon.size)

    def only(self, keep: BoolArray) -> Courses:
        """Return the courses of some of the intervals [N], numbered anew."""
        moments = keep[self.row]
        number = np.cumsum(keep) - 1
        return Courses(
            self.taxon[keep], self.hardening_days[keep], number[self.row[moments]], self.day[moments],
            self.elapsed[moments], self.outcome[moments], self.temperature_c[moments],
            self.since_meal_days[moments], self.signs[moments],
        )  # fmt: skip

    def __post_init__(self) -> None:
        moments = (self.row.size,)
        for name in ("day", "elapsed", "outcome", "temperature_c", "since_meal_days"):
            if getattr(self, name).shape != moments:
                raise Refusal(f"one {name} a moment was wanted", got=f"{getattr(self, name).shape}")
        if self.signs.shape != (self.row.size, len(SIGN_NAMES)):
            raise Refusal(f"{len(SIGN_NAMES)} signs a moment were wanted", got=f"{self.signs.shape}")
        if self.hardening_days.shape != self.taxon.shape:
            raise Refusal("hardening days of every interval were wanted", got=f"{self.hardening_days.shape}")
        if self.row.size == 0:
            return
        if self.row.min() < 0 or self.row.max() >= self.count:
            raise Refusal("moments must belong to intervals", got=f"{self.row.min()}..{self.row.max()}")
        step = np.diff(self.row)
        if np.any(step < 0) or np.any((step == 0) & (np.diff(self.day) < 0)):
            raise Refusal("moments must be sorted by interval, then by day")
        if np.any(~np.isin(self.outcome, (TAKEN, NOT_TAKEN, NO_OFFER))):
            raise Refusal("an outcome must be taken, not taken, or no offer")


def once(row: IntArray, signs: BoolArray) -> BoolArray:
    """Leave of each sign its first sighting in each interval: a repeated sign counts once [M, 5]."""
    out = signs.copy()
    if not row.size:
        return out
    first = np.concatenate([[True], row[1:] != row[:-1]])
    seen: IntArray = np.cumsum(signs, axis=0, dtype=np.int64) - signs
    before: IntArray = seen[np.flatnonzero(first)][np.cumsum(first) - 1]
    return np.asarray(out & (seen == before))


@dataclass(frozen=True)
class AppetiteData:
    """Completed intervals, whose phase is known.

    length [N]   days at 25 C from moult to moult
    taxa         number of taxa
    """

    courses: Courses
    length: FloatArray
    taxa: int

    def __post_init__(self) -> None:
        if self.length.shape != self.courses.taxon.shape or not np.all(self.length > 0.0):
            raise Refusal("a length above zero was wanted for every completed interval")


@dataclass(frozen=True)
class AppetiteNow:
    """Running intervals, one row an animal.

    elapsed_now [N]     days at 25 C since the interval opened (or since the watch began)
    usual_length [N]    0 where the opening moult is known; else the usual length of the animal's interval:
                        the phase then counts backwards from the coming moult
    """

    courses: Courses
    elapsed_now: FloatArray
    usual_length: FloatArray
