"""Tubs of feeders that truly grow and die, and how animals are fed from them by one rule for every policy."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from nightround.simulate.policies.goods import FEEDERS, Pack, TrueFeeder

GROWTH_SD: Final = 0.12
DEATHS_SD: Final = 0.35


@dataclass(frozen=True)
class Feeding:
    """Days between offers and which prey goes to a body: the trade's rules of the program.

    most_of_body    longest prey as a share of body length
    several         (share of body length from which, how many count as one usual piece)
    killed_mm       prey up to so long goes to any animal, pre-killed where it is too large for it
    scavenges_below_body_mm   smaller animals feed on a piece of any prey, of the smallest first
    cut_of_body     when nothing else will do: longer prey up to this share of body length, killed and cut
    """

    sling_days: int = 7
    juvenile_days: int = 7
    adult_days: int = 14
    sling_below_span_mm: float = 25.0
    adult_from_span_mm: float = 100.0
    most_of_body: float = 0.5
    several: tuple[tuple[float, int], ...] = ((0.25, 1), (0.18, 2), (0.12, 3))
    killed_mm: float = 2.7
    scavenges_below_body_mm: float = 4.0
    cut_of_body: float = 1.0
    tiny_mm: float = 4.0
    tiny_number: int = 2

    def interval_days(self, span_mm: float, mature: bool) -> int:
        """Days between offers."""
        if mature or span_mm >= self.adult_from_span_mm:
            return self.adult_days
        return self.sling_days if span_mm < self.sling_below_span_mm else self.juvenile_days

    def number(self, body_mm: float, prey_mm: float) -> int:
        """How many of that length make a meal, 0 when that prey will not do."""
        if body_mm < self.scavenges_below_body_mm:
            return 1
        most = self.most_of_body * body_mm
        if prey_mm > max(most, self.killed_mm):
            return 0
        usual = self.tiny_number if 2.0 <= most < self.tiny_mm else 1
        for share, times in self.several:
            if prey_mm >= share * body_mm:
                return usual * times
        return 0


@dataclass(slots=True)
class Tub:
    """One lot: how many live, how far grown, and its own pace of growth and of dying, known to nobody."""

    code: str
    pack: Pack
    number: int
    share: float
    growth: float
    dying: float
    adult_for: int = 0

    @property
    def kind(self) -> TrueFeeder:
        """How its kind grows."""
        return FEEDERS[self.pack.feeder]

    @property
    def length_mm(self) -> float:
        """True length tonight."""
        return self.kind.length_at(self.share)


@dataclass
class Count:
    """Feeders by what became of them; bought and in the house at the start = all others and left."""

    start: int = 0
    bought: int = 0
    fed: int = 0
    died: int = 0
    outgrown: int = 0

    def wasted(self, left: int) -> int:
        """Bought and not fed: died, outgrown, or left at the end."""
        return self.died + self.outgrown + left


@dataclass
class Larder:
    """All tubs in the house; what left them and what of it was fed since last asked, by pack."""

    seed: int
    tubs: list[Tub] = field(default_factory=list)
    count: Count = field(default_factory=Count)
    used: dict[str, float] = field(default_factory=dict)
    fed: dict[str, float] = field(default_factory=dict)
    begun: int = 0

    @property
    def left(self) -> int:
        """Feeders alive in the house."""
        return sum(tub.number for tub in self.tubs)

    def stock(self) -> dict[str, int]:
        """Feeders alive by the pack they came in."""
        found: dict[str, int] = {}
        for tub in self.tubs:
            found[tub.pack.name] = found.get(tub.pack.name, 0) + tub.number
        return found

    def arrive(self, pack: Pack, column: int, order: int) -> Tub:
        """A pack is delivered: its tub grows and dies in its own way, the same under every policy."""
        rng = np.random.default_rng([self.seed, 41, column, order, len(pack.name), pack.number])
        growth, dying = np.exp(rng.normal(0.0, (GROWTH_SD, DEATHS_SD)))
        kind = FEEDERS[pack.feeder]
        self.begun += 1
        tub = Tub(
            f"L{self.begun:04d}",
            pack,
            pack.number,
            kind.share_at(pack.length_mm),
            float(growth),
            float(dying),
        )
        self.tubs.append(tub)
        self.count.bought += pack.number
        return tub

    def day(self, column: int, temperature_c: float) -> list[Tub]:
        """A day of growing and dying; returns the tubs that ended."""
        rng = np.random.default_rng([self.seed, 43, column])
        for tub in self.tubs:
            kind = tub.kind
            warmth = max(0.0, temperature_c - kind.threshold_c)
            tub.share = min(1.0, tub.share + tub.growth * warmth / kind.degree_days)
            tub.adult_for += tub.share >= 1.0
            died = int(rng.binomial(tub.number, min(0.9, kind.deaths_a_day * tub.dying)))
            if died:
                self._leave(tub, died)
                self.count.died += died
            if tub.adult_for > kind.adult_days and tub.number:
                self.count.outgrown += tub.number
                tub.number = 0
        ended = [tub for tub in self.tubs if not tub.number]
        self.tubs = [tub for tub in self.tubs if tub.number]
        return ended

    def feed(self, feeding: Feeding, body_mm: float) -> tuple[Tub, int] | None:
        """Take a meal: fewest pieces, then the longest prey, then the oldest tub; None: nothing will do.

        The smallest animals get a piece of the smallest prey.
        """
        sign = -1.0 if body_mm < feeding.scavenges_below_body_mm else 1.0
        best: tuple[tuple[int, float, int], Tub] | None = None
        for at, tub in enumerate(self.tubs):
            number = feeding.number(body_mm, tub.length_mm)
            if number and tub.number >= number:
                key = (-number, sign * tub.length_mm, -at)
                if best is None or key > best[0]:
                    best = (key, tub)
        if best is None:
            return self._cut(feeding, body_mm)
        return self._take(best[1], -best[0][0])

    def _cut(self, feeding: Feeding, body_mm: float) -> tuple[Tub, int] | None:
        """The shortest of the prey that is too long, killed and cut."""
        longest = feeding.cut_of_body * body_mm
        least = feeding.most_of_body * body_mm
        long = [tub for tub in self.tubs if tub.number and least < tub.length_mm <= longest]
        return self._take(min(long, key=lambda tub: tub.length_mm), 1) if long else None

    def _take(self, tub: Tub, number: int) -> tuple[Tub, int]:
        self._leave(tub, number)
        self.count.fed += number
        self.fed[tub.pack.name] = self.fed.get(tub.pack.name, 0.0) + number
        return tub, number

    def _leave(self, tub: Tub, number: int) -> None:
        tub.number -= number
        self.used[tub.pack.name] = self.used.get(tub.pack.name, 0.0) + number

    def week_used(self) -> tuple[dict[str, float], dict[str, float]]:
        """What left the tubs since this was last asked, and what of it was fed."""
        used, fed = self.used, self.fed
        self.used, self.fed = {}, {}
        return used, fed
