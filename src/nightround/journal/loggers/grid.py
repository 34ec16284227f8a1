"""The table inside the text: its delimiter, its header, where its rows begin, and which column is which."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO

from nightround.foundation.refusal import NotReadable
from nightround.journal.loggers.cells import share_of_numbers
from nightround.journal.loggers.progress import EVERY, Progress, unheard
from nightround.journal.loggers.stamps import is_epoch

# In this order where several cut as well: a comma may be a decimal one.
DELIMITERS = ("\t", ";", "|", ",")
SAMPLE = 400
_DATED = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|^\d{9,13}(\.\d+)?$")
_TIMED = re.compile(
    r"^\d{1,2}[:h]\d{2}(:\d{2}([.,]\d+)?)?(\s*([ap]\.?\s?m\.?|uhr|[-+]\d\d.*|z|utc|gmt))?$", re.IGNORECASE
)
# A whole number, and one with a unit behind it.
_WHOLE = re.compile(r"^\s*[+\-\u2212\u2013]?\d+\s*$")
_ENDED = re.compile(r"^\s*\d+\s*[°℃℉%cfr].*$", re.IGNORECASE)
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
    odd    lines in between that are none, as they are
    """

    delimiter: str
    header: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    above: tuple[str, ...]
    tail: tuple[str, ...]
    odd: tuple[str, ...] = ()

    def column(self, at: int) -> list[str]:
        """The cells of a column, '' where a row ends before it."""
        return [row[at].strip() if at < len(row) else "" for row in self.rows]

    def called(self, at: int) -> str:
        """A column's name, else its place."""
        return self.header[at] if at < len(self.header) and self.header[at] else f"column {at + 1}"


@dataclass(frozen=True)
class Columns:
    """Which columns hold what: stamp in one or two, every temperature, every humidity."""

    stamp: tuple[int, ...]
    temperatures: tuple[int, ...]
    humidities: tuple[int, ...]


def grid_of(text: str, name: str, progress: Progress = unheard) -> Grid:
    """Find the table. Raises NotReadable where no rows with a date and a number are."""
    delimiter = _delimiter(text)
    rows = _cut(text, delimiter, name)
    width = _width(rows)
    at = next((at for at, row in enumerate(rows) if _is_row(row, width)), None)
    if at is None:
        raise NotReadable(
            f"rows with a date and a temperature in {name}", got=repr(text[:80].strip()),
            todo="Export the readings as CSV: one row a reading",
        )  # fmt: skip
    header = _header(rows, at, width, name)
    kept, lines, odd = _sorted_out(rows, at, width, progress)
    last = lines[-1]
    tail = tuple(delimiter.join(row) for line, row in odd if line > last)
    broken = [(line, row) for line, row in odd if line < last]
    wide = [(line, row) for line, row in odd if len(row) > width and _is_row(row[:width], width)]
    if wide or len(broken) > max(3, len(kept) // 10):
        line, row = (wide or broken)[0]
        raise NotReadable(
            f"a table with a date in every row and {width} cells in each in {name}",
            got=f"line {line}: {delimiter.join(row)[:60]!r}",
            todo="Export the readings again, with points in numbers or semicolons between columns",
        )
    if delimiter == "," and not any(header):
        _no_decimal_commas(kept, width, lines[0], name)
    return Grid(
        delimiter, header, kept, lines,
        tuple(delimiter.join(row) for row in rows[: max(at - 1, 0)]), tail,
        tuple(delimiter.join(row) for _, row in broken),
    )  # fmt: skip


def _cut(text: str, delimiter: str, name: str) -> list[list[str]]:
    """The lines as cells. Raises NotReadable for a quote that swallows lines."""
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True)
    rows: list[list[str]] = []
    try:
        rows.extend(reader)
        swallowed = reader.line_num != len(rows)
    except csv.Error:
        swallowed = True
    if swallowed:
        line = next(
            (at for at, row in enumerate(rows, start=1) if any("\n" in c for c in row)), len(rows) + 1
        )
        raise NotReadable(
            f"quotes that are closed on their line in {name}", got=f"an open one in line {line}",
            todo="Take the quote out of that line, or export the readings again",
        )  # fmt: skip
    return rows


def _no_decimal_commas(rows: list[list[str]], width: int, line: int, name: str) -> None:
    """Refuse pairs of whole numbers without names: '21,5,50,2' is 21.5 and 50.2, or four numbers."""
    columns = [[row[at] for row in rows[:SAMPLE] if at < len(row)] for at in range(1, width)]
    bare, ended = (
        [at for at, cells in enumerate(columns) if _share(pattern, cells) > 0.5]
        for pattern in (_WHOLE, _ENDED)
    )
    if any(at + 1 in (*bare, *ended) for at in bare):
        raise NotReadable(
            f"columns with names, or points in numbers, in {name}",
            got=f"line {line}: {','.join(rows[0])[:60]!r}, where commas may be decimal ones",
            todo="Export with semicolons between columns, or add a line of names above the table",
        )


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
    """Whether it holds a date and as many cells as the others, or one less; empty ones more do no harm."""
    cells = [cell.strip() for cell in row]
    while len(cells) > width and not cells[-1]:
        cells.pop()
    return width - 1 <= len(cells) <= width and any(_DATED.search(cell) for cell in cells[:4])


