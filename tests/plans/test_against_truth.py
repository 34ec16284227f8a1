"""The round against the simulator's truth: who was really about to moult when prey was advised."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from nightround.findings.moult import forecast
from nightround.findings.size import sizes
from nightround.journal.store import Journal
from nightround.plans.tonight import tonight
from nightround.record.fold import fold
from nightround.simulate.rooms import room as simulated_room

END = date(2026, 11, 23)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::RuntimeWarning")  # the fit's own numbers are tested beside it
def test_live_prey_is_hardly_ever_advised_within_a_week_of_a_true_moult(tmp_path: Path) -> None:
    """Simulated room 5; over ten evenings 0 of 83 live offers and 38 of 878 animals were so near."""
    simulated = simulated_room(seed=5, end=END)
    room = Journal.create(tmp_path / "room.sqlite", time_zone="Europe/Berlin", invented=True)
    room.append(simulated.drafts)
    entries, clock = room.entries(), room.clock
    room.close()
    live = near_live = soft_live = everybody = near = 0
    for back in (30, 152, 396, 518):
        on = END + timedelta(days=1 - back)
        record = fold(entries, on, clock)
        found = sizes(record)
        report = tonight(record, forecast(record, sizes=found), found, room="demo", invented=True)
        for row in (row for shelf in report.shelves for row in shelf.rows):
            moults = simulated.truth.animals[row.animal].moults
            ahead = any(0 < (day - on).days <= 7 for day in moults)
            soft = any(0 <= (on - day).days <= 3 for day in moults)
            everybody, near = everybody + 1, near + ahead
            if any(job.offer is not None and not job.offer.prekilled for job in row.jobs):
                live, near_live, soft_live = live + 1, near_live + ahead, soft_live + soft
    assert live >= 20, f"only {live} live offers of {everybody} animals: the round must also feed them"
    assert near_live / live <= 0.5 * near / everybody, f"{near_live} of {live}; all: {near} of {everybody}"
    assert 0 == soft_live, f"{soft_live} of {live} live offers within 3 days after a true moult"
