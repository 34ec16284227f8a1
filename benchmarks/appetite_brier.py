"""What appetite is worth: Brier scores of the odds of a moult with and without it, on invented rooms.

    .venv/bin/python benchmarks/appetite_brier.py [--rooms 40] [--seed 1] [--animals 300] [--demo-rooms 6]

The clock's forecast is the known log-normal of each animal given "not yet", so that appetite is tested by
itself; its parameters are fitted to each room's own completed intervals. Columns: Brier score of "moulted
within 14 days" without and with appetite, the change in per cent with its standard error over rooms, and for
animals whose last five or more offers were not taken the mean odds said and what happened.

The last lines score whole forecasts (`findings.moult`) of invented demo rooms, whose keeper offers when due,
passes over what shows premoult and writes signs down now and then, against the clock without appetite.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nightround.findings.moult import clock_odds
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.science.appetite.evidence import evidence
from nightround.science.appetite.fit import AppetiteFit, fit_appetite, prior_fit
from nightround.science.appetite.simulate import AppetiteRoom, Scene, appetite_room
from nightround.science.appetite.tilt import middles, tilted
from nightround.simulate import room as demo_room

FloatArray = NDArray[np.float64]
GRID = np.unique(np.concatenate([np.arange(0.0, 61.0), np.round(np.geomspace(60.0, 1500.0, 40))]))
HORIZON = 14
LONG_RUN = 5

SCENES: dict[str, Scene] = {
    "premoult fasting, no other": Scene(),
    "the same, short intervals (75 d)": Scene(middle_days=75.0, middle_sd=0.4),
    "the same, long intervals (160 d)": Scene(middle_days=160.0),
    "premoult fasting, smooth in phase": Scene(premoult="smooth"),
    "premoult half the appetite": Scene(premoult_left=0.5),
    "premoult and other fasts 15 %": Scene(fast_share=0.15),
    "smooth and other fasts 15 %": Scene(premoult="smooth", fast_share=0.15),
    "premoult, fasts, picky animals": Scene(fast_share=0.15, pickiness=0.8),
    "premoult, fasts, signs noted": Scene(fast_share=0.15, signs=0.3),
    "fasts 10 % unrelated, no premoult": Scene(premoult="none", fast_share=0.10),
    "fasts 15 % unrelated, no premoult": Scene(premoult="none", fast_share=0.15),
    "fasts 20 % unrelated, no premoult": Scene(premoult="none", fast_share=0.20),
    "fasts 20 %, picky, no premoult": Scene(premoult="none", fast_share=0.20, pickiness=0.8),
    "young room: premoult, fasts 15 %": Scene(animals=60, history_days=120, fast_share=0.15),
    "young room: fasts 15 %, no premoult": Scene(
        animals=60, history_days=120, premoult="none", fast_share=0.15
    ),
    "two months: premoult, fasts 15 %": Scene(animals=60, history_days=60, fast_share=0.15),
    "two months: fasts 15 %, no premoult": Scene(
        animals=60, history_days=60, premoult="none", fast_share=0.15
    ),
    "one month: premoult, fasts 15 %": Scene(animals=60, history_days=30, fast_share=0.15),
    "one month: fasts 15 %, no premoult": Scene(
        animals=60, history_days=30, premoult="none", fast_share=0.15
    ),
}
DEMO_END = date(2026, 11, 20)
# Evenings of a demo room of three years, in days before its end: full-grown, and half a year old.
DEMO_EVENINGS: dict[str, tuple[int, ...]] = {
    "demo room, one to three years": (20, 130, 240, 400, 560),
    "demo room, six to nine months": (820, 870, 910),
}


@dataclass(frozen=True)
class Odds:
    """14-day odds of one room's animals without and with appetite, what happened, refusals in a row."""

    without: FloatArray
    with_it: FloatArray
    happened: FloatArray
    run: FloatArray


def room_odds(room: AppetiteRoom, fit: AppetiteFit) -> Odds:
    """Forecast one room with and without appetite."""
    before = room.cumulative(GRID)
    lengths = room.now.elapsed_now[:, None] + middles(GRID)
    after = tilted(before, evidence(fit, room.now, lengths).log_likelihood)
    at = int(np.searchsorted(GRID, HORIZON))
    happened = (room.remaining_days <= HORIZON).astype(float)
    return Odds(before[:, at], after[:, at], happened, room.refused_run.astype(float))


