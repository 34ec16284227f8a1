"""A CSV file as header and numbered rows: encoding, quoting and the number of cells."""

from __future__ import annotations

import codecs
import csv
import difflib
import io
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

from nightround.foundation.refusal import NotReadable
from nightround.journal.tables.results import RowRefusal

csv.field_size_limit(2**24)  # the library's own limit is shorter than a long note that we wrote ourselves

_FOREIGN_MARKS = {codecs.BOM_UTF16_LE: "UTF-16", codecs.BOM_UTF16_BE: "UTF-16"}


def text_of(path: Path) -> str:
    """Return the text of a UTF-8 file, with or without byte order mark. Raises NotReadable."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise NotReadable(f"a readable file at {path.name}", got=error.strerror or str(error)) from error
    return decoded(raw)


def decoded(raw: bytes) -> str:
    """Decode UTF-8. Raises NotReadable that names the line of the first byte that does not fit."""
    for mark, name in _FOREIGN_MARKS.items():
        if raw.startswith(mark):
            raise NotReadable("a text file in UTF-8", got=name, todo="Save it again as 'CSV UTF-8'")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise NotReadable(
            "a text file in UTF-8",
            got=f"the byte 0x{raw[error.start]:02x} in line {line}",
            todo="Save it again as 'CSV UTF-8'; it may be in an older encoding such as Windows-1252",
        ) from error
    if text[:4096].count("\0") > len(text[:4096]) // 4:
        raise NotReadable("a text file in UTF-8", got="zero bytes: UTF-16, or no text file at all")
    return text


def numbered_rows(text: str, delimiter: str = ",") -> Iterator[tuple[int, list[str], str]]:
    """Yield (line at which the row begins, cells, fault).

    `fault` is '' unless quoting is broken; then the only cell is the text of the lines as they came.
    """
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield (
                line,
                ["".join(lines[line - 1 : reader.line_num]).rstrip("\r\n")],
                _quoting_fault(str(error), line, reader.line_num),
            )
            continue
        yield line, cells, ""


def _quoting_fault(error: str, first: int, last: int) -> str:
    if "unexpected end" in error:
        return f"a quote that opens here and is never closed (it takes in lines {first} to {last})"
    return error


def named(header: Sequence[str]) -> list[str]:
    """Return header cells as column names: lower case, `_` for spaces."""
    return ["_".join(cell.strip().lower().replace("-", " ").replace("_", " ").split()) for cell in header]


def header_faults(
    file: str, line: int, header: Sequence[str], known: Collection[str], needed: Collection[str]
) -> list[RowRefusal]:
    """Return what is wrong with a header: no header at all, unknown, double or missing columns."""
    if not set(header) & set(known):
        return [_no_header(file, line, header, known)]
    faults = [
        RowRefusal(file, line, name, "an unknown column" if name else "a column without a name",
                   f"a column of this table: {_nearest(name, known)}",
                   "Rename the column, or take it out and keep its words in the note", True)
        for name in header if name not in known
    ]  # fmt: skip
    faults += [
        RowRefusal(file, line, name, "it twice", "each column once", "Take one of the two out", True)
        for name in sorted({name for name in header if header.count(name) > 1} & set(known))
    ]
    faults += [
        RowRefusal(file, line, name, "no such column", f"a column '{name}'", "Add the column", True)
        for name in needed if name not in header
    ]  # fmt: skip
    return faults


def _no_header(file: str, line: int, header: Sequence[str], known: Collection[str]) -> RowRefusal:
    todo = "Put the names of the columns into the first row: " + ", ".join(known)
    joined = "".join(header)
    if len(header) == 1 and (";" in joined or "\t" in joined):
        todo = "Save it with commas between the cells, and a point in numbers"
    got = ",".join(header)
    return RowRefusal(
        file, line, "", repr(got[:80]), "a header row with the names of the columns", todo, True
    )


def _nearest(name: str, known: Collection[str]) -> str:
    return ", ".join(difflib.get_close_matches(name, known, n=2, cutoff=0.6) or known)
