"""Plain lines about feeders: what each way of saying it writes, and what is refused instead of guessed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest

from nightround.desk.desk import Desk
from nightround.desk.jot import understand
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.surroundings import LotBegun, LotChanged
from nightround.journal.store import Journal
from nightround.record.model import Record

ON = date(2026, 11, 24)
BEGUN = on_day(date(2026, 11, 1))


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """An invented larder: one lot of roaches, two of crickets, one finished."""
    with Desk(Journal.create(tmp_path_factory.mktemp("larder") / "room", time_zone="UTC")) as desk:
        desk.write(
            [
                Draft(Ref("lot", "roaches"), BEGUN, LotBegun(feeder="lateralis roach", number=200)),
                Draft(Ref("lot", "cricket 1"), BEGUN, LotBegun(feeder="cricket", size_mm=6.0)),
                Draft(Ref("lot", "cricket 2"), BEGUN, LotBegun(feeder="cricket", size_mm=13.0)),
                Draft(Ref("lot", "old flies"), BEGUN, LotBegun(feeder="fruit fly")),
                Draft(Ref("lot", "old flies"), BEGUN, LotChanged(what="finished")),
            ]
        )
        yield desk.record(ON)


CASES: list[tuple[str, str, date, Body]] = [
    ("bought 200 crickets 6 mm", "cricket 3", ON, LotBegun(feeder="cricket", number=200, size_mm=6.0)),
    ("bought 50 small locusts for 4.50 EUR from corner shop", "locust 1", ON,
     LotBegun(feeder="locust", number=50, price="4.50 EUR", from_whom="corner shop", note="small")),
    ("yesterday bought 10 mealworms from fair, note alive and well", "mealworm 1", date(2026, 11, 23),
     LotBegun(feeder="mealworm", number=10, from_whom="fair", note="alive and well")),
    ("flies started", "fly culture 1", ON, LotBegun(how="started", feeder="fruit fly")),
    ("counted roaches 150", "roaches", ON, LotChanged(number=150)),
    ("counted 150 roaches", "roaches", ON, LotChanged(number=150)),
    ("counted cricket 1 80 8 mm", "cricket 1", ON, LotChanged(number=80, size_mm=8.0)),
    ('died off "cricket 2" 30', "cricket 2", ON, LotChanged(what="died_off", number=30)),
    ("culled lateralis roaches 20", "roaches", ON, LotChanged(what="culled", number=20)),
    ("finished cricket 2", "cricket 2", ON, LotChanged(what="finished")),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "day", "body"), CASES)
def test_what_one_line_writes(record: Record, text: str, code: str, day: date, body: Body) -> None:
    """One draft about one lot; a purchase gets a code of its own."""
    reading = understand(record, text, ON)
    assert () == reading.problems
    (draft,) = reading.drafts
    assert (Ref("lot", code), on_day(day), body) == (draft.about, draft.when, draft.body)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("counted crickets 80", "one lot of feeders"),
        ("counted roaches", "how many"),
        ("counted flies 10", "not finished"),
        ("finished roaches 20", "no number"),
        ("bought", "which feeders"),
        ("bought 200 teapots", "prey"),
        ("bought 200 crickets 6 mm blue", "nothing more"),
    ],
)
def test_what_is_refused_instead_of_guessed(record: Record, text: str, said: str) -> None:
    """Two lots of one feeder, no number, a finished lot, words nobody knows."""
    reading = understand(record, text, ON)
    assert [] == reading.drafts
    assert said in reading.problems[0].message


def test_two_purchases_of_one_line_are_two_lots(record: Record) -> None:
    """Codes of the line's own lots are not given twice."""
    reading = understand(record, "bought 10 locusts; bought 20 locusts; flies started; flies started", ON)
    assert ["locust 1", "locust 2", "fly culture 1", "fly culture 2"] == [
        draft.about.code for draft in reading.drafts
    ]
