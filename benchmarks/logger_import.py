"""A million rows of a logger's file read and stored, with a progress bar.

python benchmarks/logger_import.py
python benchmarks/logger_import.py --rows 100000
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo


def main() -> None:
    """Write a file, take it in, print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--rows", type=int, default=1_000_000)
    given = parser.parse_args()
    from nightround.cli.logger_file import RowsRead
    from nightround.desk.desk import Desk
    from nightround.desk.loggers import LoggerAnswers, take_logger
    from nightround.journal.store import Journal

    folder = Path(tempfile.mkdtemp())
    zone = ZoneInfo("Europe/Berlin")
    first = datetime(2024, 1, 1, tzinfo=UTC)
    lines = [
        f"{(first + timedelta(minutes=at)).astimezone(zone):%d.%m.%Y %H:%M:%S};"
        f"{20 + at % 97 / 16:.1f};{45 + at % 61 / 4:.1f}".replace(".", ",", 0)
        for at in range(given.rows)
    ]
    path = folder / "logger.csv"
    path.write_text("Zeit;Temperatur °C;Feuchte %\n" + "\n".join(lines) + "\n", encoding="utf-8")
    Journal.create(folder / "room.sqlite", time_zone="Europe/Berlin").close()
    began, used = time.perf_counter(), time.process_time()
    with Desk.open(folder / "room.sqlite") as desk, RowsRead(sys.stderr) as rows:
        done = take_logger(desk, path, "shelf B", LoggerAnswers(), commit=True, progress=rows)
    wall, processor = time.perf_counter() - began, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"\n{done.readings:,} readings, {done.new} days written: {wall:.1f} s (processor {processor:.1f} s)"
    )
    print(f"file {path.stat().st_size / 1e6:.0f} MB, peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