def run(scene: Scene, rooms: int, seed: int, *, learn: bool = True) -> list[Odds]:
    """Draw, fit and forecast many rooms."""
    out = []
    for number in range(rooms):
        room = appetite_room(np.random.default_rng([seed, number]), scene)
        fit = fit_appetite(room.past) if learn else prior_fit(scene.taxa)
        out.append(room_odds(room, fit))
    return out


def change_percent(rooms: list[Odds]) -> tuple[float, float, float, float]:
    """Brier without, Brier with, change in per cent and its standard error over rooms."""
    without = np.array([((o.without - o.happened) ** 2).mean() for o in rooms])
    with_it = np.array([((o.with_it - o.happened) ** 2).mean() for o in rooms])
    base = without.mean()
    ratio = with_it.mean() / base
    error = np.std(with_it - ratio * without, ddof=min(1, len(rooms) - 1)) / np.sqrt(len(rooms))
    return float(base), float(with_it.mean()), 100 * float(ratio - 1), 100 * float(error / base)


def after_refusals(rooms: list[Odds], least: int = LONG_RUN) -> tuple[float, float, float, int]:
    """After a run of refusals: mean odds said without and with appetite, share that happened, how many."""
    joined = Odds(*(np.concatenate([getattr(o, name) for o in rooms]) for name in vars(rooms[0])))
    hit = joined.run >= least
    if not hit.any():
        return np.nan, np.nan, np.nan, 0
    return (
        float(joined.without[hit].mean()),
        float(joined.with_it[hit].mean()),
        float(joined.happened[hit].mean()),
        int(hit.sum()),
    )


def demo_odds(seed: int, evenings: tuple[int, ...]) -> Odds:
    """Score whole forecasts of one invented demo room on some evenings, for animals not moulted unseen."""
    made = demo_room(seed, end=DEMO_END)
    rows: list[tuple[float, float, float, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        journal = Journal.create(Path(folder) / "room", time_zone=made.clock.zone_name, invented=True)
        journal.append(made.drafts)
        entries, clock = journal.entries(), journal.clock
        journal.close()
    for back in evenings:
        record = fold(entries, DEMO_END - timedelta(days=back), clock)
        odds = clock_odds(record)
        assert odds is not None
        at = int(np.searchsorted(odds.plain.grid_days, HORIZON))
        for row, animal in enumerate(odds.room.asked):
            history = odds.room.histories[animal]
            moults = made.truth.animals[history.animal].moults
            if any(history.last_look is not None and history.last_look < day <= record.on for day in moults):
                continue
            happened = any(0 < (day - record.on).days <= HORIZON for day in moults)
            said = odds.plain.cumulative[row, at], odds.result.cumulative[row, at]
            rows.append((*map(float, said), float(happened), float(odds.weighed.notes[history.animal].run)))
    return Odds(*np.array(rows).T)


def line(name: str, rooms: list[Odds], took: float) -> str:
    """One line of the table."""
    base, ours, change, error = change_percent(rooms)
    _, said, happened, count = after_refusals(rooms)
    words = f"said {said:.3f} happened {happened:.3f} ({said - happened:+.3f}) n = {count}"
    return f"{name:38} {base:8.4f} {ours:8.4f} {change:+7.2f} % {error:5.2f}   {words}  {took:.0f} s"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rooms", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--animals", type=int, default=None)
    parser.add_argument("--demo-rooms", type=int, default=6)
    parser.add_argument("--priors-only", action="store_true", help="do not learn from the rooms' intervals")
    options = parser.parse_args()
    print(f"{'scene':38} {'without':>8} {'with':>8} {'change':>9} {'s.e.':>5}   after {LONG_RUN}+ refusals")
    for name, scene in SCENES.items():
        start = time.perf_counter()
        chosen = scene if options.animals is None else replace(scene, animals=options.animals)
        rooms = run(chosen, options.rooms, options.seed, learn=not options.priors_only)
        print(line(name, rooms, time.perf_counter() - start), flush=True)
    for name, evenings in DEMO_EVENINGS.items():
        start = time.perf_counter()
        rooms = [demo_odds(options.seed + number, evenings) for number in range(options.demo_rooms)]
        if rooms:
            print(line(name, rooms, time.perf_counter() - start), flush=True)


if __name__ == "__main__":
    main()
