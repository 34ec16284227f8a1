"""One logger file read: instants, temperatures, humidities, and what was understood; else a question."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import counted
from nightround.journal.loggers.cells import Numbers, numbers_of
from nightround.journal.loggers.dates import Order
from nightround.journal.loggers.decode import decode
from nightround.journal.loggers.grid import Columns, Grid, columns_of, grid_of, unit_of
from nightround.journal.loggers.ordered import in_order
from nightround.journal.loggers.progress import Progress, unheard
from nightround.journal.loggers.questions import Question
from nightround.journal.loggers.stamps import Stamps, Written, read_stamps
from nightround.journal.loggers.wall import Clock

FloatArray = NDArray[np.float64]
Unit = Literal["C", "F"]
HumidityUnit = Literal["percent", "share"]

# Means of a logger in a room lie here; outside, its unit is asked for.
ROOM_C = (5.0, 40.0)
# Under this mean no air of a room is; a share of one, perhaps, or another column.
DRIEST_PERCENT = 10.0
FEWEST_NUMBERS = 0.8

__all__ = ["HowRead", "HumidityUnit", "LoggerRead", "Question", "Unit", "read_logger"]


@dataclass(frozen=True)
class HowRead:
    """The keeper's answers. None: found out from the file, and asked where it leaves it open.

    column, humidity   a column's name or its place counted from one; 'none' for none
    clock              None: the room's local time unless the file says or shows otherwise
    """

    unit: Unit | None = None
    dates: Order | None = None
    clock: Clock | None = None
    column: str | None = None
    humidity: str | None = None
    humidity_unit: HumidityUnit | None = None
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
    warm, humid = _which(grid, columns, how, name)
    date, *time = columns.stamp
    stamps = read_stamps(
        Written(
            grid.column(date), grid.column(time[0]) if time else None, grid.lines,
            " ".join(grid.header[at] for at in columns.stamp), grid.above,
        ),
        name, zone, how.clock, how.dates, progress,
    )  # fmt: skip
    progress("numbers", len(grid.rows), len(grid.rows))
    celsius, told_unit = _temperatures(grid, warm, how.unit, name)
    percent, told_odd = _humidities(grid, humid, how.humidity_unit, name)
    read = in_order(_corrected(stamps.seconds, how.fast_seconds), celsius, percent, grid.lines, name)
    understood = _understood(grid, columns, encoding, stamps)
    return LoggerRead(
        name, sha256(data).hexdigest(), read.seconds, read.temperature_c, read.humidity_percent,
        (*understood, *told_unit, *told_odd, *read.words), (*_clock_doubts(stamps), *read.doubts),
        read.left_out_s,
    )  # fmt: skip


def _which(grid: Grid, columns: Columns, how: HowRead, name: str) -> tuple[int | None, int | None]:
    """The columns of temperature and humidity; several are asked about. Without names and units a column
    may be either.
    """
    warm = _chosen(grid, columns.temperatures, how.column, name, "temperature", "--column")
    either = () if columns.humidities or any(grid.header) else columns.temperatures
    others = columns.humidities or tuple(at for at in either if at != warm)
    asked = how.humidity
    if asked is None and others and not columns.humidities:
        raise Question(
            f"which column of {name} is this place's humidity", got=_names(grid, others), option="--humidity",
            choices=(*_choices(grid, others), "none"),
        )  # fmt: skip
    return warm, _chosen(grid, others, asked, name, "humidity", "--humidity")


def _chosen(
    grid: Grid, columns: tuple[int, ...], asked: str | None, name: str, what: str, option: str
) -> int | None:
    if asked is not None and asked.strip().casefold() == "none":
        return None
    if asked is not None:
        for at in columns:
            if asked.strip().casefold() in (grid.called(at).casefold(), str(at + 1)):
                return at
        raise Question(
            f"a column of {what} of {name}", got=repr(asked), option=option,
            choices=(*_choices(grid, columns), "none"),
        )  # fmt: skip
    if len(columns) > 1:
        raise Question(
            f"which {what} of {name} is this place's", got=_names(grid, columns), option=option,
            choices=_choices(grid, columns),
        )  # fmt: skip
    return columns[0] if columns else None


def _names(grid: Grid, columns: tuple[int, ...]) -> str:
    """Their names, with what stands in the first row of each."""
    return ", ".join(f"{grid.called(at)} ({grid.column(at)[0]})" for at in columns)


def _choices(grid: Grid, columns: tuple[int, ...]) -> tuple[str, ...]:
    """Names that an option takes; places where names are missing or there twice."""
    names = [grid.header[at] for at in columns]
    return tuple(
        repr(called) if called and names.count(called) == 1 else str(at + 1)
        for at, called in zip(columns, names, strict=True)
    )


def _numbers(grid: Grid, column: int, name: str) -> tuple[Numbers, list[str]]:
    """A column's numbers, and words about cells that hold something else: those are gaps."""
    cells = grid.column(column)
    numbers = numbers_of(cells)
    filled = sum(bool(cell) for cell in cells)
    without = filled - int(np.isfinite(numbers.values).sum())
    if not without:
        return numbers, []
    such = ", ".join(repr(each[:20]) for each in numbers.odd[:3])
    if without > (1.0 - FEWEST_NUMBERS) * filled:
        raise NotReadable(
            f"numbers in {grid.called(column)} of {name}",
            got=f"{without:,} cells of {filled:,} such as {such}",
            todo="Export the readings again, without what is no reading",
        )  # fmt: skip
    return numbers, [f"{grid.called(column)}: {counted(without, 'cell')} without a number ({such}): gaps"]


