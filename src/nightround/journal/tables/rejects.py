"""The rejects file: refused rows as they came, each with what is wrong, ready to be mended and imported."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from nightround.journal.tables.results import FileRead, RowRefusal, TablesRead

REJECTS_ENDING = ".rejects.csv"
"""Ending of a rejects file's name, after the table's; a folder's rejects are not read with its tables."""

REJECT_COLUMNS = ("file", "row", "field", "problem")
"""Columns that a rejects file has besides the table's own; reading passes over the four together."""


def own_columns(header: Sequence[str]) -> int:
    """Return how many columns of a header are the table's own: all but the four at a rejects file's end."""
    is_rejects = tuple(header[-len(REJECT_COLUMNS) :]) == REJECT_COLUMNS
    return len(header) - len(REJECT_COLUMNS) * is_rejects


def write_rejects(read: TablesRead, folder: Path | str) -> list[Path]:
    """Write `TABLE.rejects.csv` into `folder` for every file with refused rows; return what was written."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for file in read.files:
        if file.refused:
            stem = file.file.removesuffix(REJECTS_ENDING).removesuffix(".csv")
            path = folder / f"{stem}{REJECTS_ENDING}"
            _write(path, file, [fault for fault in read.refusals if fault.file == file.file])
            written.append(path)
    return written


def _write(path: Path, file: FileRead, faults: Sequence[RowRefusal]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow([*file.header, *REJECT_COLUMNS])
        for refused in file.refused:
            about = [fault for fault in faults if fault.row == refused.row]
            padding = [""] * (len(file.header) - len(refused.cells))
            writer.writerow([
                *refused.cells, *padding, file.file, refused.row, "; ".join(fault.field for fault in about),
                " ".join(f"{fault.problem} {fault.todo}".strip() for fault in about),
            ])  # fmt: skip
