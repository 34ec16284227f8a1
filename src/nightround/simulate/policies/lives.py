"""True lives of a trial room, drawn before anybody plans: no home, no meal and no policy changes them.

That is what makes runs comparable: under every policy the same animals moult on the same days. It leaves out
that hungry animals grow more slowly.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import exp
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.simulate.climate import RoomClimate, make_climate, season
from nightround.simulate.life import Biology, Breaks, Herd, Life
from nightround.simulate.taxa import TAXA, SimulatedTaxon

Floats = NDArray[np.float64]

SHELVES_USED: Final = (0, 2)
FOUNDING_SHARE: Final = 0.7
PREMOULT_SHARE: Final = 0.2
PREMOULT_DAYS: Final = (2.0, 14.0)
NEVER: Final = 10**6


@dataclass(frozen=True)
class TrueLives:
    """N animals over D days (columns). Before its arrival and after its death an animal is not here.

    arrives, dies   (N,) column of arrival, and of death (10**6: not in these days)
    carapace_mm     (N, D) at the end of each day
    moults          moults of each animal while here, by column
    calm            (N, D) neither in premoult nor hardening that evening: it may be moved and fed
    mature          (N, D) after its maturing moult
    place           (N,) row of its shelf
    """

    climate: RoomClimate
    kinds: tuple[SimulatedTaxon, ...]
    sexes: tuple[str, ...]
    arrives: NDArray[np.int64]
    dies: NDArray[np.int64]
    carapace_mm: Floats
    moults: tuple[tuple[int, ...], ...]
    calm: NDArray[np.bool_]
    mature: NDArray[np.bool_]
    place: NDArray[np.int64]

    @property
    def animals(self) -> int:
        """How many animals ever live here."""
        return len(self.kinds)

    @property
    def days(self) -> int:
        """How many days are drawn."""
        return int(self.carapace_mm.shape[1])

    def here(self, column: int) -> list[int]:
        """Who is alive and here at the end of a day."""
        return [int(i) for i in np.flatnonzero((self.arrives <= column) & (column < self.dies))]

    def span_mm(self, animal: int, column: int) -> float:
        """True leg span."""
        return float(self.kinds[animal].span * self.carapace_mm[animal, column])

    def body_mm(self, animal: int, column: int) -> float:
        """True body length."""
        return float(self.kinds[animal].body * self.carapace_mm[animal, column])


def hardening_days(carapace_mm: float) -> int:
    """Days after a moult without prey or a move: as the trade's rules by size."""
    return 7 if carapace_mm < 3 else 10 if carapace_mm < 7 else 14 if carapace_mm < 14 else 21


def draw_lives(seed: int, animals: int, first: date, days: int, warm_up: int) -> TrueLives:
    """Draw a room: most animals are here from the first day, the rest arrive during the warm-up."""
    rng = np.random.default_rng([seed, 31])
    climate = make_climate(np.random.default_rng([seed, 32]), first, days, days)
    biology = Biology(rng, TAXA, Breaks())
    herd = Herd(biology, climate.temperature_c[:-1], season(first, days), animals)
    share = np.array([kind.share for kind in TAXA], dtype=np.float64)
    taxa = rng.choice(len(TAXA), animals, p=share / share.sum())
    founding = int(FOUNDING_SHARE * animals)
    late = rng.integers(7, warm_up * 3 // 4, animals - founding)
    arrives = np.sort(np.concatenate([np.zeros(founding, dtype=np.int64), late]))
    size = np.zeros((animals, days))
    calm, mature = np.ones((animals, days), dtype=np.bool_), np.zeros((animals, days), dtype=np.bool_)
    for column in range(days):
        while len(herd.lives) < animals and arrives[len(herd.lives)] == column:
            life, elapsed = biology.arrived(
                int(taxa[len(herd.lives)]), column, float(rng.uniform(0.05, 0.65))
            )
            herd.add(life, int(rng.choice(SHELVES_USED)), elapsed, column)
        for index in (moulting for part in herd.day(column) for moulting in part):
            herd.moult(index, column)
        for index, life in enumerate(herd.lives):
            size[index, column] = life.carapace_mm
            calm[index, column] = _calm(herd, index, life, column)
            mature[index, column] = life.mature_at is not None
    dies = np.array([NEVER if life.died is None else life.died for life in herd.lives], dtype=np.int64)
    kept = tuple(
        tuple(day for day in life.moults if day > arrives[index]) for index, life in enumerate(herd.lives)
    )
    return TrueLives(
        climate, tuple(TAXA[life.taxon] for life in herd.lives), tuple(life.sex for life in herd.lives),
        arrives, dies, size, kept, calm, mature, herd.place[: len(herd.lives)].copy(),
    )  # fmt: skip


def _calm(herd: Herd, index: int, life: Life, column: int) -> bool:
    """Whether it is neither about to moult (the last fifth of its interval, two weeks at most) nor soft."""
    if life.moults and column - life.moults[-1] < hardening_days(exp(life.log_sizes[-1])):
        return False
    due = float(herd.due[index])
    if due == float("inf"):
        return True
    low, high = PREMOULT_DAYS
    return due - float(herd.elapsed[index]) > min(max(PREMOULT_SHARE * due, low), high)
