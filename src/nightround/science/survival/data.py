"""Lives as arrays of days: when watching began, and between which days death lies.

Days count from whatever the curve's zero is: hatching (age), arrival (time in care) or the ultimate moult.
The rules of the day, which every estimate of this package keeps:

- a life is at risk from its entry day on, that day included: what arrives and dies on one day was at risk
  that day;
- on one day entries come first, then deaths, then those who leave sight: an animal last seen alive on the day
  another died was at risk of dying that day;
- a death between two looks lies after the day it was last seen alive, up to the day it was found: (left,
  right]; left equal to right is a death dated to the day;
- without an exit a life is followed to its last sign of life, which the caller gives as `left_days`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Booleans = NDArray[np.bool_]

DIED: Final = 0
ALIVE: Final = 1
LEFT: Final = 2
LOST: Final = 3
FATES: Final = ("died", "alive", "sold or given", "lost or escaped")
FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class Lives:
    """n lives; arrays (n,), in days from the curve's zero.

    entry_days     watching begins, at least 0; the life is known because it lived to that day
    left_days      last day known alive, at least `entry_days`
    right_days     first day known dead; inf: not known dead. Equal to `left_days`: died on that day
    fate           `DIED` where `right_days` is finite, else `ALIVE`, `LEFT` or `LOST`; None: not told
    """

    entry_days: Floats
    left_days: Floats
    right_days: Floats
    fate: Integers | None = None

    def __post_init__(self) -> None:
        """Refuse arrays that cannot be lives, naming the first one at fault."""
        for name in ("entry_days", "left_days", "right_days"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=np.float64))
        shapes = {self.entry_days.shape, self.left_days.shape, self.right_days.shape}
        if self.fate is not None:
            object.__setattr__(self, "fate", np.asarray(self.fate, dtype=np.int64))
            shapes.add(self.fate.shape)
        if len(shapes) != 1 or self.entry_days.ndim != 1:
            raise Refusal("arrays of lives of one length", got=f"shapes {sorted(shapes)}")
        for fault, wanted, todo in self._faults():
            if fault.any():
                at = int(np.argmax(fault))
                raise Refusal(wanted, got=f"life {at}: {self._told(at)}", todo=todo)

    def _faults(self) -> list[tuple[Booleans, str, str]]:
        entry, left, right = self.entry_days, self.left_days, self.right_days
        faults = [
            (~(np.isfinite(entry) & np.isfinite(left)) | np.isnan(right), "days that are numbers",
             "leave lives of unknown days out, or count them from another zero"),
            (entry < 0, "an entry on day 0 or later", "count days from the curve's zero"),
            (left < entry, "a last sign of life not before the entry", "look at both dates"),
            (right < left, "a death not before the last sign of life", "look at the date of death"),
        ]  # fmt: skip
        if self.fate is not None:
            told = (self.fate >= DIED) & (self.fate <= LOST) & ((self.fate == DIED) == np.isfinite(right))
            faults.append((~told, "a fate that fits the days", "died goes with a last possible day of death"))
        return faults

    def _told(self, at: int) -> str:
        days = (self.entry_days[at], self.left_days[at], self.right_days[at])
        return "entry {:g}, alive {:g}, dead {:g}".format(*days)

    def __len__(self) -> int:
        """Return the number of lives."""
        return len(self.entry_days)

    @property
    def died(self) -> Booleans:
        """Lives known to have ended."""
        return np.isfinite(self.right_days)

    @property
    def dated(self) -> Booleans:
        """Lives whose death is dated to the day, or that are not known dead: fit for a product limit."""
        return np.asarray(~self.died | (self.left_days == self.right_days))

    def only(self, wanted: Booleans | Integers) -> Lives:
        """Return some of the lives, by mask or by number."""
        fate = None if self.fate is None else self.fate[wanted]
        return Lives(self.entry_days[wanted], self.left_days[wanted], self.right_days[wanted], fate)

    def whole_days(self) -> Lives:
        """Return the lives with each dated death spread over its day: (d, d + 1].

        For parametric fits: a death on day 0 has no density under most laws, but a chance.
        """
        right = np.where(self.left_days == self.right_days, self.right_days + 1.0, self.right_days)
        return Lives(self.entry_days, self.left_days, right, self.fate)


@dataclass(frozen=True, slots=True)
class Tally:
    """What is always said of some lives, however few: n, deaths, and the oldest alive.

    alive          followed to this day; None where fates are not told
    oldest_days    the furthest day any of those was seen alive; None without any
    longest_days   the furthest day any life at all was seen alive; None without lives
    enough         at least three lives: a curve may be drawn
    """

    n: int
    deaths: int
    alive: int | None
    gone: int | None
    lost: int | None
    oldest_days: float | None
    longest_days: float | None

    @property
    def enough(self) -> bool:
        """No curve is drawn of fewer than three lives."""
        return self.n >= FEWEST


def tally(lives: Lives) -> Tally:
    """Count lives by fate; the numbers that stand beside every curve, or in its place."""
    longest = float(lives.left_days.max()) if len(lives) else None
    deaths = int(lives.died.sum())
    if lives.fate is None:
        return Tally(len(lives), deaths, None, None, None, None, longest)
    alive = lives.fate == ALIVE
    return Tally(
        len(lives),
        deaths,
        int(alive.sum()),
        int((lives.fate == LEFT).sum()),
        int((lives.fate == LOST).sum()),
        float(lives.left_days[alive].max()) if alive.any() else None,
        longest,
    )


def need_enough(lives: Lives, wanted: str) -> None:
    """Refuse a curve of fewer than three lives."""
    if len(lives) < FEWEST:
        raise Refusal(
            f"at least {FEWEST} lives for {wanted}",
            got=f"{len(lives)}",
            todo="Say how many are alive and how old the oldest is (`tally`)",
        )
