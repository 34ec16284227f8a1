"""How fast is the moult clock? Fit, forecast and refit of invented rooms of growing size, in one run.

    python benchmarks/clock_speed.py [--animals 100 1000 10000] [--seed 5]

Each size runs in a process of its own: its memory is its own. Times are the least of three.
Columns: animals, moults (closed intervals), wall seconds to fit, to forecast every running interval, both
together, the same in processor time, processor microseconds a moult, and peak memory. Below: one new moult
taken into a fit of 400 animals, against a whole new fit, with the largest difference in posterior sd and in
any chance of a moult.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

MOULTS_EACH = 10
# Days of record to begin with.
RECORD_DAYS = 2300


def least_of(count: int, work: Callable[[], Any]) -> tuple[tuple[float, float], Any]:
    """The least wall and processor time of a few runs, and the last answer."""
    walls, processors, answer = [], [], None
    for _ in range(count):
        began, used = time.perf_counter(), time.process_time()
        answer = work()
        walls.append(time.perf_counter() - began)
        processors.append(time.process_time() - used)
    return (min(walls), min(processors)), answer


def drawn_room(animals: int, seed: int, moults_each: float = MOULTS_EACH) -> Any:
    """A room from the priors; its record is lengthened until it holds so many moults an animal."""
    from nightround.science.clock.draw import RoomShape, draw_room

    days = RECORD_DAYS
    while True:
        shape = RoomShape(
            groups=4, taxa=max(5, min(60, animals // 20)), animals=animals, places=12, record_days=int(days)
        )
        drawn = draw_room(np.random.default_rng(seed), shape)
        each = float((~drawn.data.intervals.running).sum()) / animals
        if moults_each <= each <= 1.2 * moults_each:
            return drawn
        days *= 1.1 * moults_each / each


def one_size(animals: int, seed: int) -> dict[str, float]:
    """Times and memory of one room."""
    import resource

    from nightround.science.clock.fit import fit
    from nightround.science.clock.forecast import forecast

    drawn = drawn_room(animals, seed)
    fitting, fitted = least_of(3, lambda: fit(drawn.data))
    foretelling, _ = least_of(3, lambda: forecast(fitted, drawn.asked, drawn.on, drawn.expected))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    moults = int((~drawn.data.intervals.running).sum())
    return {
        "animals": animals,
        "moults": moults,
        "fit": fitting[0],
        "forecast": foretelling[0],
        "processor": fitting[1] + foretelling[1],
        "peak_mb": peak,
    }


def taking_in(seed: int, animals: int = 400, entries: int = 5) -> dict[str, float]:
    """A moult taken into a fit of 400 animals: times of five such, and how near the whole fit it comes."""
    from nightround.science.clock.fit import fit
    from nightround.science.clock.forecast import forecast
    from nightround.science.clock.refit import refit

    # Fewer than 4,000 intervals: all points of the hyperparameters are kept, the dearer case.
    drawn = drawn_room(animals, seed, moults_each=7.5)
    whole_time, whole = least_of(2, lambda: fit(drawn.data))
    said = forecast(whole, drawn.asked, drawn.on, drawn.expected).within
    running = drawn.data.intervals.animal[drawn.data.intervals.running]
    times, gaps, odds = [], [], []
    for animal in running[:: max(1, running.size // entries)][:entries]:
        earlier = fit(without_last_moult(drawn.data, int(animal)))
        seconds, taken = least_of(5, lambda earlier=earlier: refit(earlier, drawn.data))  # type: ignore[misc]
        times.append(seconds[0])
        gaps.append(largest_gap(taken, whole))
        now = forecast(taken, drawn.asked, drawn.on, drawn.expected).within
        odds.append(float(np.abs(now - said).max()))
    return {
        "animals": animals,
        "rows": drawn.data.intervals.count,
        "whole": whole_time[0],
        "median": float(np.median(times)),
        "slowest": max(times),
        "gap": max(gaps),
        "odds": max(odds),
    }


def without_last_moult(data: Any, animal: int) -> Any:
    """The room as it was before the animal's last moult was found."""
    from dataclasses import replace

    from nightround.science.clock.data import NO_DAY, Intervals

    rows = data.intervals
    own = np.flatnonzero(rows.animal == animal)
    closed = own[~rows.running[own]]
    last = closed[np.argmax(rows.end_last[closed])]
    columns = {name: values.copy() for name, values in vars(rows).items()}
    begun = max(int(rows.start_first[last]), int(rows.watched_from[last]))
    columns["looked"][last] = max(int(rows.end_first[last]) - 1, begun)
    columns["end_first"][last] = columns["end_last"][last] = NO_DAY
    keep = np.ones(rows.count, dtype=bool)
    keep[own[rows.running[own]]] = False
    return replace(data, intervals=Intervals(**columns).only(keep))


def largest_gap(one: Any, other: Any) -> float:
    """Largest difference of two fits' predictors of log D, in posterior sd."""
    (mean, _), (other_mean, sd) = one.interval_logs(), other.interval_logs()
    return float(np.abs((mean - other_mean) / sd).max())


def in_own_process(what: str, animals: int, seed: int) -> dict[str, float]:
    """Run one part by itself and read its figures."""
    command = [sys.executable, __file__, "--part", what, "--animals", str(animals), "--seed", str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def main() -> None:
    """Run the parts and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--animals", type=int, nargs="+", default=[100, 1000, 10000])
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--part", choices=["size", "refit"])
    given = parser.parse_args()
    if given.part:
        work = one_size if given.part == "size" else lambda animals, seed: taking_in(seed, animals)
        print(json.dumps(work(given.animals[0], given.seed)))
        return
    print("animals   moults   fit s  forecast s  together s  processor s  us/moult  peak MB")
    for animals in given.animals:
        row = in_own_process("size", animals, given.seed)
        both = row["fit"] + row["forecast"]
        print(
            f"{animals:7d} {row['moults']:8.0f} {row['fit']:7.2f} {row['forecast']:11.2f} {both:11.2f}"
            f" {row['processor']:12.2f} {1e6 * row['processor'] / row['moults']:9.0f} {row['peak_mb']:8.0f}",
            flush=True,
        )
    row = in_own_process("refit", 400, given.seed)
    print(
        f"\none moult into a fit of {row['animals']:.0f} animals, {row['rows']:.0f} intervals:"
        f" {1e3 * row['median']:.0f} ms (slowest of five {1e3 * row['slowest']:.0f} ms),"
        f" a whole fit {1e3 * row['whole']:.0f} ms;\nlargest difference {row['gap']:.3f} posterior sd,"
        f" {row['odds']:.4f} in any chance of a moult"
    )


if __name__ == "__main__":
    main()
