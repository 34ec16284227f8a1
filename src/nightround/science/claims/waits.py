"""Ages at an event (death, maturity) against a claimed range, with late entry and with events still to come.

A typical range says that nine in ten lie between `low` and `high`. For an animal watched from an age e
below `low` on, the chance to lie outside is then still at most one in ten:

    1 - (S(low) - S(high)) / S(e)  <=  1 - 0.9 / 1,      as S(low) - S(high) >= 0.9 and S(e) <= 1

and the same from any later age below `low` at which it was alive: the bet may begin there. Bets begin side
by side when watching does, at half the lower end, and at the lower end, so that what happens to the
youngest, of whom the claim says little, does not drown what happens to the old. Animals first watched later
than `low` say nothing: how many had gone before is not known. Without a lower end only those watched since
they hatched count at the upper one. All hold for any law of ages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.claims.bets import MOSTLY, OUTSIDE_MIDDLE, OUTSIDE_TYPICAL, Floats, evidence, mixed

Booleans = NDArray[np.bool_]
SINCE_HATCHING_DAYS: Final = 31.0


@dataclass(frozen=True, slots=True)
class Waits:
    """Ages of n animals in days; arrays (n,).

    entry       highest age at which watching began (0: since hatching)
    without     highest age surely reached without the event
    by          highest age at which the event came; inf: it has not come, or nobody knows
    """

    entry: Floats
    without: Floats
    by: Floats

    def __post_init__(self) -> None:
        """Refuse arrays that cannot be ages."""
        for name in ("entry", "without", "by"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=np.float64))
        if not (self.entry.shape == self.without.shape == self.by.shape) or self.entry.ndim != 1:
            raise Refusal("three rows of ages of one length")
        if np.isnan(self.entry).any() or np.isnan(self.without).any() or np.isnan(self.by).any():
            raise Refusal("ages that are numbers", todo="Leave animals of unknown age out")

    def __len__(self) -> int:
        """Return the number of animals."""
        return len(self.entry)


@dataclass(frozen=True, slots=True)
class Held:
    """What the ages say of a claimed range.

    against, support   e against the claim and for it (1: nothing)
    counted            animals that can speak (n,): watched from early enough
    below, above, inside   outcomes (n,), of those counted; the rest of them is open
    """

    against: float
    support: float
    counted: Booleans
    below: Booleans
    above: Booleans
    inside: Booleans

    @property
    def open(self) -> Booleans:
        """Counted animals whose outcome is still to come."""
        return np.asarray(self.counted & ~(self.below | self.above | self.inside))


def outcomes(waits: Waits, low: float, high: float) -> tuple[Booleans, Booleans, Booleans]:
    """Who surely had the event before `low`, who surely not by `high`, who surely in between; days."""
    below = waits.by < low
    above = waits.without > high
    inside = (waits.without >= low) & (waits.by <= high)
    return np.asarray(below), np.asarray(above), np.asarray(inside & ~below & ~above)


def against_range(waits: Waits, low: float, high: float) -> Held:
    """Hold ages against a typical range in days: `low` 0 or `high` inf where the claim has no such end."""
    counted = _since_hatching(waits) if low <= 0.0 else waits.entry < low
    below, above, inside = (counted & some for some in outcomes(waits, low, high))
    begins = (0.0,) if low <= 0.0 else (0.0, low / 2, low)
    against = [
        evidence((below | above)[counted & (waits.without >= begin)].astype(float), OUTSIDE_TYPICAL)
        for begin in begins
    ]
    supports = [
        evidence(inside[counted & (waits.without >= begin)].astype(float), MOSTLY)
        for begin in {begins[0], begins[-1]}
    ]
    return Held(mixed(*against), mixed(*supports), counted, below, above, inside)


def against_middle(waits: Waits, low: float, high: float) -> Held:
    """Hold ages against one typical number, known to lie from `low` to `high` days: the middle age.

    At most half come before `low`, at most half after `high`. Support: more than half between half of `low`
    and twice `high`.
    """
    young = waits.entry < low
    whole = _since_hatching(waits)
    below, above, _ = outcomes(waits, low, high)
    _, _, near = outcomes(waits, low / 2, 2 * high)
    early = evidence(below[young].astype(float), OUTSIDE_MIDDLE)
    late = evidence(above[whole].astype(float), OUTSIDE_MIDDLE)
    counted = young | whole
    reached = counted & (waits.without >= low / 2)
    support = mixed(
        evidence(near[counted].astype(float), MOSTLY), evidence(near[reached].astype(float), MOSTLY)
    )
    return Held(mixed(early, late), support, counted, below & young, above & whole, near & counted)


def _since_hatching(waits: Waits) -> Booleans:
    return np.asarray(waits.entry <= SINCE_HATCHING_DAYS)
