"""What a track record does for the windows: rooms of the clock's own priors, broken ones, and real records.

Usage: python benchmarks/track_record.py [--rooms 60] [--seed 1] [--world NAME] [--crabs] [--data FOLDER]

Rooms are drawn from the clock's priors and gone through in steps of 30 days: at each the clock is fitted to
what is known by then, every interval gets its forecasts (after the moult, at half time) as the program keeps
them, and the record of the earlier days says by what windows are widened. Printed: in how many rooms that
happens, how many 80 % windows held with and without, and the mean CRPS of moults with and without.

With --crabs the same on real records: every fortnight from 2012-08-15 on the tables are cut as in
score_moults.py, temperatures to come given; scored are the origins of that benchmark.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from score_moults import END, Tables, cut

from nightround.findings.issued import due
from nightround.findings.moult import clock_odds, report_of
from nightround.findings.outcomes import Outcome, outcomes
from nightround.findings.track_record import widenings
from nightround.foundation.clock import RoomClock
from nightround.journal.issued import Issued
from nightround.journal.store import Journal
from nightround.journal.tables.read import read_tables
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.science.appetite.tilt import quantiles
from nightround.science.clock.data import NO_DAY, ClockData, Intervals
from nightround.science.clock.draw import DrawnRoom, RoomShape, draw_room
from nightround.science.clock.fit import fit
from nightround.science.clock.forecast import forecast
from nightround.science.thermal import DailyClimate
from nightround.science.track import Spread, crps, spreads, weights, widened

FloatArray = NDArray[np.float64]
STEP_DAYS = 30
LEVELS = np.array([0.1, 0.5, 0.9])
TOLD_UP_TO = 0.97
BREAKS: dict[str, dict[str, Any]] = {
    "the model is right": {},
    "season +-25 %": {"season": 0.25},
    "t3 residuals": {"heavy_tails": True},
    "10 % of moults unrecorded": {"unrecorded": 0.1},
    "true Q10 4": {"true_q10": 4.0},
}


@dataclass
class Said:
    """One forecast of a drawn room: of which row, when, its distribution, and days to the moult if any."""

    row: int
    group: str
    made: int
    grid: FloatArray
    cumulative: FloatArray
    factor: float
    truth: float | None

    def level(self, on: int) -> tuple[float, float] | None:
        """Between which levels the moult lies as known on a day; None where nothing is told."""
        if self.truth is not None and self.made + self.truth <= on:
            level = float(np.interp(self.truth, self.grid, self.cumulative))
            return (level, level) if level <= TOLD_UP_TO else (TOLD_UP_TO, 1.0)
        level = float(np.interp(on - self.made, self.grid, self.cumulative))
        return (min(level, TOLD_UP_TO), 1.0) if level > 0.0 else None

    def told(self, widen: bool) -> FloatArray:
        """The distribution as it was shown, or as the clock made it."""
        shown = widened(self.cumulative[None], np.array([self.factor if widen else 1.0]))
        return np.asarray(shown[0])


def cut_data(data: ClockData, on: int) -> tuple[ClockData, NDArray[np.int64]]:
    """The room as known on an earlier day, every animal looked at then; and the rows that were kept."""
    rows = data.intervals
    begun = np.where(rows.start_last == NO_DAY, rows.watched_from, rows.start_last)
    kept = np.flatnonzero(begun <= on)
    closed = (rows.end_last[kept] != NO_DAY) & (rows.end_last[kept] <= on)
    found_late = rows.end_first[kept] != NO_DAY
    until = np.where(found_late, np.minimum(rows.end_first[kept] - 1, on), np.minimum(rows.looked[kept], on))
    until = np.maximum(until, begun[kept])
    end = np.where(closed, rows.end_first[kept], NO_DAY), np.where(closed, rows.end_last[kept], NO_DAY)
    looked = np.where(closed, NO_DAY, until)
    fields = {name: getattr(rows, name)[kept] for name in Intervals.__dataclass_fields__}
    intervals = Intervals(**(fields | {"end_first": end[0], "end_last": end[1], "looked": looked}))
    columns = on + 1 - data.climate.first_day
    climate = DailyClimate(data.climate.first_day, data.climate.temperature_c[:, :columns])
    return replace(data, climate=climate, intervals=intervals), kept


def to_come(drawn: DrawnRoom, on: int) -> DailyClimate:
    """What is expected from the day after on: what was recorded later, then what the room expects."""
    past = drawn.data.climate.temperature_c[:, on + 1 - drawn.data.climate.first_day :]
    expected = drawn.expected
    spread = expected.spread_c if expected.spread_c is not None else np.zeros_like(expected.temperature_c)
    first = np.repeat(spread[:, :1], past.shape[1], axis=1)
    temperature = np.concatenate([past, expected.temperature_c], axis=1)
    return DailyClimate(on + 1, temperature, np.concatenate([first, spread], axis=1))


def go_through(drawn: DrawnRoom, seconds: list[float]) -> list[Said]:
    """Every forecast that is kept of one drawn room, in order."""
    rows = drawn.data.intervals
    said: list[Said] = []
    stages: dict[int, list[float]] = {}
    first = int(rows.start_last[rows.start_last != NO_DAY].min()) + 120
    groups = [f"g{drawn.data.taxon_group[taxon]}" for taxon in drawn.data.animal_taxon]
    for on in range(first, drawn.on, STEP_DAYS):
        began = time.perf_counter()
        data, kept = cut_data(drawn.data, on)
        running = kept[(data.intervals.end_first == NO_DAY) & (data.intervals.start_last != NO_DAY)]
        animals = rows.animal[running]
        animals, place = np.unique(animals, return_index=True)
        result = forecast(fit(data), animals, on, to_come(drawn, on))
        factors = spread_of(said, on)
        middle = quantiles(result.grid_days, result.cumulative, LEVELS)[:, 1]
        for index, row in enumerate(running[place]):
            passed = float(on - rows.start_last[row])
            before = stages.setdefault(int(row), [])
            late = passed >= middle[index] if not before else on >= before[0]
            if len(before) == 2 or (before and not late) or np.isnan(middle[index]):
                continue
            half = rows.start_last[row] + (passed + middle[index]) / 2.0
            before += [half, half] if late else [half]
            end = rows.end_first[row]
            truth = None if end == NO_DAY else (end + rows.end_last[row] + 1.0) / 2.0 - on - 1.0
            if truth is not None and truth <= 0.0:
                continue
            group = groups[rows.animal[row]]
            factor = factors[group].applied
            said.append(Said(int(row), group, on, result.grid_days, result.cumulative[index], factor, truth))
        seconds.append(time.perf_counter() - began)
    return said


def spread_of(said: list[Said], on: int) -> dict[str, Spread]:
    """By what windows are widened on a day, from the earlier forecasts."""
    told = [(each, level) for each in said if (level := each.level(on)) is not None]
    low, high = (np.array([level[side] for _, level in told]) for side in (0, 1))
    crowd = [(each.group, each.made // STEP_DAYS) for each, _ in told]
    weight = weights([each.row for each, _ in told], crowd)
    names = [each.group for each, _ in told]
    return dict(spreads(low, high, weight, names, sorted({*names, "g0", "g1"})))


def held(said: list[Said], on: int, widen: bool) -> tuple[int, int, float]:
    """Windows that held, windows that were over by a day, and the summed CRPS of moults."""
    inside = over = 0
    score = 0.0
    for each in said:
        shown = each.told(widen)
        low, _, high = quantiles(each.grid, shown[None], LEVELS)[0]
        if np.isnan(high) or each.made + high > on:
            continue
        over += 1
        inside += each.truth is not None and low <= each.truth <= high
        score += crps(each.grid, shown, each.truth) if each.truth is not None else 0.0
    return inside, over, score


def drawn_rooms(name: str, rooms: int, seed: int) -> None:
    """Print one line of the table of drawn rooms."""
    shape, seconds = replace(RoomShape(), **BREAKS[name]), list[float]()
    totals: dict[bool, list[tuple[int, int, float]]] = {False: [], True: []}
    triggered, factors = 0, []
    for room in range(rooms):
        drawn = draw_room(np.random.default_rng([seed, room]), shape)
        said = go_through(drawn, seconds)
        last = spread_of(said, drawn.on)
        triggered += any(each.applied > 1.0 for each in last.values())
        factors += [each.applied for each in last.values()]
        # The later half of the days: by then there is a record to learn from.
        later = [each for each in said if each.made > drawn.on - 450]
        for widen in (False, True):
            totals[widen].append(held(later, drawn.on, widen))
    shares = {}
    for widen, found in totals.items():
        inside, over, score = np.sum(found, axis=0)
        shares[widen] = (100.0 * inside / over, over, score)
    change = 100.0 * (shares[True][2] / shares[False][2] - 1.0)
    plain, wider = shares[False], shares[True]
    print(
        f"{name:28s} widened in {100 * triggered / rooms:4.0f} % of rooms, mean factor"
        f" {np.mean(factors):.2f}; held {plain[0]:.1f} -> {wider[0]:.1f} % of {int(plain[1])}"
        f" windows; CRPS {change:+.2f} %  ({np.sum(seconds):.0f} s)",
        flush=True,
    )


def crab_days() -> Iterator[date]:
    """Days to look from: every fortnight on the 1st and 15th."""
    yield date(2012, 8, 15)
    for month in (9, 10, 11, 12):
        yield from (date(2012, month, 1), date(2012, month, 15))


def record_at(tables: Tables, on: date) -> Record:
    """The room as imported from tables cut at a day."""
    clock = RoomClock("UTC")
    with tempfile.TemporaryDirectory() as folder:
        cut(tables, on.toordinal(), Path(folder), True)
        taken = read_tables(Path(folder), clock)
        with Journal.create(Path(folder) / "room.journal", time_zone="UTC") as journal:
            journal.append(taken.drafts)
            return fold(journal.entries(), on, clock)


def crabs(data: Path) -> None:
    """Print how windows of real records held with and without the track record of the weeks before."""
    tables = Tables.read(data)
    written = datetime(2013, 2, 4, tzinfo=UTC)
    kept: list[Issued] = []
    asked: dict[bool, list[Issued]] = {False: [], True: []}
    for on in crab_days():
        record = record_at(tables, on)
        wider = widenings(record, kept)
        reports = {}
        odds = clock_odds(record)
        assert odds is not None
        reports[False] = report_of(record, odds)
        odds = clock_odds(record, appetite=odds.weighed.fit, widenings=wider)
        assert odds is not None
        reports[True] = report_of(record, odds)
        fresh = due(record, reports[True], kept, written=written)
        kept += [replace(each, number=len(kept) + place) for place, each in enumerate(fresh, start=1)]
        applied = ", ".join(f"{each.applied:.2f}" for each in wider.values()) or "1"
        print(f"{on}: {len(fresh)} forecasts kept, windows widened by {applied}", flush=True)
        if on >= date(2012, 10, 1):
            for widen, report in reports.items():
                # Every animal at every origin, as score_moults.py scores them.
                asked[widen] += due(record, report, (), written=written)
    last = record_at(tables, END - timedelta(days=1))
    for widen, said in asked.items():
        found = outcomes(last, tuple(said))
        over = [each for each in found if each.fate in ("inside", "before", "after")]
        inside = sum(each.fate == "inside" for each in over)
        decided = [each for each in found if is_decided(each)]
        within = sum(each.moulted is not None and each.days_off == 0.0 for each in decided)
        scores = [each.score for each in found if each.score is not None]
        title = "widened" if widen else "as the clock makes them"
        print(
            f"{title:24s} windows that are over: {inside} of {len(over)} held"
            f" ({100 * inside / len(over):.1f} %); moulted or outlasted: {within} of {len(decided)}"
            f" ({100 * within / len(decided):.1f} %); CRPS of moults {np.mean(scores):.2f} d"
        )


def is_decided(each: Outcome) -> bool:
    """Whether score_moults.py counts its window: moulted, or waited longer than it."""
    if each.fate == "unseen" or each.window[1] is None:
        return False
    return each.moulted is not None or each.looked > each.window[1]


def main() -> None:
    """Read the arguments and print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    default = Path(__file__).resolve().parents[1] / ".." / "shared" / "data" / "crab-2012"
    parser.add_argument("--rooms", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", action="append", choices=list(BREAKS), help="only these worlds")
    parser.add_argument("--crabs", action="store_true")
    parser.add_argument("--data", type=Path, default=default)
    options = parser.parse_args()
    if options.crabs:
        crabs(options.data)
        return
    print(
        f"{options.rooms} rooms each; windows of the last 450 days, widened by the record of the days before"
    )
    for name in options.world or BREAKS:
        drawn_rooms(name, options.rooms, options.seed)


if __name__ == "__main__":
    main()
