"""Rolling-origin scores of the moult clock on real records, against four baselines.

Usage: python benchmarks/score_moults.py [--data ../shared/data/crab-2012] [--without-looks] [--draws 1000]

For each origin the tables are cut at that day before anything is read: a fresh room is imported from what was
written up to the origin, folded, fitted and forecast. The temperatures to come are given as
`expected_climate`. The laboratory looked at its animals daily but the tables do not say so: each animal
alive at the origin gets a `seen` entry on that day (with --without-looks it does not).

Scored are all living animals with at least one completed interval. A horizon counts only if origin +
horizon is not after the end of the climate; an animal that dies unmoulted before it is left out of it.
CRPS is integrated over days to that end, or to the death of an animal that dies unmoulted. Baselines, all in
calendar days, each a log-normal cut off at "not yet": (1) the last interval repeated, (2) the animal's own
mean, (3) the population's median for that moult number, (4) a censored log-normal by moult number. The
spread of (1) and (2) is the root mean square of their own past errors in log days, that of (3) the sd of
log intervals, of (4) its fitted sd.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightround.findings.moult import clock_odds
from nightround.foundation.clock import RoomClock
from nightround.journal.store import Journal
from nightround.journal.tables.read import read_tables
from nightround.record.fold import fold
from nightround.science.scores import log_normal_wait

FloatArray = NDArray[np.float64]
ORIGINS = ("2012-10-01", "2012-10-15", "2012-11-01", "2012-11-15", "2012-12-01", "2012-12-15")
END = date(2013, 2, 4)
NAMES = (
    "moult clock",
    "(1) last interval",
    "(2) own mean",
    "(3) median by number",
    "(4) log-normal by number",
)
BRIER_DAYS = range(1, 61)
ENOUGH = 5
USUAL_SD = 0.5
Row = dict[str, str]


@dataclass(frozen=True)
class Tables:
    """The plain tables as read."""

    animals: list[Row]
    entries: list[Row]
    climate: list[Row]

    @staticmethod
    def read(folder: Path) -> Tables:
        """Read the three tables of a folder."""
        return Tables(*(list(csv.DictReader((folder / name).open(encoding="utf-8"))) for name in (
            "animals.csv", "entries.csv", "climate.csv")))  # fmt: skip


@dataclass(frozen=True)
class Fate:
    """What the full tables say of one animal: moult days ascending, day of death within the study."""

    moults: list[int]
    died: int | None


@dataclass
class Scores:
    """One forecast scored: per model the CRPS, and the squared error by horizon."""

    animal: str
    origin: str
    days: int
    left_early: bool
    moulted: int | None
    outcome: FloatArray
    squared: FloatArray
    window: tuple[float, float]
    crps: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        self.crps = self.squared.sum(axis=1)


def day(text: str) -> int:
    """The ordinal of an ISO day."""
    return date.fromisoformat(text[:10]).toordinal()


def fates(tables: Tables) -> dict[str, Fate]:
    """Moults and death of every animal; a death dated after the study's end is not counted."""
    moults: dict[str, list[int]] = defaultdict(list)
    died: dict[str, int] = {}
    for row in tables.entries:
        if row["entry"] == "moulted":
            moults[row["animal"]].append(day(row["when"]))
        elif row["entry"] == "died" and day(row["when"]) <= END.toordinal():
            died[row["animal"]] = day(row["when"])
    return {
        row["animal"]: Fate(sorted(moults[row["animal"]]), died.get(row["animal"])) for row in tables.animals
    }


def write(path: Path, rows: Iterable[Row]) -> None:
    """Write rows as a plain table."""
    rows = list(rows)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def cut(tables: Tables, origin: int, folder: Path, looks: bool) -> None:
    """Write the tables as they stood at the origin, and the temperatures to come as expected climate."""
    write(folder / "animals.csv", [row for row in tables.animals if day(row["arrived"]) <= origin])
    known = [row for row in tables.entries if day(row["when"]) <= origin]
    gone = {row["animal"] for row in known if row["entry"] == "died"}
    if looks:
        blank = dict.fromkeys(known[0], "")
        on = date.fromordinal(origin).isoformat()
        known += [
            {**blank, "when": on, "animal": row["animal"], "entry": "seen"}
            for row in tables.animals
            if row["animal"] not in gone
        ]
    write(folder / "entries.csv", known)
    write(folder / "climate.csv", [row for row in tables.climate if day(row["when"]) <= origin])
    write(folder / "expected_climate.csv", [row for row in tables.climate if day(row["when"]) > origin])


@dataclass(frozen=True)
class Forecasts:
    """The clock's answer for one origin: whole distributions by animal, and how long it took."""

    grid: FloatArray
    cumulative: dict[str, FloatArray]
    window: dict[str, tuple[float, float]]
    q10: float
    seconds: float


