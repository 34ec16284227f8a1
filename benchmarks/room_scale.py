"""How Nightround carries a large room: start, fold, forecast, Tonight page, one tap, memory.

    .venv/bin/python benchmarks/room_scale.py [--animals 1000] [--entries 300000] [--keep FOLDER]

Prints a table; every stage runs in one fresh process, as a keeper's server would. Wall and processor seconds
stand side by side because the machine may be shared.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any


def make_room(path: Path, animals: int, entries: int) -> None:
    """Simulate the room and write it, in its own process so that its memory is not counted."""
    from nightround.journal.store import Journal
    from nightround.simulate import room

    made = room(seed=1, animals=animals, entries=entries)
    with Journal.create(path, time_zone=made.clock.zone_name, name=made.name, invented=True) as journal:
        journal.append(made.drafts)


def peak_memory_mb() -> float:
    """Return the largest resident size of this process so far, in MB (Linux counts kB)."""
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024.0 * 1024.0 if sys.platform == "darwin" else 1024.0)


def timed(stage: str, act: Callable[[], Any], rows: list[tuple[str, float, float, float]]) -> Any:
    """Run one stage and note wall seconds, processor seconds and memory."""
    wall, processor = time.perf_counter(), time.process_time()
    result = act()
    rows.append((stage, time.perf_counter() - wall, time.process_time() - processor, peak_memory_mb()))
    return result


def measure(path: Path) -> list[tuple[str, float, float, float]]:
    """Time every stage of a keeper's evening in this process."""
    rows: list[tuple[str, float, float, float]] = []
    desk = timed("open the desk (imports, database)", lambda: _open(path), rows)
    entries = timed("read all entries", desk.entries, rows)
    record = timed("fold", desk.record, rows)
    timed("sizes", desk.sizes, rows)
    timed("moult forecast", desk.forecast, rows)
    timed("tonight", desk.tonight, rows)
    client = timed("web application", lambda: _client(desk), rows)
    page = timed("Tonight page, first", lambda: client.get("/"), rows)
    for _ in range(3):
        page = timed("Tonight page, warm", lambda: client.get("/"), rows)
    _tap(desk, record)
    timed("Tonight page after one tap", lambda: client.get("/"), rows)
    timed("Tonight page, warm", lambda: client.get("/"), rows)
    living = len(record.living())
    print(
        f"{len(record.animals)} animals, {living} living; {len(entries)} entries; page {len(page.content)} B"
    )
    return rows


def _open(path: Path) -> Any:
    from nightround.desk.desk import Desk

    return Desk.open(path)


def _client(desk: Any) -> Any:
    from starlette.testclient import TestClient

    from nightround.web.app import make_app

    return TestClient(make_app(desk), base_url="http://127.0.0.1")


def _tap(desk: Any, record: Any) -> None:
    from nightround.foundation.when import on_day
    from nightround.journal.entries import Draft, Ref
    from nightround.journal.kinds.animal import Offered

    animal = record.living()[0]
    desk.write([Draft(Ref("animal", animal.code), on_day(desk.today()), Offered(prey="cricket", number=1))])


def main() -> None:
    """Make the room in one process, measure in another, print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--animals", type=int, default=1000)
    parser.add_argument("--entries", type=int, default=300_000)
    parser.add_argument("--keep", type=Path, help="folder in which the room is kept between runs")
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.measure:
        print(f"{'stage':38} {'wall s':>8} {'cpu s':>8} {'peak MB':>8}")
        for stage, wall, processor, memory in measure(chosen.measure):
            print(f"{stage:38} {wall:8.3f} {processor:8.3f} {memory:8.0f}")
        return
    with tempfile.TemporaryDirectory() as folder:
        path = (chosen.keep or Path(folder)) / f"scale-{chosen.animals}-{chosen.entries}.nightround"
        if not path.exists():
            make_room(path, chosen.animals, chosen.entries)
        subprocess.run([sys.executable, __file__, "--measure", str(path)], check=True)


if __name__ == "__main__":
    main()
