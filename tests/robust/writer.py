"""A writer to be killed: it says on standard output what is on the disk, and nothing before.

usage: writer.py append ROOM START | writer.py import ROOM FOLDER START
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path


def append(room: str, start: int) -> None:
    """Write acts of one to three entries for ever; acknowledge each by its keys."""
    from nightround.foundation.when import on_day
    from nightround.journal.entries import Draft, Ref
    from nightround.journal.kinds.animal import Noted
    from nightround.journal.store import Journal

    day = on_day(date(2026, 3, 1))
    number = start
    with Journal.open(room) as journal:
        while True:
            keys = [f"k{number}-{part}" for part in range(1 + number % 3)]
            drafts = [Draft(Ref("animal", "K1"), day, Noted(note=key * 20), key=key) for key in keys]
            journal.append(drafts)
            print("wrote", *keys, flush=True)
            number += 1


def take_in(room: str, folder: str, start: int) -> None:
    """Import one folder after another for ever; acknowledge each import by the folder's name."""
    from nightround.desk.desk import Desk

    number = start
    with Desk.open(room) as desk:
        desk.import_tables(tables_in(folder, number))
        print("begins", flush=True)
        while True:
            tables = tables_in(folder, number)
            desk.import_tables(tables, commit=True)
            print("wrote", tables.name, flush=True)
            number += 1


def tables_in(folder: str, number: int) -> Path:
    """Write a folder of plain tables with sixty rows that bear its name."""
    tables = Path(folder) / str(number)
    tables.mkdir(exist_ok=True)
    rows = [f"2026-03-{1 + row % 28:02d},K1,noted,{number}-{row}" for row in range(60)]
    (tables / "entries.csv").write_text("\n".join(["when,animal,entry,note", *rows]) + "\n")
    return tables


if __name__ == "__main__":
    if sys.argv[1] == "append":
        append(sys.argv[2], int(sys.argv[3]))
    else:
        take_in(sys.argv[2], sys.argv[3], int(sys.argv[4]))
