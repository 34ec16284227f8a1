"""Which of a day's forecasts are to be kept, and which interval of today's record a kept one was about.

Of every interval that begins with a known moult (or hatching) two forecasts are kept: the first that is made
after the beginning is known, and the first from half of the then expected wait on. Which days those are
depends on when the keeper opened the program, never on what happened later.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from nightround import __version__
from nightround.findings.clock_rows import NEVER, Row, rows_of
from nightround.journal.issued import Issued, Odds, Stage, newest_run
from nightround.record.make_histories import moult_history
from nightround.record.model import Animal, Record
from nightround.record.moults import SAME_MOULT_DAYS
from nightround.reports.forecast import AnimalForecast, ForecastReport, NextMoult

Days = tuple[date, date]


def due(
    record: Record, report: ForecastReport, kept: Sequence[Issued], *, written: datetime, run: str = ""
) -> list[Issued]:
    """Return the forecasts of the report that are to be kept and are not yet.

    kept      what is kept already; forecasts of other runs do not matter
    written   the present moment; run: '' for today's own, else the look back that asks
    """
    before = _by_code(each for each in kept if each.run == run)
    found = []
    for row in report.animals:
        if row.next_moult is None:
            continue
        animal = record.animals[row.animal]
        own = [each for code in {animal.code, *animal.codes} for each in before.get(code, ())]
        if _nothing_due(row, own, record.on):
            continue
        opened = _running_since(record, animal)
        if opened is None:
            continue
        stage = _stage(row.next_moult, opened, [each for each in own if same(each.opened, opened)], record.on)
        if stage is not None:
            odds = _odds(record, row, row.next_moult)
            found.append(
                Issued(
                    row.animal, stage, run, record.on, opened, written, record.last_number, __version__, odds
                )
            )
    return found


def _by_code(kept: Iterable[Issued]) -> dict[str, list[Issued]]:
    found: dict[str, list[Issued]] = {}
    for each in kept:
        found.setdefault(each.animal, []).append(each)
    return found


def _nothing_due(row: AnimalForecast, own: list[Issued], on: date) -> bool:
    """The quick answer for an animal whose interval has its forecasts already."""
    mine = [each for each in own if each.opened[1] == row.last_moult]
    if any(each.stage == "half_time" for each in mine):
        return True
    half = _half_time(mine[0]) if mine else None
    return bool(mine) and (half is None or on < half)


def _running_since(record: Record, animal: Animal) -> Days | None:
    """Return the days between which the running interval began, None where that is not known."""
    rows = intervals(record, animal)
    if not rows or rows[-1].end != NEVER or rows[-1].start == NEVER:
        return None
    return date.fromordinal(rows[-1].start[0]), date.fromordinal(rows[-1].start[1])


def _stage(moult: NextMoult, opened: Days, same_interval: list[Issued], on: date) -> Stage | None:
    """Return the stage that is due now; an interval first met past its half begins with that."""
    stages = {each.stage for each in same_interval}
    if "half_time" in stages:
        return None
    if not stages:
        middle = moult.quantiles_days.get("0.50")
        late = middle is not None and (on - opened[1]).days >= middle
        return "half_time" if late else "after_moult"
    half = _half_time(same_interval[0])
    return "half_time" if half is not None and on >= half else None


def _half_time(first: Issued) -> date | None:
    """Return the day on which half of the wait that was expected first is over; None if it may never end."""
    middle = first.odds.quantiles_days.get("0.50")
    if middle is None:
        return None
    passed = (first.day - first.opened[1]).days
    return first.opened[1] + timedelta(days=max((passed + middle) / 2.0, 1.0))


def _odds(record: Record, row: AnimalForecast, moult: NextMoult) -> Odds:
    taxon = record.taxa.get(row.taxon)
    return Odds(
        {level: None if days is None else round(days, 2) for level, days in moult.quantiles_days.items()},
        {days: round(chance, 5) for days, chance in moult.within_days.items()},
        round(row.may_have_moulted_unseen, 5),
        round(moult.widened, 4),
        row.taxon,
        taxon.group if taxon is not None else "",
        moult.n_intervals,
    )


def intervals(record: Record, animal: Animal) -> list[Row]:
    """Return an animal's intervals as the clock sees them on the record's day."""
    return rows_of(0, moult_history(record, animal), record.on.toordinal())


def same(one: Days, other: Days) -> bool:
    """Whether two beginnings may be one and the same, as dates are corrected by a few days."""
    near = timedelta(days=SAME_MOULT_DAYS)
    return one[0] - near <= other[1] and other[0] - near <= one[1]


def interval_of(issued: Issued, rows: Sequence[Row]) -> Row | None:
    """Return the interval that a forecast was about, None when its beginning no longer stands."""
    first, last = (day.toordinal() for day in issued.opened)
    near = [
        row
        for row in rows
        if row.start != NEVER
        and first - SAME_MOULT_DAYS <= row.start[1]
        and row.start[0] - SAME_MOULT_DAYS <= last
    ]
    return min(near, key=lambda row: abs(sum(row.start) - first - last), default=None)


@dataclass(frozen=True)
class InForce:
    """The forecasts that count on a day: those kept, and those of the newest look back."""

    kept: tuple[Issued, ...]
    looked_back: tuple[Issued, ...]


def in_force(forecasts: Sequence[Issued], on: date) -> InForce:
    """Return what counts as of day `on`: issued as of a day up to it, and one look back, the newest."""
    run = newest_run(forecasts)
    known = [each for each in forecasts if each.day <= on]
    return InForce(
        tuple(each for each in known if not each.run),
        tuple(each for each in known if each.run and each.run == run),
    )


def animals_by_code(record: Record) -> Mapping[str, Animal]:
    """Return the animals under every code they ever had; a code in use now wins."""
    old = {code: animal for animal in record.animals.values() for code in animal.codes}
    return {**old, **record.animals}


def each_outcome(record: Record, forecasts: Iterable[Issued]) -> Iterator[tuple[Issued, Animal, Row]]:
    """Yield the forecasts whose interval still stands, with the animal and the interval."""
    animals = animals_by_code(record)
    rows: dict[str, list[Row]] = {}
    for issued in forecasts:
        animal = animals.get(issued.animal)
        if animal is None:
            continue
        if animal.code not in rows:
            rows[animal.code] = intervals(record, animal)
        row = interval_of(issued, rows[animal.code])
        if row is not None:
            yield issued, animal, row
