"""Which lot is eaten first: the rule a keeper can follow tub by tub, in whole feeders.

Each week, in this order:

1. every class is served by prey of its own size, the largest class first;
2. what is still missing is served by another size that may stand for it, the one that costs least instead
   (then the one that takes fewest prey, then the smaller);
3. within a size, from the source whose prey of that size is useful for the fewest weeks from now, then from
   the one that came first in the table.

Deaths and outgrown are rounded with the rest carried on, so that feeders stay whole and none is lost:
came = eaten + died + outgrown + left, exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.larder.growth import Profiles
from nightround.science.thermal import FloatArray, IntArray


@dataclass(frozen=True)
class Fed:
    """What a course of demand makes of the sources; feeders are whole.

    arrived, eaten, died, outgrown [N, W]; left [N]
    short [W, C]       prey of each class nobody could serve
    served [W, C, C]   feeders of size a eaten for class c
    """

    arrived: IntArray
    eaten: IntArray
    died: IntArray
    outgrown: IntArray
    left: IntArray
    short: IntArray
    served: IntArray


def feed(
    profiles: Profiles, animals: IntArray, demand: IntArray, per_one: FloatArray, instead_price: FloatArray
) -> Fed:
    """Feed this demand [W, C] (whole prey) from sources of so many animals [N] by the rule above."""
    count, weeks, classes = profiles.fits.shape
    if demand.shape != (weeks, classes) or animals.shape != (count,) or min(demand.min(), 0) < 0:
        raise Refusal(
            f"whole prey for {weeks} weeks and {classes} classes were wanted", got=f"{demand.shape}"
        )
    table = _Table(profiles, animals, demand, per_one)
    order = _instead(per_one, instead_price)
    for week in range(weeks):
        table.arrive(week)
        for want in range(classes - 1, -1, -1):
            table.serve(week, want, want)
        for want, size in order:
            table.serve(week, want, size)
        table.age(week)
    return Fed(
        table.arrived, table.eaten, table.died, table.outgrown,
        table.held + animals - table.arrived.sum(axis=1), table.short, table.served,
    )  # fmt: skip


def _instead(per_one: FloatArray, price: FloatArray) -> list[tuple[int, int]]:
    """Pairs (wanted, size given), largest wanted first, then cheapest instead, fewest prey, smallest."""
    pairs = [(want, size) for size, want in np.argwhere(np.isfinite(per_one)).tolist() if size != want]
    return sorted(
        pairs, key=lambda pair: (-pair[0], price[pair[1], pair[0]], per_one[pair[1], pair[0]], pair[1])
    )


def weeks_useful(profiles: Profiles) -> IntArray:
    """Weeks from each week on, itself counted, in which a source still has feeders of a class [N, W, C]."""
    there = profiles.fits > 0.0
    out = np.zeros(there.shape, dtype=np.int64)
    later = np.zeros(there[:, 0].shape, dtype=np.int64)
    for week in range(there.shape[1] - 1, -1, -1):
        later = np.where(there[:, week], later + 1, 0)
        out[:, week] = later
    return out


class _Table:
    """The tubs while a year of weeks is fed from them."""

    def __init__(self, profiles: Profiles, animals: IntArray, demand: IntArray, per_one: FloatArray) -> None:
        count, weeks, classes = profiles.fits.shape
        self.profiles, self.animals, self.per_one = profiles, animals, per_one
        self.useful = weeks_useful(profiles)
        self.short = demand.astype(np.int64).copy()
        self.held = np.zeros(count, dtype=np.int64)
        self.arrived, self.eaten, self.died, self.outgrown = (
            np.zeros((count, weeks), dtype=np.int64) for _ in range(4)
        )
        self.served = np.zeros((weeks, classes, classes), dtype=np.int64)
        self.carried = np.zeros((2, count))
        self.room = np.zeros((count, classes), dtype=np.int64)

    def arrive(self, week: int) -> None:
        so_far = self.profiles.arrives[:, : week + 1].sum(axis=1)
        total = np.floor(so_far * self.animals + 1e-9).astype(np.int64)
        self.arrived[:, week] = total - self.arrived[:, :week].sum(axis=1)
        self.held = self.held + self.arrived[:, week]
        self.room = np.floor(self.profiles.fits[:, week] * self.held[:, None] + 1e-9).astype(np.int64)

    def serve(self, week: int, want: int, size: int) -> None:
        each = float(self.per_one[size, want])
        if not np.isfinite(each) or self.short[week, want] <= 0:
            return
        there = int(np.minimum(self.room[:, size], self.held).sum())
        done = min(int(np.floor(there / each + 1e-9)), int(self.short[week, want]))
        taking = int(np.ceil(done * each - 1e-9))
        self.short[week, want] -= done
        self.served[week, size, want] += taking
        for source in np.argsort(self.useful[:, week, size], kind="stable").tolist():
            take = min(taking, int(self.room[source, size]), int(self.held[source]))
            if take > 0:
                self._take(source, week, size, take)
                taking -= take

    def _take(self, source: int, week: int, size: int, number: int) -> None:
        self.held[source] -= number
        self.room[source, size] -= number
        self.eaten[source, week] += number

    def age(self, week: int) -> None:
        """Who dies and who outgrows within the week: whole feeders, the parts carried on."""
        lost = self.carried + self.held * np.stack(
            [self.profiles.dies[:, week], self.profiles.outgrows[:, week]]
        )
        died = np.minimum(np.floor(lost[0] + 1e-9).astype(np.int64), self.held)
        outgrown = np.minimum(np.floor(lost[1] + 1e-9).astype(np.int64), self.held - died)
        self.carried = lost - np.stack([died, outgrown])
        self.died[:, week], self.outgrown[:, week] = died, outgrown
        self.held = self.held - died - outgrown
