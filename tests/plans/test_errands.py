"""Errands: what a plan asks for, until it is done; one job of the room, soonest first."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from nightround.foundation.when import on_day
from nightround.plans.errands import due, lots_to_count, no_plan, still_to_do
from nightround.record.larder import Lot, LotAct
from nightround.record.model import Record
from nightround.reports.larder import Errand
from plans.evening import ON, ago, animal, record, round_of

ORDER = Errand(
    "order", "Order 2 × crickets, small", ON + timedelta(days=1), "they run out", ago(2), "cricket"
)
CULTURE = Errand(
    "culture", "Start a fly culture", ON + timedelta(days=5), "flies in time", ago(2), "fruit fly"
)


def lot(begun: int, how: Any, feeder: str, *counted: int) -> Lot:
    """A lot that came so many days ago and was counted so many days ago."""
    acts = [LotAct(1, on_day(ago(begun)), how, 100)]
    acts += [LotAct(2, on_day(ago(day)), "counted", 50) for day in counted]
    return Lot("L", feeder, on_day(ago(begun)), how=how, acts=tuple(acts))


@pytest.mark.parametrize(
    ("there", "left"),
    [
        (lot(1, "bought", "crickets"), [CULTURE]),
        (lot(3, "bought", "cricket"), [ORDER, CULTURE]),  # before the plan was made: it knew of it
        (lot(0, "started", "flightless fruit fly"), [ORDER]),
        (lot(0, "hatched", "fruit fly"), [ORDER]),
        (lot(0, "bought", "lateralis roach"), [ORDER, CULTURE]),
    ],
)
def test_what_was_bought_or_started_since_is_done(there: Lot, left: list[Errand]) -> None:
    """A lot of that feeder that came after the plan was made does its errand."""
    assert left == list(still_to_do(record(lots={"L": there}), [ORDER, CULTURE]))


def test_what_the_plan_knew_already_does_not_do_its_errand() -> None:
    """A lot bought on the plan's own day: done if written after the plan, else the plan knew it."""
    there = record(lots={"L": lot(2, "bought", "cricket")})  # entry 1
    assert [[], [1]] == [[1 for _ in still_to_do(there, [replace(ORDER, after=newest)])] for newest in (0, 1)]


def test_only_what_is_due_within_a_week_soonest_first() -> None:
    """An order of next month is not asked for tonight."""
    later = replace(ORDER, by=ON + timedelta(days=30))
    assert (ORDER, CULTURE) == due([CULTURE, later, ORDER], ON)


@pytest.mark.parametrize(
    ("there", "asked"),
    [
        (lot(30, "bought", "cricket"), True),
        (lot(30, "bought", "cricket", 5), False),
        (lot(3, "bought", "cricket"), False),
        (lot(30, "started", "fruit fly"), False),
        (replace(lot(30, "bought", "cricket"), finished=True), False),
        (Lot("L", "cricket", on_day(ago(3))), True),  # never counted
    ],
)
def test_lots_that_nobody_counted_for_two_weeks(there: Lot, asked: bool) -> None:
    """A finished lot, a culture and a fresh count ask for none."""
    assert asked == bool(lots_to_count(record(lots={"L": there})))


def test_a_sunday_without_a_plan_asks_for_one_only_where_feeders_are_written_down() -> None:
    """Tuesday, or a room without a larder: nothing."""
    kept = record(lots={"L": lot(3, "bought", "cricket")})
    sunday = ON + timedelta(days=(6 - ON.weekday()) % 7)
    asked = [no_plan(each) for each in (kept, replace(kept, on=sunday), Record(sunday, kept.clock))]
    assert [0, 1, 0] == [len(each) for each in asked]


def test_tonight_shows_errands_of_the_room_not_of_animals() -> None:
    """They stand beside the shelves, and no animal's row changes."""
    from nightround.plans.tonight import tonight
    from nightround.reports.forecast import ForecastReport

    room = record(animal())
    plain = round_of(room)
    report = tonight(room, ForecastReport(ON, (), ()), {}, room="test room", errands=(CULTURE, ORDER))
    assert (ORDER, CULTURE) == report.errands
    assert () == plain.errands
    assert [row.animal for shelf in report.shelves for row in shelf.rows] == ["K12"]
