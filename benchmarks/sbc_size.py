"""Simulation-based calibration of the size staircase: rooms drawn from its priors, ranks of what was true.

    python benchmarks/sbc_size.py --rooms 1000 [--seed 1] [--write docs/calibration/2026-11-25-sizes.md]

The quantities stand in QUANTITIES, fixed before any room is drawn; the last five are forecasts.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np

from nightround.foundation.clock import now
from nightround.science.calibration import Uniformity, rank_of, rank_of_chance, table, uniformity
from nightround.science.size.data import MALE
from nightround.science.size.fit import SizeFit, fit_size
from nightround.science.size.forward import MOULTS_PAST_MATURITY, Futures, Waits, simulate_forward
from nightround.science.size.maturity import FEMALE_GRID, GRID_STEP
from nightround.science.size.outcomes import day_reached, final_size, log_size_on
from nightround.science.size.simulate import RoomPlan, TrueRoom, simulate_prior_room

DRAWS: Final = 399
HORIZON: Final = 548.0
REACHED_MM: Final = 60.0
# Small rooms of two groups, both sexes, half of the young of known sex, a third of the instars read.
PLAN: Final = RoomPlan(
    n_taxa=6, animals_per_taxon=8, most_instars=8, known_sex=0.5, males=0.5,
    reading_rates={"carapace_length_shed": 0.4, "leg_span": 0.3},
)  # fmt: skip
QUANTITIES: Final = (
    "log spread of steps",
    "log spread of animals",
    "step of a taxon",
    "decline of a taxon",
    "slope of leg span of a taxon",
    "size of maturity of a taxon's females",
    "present log carapace of an animal",
    "own growth of an animal",
    "carapace after the next moult",
    "leg span after the next moult",
    "leg span in 18 months",
    "day a leg span of 60 mm is reached",
    "final carapace",
)


def waits_of(n: int) -> Waits:
    """Waits known exactly, so that sizes alone are on trial."""
    levels = np.arange(1, 20) / 20.0
    first = np.quantile(np.random.default_rng(5).gamma(2.0, 35.0, 100_000), levels)
    warmth = np.concatenate([[0.0], np.cumsum(np.full(600, 0.9))])
    return Waits(
        levels, np.tile(first, (n, 1)), np.full(n, np.log(70.0)), np.full(n, 0.1), np.full(n, 0.45), 0.27,
        warmth[None], np.zeros(n, dtype=np.int64),
    )  # fmt: skip


def true_days(rng: np.random.Generator, waits: Waits, sizes: np.ndarray) -> np.ndarray:
    """Days of an animal's moults to come, by the same law that the forecast is told; sizes from now on."""
    levels, ahead = np.r_[0.0, waits.levels], np.r_[0.0, waits.first_days[0]]
    chance = rng.random()
    tail = ahead[-1] * (1.0 + (chance - levels[-1]) / (1.0 - levels[-1]))
    first = tail if chance > levels[-1] else np.interp(chance, levels, ahead)
    level = waits.log_warmth[0] + waits.level_sd[0] * rng.standard_normal()
    noise = waits.interval_sd * rng.standard_normal(len(sizes) - 2)
    lengths = np.exp(level + waits.per_log_size[0] * (sizes[1:-1] - sizes[0]) + noise) / 0.9
    return np.concatenate([[0.0, first], first + np.cumsum(lengths)])


