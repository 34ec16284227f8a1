"""Do 80 % windows hold what they promise? Rooms drawn from the clock's own priors, fitted and forecast.

Usage: python benchmarks/coverage_moults.py [--rooms 300] [--seed 1] [--breaks]

Prints the share of true next moults inside the 10 % to 90 % window, overall and by stratum, with the Monte
Carlo error taken over rooms (animals of one room share its luck). With --breaks, 60 rooms each break the
model on purpose, too.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nightround.science.clock.draw import RoomShape, draw_room
from nightround.science.clock.fit import fit
from nightround.science.clock.forecast import QUANTILES, forecast

LOW, HIGH = QUANTILES.index(0.1), QUANTILES.index(0.9)
# Usual rooms, and four taxa of which one animal each has just come.
SHAPE = RoomShape(new_taxa=4)
BREAK_ROOMS = 60


@dataclass(frozen=True)
class Outcome:
    """One forecast and what happened: in which room, inside the window, rank of the truth, strata.

    new   the taxon has no interval on record that was seen to its end
    """

    room: int
    inside: bool
    level: float
    closed: int
    past_half: bool
    unseen: float
    hidden: bool
    new: bool


def run_room(room: int, seed: int, shape: RoomShape) -> list[Outcome]:
    """Draw, fit and forecast one room."""
    rng = np.random.default_rng([seed, room])
    drawn = draw_room(rng, shape)
    result = forecast(fit(drawn.data), drawn.asked, drawn.on, drawn.expected)
    median = np.nanmedian(result.usual_share)
    rows = drawn.data.intervals
    seen = np.bincount(drawn.data.animal_taxon[rows.animal[~rows.running]], minlength=drawn.data.taxa)
    new = seen[drawn.data.animal_taxon[drawn.asked]] == 0
    outcomes = []
    for row in range(drawn.asked.size):
        truth = float(drawn.truth_days[row])
        quantiles = np.nan_to_num(result.quantile_days[row], nan=np.inf)
        level = float(np.interp(truth, result.grid_days, result.cumulative[row]))
        inside = bool(quantiles[LOW] <= truth <= quantiles[HIGH])
        past_half = bool(result.usual_share[row] > median)
        unseen, closed = float(result.unseen[row]), int(drawn.closed[row])
        outcomes.append(Outcome(room, inside, level, closed, past_half, unseen, truth < 0, bool(new[row])))
    return outcomes


def share(outcomes: list[Outcome]) -> tuple[float, float, int]:
    """Share inside, its standard error over rooms, and the number of forecasts."""
    rooms: dict[int, list[bool]] = {}
    for outcome in outcomes:
        rooms.setdefault(outcome.room, []).append(outcome.inside)
    hits = np.array([sum(values) for values in rooms.values()], dtype=float)
    sizes = np.array([len(values) for values in rooms.values()], dtype=float)
    rate = hits.sum() / max(sizes.sum(), 1.0)
    error = np.sqrt(((hits - rate * sizes) ** 2).sum()) / max(sizes.sum(), 1.0)
    return float(rate), float(error), int(sizes.sum())


def strata(outcomes: list[Outcome]) -> dict[str, list[Outcome]]:
    """The strata of the coverage table."""
    return {
        "all": outcomes,
        "no earlier interval": [o for o in outcomes if o.closed == 0],
        "1-2 earlier intervals": [o for o in outcomes if 1 <= o.closed <= 2],
        "3 or more": [o for o in outcomes if o.closed >= 3],
        "elapsed below the median": [o for o in outcomes if not o.past_half],
        "elapsed above the median": [o for o in outcomes if o.past_half],
        "a taxon new to the room": [o for o in outcomes if o.new],
    }


BREAKS: dict[str, dict[str, Any]] = {
    "season +-25 %": {"season": 0.25},
    "t3 residuals": {"heavy_tails": True},
    "10 % of moults unrecorded": {"unrecorded": 0.1},
    "true Q10 1.6": {"true_q10": 1.6},
    "true Q10 4": {"true_q10": 4.0},
}


def report(title: str, rooms: int, seed: int, shape: RoomShape) -> None:
    """Run and print one table."""
    start = time.perf_counter()
    outcomes = [outcome for room in range(rooms) for outcome in run_room(room, seed, shape)]
    seen = [outcome for outcome in outcomes if not outcome.hidden]
    print(f"{title}: {rooms} rooms, {len(seen)} forecasts, {time.perf_counter() - start:.0f} s")
    for name, chosen in strata(seen).items():
        rate, error, count = share(chosen)
        print(f"  {name:28s} {100 * rate:5.1f} %  +- {100 * error:.1f}   n = {count}")
    hidden = np.mean([outcome.hidden for outcome in outcomes])
    promised = np.mean([outcome.unseen for outcome in outcomes])
    print(f"  moulted unseen: {100 * hidden:.2f} % happened, {100 * promised:.2f} % promised")
    levels = np.sort([outcome.level for outcome in seen])
    print(
        "  true levels by tenths: "
        + " ".join(f"{100 * x:.1f}" for x in np.histogram(levels, 10, (0, 1))[0] / len(seen))
    )


def main() -> None:
    """Read the arguments and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--breaks", action="store_true")
    options = parser.parse_args()
    report("own model", options.rooms, options.seed, SHAPE)
    for name, change in BREAKS.items() if options.breaks else ():
        report(name, BREAK_ROOMS, options.seed, replace(SHAPE, **change))


if __name__ == "__main__":
    main()