def _padded(row: list[str], width: int) -> list[str]:
    return [cell.strip() for cell in [*row, *[""] * (width - len(row))]][:width]


def _header(rows: list[list[str]], at: int, width: int, name: str) -> tuple[str, ...]:
    """The line above the first row if it has words for its columns. Raises NotReadable if it has too few or
    too many: then nobody can tell which name is whose.
    """
    for back, row in enumerate(reversed(rows[max(0, at - 3) : at])):
        cells = [cell.strip() for cell in row]
        while len(cells) > 1 and not cells[-1]:
            cells.pop()
        if sum(any(ch.isalpha() or ch in "%°" for ch in c) for c in cells) < 2:
            continue
        # A last column without a single cell is often cut off, in the names or in the rows.
        full, line = max(
            (_filled(row), -line) for line, row in enumerate(rows[at : at + SAMPLE], start=at + 1)
        )
        if full <= len(cells) <= width:
            return (*cells, *[""] * (width - len(cells)))
        if back == 0:
            raise NotReadable(
                f"as many names as columns in {name}",
                got=f"{len(cells)} names in line {at}, {full} cells in line {-line}: a decimal comma"
                " between commas, or a comma within a name?",
                todo="Export with semicolons between columns, or put right the line of names",
            )
    return ("",) * width


def _filled(row: Sequence[str]) -> int:
    """Cells up to the last one that holds something."""
    return max((at for at, cell in enumerate(row, start=1) if cell.strip()), default=0)


def columns_of(grid: Grid, name: str) -> Columns:
    """Tell the columns apart by their cells and, where those leave it open, by their names."""
    sample = grid.rows[:SAMPLE]
    width = max(len(row) for row in sample)
    cells = [[row[at].strip() for row in sample if at < len(row) and row[at].strip()] for at in range(width)]
    chosen, others = _stamp(grid, cells, name)
    numbers = [
        at
        for at in range(width)
        if at not in (*chosen, *others) and cells[at] and share_of_numbers(cells[at]) > 0.5
    ]  # fmt: skip
    named = {at: grid.header[at] if at < len(grid.header) else "" for at in numbers}
    usable = [at for at in numbers if not _DEW.search(named[at]) and not _counts(cells[at], named[at])]
    humid = tuple(at for at in usable if _HUMIDITY.search(named[at]))
    warm = tuple(at for at in usable if at not in humid and _TEMPERATURE.search(named[at]))
    if not warm and not humid:
        # Without names the cells' own units tell; else every column may be either, and is asked.
        bare = [at for at in usable if not named[at]]
        humid = tuple(at for at in bare if all("%" in cell for cell in cells[at]))
        warm = tuple(at for at in bare if at not in humid)
    if not warm and not humid:
        raise NotReadable(
            f"a column of temperatures in {name}",
            got="columns " + ", ".join(repr(each) for each in grid.header if each),
            todo="Give the columns names such as Time, Temperature °C, Humidity %",
        )
    return Columns(chosen, warm, humid)


def _stamp(grid: Grid, cells: list[list[str]], name: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The columns of date and time, and others of the kind. A running number of nine digits is no date
    where there is a date.
    """
    dated = [at for at, column in enumerate(cells) if column and _share(_DATED, column) > 0.9]
    real = [at for at in dated if not all(cell.replace(".", "", 1).isdigit() for cell in cells[at])]
    epoch = [at for at in dated if at not in real and all(map(is_epoch, cells[at]))]
    epoch.sort(key=lambda at: not _TIME.search(grid.called(at)))
    times = [at for at, column in enumerate(cells) if column and _share(_TIMED, column) > 0.9]
    if not real and not epoch:
        raise NotReadable(
            f"a column of dates in {name}", got=", ".join(grid.header), todo="Export it with dates"
        )
    first = (real or epoch)[0]
    if times and real and not any(":" in cell for cell in cells[first][:5]):
        return (first, times[0]), (*dated, *times)
    return (first,), (*dated, *times)


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


def unit_of(header: str) -> str:
    """'C' or 'F' as a header says, '' where it says neither or both."""
    found = [unit for unit, pattern in (("F", _FAHRENHEIT), ("C", _CELSIUS)) if pattern.search(header)]
    return found[0] if len(found) == 1 else ""