def clock_forecasts(folder: Path, on: date) -> Forecasts:
    """Import a folder into a fresh room, fold it, fit and forecast."""
    clock = RoomClock("UTC")
    journal = Journal.create(folder / "room.journal", time_zone="UTC")
    taken = read_tables(folder, clock)
    if taken.refusals:
        raise SystemExit(f"rows refused: {taken.refusals[:3]}")
    journal.append(taken.drafts)
    start = time.perf_counter()
    odds = clock_odds(fold(journal.entries(), on, clock))
    journal.close()
    assert odds is not None
    room, result = odds.room, odds.result
    codes = [room.codes[animal] for animal in room.asked]
    quantiles = np.nan_to_num(result.quantile_days, nan=np.inf)
    return Forecasts(
        result.grid_days,
        dict(zip(codes, result.cumulative, strict=True)),
        {code: (float(row[1]), float(row[17])) for code, row in zip(codes, quantiles, strict=True)},
        float(odds.fitted.weight @ np.exp(odds.fitted.hyper()[:, 0])),
        time.perf_counter() - start,
    )


@dataclass(frozen=True)
class Baselines:
    """Centre and spread of log days for each baseline, known at the origin."""

    spread_last: float
    spread_own: float
    median: dict[int, tuple[float, float]]
    fitted: dict[int, tuple[float, float]]

    def of(self, closed: list[float]) -> list[tuple[float, float]]:
        """(centre, spread) of log days of the four baselines for an animal with these closed intervals."""
        number = len(closed) if len(closed) in self.median else max(self.median)
        logs = np.log(closed)
        own = [(float(logs[-1]), self.spread_last), (float(logs.mean()), self.spread_own)]
        return [*own, self.median[number], self.fitted[number]]


def censored_normal(logs: FloatArray, waiting: NDArray[np.bool_]) -> tuple[float, float]:
    """Maximum likelihood centre and spread of log days with right-censoring."""
    from scipy.optimize import minimize
    from scipy.special import log_ndtr

    def loss(theta: FloatArray) -> float:
        z = (logs - theta[0]) / np.exp(theta[1])
        return -float(np.where(waiting, log_ndtr(-z), -0.5 * z * z - theta[1]).sum())

    best: Any = minimize(loss, [logs.mean(), np.log(max(logs.std(), 0.1))], method="Nelder-Mead")
    return float(best.x[0]), float(np.exp(best.x[1]))


def root_mean_square(errors: list[float]) -> float:
    """Spread of past errors about zero; half a log unit where too few are known."""
    return max(float(np.sqrt(np.mean(np.square(errors)))), 0.05) if len(errors) >= ENOUGH else USUAL_SD


def closed_intervals(fate: Fate, origin: int) -> list[float]:
    """Days of the intervals completed by the origin."""
    seen = [moult for moult in fate.moults if moult <= origin]
    return [float(later - earlier) for earlier, later in zip(seen, seen[1:], strict=False)]


def baselines(truth: dict[str, Fate], origin: int) -> Baselines:
    """What a calendar-day baseline could know at the origin."""
    last, own = [], []
    by_number: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for fate in truth.values():
        closed = closed_intervals(fate, origin)
        seen = [moult for moult in fate.moults if moult <= origin]
        for place, length in enumerate(closed):
            by_number[place].append((length, False))
            if place:
                last.append(float(np.log(length / closed[place - 1])))
                own.append(float(np.log(length) - np.log(closed[:place]).mean()))
        if seen:
            until = origin if fate.died is None else min(fate.died, origin)
            by_number[len(closed)].append((max(until + 0.5 - seen[-1], 0.5), True))
    median, fitted = {}, {}
    for number, values in by_number.items():
        logs, waiting = np.log([v for v, _ in values]), np.array([w for _, w in values])
        done = logs[~waiting]
        if done.size >= ENOUGH:
            median[number] = (float(np.median(done)), max(float(done.std()), 0.05))
            fitted[number] = censored_normal(logs, waiting)
    return Baselines(root_mean_square(last), root_mean_square(own), median, fitted)


def score_one(code: str, origin: str, fate: Fate, forecasts: Forecasts, known: Baselines) -> Scores | None:
    """Score every model on one animal at one origin; None where it is not scored."""
    on = day(origin)
    closed = closed_intervals(fate, on)
    if not closed or (fate.died is not None and fate.died <= on):
        return None
    moulted = next((moult - on for moult in fate.moults if moult > on and moult <= END.toordinal()), None)
    left_early = moulted is None and fate.died is not None
    length = (fate.died if left_early and fate.died is not None else END.toordinal()) - on
    days = np.arange(1, length + 1, dtype=np.float64)
    last = max(moult for moult in fate.moults if moult <= on)
    curves = [np.interp(days, forecasts.grid, forecasts.cumulative[code])]
    centres, spreads = np.array(known.of(closed)).T
    curves += list(log_normal_wait(days, centres, spreads, np.full(centres.size, on + 0.5 - last)))
    outcome = np.zeros(days.size) if moulted is None else (days >= moulted).astype(np.float64)
    squared = (np.array(curves) - outcome) ** 2
    return Scores(code, origin, length, left_early, moulted, outcome, squared, forecasts.window[code])


