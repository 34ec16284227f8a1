"""Simulation-based calibration of the moult clock: rooms drawn from its priors, ranks of what was true.

    python benchmarks/sbc_clock.py --rooms 1000 [--seed 1] [--write docs/calibration/2026-11-25-clock-sbc.md]

The quantities stand in QUANTITIES, fixed before any room is drawn; the last five are forecasts. The same
rooms show how well the hyperparameters are recovered. With --bayes the forecasts are ranked without the rule
that odd intervals are not suspected before the median (`science.clock.waiting.shares_of`).
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from nightround.foundation.clock import now
from nightround.science.calibration import Uniformity, rank_of, rank_of_chance, table, uniformity
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.draw import DrawnRoom, RoomShape, draw_room
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.forecast import ClockForecast, forecast
from nightround.science.clock.posterior import draws
from nightround.science.clock.priors import COVARIATE_NAMES, FIXED_NAMES, HYPER_NAMES
from nightround.science.clock.waiting import plain_shares, shares_of

DRAWS: Final = 399
# Small rooms of two groups, all kinds of arrival, late-found moults, one taxon new to the room. No gaps in
# the climate (their doubt is wider by design than what a drawn gap hides), no growth (see `RoomShape`).
SHAPE: Final = RoomShape(
    groups=2, taxa=5, animals=24, new_taxa=1, record_days=500, missing_share=0.0, growth=0.0, least_days=4
)
PARAMETERS: Final = (*HYPER_NAMES, *FIXED_NAMES, *COVARIATE_NAMES, "level of a taxon", "pace of an animal")
FORECASTS: Final = (
    "next moult, last moult known",
    "next moult, last moult not known",
    "next moult, taxon new to the room",
    "next moult, three intervals or more",
    "next moult, past the median",
)
QUANTITIES: Final = PARAMETERS + FORECASTS
LEVELS: Final = (0.8, 0.95)


@dataclass(frozen=True)
class Trial:
    """One room: ranks in the order of QUANTITIES (-1 where the room has no such animal), and its recovery.

    truth, mean, sd [7]   hyperparameters and their posterior
    inside [2, 7]         whether the central 80 and 95 % intervals held
    """

    ranks: np.ndarray
    truth: np.ndarray
    mean: np.ndarray
    sd: np.ndarray
    inside: np.ndarray


def run_trial(seed: int, shape: RoomShape = SHAPE, *, bayes: bool = False) -> Trial:
    """Draw, fit, rank."""
    rng = np.random.default_rng([1804, seed])
    room = draw_room(rng, shape)
    fitted = fit(room.data)
    drawn = draws(fitted, rng, DRAWS)
    animal = shape.animals // 2
    taxon = int(room.data.animal_taxon[animal])
    several = [drawn.hyper, drawn.gamma[:, : room.gamma.size], drawn.taxon[:, [taxon], 0]]
    posterior = np.concatenate([*several, drawn.pace[:, [animal]]], axis=1)
    true = np.concatenate([room.theta, room.gamma, room.taxon_level[[taxon]], room.pace[[animal]]])
    ranks = [rank_of(float(value), column, rng) for value, column in zip(true, posterior.T, strict=True)]
    tails = (1.0 - np.array(LEVELS)) / 2.0
    low, high = np.quantile(drawn.hyper, tails, axis=0), np.quantile(drawn.hyper, 1.0 - tails, axis=0)
    return Trial(
        np.array(ranks + forecast_ranks(room, fitted, bayes=bayes)),
        room.theta,
        drawn.hyper.mean(axis=0),
        drawn.hyper.std(axis=0),
        (low <= room.theta) & (room.theta <= high),
    )


def forecast_ranks(room: DrawnRoom, fitted: ClockFit, *, bayes: bool = False) -> list[int]:
    """Ranks of the forecasts; each is of the first animal of its kind that has not moulted unseen."""
    rule = plain_shares if bayes else shares_of
    told = forecast(fitted, room.asked, room.on, room.expected, shares=rule)
    rows = room.data.intervals
    begun = np.full(room.data.animals, NO_DAY)
    begun[rows.animal[rows.running]] = rows.start_last[rows.running]
    known = begun[room.asked] != NO_DAY
    new = room.data.animal_taxon[room.asked] >= SHAPE.taxa
    kinds = [
        known & ~new,
        ~known & ~new,
        new & (room.closed == 0),
        room.closed >= 3,
        known & (np.nan_to_num(told.usual_share) > 1.0),
    ]
    return [_rank(told, room, np.flatnonzero(kind & (room.truth_days >= 0.0))) for kind in kinds]


def _rank(told: ClockForecast, room: DrawnRoom, of_kind: np.ndarray) -> int:
    if of_kind.size == 0:
        return -1
    row = int(of_kind[0])
    chance = float(np.interp(room.truth_days[row], told.grid_days, told.cumulative[row]))
    return rank_of_chance(chance, DRAWS)


def run_trials(
    rooms: int, seed: int = 1, *, bayes: bool = False, tell: Callable[[int], None] = lambda room: None
) -> list[Trial]:
    """So many rooms, one after the other."""
    trials = []
    for room in range(rooms):
        trials.append(run_trial(seed * 1_000_000 + room, bayes=bayes))
        tell(room)
    return trials


def judged(trials: list[Trial]) -> list[Uniformity]:
    """Every quantity over all rooms that have it."""
    ranks = np.stack([trial.ranks for trial in trials])
    return [
        uniformity(name, column[column >= 0], DRAWS, quantities=len(QUANTITIES))
        for name, column in zip(QUANTITIES, ranks.T, strict=True)
    ]


def recovery(trials: list[Trial]) -> str:
    """How truth and posterior of the hyperparameters agree, as a Markdown table."""
    truth, mean = (np.stack([getattr(trial, name) for trial in trials]) for name in ("truth", "mean"))
    sd, inside = np.stack([trial.sd for trial in trials]), np.stack([trial.inside for trial in trials])
    lines = [
        "| hyperparameter | correlation | sd over prior sd | bias in sd | 80 % held | 95 % held |",
        "|---|---|---|---|---|---|",
    ]
    for index, name in enumerate(HYPER_NAMES):
        agree = np.corrcoef(truth[:, index], mean[:, index])[0, 1]
        bias = ((mean - truth) / sd)[:, index].mean()
        narrower = sd[:, index].mean() / truth[:, index].std()
        held = 100.0 * inside[:, :, index].mean(axis=0)
        lines.append(
            f"| {name} | {agree:.2f} | {narrower:.2f} | {bias:+.3f} | {held[0]:.1f} % | {held[1]:.1f} % |"
        )
    return "\n".join(lines)


def main() -> None:
    """Run and print; with --write also into a page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--bayes", action="store_true")
    parser.add_argument("--write", type=Path)
    given = parser.parse_args()
    used = time.process_time()
    trials = run_trials(given.rooms, given.seed, bayes=given.bayes)
    text = f"{table(judged(trials))}\n\n{recovery(trials)}\n"
    head = f"{given.rooms} rooms, seed {given.seed}, {now().date().isoformat()}"
    print(f"{head}, {time.process_time() - used:.0f} s\n\n{text}")
    if given.write:
        given.write.parent.mkdir(parents=True, exist_ok=True)
        given.write.write_text(f"{head}\n\n{text}", encoding="utf-8")


if __name__ == "__main__":
    main()
