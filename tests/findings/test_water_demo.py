"""The demo room's homes dry by hidden multipliers: what is said of their water against what is true."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from nightround import simulate
from nightround.findings.water.report import RoomWater, room_water, water_report
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.simulate.truth import TrueWater


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Record, RoomWater, TrueWater]:
    """The invented room on its last evening, its water, and what is true."""
    room = simulate.room(seed=1)
    path = Path(tmp_path_factory.mktemp("demo")) / "room.sqlite"
    with Journal.create(path, time_zone="Europe/Paris", invented=True) as journal:
        journal.append(room.drafts, intention="demo")
        record = fold(journal.entries(), room.end, journal.clock)
    return record, room_water(record), room.truth.water


def test_intervals_hold_the_hidden_multipliers(demo: tuple[Record, RoomWater, TrueWater]) -> None:
    """95 % intervals hold at least 90 % of some ninety true multipliers, and of the weighed homes' alone."""
    _, water, truth = demo
    held = {True: [], False: []}
    for code, course in water.courses.items():
        found = course.calibrated
        inside = found.quantile(0.025) <= truth.multiplier[code] <= found.quantile(0.975)
        held[found.n_weighings > 1].append(inside)
    assert len(held[True]) >= 15
    assert np.mean(held[True]) >= 0.85
    assert np.mean(held[True] + held[False]) >= 0.90


def test_weighings_narrow_what_fingers_leave_open(demo: tuple[Record, RoomWater, TrueWater]) -> None:
    """Median sd of log m: weighed homes under a third of those never weighed or felt."""
    _, water, _ = demo
    spread = {True: [], False: []}
    for course in water.courses.values():
        found = course.calibrated
        if found.n_weighings > 2 or not (found.n_weighings or found.n_felt):
            spread[found.n_weighings > 2].append(found.sd_log)
    assert np.median(spread[True]) < np.median(spread[False]) / 3.0


def test_present_moisture_is_where_it_is_said_to_be(demo: tuple[Record, RoomWater, TrueWater]) -> None:
    """The 80 % range of the bottom's wetness now holds the truth of most homes that were measured."""
    _, water, truth = demo
    inside = []
    for code, course in water.courses.items():
        if course.calibrated.n_weighings > 1 or course.calibrated.n_felt:
            low, high = np.quantile(course.wetness[1, 0], [0.1, 0.9])
            inside.append(low - 0.02 <= truth.wetness[code][1] <= high + 0.02)
    assert len(inside) > 40
    assert np.mean(inside) >= 0.7


def test_homes_without_openings_on_record_say_what_is_missing(
    demo: tuple[Record, RoomWater, TrueWater],
) -> None:
    """One in seventeen homes has none: no figure, and the words for what to write down."""
    record, water, _ = demo
    rows = water_report(record, water, room="r").homes
    lacking = [row for row in rows if row.missing]
    assert lacking
    assert all("which openings it has" in row.missing for row in lacking)
    assert all(row.dose.advised == "describe" and row.loss_now is None for row in lacking)
