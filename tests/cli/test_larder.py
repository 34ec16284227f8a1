"""The commands larder and sunday: what they print, as JSON too, and what they refuse."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from nightround.cli.main import nightround
from nightround.desk.desk import Desk
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.animal import Arrived, Measured
from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import LotBegun
from nightround.journal.store import Journal

ON = date(2026, 11, 24)
AGO = on_day(ON - timedelta(days=60))


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A room of eight juveniles, a few crickets and a shop; plans are searched for a second."""
    from nightround.plans import larder

    whole = larder.plan
    monkeypatch.setattr(larder, "plan", lambda *args, **more: whole(*args, **{**more, "seconds": 1.0}))
    crickets = Supply(item="feeder", name="crickets", feeder="cricket", size_low_mm=5.0, size_high_mm=7.0,
                      pack=100, price="3.60", currency="EUR", lead_days=1,
                      delivery=("Tue", "Fri"))  # fmt: skip
    with Desk(Journal.create(own_room, time_zone="UTC", name="Room of the test")) as desk:
        for number in range(8):
            ref = Ref("animal", f"K{number}")
            span = Measured(item="leg_span", value=60.0, unit="mm", written="60", written_unit="mm")
            desk.write([Draft(ref, AGO, Arrived(taxon="Linothele fallax")), Draft(ref, on_day(ON), span)])
        desk.write(
            [Draft(Ref("lot", "cricket 1"), on_day(ON), LotBegun(feeder="cricket", number=5, size_mm=6.0))]
        )
        desk.write([Draft(ROOM, AGO, crickets)])
    yield own_room


def run(*words: str) -> Result:
    """Run the command line in this process."""
    return CliRunner().invoke(nightround, [*words, "--on", ON.isoformat()], catch_exceptions=False)


def test_the_plan_as_tables(room: Path) -> None:
    """Orders with days and costs, need by week, what is in the house, what it rests on."""
    done = run("larder", "--weeks", "8")
    assert 0 == done.exit_code
    for words in ("Orders", "crickets", "Together", "EUR", "Prey needed a week", "cricket 1", "about 5",
                  "Assumed", "allergens"):  # fmt: skip
        assert words in done.output, words
    assert all(len(line) <= 80 for line in done.output.splitlines())


def test_the_plan_as_json(room: Path) -> None:
    """Everything there is, and nothing but JSON on the standard output."""
    report = json.loads(run("larder", "--weeks", "8", "--json").stdout)
    assert (8, 8) == (len(report["weeks"]), report["animals"])
    assert {"crickets"} == {order["name"] for order in report["orders"]}
    assert report["costs"][0][1] == "EUR"
    assert 0 <= report["gap"] < 1


def test_a_sunday(room: Path) -> None:
    """Its sections, also the empty ones."""
    done = run("sunday")
    for words in ("Order and start", "Order 1 × crickets", "Count", "Weigh and measure"):
        assert words in done.output, words
    assert "sections" in json.loads(run("sunday", "--json").stdout)


def test_a_room_without_anything(own_room: Path) -> None:
    """An empty room: no animal, nothing to order, and no fault."""
    Journal.create(own_room, time_zone="UTC").close()
    done = run("larder")
    assert 0 == done.exit_code
    assert "No animal asks for anything" in done.output
    assert 0 == run("sunday").exit_code


@pytest.mark.parametrize("weeks", ["0", "3", "53", "many"])
def test_weeks_out_of_range_are_bad_usage(weeks: str) -> None:
    """Exit code 2."""
    assert 2 == run("larder", "--weeks", weeks).exit_code
