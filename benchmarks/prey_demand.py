"""Prey that was foreseen against prey that was then offered, in invented rooms whose keepers follow no plan.

Run: python -m benchmarks.prey_demand --rooms 4 --seed 1

On several past days of each room the demand of the next eight weeks is worked out from what had been written
by then, and held against the prey that the record shows later. Lengths are the keeper's own: only
numbers are compared.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np

from nightround import simulate
from nightround.findings.moult import clock_odds
from nightround.findings.size import sizes
from nightround.findings.spans import room_spans
from nightround.journal.entries import Entry
from nightround.plans.prey_demand import WEEK, prey_demand, quantiles, week_ends
from nightround.record.fold import fold
from nightround.record.model import Record

WEEKS = 8
END = date(2026, 11, 22)
DAYS_BACK = (56, 140, 224, 308)


def entries_of(told: simulate.SimulatedRoom) -> list[Entry]:
    """The keeper's drafts as an empty room would number them."""
    import tempfile
    from pathlib import Path

    from nightround.journal.store import Journal

    with tempfile.TemporaryDirectory() as folder:
        journal = Journal.create(Path(folder) / "room", time_zone=told.clock.zone_name)
        journal.append(told.drafts)
        entries = journal.entries()
        journal.close()
    return entries


def offered_after(record: Record, later: Record) -> np.ndarray:
    """Prey offered in each of the weeks after a record's day to the animals that it knows."""
    offered = np.zeros(WEEKS)
    for animal in record.living():
        known = later.animals.get(animal.code)
        for offer in known.offers if known is not None else ():
            day = offer.when.last
            if day is not None and 0 < (day - record.on).days <= WEEK * WEEKS:
                offered[((day - record.on).days - 1) // WEEK] += offer.count or 1
    return offered


def foreseen_and_offered(seed: int, animals: int) -> Iterator[tuple[date, np.ndarray, np.ndarray]]:
    """Drawn prey [draws, weeks] and prey offered [weeks] of each past day of a room."""
    told = simulate.room(seed, animals=animals, end=END)
    entries = entries_of(told)
    later = fold(entries, END, told.clock)
    for back in DAYS_BACK:
        on = END - timedelta(days=back)
        record = fold([e for e in entries if told.clock.day_of(e.recorded) <= on], on, told.clock)
        spans = room_spans(record, clock_odds(record), week_ends(on, WEEKS))
        demand = prey_demand(record, spans, sizes(record))
        yield on, demand.prey.sum(axis=2) + demand.pieces + demand.unknown, offered_after(record, later)


def main() -> None:
    """Print, for each room and day, foreseen and offered, and how often the ranges held."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rooms", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1, help="of the first room")
    parser.add_argument("--animals", type=int, default=80)
    asked = parser.parse_args()
    inside: list[bool] = []
    ratios: list[float] = []
    began = time.perf_counter()
    for seed in range(asked.seed, asked.seed + asked.rooms):
        for on, drawn, offered in foreseen_and_offered(seed, asked.animals):
            low, _, high = quantiles(drawn)
            inside += list((low <= offered) & (offered <= high))
            mean = float(drawn.sum(axis=1).mean())
            ratios.append(float(offered.sum()) / mean)
            print(f"room {seed}, {on}: {mean:.0f} foreseen in {WEEKS} weeks, {offered.sum():.0f} offered")
    print(
        f"{len(ratios)} days of {asked.rooms} rooms: offered over foreseen, median {np.median(ratios):.2f} "
        f"({min(ratios):.2f} to {max(ratios):.2f}); the 80 % ranges of {len(inside)} single weeks held "
        f"{np.mean(inside):.0%}; {time.perf_counter() - began:.0f} s"
    )


if __name__ == "__main__":
    main()
