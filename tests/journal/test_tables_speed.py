"""A hundred thousand rows are read while the keeper waits."""

from __future__ import annotations

import random
import time
from datetime import date, timedelta
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.journal.tables import read_tables

ROWS = 100_000
SECONDS = 3.0


def row(dice: random.Random) -> str:
    """One invented row: an offer, a mass, a sighting or a moult found late."""
    day = date(2020, 1, 1) + timedelta(days=dice.randrange(2000))
    animal = f"K{dice.randrange(1000)}"
    return dice.choice([
        f"{day},{animal},offered,cricket,{dice.randrange(4)},,taken,,prey_mm=6",
        f"{day}T21:{dice.randrange(60):02},{animal},measured,mass,{dice.random() * 20:.2f},g,,by scale,",
        f"{day},{animal},seen,,,,,ok,",
        f"{day}/{day + timedelta(days=3)},{animal},moulted,,,,,,last_checked={day}",
    ])  # fmt: skip


@pytest.mark.long
def test_a_hundred_thousand_rows_in_three_seconds(tmp_path: Path) -> None:
    """1,000 animals and 100,000 entries become drafts in under 3 s of processor time."""
    dice = random.Random(20260301)
    animals = "".join(f"K{number},Idiops sp.\n" for number in range(1000))
    (tmp_path / "animals.csv").write_text("animal,taxon\n" + animals)
    header = "when,animal,entry,item,value,unit,outcome,note,detail\n"
    (tmp_path / "entries.csv").write_text(header + "\n".join(row(dice) for _ in range(ROWS)))
    begun = time.process_time()
    read = read_tables(tmp_path, RoomClock("Europe/Lisbon"))
    spent = time.process_time() - begun
    assert (1000 + ROWS, ()) == (len(read.drafts), read.refusals)
    assert spent < SECONDS
