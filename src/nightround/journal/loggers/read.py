"""One logger file read: instants, temperatures, humidities, and what was understood; else a question."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import NotReadable, Refusal
from nightround.foundation.wording import counted
from nightround.journal.loggers.decode import decode
from nightround.journal.loggers.grid import Columns, Grid, columns_of, grid_of, unit_of
from nightround.journal.loggers.progress import Progress, unheard
from nightround.journal.loggers.stamps import Ambiguous, Clock, Order, read_stamps

FloatArray = NDArray[np.float64]
Unit = Literal["C", "F"]

# What no room of living spiders is [C]; readings outside are left out and counted.
COLDEST_C, WARMEST_C = -30.0, 60.0
# Means of a logger in a room lie here; outside, its unit is asked for.
ROOM_C = (5.0, 40.0)
STUCK_DAYS = 3.0
_NO_NUMBER = re.compile(r"[^0-9.,+-]")


class Question(NotReadable):
    """It cannot be read without an answer: `option` is the command's, `choices` what may be answered."""

    def __init__(self, wanted: str, *, got: str, option: str, choices: tuple[str, ...]) -> None:
        self.option, self.choices = option, choices
        super().__init__(wanted, got=got, todo=f"Say {' or '.join(f'{option} {each}' for each in choices)}")


@dataclass(frozen=True)
class HowRead:
    """The keeper's answers. None: found out from the file, and asked where it leaves it open."""

    unit: Unit | None = None
    dates: Order | None = None
    clock: Clock = "local"
    column: str | None = None
    fast_seconds: float = 0.0


@dataclass(frozen=True)
class LoggerRead:
    """The readings of a file, in order of time, and how they were understood.

    seconds [N]      instants, seconds since 1970
    temperature_c, humidity_percent [N]   NaN where not read
    words            what was understood, for the keeper to look over
    doubts           what looks wrong: clock, stuck or impossible values
    left_out_s       instants of readings that no room has, left out of all others
    """

    name: str
    digest: str
    seconds: FloatArray
    temperature_c: FloatArray
    humidity_percent: FloatArray
    words: tuple[str, ...]
    doubts: tuple[str, ...]
    left_out_s: FloatArray = field(default_factory=lambda: np.empty(0))


def read_logger(
    data: bytes, name: str, zone: ZoneInfo, how: HowRead | None = None,
    progress: Progress = unheard,
) -> LoggerRead:  # fmt: skip
    """Read a file. Raises Question where it leaves something open, NotReadable where it is no such table."""
    how = how or HowRead()
    progress("reading the text", 0, 0)
    text, encoding = decode(data, name)
    grid = grid_of(text, name, progress)
    columns = columns_of(grid, name)
    warm = _chosen(grid, columns.temperatures, how.column, name)
    humid = columns.humidities[0] if columns.humidities else None
    try:
        stamps = read_stamps(
            [row[columns.stamp[0]] for row in grid.rows],
            [row[columns.stamp[1]] for row in grid.rows] if len(columns.stamp) > 1 else None,
            grid.lines, name, zone, how.clock, how.dates, progress,
        )  # fmt: skip
    except Ambiguous as fault:
        got = fault.got or "dates"
        raise Question(
            fault.wanted, got=got, option="--dates", choices=("day-first", "month-first")
        ) from fault
    progress("numbers", len(grid.rows), len(grid.rows))
    celsius, told_unit = _temperatures(grid, warm, how.unit, name)
    percent = _numbers(grid, humid) if humid is not None else np.full(len(grid.rows), np.nan)
    return _sorted(
        name, sha256(data).hexdigest(), _corrected(stamps.seconds, how.fast_seconds), celsius, percent,
        _understood(grid, columns, warm, humid, encoding, told_unit, stamps.order),
        _clock_doubts(stamps.twice, stamps.skipped, how.clock, stamps.with_offset),
    )  # fmt: skip


def _chosen(grid: Grid, columns: tuple[int, ...], asked: str | None, name: str) -> int | None:
    """The column of temperatures; several are asked about."""
    if not columns:
        return None
    names = tuple(grid.header[at] or f"column {at + 1}" for at in columns)
    if asked is not None:
        for at, called in zip(columns, names, strict=True):
            if asked.strip().casefold() in (called.casefold(), str(at + 1)):
                return at
        raise Question(
            f"a column of {name}", got=repr(asked), option="--column", choices=tuple(map(repr, names))
        )
    if len(columns) > 1:
        raise Question(
            f"which temperature of {name} is this place's", got=", ".join(names), option="--column",
            choices=tuple(map(repr, names)),
        )  # fmt: skip
    return columns[0]


def _numbers(grid: Grid, column: int) -> FloatArray:
    """A column's numbers, NaN where there is none; decimal comma or point as the column has it."""
    cells = [row[column] for row in grid.rows]
    known: dict[str, float] = {}
    comma = sum("," in cell for cell in cells[:400]) > sum("." in cell for cell in cells[:400])
    for cell in set(cells):
        text = _NO_NUMBER.sub("", cell)
        text = text.replace(".", "").replace(",", ".") if comma else text.replace(",", "")
        try:
            known[cell] = float(text) if any(ch.isdigit() for ch in cell) else np.nan
        except ValueError:
            known[cell] = np.nan
    return np.array([known[cell] for cell in cells], dtype=np.float64)


