"""What of a place's readings cannot be, or looks like a dead logger: for the keeper to look at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby

from nightround.foundation.problem import Problem, Severity
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted
from nightround.record.hourly import Hours, Quantity
from nightround.record.model import LoggedDay, Place, Record

# What no room of living spiders is (choice, as in reading a logger's file): temperature [C], humidity [%].
COLDEST_C, WARMEST_C = -30.0, 60.0
DRIEST_PERCENT, WETTEST_PERCENT = 0.0, 100.5
# The same value for so long is asked about (choice, as in reading a logger's file).
STUCK_HOURS = 72
_NAMES: dict[Quantity, tuple[str, str]] = {
    "hours_c": ("temperature", "C"),
    "hours_percent": ("humidity", "%"),
}


def climate_problems(record: Record) -> list[Problem]:
    """Return what is wrong with the readings of every place."""
    found: list[Problem] = []
    for place in record.places.values():
        found.extend(_impossible_readings(place))
        for days in _files(place):
            found.extend(_impossible(place, days))
            found.extend(_stuck(place, days, "hours_c"))
            found.extend(_stuck(place, days, "hours_percent"))
    return found


def _files(place: Place) -> Iterator[list[LoggedDay]]:
    """The logged days of each file, in order of time."""
    ordered = sorted(place.logged, key=lambda each: (each.file, each.day, each.number))
    for _, days in groupby(ordered, key=lambda each: each.file):
        yield list(days)


def _problem(
    kind: str, place: Place, message: str, todo: str, numbers: Iterable[int], severity: Severity
) -> Problem:
    return Problem(kind, f"place {place.name}", message, todo, tuple(sorted(set(numbers))), severity)


def _outside(celsius: float | None, percent: float | None) -> bool:
    return (celsius is not None and not COLDEST_C <= celsius <= WARMEST_C) or (
        percent is not None and not DRIEST_PERCENT <= percent <= WETTEST_PERCENT
    )


def _impossible_readings(place: Place) -> Iterator[Problem]:
    """Readings written by hand that no room has; a logger's days have a check of their own."""
    logged = {each.number for each in place.logged}
    for reading in place.readings:
        if reading.number in logged or not _outside(reading.temperature_c, reading.humidity_percent):
            continue
        told = [both(reading.temperature_c, "C")] if reading.temperature_c is not None else []
        told += [f"{reading.humidity_percent:g} %"] if reading.humidity_percent is not None else []
        yield _problem(
            "reading_impossible", place,
            f"{' and '.join(told)} on {reading.when} at {place.name}: no room has that.",
            "Correct the reading, or strike it.", [reading.number], "contradiction",
        )  # fmt: skip


def _impossible(place: Place, days: Sequence[LoggedDay]) -> Iterator[Problem]:
    """Values that were left out when the file was read, and such as came by another way."""
    left = [each for each in days if each.left_out > 0]
    if left:
        number = sum(each.left_out for each in left)
        yield _problem(
            "logger_impossible", place,
            f"{_file(left[0])} at {place.name} held {counted(number, 'reading')} that no room has, on "
            f"{_days(left)}: left out.",
            "Look at the sensor and its battery, and at what else it read on these days.",
            [each.number for each in left], "doubt",
        )  # fmt: skip
    bad = [each for each in days if _day_outside(each)]
    if bad:
        yield _problem(
            "logger_impossible", place,
            f"{_file(bad[0])} at {place.name} has values on {_days(bad)} that no room has; they count.",
            "Strike these days, or take the file in anew.", [each.number for each in bad], "contradiction",
        )  # fmt: skip


def _day_outside(each: LoggedDay) -> bool:
    warm, moist = _ends(each.hours_c), _ends(each.hours_percent)
    return any(_outside(value, None) for value in (*warm, each.low_c, each.high_c)) or any(
        _outside(None, value) for value in moist
    )


def _ends(hours: Hours) -> tuple[float, ...]:
    """Least and greatest of the hours that were read."""
    known = [value for value in hours if value is not None]
    return (min(known), max(known)) if known else ()


@dataclass
class _Run:
    """Hours in a row that were read and are the same, hours without a reading left out."""

    value: float
    hours: int = 0
    days: list[LoggedDay] = field(default_factory=list)


def _stuck(place: Place, days: Sequence[LoggedDay], quantity: Quantity) -> Iterator[Problem]:
    what, unit = _NAMES[quantity]
    if not any(_still(getattr(each, quantity)) for each in days):
        return
    for run in _runs(days, quantity):
        if run.hours < STUCK_HOURS:
            continue
        value = both(run.value, "C") if unit == "C" else f"{run.value:g} %"
        yield _problem(
            "logger_stuck", place,
            f"{_file(run.days[0])} at {place.name} shows a {what} of {value} for "
            f"{counted(run.hours, 'read hour')} on end, {_days(run.days)}.",
            "Look whether the logger is alive; strike these days if it was not.",
            [each.number for each in run.days], "doubt",
        )  # fmt: skip


def _still(hours: Hours) -> bool:
    """Whether all hours that were read are the same: a run of three days has such a day inside."""
    if len(hours) > 1 and hours[0] != hours[1] and hours[0] is not None and hours[1] is not None:
        return False
    ends = _ends(hours)
    return bool(ends) and ends[0] == ends[1]


def _runs(days: Sequence[LoggedDay], quantity: Quantity) -> Iterator[_Run]:
    """Runs of equal hours; a missing day in between ends one."""
    run: _Run | None = None
    before: date | None = None
    for each in days:
        if run is not None and before is not None and each.day > before + timedelta(days=1):
            yield run
            run = None
        before = each.day
        for value in getattr(each, quantity):
            if value is None:
                continue
            if run is None or value != run.value:
                if run is not None:
                    yield run
                run = _Run(value)
            run.hours += 1
            if not run.days or run.days[-1] is not each:
                run.days.append(each)
    if run is not None:
        yield run


def _file(each: LoggedDay) -> str:
    return f"The logger's file {each.file}" if each.file else "A logger's file without a name"


def _days(days: Sequence[LoggedDay]) -> str:
    """'2026-03-02', '2026-03-02 and 2026-03-05', '2026-03-02 to 2026-03-09 (6 days)'."""
    dates = sorted({each.day for each in days})
    if len(dates) == 1:
        return dates[0].isoformat()
    if len(dates) == 2:
        return f"{dates[0].isoformat()} and {dates[1].isoformat()}"
    return f"{dates[0].isoformat()} to {dates[-1].isoformat()} ({counted(len(dates), 'day')})"
