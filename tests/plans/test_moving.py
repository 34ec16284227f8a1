"""Planned moves in the round: in their fortnight, never while it harms, in place of a home to prepare."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from nightround.plans.moving import for_the_round, planned_moves
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation
from nightround.plans.sizes import size_of
from nightround.plans.tonight import tonight
from nightround.record.model import Record
from nightround.reports.forecast import ForecastReport
from nightround.reports.larder import Errand
from nightround.reports.tonight import Job
from plans.evening import ON, ago, animal, moult, record


def move(days_until_end: int, code: str = "K12") -> Errand:
    """A planned move whose fortnight ends in so many days."""
    by = ON + timedelta(days=days_until_end)
    return Errand("rehouse", f"Move {code} into a tank", by, "it outgrows its vial", ago(3), code)


def jobs_with(room: Record, *errands: Errand) -> list[Job]:
    """The rehousing jobs of the first animal of the round."""
    report = tonight(room, ForecastReport(ON, (), ()), {}, room="test room", errands=errands)
    return [job for job in report.shelves[0].rows[0].jobs if job.action == "rehouse"]


@pytest.mark.parametrize(("days", "asked"), [(13, True), (0, True), (14, False), (40, False)])
def test_a_move_is_asked_for_in_its_fortnight(days: int, asked: bool) -> None:
    """From the first day of the fortnight on, not before; it says until when and by which plan."""
    found = jobs_with(record(animal()), move(days))
    assert asked == bool(found)
    if asked:
        assert "Move K12 into a tank" == found[0].title
        assert ON + timedelta(days=days) == found[0].until
        assert ago(3).isoformat() in found[0].why[0]


def test_no_move_while_hardening_or_with_a_sac() -> None:
    """Two days after a moult, or with a sac, the plan waits, whatever its fortnight."""
    assert [] == jobs_with(record(animal(moults=(moult(2),))), move(5))
    assert [] == jobs_with(record(animal(with_sac=True)), move(5))


def test_no_move_in_the_first_two_weeks() -> None:
    """An animal that arrived five days ago is not moved."""
    from nightround.foundation.when import on_day

    assert [] == jobs_with(record(animal(arrived=on_day(ago(5)))), move(5))


def test_a_planned_move_takes_the_place_of_a_home_to_prepare() -> None:
    """An animal whose move is planned for later is not asked for one tonight; others keep theirs."""
    s = situation()
    prepare = Job(action="rehouse", title="Prepare a home", reason="small", rank=70.0, sureness="")
    row = replace(row_of(), jobs=(prepare,))
    assert () == planned_moves([row], [s], [move(40)])[0].jobs
    assert (prepare,) == planned_moves([row], [s], [move(40, "K99")])[0].jobs


def situation() -> Situation:
    """The usual animal tonight."""
    room = record(animal())
    one = room.animals["K12"]
    return Situation(room, RuleBook(room), one, None, size_of(one, None), False, None)


def row_of() -> object:
    """Its row."""
    report = tonight(record(animal()), ForecastReport(ON, (), ()), {}, room="test room")
    return report.shelves[0].rows[0]


def test_moves_are_no_errands_of_the_room() -> None:
    """They stand with their animals only."""
    report = tonight(
        record(animal()), ForecastReport(ON, (), ()), {}, room="test room", errands=(move(5),)
    )  # fmt: skip
    assert () == report.errands


def test_homes_take_a_few_lines_of_the_round() -> None:
    """Of nine preparations three are named and the rest counted, by the soonest of them."""
    asked = [Errand("prepare", f"Prepare {n}", ON + timedelta(days=n), "", ON) for n in range(9)]
    told = for_the_round([*asked, move(5)])
    assert ["Prepare 0", "Prepare 1", "Prepare 2", "6 more things for homes"] == [each.title for each in told]
    assert ON + timedelta(days=3) == told[-1].by
    assert tuple(asked[:4]) == for_the_round(asked[:4])