def _temperatures(grid: Grid, column: int | None, asked: Unit | None, name: str) -> tuple[FloatArray, str]:
    """Temperatures in C, and how their unit was known."""
    if column is None:
        return np.full(len(grid.rows), np.nan), ""
    values = _numbers(grid, column)
    said = unit_of(grid.header[column], [row[column] for row in grid.rows[:50]])
    unit = asked or said
    mean = float(np.nanmean(values)) if np.isfinite(values).any() else np.nan
    if not unit:
        raise Question(
            f"the unit of the temperatures of {name}", option="--unit", choices=("c", "f"),
            got=f"a mean of {mean:.1f} and no unit in the header",
        )  # fmt: skip
    celsius = (values - 32.0) / 1.8 if unit == "F" else values
    if asked is None and not ROOM_C[0] <= float(np.nanmean(celsius)) <= ROOM_C[1]:
        raise Question(
            f"the unit of the temperatures of {name}", option="--unit", choices=("c", "f"),
            got=f"a mean of {mean:.1f} °{unit} by the header, no room's",
        )  # fmt: skip
    return np.asarray(celsius, dtype=np.float64), "as asked" if asked else "by the file"


def _corrected(seconds: FloatArray, fast: float) -> FloatArray:
    """A clock that was `fast` seconds ahead when it was read out, and right when it was started: in between
    by straight line.
    """
    if not fast or len(seconds) < 2:
        return seconds
    first, last = float(seconds.min()), float(seconds.max())
    return np.asarray(seconds - fast * (seconds - first) / max(last - first, 1.0), dtype=np.float64)


def _sorted(
    name: str, digest: str, seconds: FloatArray, celsius: FloatArray, percent: FloatArray,
    words: list[str], doubts: list[str],
) -> LoggerRead:  # fmt: skip
    """In order of time, rows that are there twice once, impossible values left out and counted."""
    bad = (celsius < COLDEST_C) | (celsius > WARMEST_C)
    wet = (percent < 0.0) | (percent > 100.5)
    if bad.any():
        doubts.append(f"{counted(int(bad.sum()), 'temperature')} under −30 or over 60 °C left out")
    if wet.any():
        doubts.append(f"{counted(int(wet.sum()), 'humidity', 'humidities')} under 0 or over 100 % left out")
    left_out = np.sort(seconds[bad | wet])
    celsius, percent = np.where(bad, np.nan, celsius), np.where(wet, np.nan, np.minimum(percent, 100.0))
    if (np.diff(seconds) < 0).any():
        words.append("rows are not in order of time: put in order")
    order = np.argsort(seconds, kind="stable")
    table = np.stack([seconds, celsius, percent])[:, order]
    fresh = np.ones(table.shape[1], dtype=bool)
    same = np.isclose(table[:, 1:], table[:, :-1], rtol=0.0, atol=0.0, equal_nan=True).all(axis=0)
    fresh[1:] = ~same
    if not fresh.all():
        words.append(f"{counted(int((~fresh).sum()), 'row')} there twice, counted once")
    table = table[:, fresh]
    known = np.isfinite(table[1]) | np.isfinite(table[2])
    if not known.any():
        raise Refusal(f"a reading in {name}", got="none that is a number", todo="Look at the file's columns")
    if not known.all():
        words.append(f"{counted(int((~known).sum()), 'row')} without a number: gaps")
    table = table[:, known]
    doubts += _stuck(table[0], table[1])
    words += _spacing(table[0])
    return LoggerRead(name, digest, table[0], table[1], table[2], tuple(words), tuple(doubts), left_out)


def _stuck(seconds: FloatArray, celsius: FloatArray) -> list[str]:
    """The same value for days: a dead sensor, or one that was not in the room."""
    if len(seconds) < 3:
        return []
    changed = np.flatnonzero(np.diff(celsius) != 0.0)
    borders = np.concatenate([[0], changed + 1, [len(celsius)]])
    longest = max(
        (
            float(seconds[end - 1] - seconds[start]) / 86400.0
            for start, end in zip(borders[:-1], borders[1:], strict=True)
        ),
        default=0.0,
    )
    return (
        [f"the same temperature for {longest:.0f} days: is the logger alive?"]
        if longest >= STUCK_DAYS
        else []
    )


def _spacing(seconds: FloatArray) -> list[str]:
    if len(seconds) < 2:
        return [f"{len(seconds):,} reading"]
    steps = np.diff(seconds)
    usual = float(np.median(steps))
    gaps = steps[steps > max(3.0 * usual, 3700.0)]
    told = f"{len(seconds):,} readings, one every {usual / 60.0:g} minutes"
    if len(gaps):
        told += f"; {counted(len(gaps), 'gap')}, {gaps.sum() / 86400.0:.1f} days in all"
    return [told]


def _understood(
    grid: Grid, columns: Columns, warm: int | None, humid: int | None, encoding: str, unit: str, order: Order
) -> list[str]:
    def called(at: int) -> str:
        return grid.header[at] or f"column {at + 1}"

    delimiter = {"\t": "tab", ";": "semicolon", ",": "comma"}.get(grid.delimiter, grid.delimiter)
    told = [f"{encoding}, columns cut by {delimiter}; dates {order.replace('_', ' ')}"]
    if warm is not None:
        told.append(f"temperature: {called(warm)}, unit {unit}")
    if humid is not None:
        told.append(f"humidity: {called(humid)}")
    if grid.above:
        told.append(f"{counted(len(grid.above), 'line')} above the table left out")
    if grid.tail:
        told.append(f"{counted(len(grid.tail), 'line')} below the table left out")
    return told


def _clock_doubts(twice: int, skipped: int, clock: Clock, with_offset: bool) -> list[str]:
    if with_offset or clock != "local":
        return []
    told = []
    if twice:
        told.append(
            f"{counted(twice, 'row')} in the hour that came twice when summer time ended: told apart by the"
            " order of the rows; if the logger keeps winter time all year, say --clock winter"
        )
    if skipped:
        told.append(
            f"{counted(skipped, 'row')} in the hour that never came when summer time began: the logger does"
            " not follow summer time; say --clock winter"
        )
    return told