class Trial:
    """One room, its fit, and where its truth stands among what the fit says."""

    def __init__(self, seed: int, plan: RoomPlan = PLAN) -> None:
        self.rng = np.random.default_rng([1804, seed])
        self.room: TrueRoom = simulate_prior_room(self.rng, plan)
        self.fit: SizeFit = fit_size(self.room.data)
        self.waits = waits_of(self.room.data.n_animals)
        self.futures: Futures = simulate_forward(self.fit, self.waits, self.rng, draws=DRAWS)
        # The animals asked about are chosen by what is on record alone.
        going = (self.room.data.mature_instar < 0) | (self.room.data.sex != MALE)
        self.animal = int(np.flatnonzero(going)[-1])

    def ranks(self) -> list[int]:
        """Ranks in the order of QUANTITIES."""
        fit, room, i = self.fit, self.room, self.animal
        spreads = room.spreads
        own_log_sd = fit.spread_log_sd
        row = int(fit.inside.place[i])
        of_animal = fit.inside.swept.u_mean[row, 0], fit.inside.swept.u_covariance[row, 0, 0] ** 0.5
        last = int(room.last[i])
        now = room.log_size[i, last]
        return [
            self._normal(np.log(spreads["step"]), np.log(fit.spreads.step), own_log_sd[0]),
            self._normal(np.log(spreads["animal"]), np.log(fit.spreads.animal), own_log_sd[1]),
            *(self._coefficient(name) for name in ("step", "decline", "slope:leg_span")),
            self._maturity(),
            self._normal(now, fit.log_size_mean[i, last], fit.log_size_sd[i, last]),
            self._normal(room.own[i], *of_animal),
            *self._forecasts(i, last),
        ]

    def _forecasts(self, i: int, last: int) -> list[int]:
        room, futures = self.room, self.futures
        stops = MOULTS_PAST_MATURITY + max(int(room.mature_from[i]), last)
        if room.sex[i] == MALE:
            stops = int(room.mature_from[i])
        sizes = room.log_size[i, last : min(stops, last + 29) + 1]
        days = true_days(self.rng, self.waits, room.log_size[i, last:])[: len(sizes)]
        legs = self._true_legs(i, last, sizes)
        by_then = legs[int(np.sum(days <= HORIZON)) - 1]
        large = np.flatnonzero(legs >= np.log(REACHED_MM))
        reached = float(days[large[0]]) if len(large) else np.inf
        return [
            self._rank(sizes[1], futures.log_part("carapace_length", 1)[:, i]),
            self._rank(legs[1], futures.log_part("leg_span", 1)[:, i]),
            self._rank(by_then, log_size_on(futures, "leg_span", HORIZON)[:, i]),
            self._rank(reached, day_reached(futures, "leg_span", REACHED_MM)[:, i]),
            self._rank(np.exp(sizes[-1]), final_size(futures, "carapace_length")[:, i]),
        ]

    def _true_legs(self, i: int, last: int, sizes: np.ndarray) -> np.ndarray:
        room = self.room
        taxon = room.data.taxon_of_animal[i]
        of = {name: values[taxon] for name, values in room.coefficients.items()}
        extra = of["male_legs"] * (
            (room.sex[i] == MALE) & (last + np.arange(len(sizes)) >= room.mature_from[i])
        )
        reference = float(np.log(8.0))
        return np.asarray(of["offset:leg_span"] + of["slope:leg_span"] * (sizes - reference) + extra)

    def _normal(self, truth: float, mean: float, sd: float) -> int:
        from scipy.special import ndtr

        return rank_of_chance(float(ndtr((truth - mean) / sd)), DRAWS)

    def _rank(self, truth: float, draws: np.ndarray) -> int:
        return rank_of(float(truth), draws, self.rng)

    def _coefficient(self, name: str) -> int:
        at = self.fit.coefficient_names.index(name)
        mean, sd = self.fit.coefficient_mean[0, at], self.fit.coefficient_sd[0, at]
        return self._normal(float(self.room.coefficients[name][0]), float(mean), float(sd))

    def _maturity(self) -> int:
        """The grid's weights as a step density."""
        weights = self.fit.inside.judged.maturity.sizes(male=False)[1][0]
        edges = np.r_[FEMALE_GRID - GRID_STEP / 2.0, FEMALE_GRID[-1] + GRID_STEP / 2.0]
        chance = np.interp(self.room.matures_at[0, 0], edges, np.r_[0.0, np.cumsum(weights)])
        return rank_of_chance(float(chance), DRAWS)


def calibrate(
    rooms: int, seed: int = 1, *, plan: RoomPlan = PLAN, tell: Callable[[int], None] = lambda room: None
) -> list[Uniformity]:
    """Ranks of every quantity over so many rooms, judged."""
    ranks = np.empty((rooms, len(QUANTITIES)), dtype=np.int64)
    for room in range(rooms):
        ranks[room] = Trial(seed * 1_000_000 + room, plan).ranks()
        tell(room)
    return [
        uniformity(name, ranks[:, column], DRAWS, quantities=len(QUANTITIES))
        for column, name in enumerate(QUANTITIES)
    ]


def main() -> None:
    """Run and print; with --write also into a page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path)
    given = parser.parse_args()
    rows = calibrate(given.rooms, given.seed)
    print(table(rows))
    if given.write:
        given.write.parent.mkdir(parents=True, exist_ok=True)
        head = f"{given.rooms} rooms, seed {given.seed}, {now().date().isoformat()}"
        given.write.write_text(f"{head}\n\n{table(rows)}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
