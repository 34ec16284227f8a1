"""The table inside the text: its delimiter, its header, where its rows begin, and which column is which."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO

from nightround.foundation.refusal import NotReadable
from nightround.journal.loggers.progress import EVERY, Progress, unheard

DELIMITERS = ("\t", ";", ",", "|")
SAMPLE = 400
_DATED = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|^\d{9,13}(\.\d+)?$")
_TIMED = re.compile(r"^\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?(\s*[ap]\.?m\.?)?$", re.IGNORECASE)
_NUMBER = re.compile(r"^[+-]?\d+([.,]\d+)?\s*(°?[cf]|%|%?\s*rh)?$", re.IGNORECASE)
# Words of headers, several languages, without a maker's own.
_TEMPERATURE = re.compile(
    r"temp|°\s*[cf]|\bcelsius|fahrenheit|\bdeg\b|℃|℉|w[aä]rme|^[cf]$|\bt\b", re.IGNORECASE)  # fmt: skip
_HUMIDITY = re.compile(
    r"humid|feucht|umid|luchtvocht|fukt|\brh\b|%\s*rh|r\.?h\.?|^%$|hygro|humedad", re.IGNORECASE
)
_DEW = re.compile(
    r"dew|taupunkt|ros[eé]e|roc[ií]o|heat index|vpd|pressure|druck|batt|volt|\bco2|lux|light", re.IGNORECASE
)
_TIME = re.compile(
    r"date|time|datum|zeit|uhr|fecha|hora|heure|data\b|ora\b|tid\b|tijd|stamp|utc|gmt", re.IGNORECASE
)
_FAHRENHEIT = re.compile(r"°\s*f|℉|fahrenheit|\bf\b|\(f\)|_f$", re.IGNORECASE)
_CELSIUS = re.compile(r"°\s*c|℃|celsius|\bc\b|\(c\)|_c$", re.IGNORECASE)


@dataclass(frozen=True)
class Grid:
    """Rows of cells with their line numbers, and the header above them ('' where a column has no name).

    tail   lines at the end that are no rows of the table (summaries), as they are
    """

    delimiter: str
    header: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    above: tuple[str, ...]
    tail: tuple[str, ...]


@dataclass(frozen=True)
class Columns:
    """Which columns hold what: stamp in one or two, every temperature, every humidity."""

    stamp: tuple[int, ...]
    temperatures: tuple[int, ...]
    humidities: tuple[int, ...]


def grid_of(text: str, name: str, progress: Progress = unheard) -> Grid:
    """Find the table. Raises NotReadable where no rows with a date and a number are."""
    delimiter = _delimiter(text)
    rows = list(csv.reader(StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True))
    width = _width(rows)
    at = next((at for at, row in enumerate(rows) if _is_row(row, width)), None)
    if at is None:
        raise NotReadable(
            f"rows with a date and a temperature in {name}", got=repr(text[:80].strip()),
            todo="Export the readings as CSV: one row a reading",
        )  # fmt: skip
    header = _header(rows, at, width)
    kept, lines, odd = _sorted_out(rows, at, width, progress)
    last = lines[-1]
    tail = tuple(delimiter.join(row) for line, row in odd if line > last)
    broken = [(line, row) for line, row in odd if line < last]
    if len(broken) > max(3, len(kept) // 10):
        line, row = broken[0]
        raise NotReadable(
            f"a table with a date in every row in {name}",
            got=f"{len(broken)} rows without, first line {line}: {delimiter.join(row)[:60]!r}",
            todo="Export the readings again, or cut the file down to its table",
        )
    return Grid(
        delimiter, header, kept, lines,
        tuple(delimiter.join(row) for row in rows[: max(at - 1, 0)]), tail,
    )  # fmt: skip


def _sorted_out(
    rows: list[list[str]], at: int, width: int, progress: Progress
) -> tuple[list[list[str]], list[int], list[tuple[int, list[str]]]]:
    """Rows of the table and their lines, and the lines that are none; a million rows take a second."""
    kept: list[list[str]] = []
    lines: list[int] = []
    odd: list[tuple[int, list[str]]] = []
    dated = next(place for place, cell in enumerate(rows[at]) if _DATED.search(cell.strip()))
    for line, row in enumerate(rows[at:], start=at + 1):
        if line % EVERY == 0:
            progress("rows of the table", line, len(rows))
        if len(row) == width and row[dated][:1].isdigit() and len(row[dated]) > 7:
            kept.append(row)
        elif _is_row(row, width):
            kept.append(_padded(row, width))
        else:
            if any(cell.strip() for cell in row):
                odd.append((line, row))
            continue
        lines.append(line)
    return kept, lines, odd


def _delimiter(text: str) -> str:
    """The delimiter that cuts most lines into the same number of cells, two at least."""
    sample = [line for line in text.splitlines()[:SAMPLE] if line.strip()]
    dated = [line for line in sample if _DATED.search(line)] or sample

    def score(delimiter: str) -> tuple[int, int]:
        counts = Counter(len(row) for row in csv.reader(dated, delimiter=delimiter))
        cells, times = max(counts.items(), key=lambda each: (each[1], each[0]))
        return (times if cells > 1 else 0, -DELIMITERS.index(delimiter))

    # A decimal comma is no delimiter: where another one cuts as well, it is the one.
    best = max(DELIMITERS, key=score)
    if best == "," and score(";")[0] >= 0.9 * score(",")[0] and score(";")[0] > 0:
        return ";"
    return best


def _width(rows: Sequence[Sequence[str]]) -> int:
    counts = Counter(len(row) for row in rows if any(_DATED.search(cell.strip()) for cell in row))
    return max(counts, key=lambda width: (counts[width], width)) if counts else 0


def _is_row(row: Sequence[str], width: int) -> bool:
    """Whether it holds a date and as many cells as the others, one more or less at the end."""
    cells = [cell.strip() for cell in row]
    return abs(len(cells) - width) <= 1 and any(_DATED.search(cell) for cell in cells[:4])


def _padded(row: list[str], width: int) -> list[str]:
    return [cell.strip() for cell in [*row, *[""] * (width - len(row))]]


def _header(rows: list[list[str]], at: int, width: int) -> tuple[str, ...]:
    """The line above the first row if it has words for its columns."""
    for row in reversed(rows[max(0, at - 3) : at]):
        cells = [cell.strip() for cell in row]
        if (
            abs(len(cells) - width) <= 1
            and sum(any(ch.isalpha() or ch in "%°" for ch in c) for c in cells) >= 2
        ):
            return (*cells, *[""] * (width - len(cells)))
    return ("",) * width


def columns_of(grid: Grid, name: str) -> Columns:
    """Tell the columns apart by their cells and, where those leave it open, by their names."""
    sample = grid.rows[:SAMPLE]
    width = max(len(row) for row in sample)
    cells = [[row[at] for row in sample if at < len(row) and row[at]] for at in range(width)]
    stamp = [at for at in range(width) if cells[at] and _share(_DATED, cells[at]) > 0.9]
    times = [at for at in range(width) if cells[at] and _share(_TIMED, cells[at]) > 0.9]
    if not stamp:
        raise NotReadable(
            f"a column of dates in {name}", got=", ".join(grid.header), todo="Export it with dates"
        )
    chosen: tuple[int, ...] = (stamp[0],)
    if times and not any(":" in cell for cell in cells[stamp[0]][:5]):
        chosen = (stamp[0], times[0])
    numbers = [
        at for at in range(width)
        if at not in (*chosen, *stamp[1:], *times) and cells[at] and _share(_NUMBER, cells[at]) > 0.5
    ]  # fmt: skip
    named = {at: grid.header[at] if at < len(grid.header) else "" for at in numbers}
    usable = [at for at in numbers if not _DEW.search(named[at]) and not _counts(cells[at], named[at])]
    humid = tuple(at for at in usable if _HUMIDITY.search(named[at]))
    warm = tuple(at for at in usable if at not in humid and _TEMPERATURE.search(named[at]))
    if not warm and not humid:
        bare = [at for at in usable if not named[at]]
        warm, humid = tuple(bare[:1]), tuple(bare[1:2]) if len(bare) == 2 else ()
    if not warm and not humid:
        raise NotReadable(
            f"a column of temperatures in {name}",
            got="columns " + ", ".join(repr(each) for each in grid.header if each),
            todo="Give the columns names such as Time, Temperature °C, Humidity %",
        )
    return Columns(chosen, warm, humid)


def _share(pattern: re.Pattern[str], cells: Sequence[str]) -> float:
    return sum(bool(pattern.search(cell)) for cell in cells) / len(cells)


def _counts(cells: Sequence[str], name: str) -> bool:
    """Whether a column without a name only counts the rows."""
    if _TEMPERATURE.search(name) or _HUMIDITY.search(name):
        return False
    values = cells[:50]
    return (
        len(values) > 2
        and all(value.isdigit() for value in values)
        and all(int(later) - int(one) == 1 for one, later in zip(values, values[1:], strict=False))
    )


def unit_of(header: str, cells: Sequence[str]) -> str:
    """'C' or 'F' as a header or the cells themselves say, '' where nothing does."""
    if _FAHRENHEIT.search(header):
        return "F"
    if _CELSIUS.search(header):
        return "C"
    ends = {cell[-1].upper() for cell in cells[:50] if cell and cell[-1].upper() in "CF"}
    return ends.pop() if len(ends) == 1 else ""
