"""The size staircase against the truth of the invented demo room, whose keeper misses much."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np

from nightround.findings.size import sizes
from nightround.foundation.estimate import Estimate
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.simulate import room
from nightround.simulate.truth import TrueAnimal


def seen_through(true: TrueAnimal, on: date, last_known: date | None) -> bool:
    """Whether no moult went unseen since the last one on record."""
    return all(day > on or (last_known is not None and day <= last_known) for day in true.moults)


def test_windows_hold_on_the_invented_room(tmp_path: Path) -> None:
    """80 % windows of carapace now and next hold 70-92 % of the true sizes; males and females pass by unseen.

    Two rooms of 100 animals over two years, three days each, animals without an unseen moult since the last.
    """
    now: list[bool] = []
    after: list[bool] = []
    for seed in (1, 2):
        invented = room(seed, animals=100, years=2.0, end=date(2026, 11, 20))
        journal = Journal.create(tmp_path / f"room-{seed}.sqlite", time_zone="Europe/Paris")
        journal.append(invented.drafts)
        entries = journal.entries()
        for back in (400, 200, 0):
            on = invented.end - timedelta(days=back)
            record = fold(entries, on, journal.clock)
            for code, report in sizes(record).items():
                animal, true = record.animals[code], invented.truth.animals.get(code)
                if true is None or not animal.here or report.carapace_now is None:
                    continue
                last = animal.last_moult.when.last if animal.last_moult is not None else None
                if last is None or not seen_through(true, on, last):
                    continue
                instar = sum(day <= on for day in true.moults)
                now.append(_holds(report.carapace_now, true.carapace_mm[instar]))
                if report.carapace_next is not None and instar + 1 < len(true.carapace_mm):
                    after.append(_holds(report.carapace_next, true.carapace_mm[instar + 1]))
        journal.close()
    assert len(now) > 150
    assert len(after) > 120
    assert 0.70 <= float(np.mean(now)) <= 0.92
    assert 0.70 <= float(np.mean(after)) <= 0.92


def _holds(estimate: Estimate, truth: float) -> bool:
    return estimate.low <= truth <= estimate.high