def run(tables: Tables, looks: bool) -> list[Scores]:
    """All origins; prints one line an origin."""
    truth = fates(tables)
    scores: list[Scores] = []
    print(f"{'origin':12s}{'n':>5s}{'Q10':>7s}{'seconds':>9s}   CRPS in days: " + " | ".join(NAMES))
    for origin in ORIGINS:
        with tempfile.TemporaryDirectory() as folder:
            cut(tables, day(origin), Path(folder), looks)
            answer = clock_forecasts(Path(folder), date.fromisoformat(origin))
        known = baselines(truth, day(origin))
        found = [score_one(code, origin, fate, answer, known) for code, fate in truth.items()]
        here = [score for score in found if score is not None]
        scores += here
        means = np.mean([score.crps for score in here], axis=0)
        print(
            f"{origin:12s}{len(here):5d}{answer.q10:7.2f}{answer.seconds:9.2f}   "
            + " | ".join(f"{value:.2f}" for value in means)
        )
    return scores


def brier(scores: list[Scores]) -> tuple[FloatArray, float]:
    """Brier score averaged over horizons 1 to 60 by model, and that of the base rate known afterwards."""
    by_day, base = [], []
    for horizon in BRIER_DAYS:
        here = [s for s in scores if horizon <= s.days]
        if not here:
            continue
        by_day.append(np.mean([s.squared[:, horizon - 1] for s in here], axis=0))
        rate = float(np.mean([s.outcome[horizon - 1] for s in here]))
        base.append(rate * (1.0 - rate))
    return np.mean(by_day, axis=0), float(np.mean(base))


def bootstrap(scores: list[Scores], draws: int) -> tuple[FloatArray, FloatArray]:
    """5, 50, 95 % of the CRPS ratio to (1) and of the Brier ratio to the best baseline, animals resampled."""
    rng = np.random.default_rng(20121001)
    by_animal: dict[str, list[Scores]] = defaultdict(list)
    for score in scores:
        by_animal[score.animal].append(score)
    names = sorted(by_animal)
    sums = np.array([np.sum([s.crps for s in by_animal[name]], axis=0) for name in names])
    early = np.array(
        [np.sum([s.squared[:, :60].sum(axis=1) for s in by_animal[name]], axis=0) for name in names]
    )
    picks = rng.integers(0, len(names), (draws, len(names)))
    crps, brier_sum = sums[picks].sum(axis=1), early[picks].sum(axis=1)
    ratio = crps[:, 0] / crps[:, 1]
    brier_ratio = brier_sum[:, 0] / brier_sum[:, 1:].min(axis=1)
    return np.quantile(ratio, [0.05, 0.5, 0.95]), np.quantile(brier_ratio, [0.05, 0.5, 0.95])


def coverage(scores: list[Scores]) -> tuple[int, int, int]:
    """Decided 80 % windows: those that held, those outlasted, and those the moult came before."""
    held = after = before = 0
    for score in scores:
        low, high = score.window
        if score.moulted is not None:
            moment = score.moulted - 0.5
            held += low <= moment <= high
            after += moment > high
            before += moment < low
        elif score.days > high:
            after += 1
    return held, after, before


def report(scores: list[Scores], draws: int) -> None:
    """Print the pooled table."""
    crps = np.mean([score.crps for score in scores], axis=0)
    briers, base = brier(scores)
    print(f"\n{'':26s}{'CRPS':>8s}{'ratio to (1)':>14s}{'Brier 1-60':>12s}")
    for name, value, score in zip(NAMES, crps, briers, strict=True):
        print(f"{name:26s}{value:8.2f}{value / crps[1]:14.3f}{score:12.4f}")
    print(f"{'base rate (hindsight)':26s}{'':8s}{'':14s}{base:12.4f}")
    ratio, brier_ratio = bootstrap(scores, draws)
    print(f"CRPS ratio to (1): {ratio[1]:.3f} (90 % of animal bootstraps {ratio[0]:.3f} to {ratio[2]:.3f})")
    low, middle, high = brier_ratio
    print(f"Brier ratio to the best baseline: {middle:.3f} ({low:.3f} to {high:.3f})")
    held, after, before = coverage(scores)
    total = held + after + before
    print(
        f"80 % windows: {100 * held / total:.1f} % of {total} held; moulted later {after}, earlier {before}"
    )
    best = "met" if briers[0] < briers[1:].min() else "MISSED"
    goal = "met" if crps[0] <= 0.55 * crps[1] else f"MISSED by {crps[0] / crps[1] - 0.55:.3f}"
    print(f"targets: CRPS at most 0.55 of (1): {goal}; Brier below every baseline: {best}")


def main() -> None:
    """Read the arguments and print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    default = Path(__file__).resolve().parents[1] / ".." / "shared" / "data" / "crab-2012"
    parser.add_argument("--data", type=Path, default=default)
    parser.add_argument("--without-looks", action="store_true")
    parser.add_argument("--draws", type=int, default=1000)
    options = parser.parse_args()
    looks = not options.without_looks
    print("each living animal seen on the origin day" if looks else "no looks added: tables as they are")
    report(run(Tables.read(options.data), looks), options.draws)


if __name__ == "__main__":
    main()