def _temperatures(
    grid: Grid, column: int | None, asked: Unit | None, name: str
) -> tuple[FloatArray, list[str]]:
    """Temperatures in C, and words on their unit."""
    if column is None:
        return np.full(len(grid.rows), np.nan), []
    numbers, words = _numbers(grid, column, name)
    said = {unit_of(grid.header[column]), *numbers.units} - {""}
    unit = asked or (said.pop() if len(said) == 1 else "")
    known = numbers.values[np.isfinite(numbers.values)]
    mean = float(known.mean()) if known.size else np.nan
    if len(numbers.units) > 1:
        raise NotReadable(f"temperatures of one unit in {name}", got="some in °C, some in °F",
                          todo="Export the readings again in one unit")  # fmt: skip
    celsius = (numbers.values - 32.0) / 1.8 if unit == "F" else numbers.values
    odd = asked is None and known.size and not ROOM_C[0] <= float(np.nanmean(celsius)) <= ROOM_C[1]
    if not unit or odd:
        by = f"°{unit} by the file, no room's" if unit else "and no clear unit in the file"
        raise Question(
            f"the unit of the temperatures of {name}", option="--unit", choices=("c", "f"),
            got=f"a mean of {mean:.1f} {by}",
        )  # fmt: skip
    words.append(f"temperature: {grid.called(column)}, °{unit} {'as asked' if asked else 'by the file'}")
    return np.asarray(celsius, dtype=np.float64), words


def _humidities(
    grid: Grid, column: int | None, asked: HumidityUnit | None, name: str
) -> tuple[FloatArray, list[str]]:
    """Humidities in percent, and words about them."""
    if column is None:
        return np.full(len(grid.rows), np.nan), []
    numbers, words = _numbers(grid, column, name)
    known = numbers.values[np.isfinite(numbers.values)]
    if asked is None and known.size and float(known.mean()) < DRIEST_PERCENT:
        raise Question(
            f"the unit of the humidities of {name}", option="--humidity-unit", choices=("percent", "share"),
            got=f"a mean of {float(known.mean()):.2f} in {grid.called(column)}",
        )  # fmt: skip
    words.append(f"humidity: {grid.called(column)}{', shares of one as asked' if asked == 'share' else ''}")
    return numbers.values * (100.0 if asked == "share" else 1.0), words


def _corrected(seconds: FloatArray, fast: float) -> FloatArray:
    """A clock that was `fast` seconds ahead when it was read out, and right when it was started: in between
    by straight line.
    """
    if not fast or len(seconds) < 2:
        return seconds
    first, last = float(seconds.min()), float(seconds.max())
    return np.asarray(seconds - fast * (seconds - first) / max(last - first, 1.0), dtype=np.float64)


def _understood(grid: Grid, columns: Columns, encoding: str, stamps: Stamps) -> list[str]:
    delimiter = {"\t": "tab", ";": "semicolon", ",": "comma"}.get(grid.delimiter, grid.delimiter)
    when = " and ".join(grid.called(at) for at in columns.stamp)
    told = [f"{encoding}, columns cut by {delimiter}", f"time: {when}; {stamps.words}"]
    if grid.above:
        told.append(f"{counted(len(grid.above), 'line')} above the table left out")
    if grid.odd:
        told.append(
            f"{counted(len(grid.odd), 'line')} in the table without a reading left out: {grid.odd[0][:40]!r}"
        )
    if grid.tail:
        told.append(f"{counted(len(grid.tail), 'line')} below the table left out")
    return told


def _clock_doubts(stamps: Stamps) -> list[str]:
    told = []
    if stamps.instants.twice:
        told.append(
            f"{counted(stamps.instants.twice, 'row')} in the hour that came twice when summer time ended:"
            " told apart by the order of the rows"
        )
    if stamps.instants.skipped:
        told.append(
            f"{counted(stamps.instants.skipped, 'row')} in the hour that never came when summer time began:"
            " taken as an hour later, as you say that the clock follows summer time"
        )
    return told
