"""The homes' water at the desk: worked out once, kept on disk, and standing while only quiet entries come."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from nightround.desk import kept
from nightround.desk.desk import Desk
from nightround.findings.water import report as findings
from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Moved, Offered
from nightround.journal.kinds.surroundings import MadeUp, Opening, Watered
from nightround.journal.store import Journal

ON = date(2026, 3, 1)
H1, BARE = Ref("home", "H1"), Ref("home", "H2")
MADE = MadeUp(
    shape="box", inner_length_mm=200.0, inner_width_mm=150.0, inner_height_mm=120.0,
    substrate="coir 70, sand 30", depth_low_mm=50.0, depth_high_mm=50.0,
)  # fmt: skip
HOLES = Opening(shape="hole", number=6, width_mm=3.0, thickness_mm=2.0, at="lid", label="lid holes")


def ago(days: int) -> object:
    """A day before the evening, as entries have it."""
    return on_day(ON - timedelta(days=days))


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two animals, one in a home that is described; answers are always worth keeping."""
    monkeypatch.setattr(kept, "WORTH_KEEPING_SECONDS", 0.0)
    monkeypatch.setattr(kept, "_folder", lambda drawer: tmp_path / drawer)
    drafts = [Draft(H1, ago(40), MADE), Draft(H1, ago(40), HOLES)]
    for code, home in (("K1", "H1"), ("K2", "H2")):
        one = Ref("animal", code)
        drafts += [Draft(one, ago(40), Arrived(taxon="Grammostola pulchra"))]
        drafts += [Draft(one, ago(40), Moved(home=home))]
    with Journal.create(tmp_path / "room", time_zone="UTC") as journal:
        journal.append(drafts)
    return tmp_path / "room"


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One item for each time the homes are followed anew."""
    times: list[int] = []
    follow = findings.room_water

    def counted(*asked: object, **how: object) -> object:
        times.append(1)
        return follow(*asked, **how)

    monkeypatch.setattr(findings, "room_water", counted)
    return times


def test_quiet_entries_leave_the_water_standing(path: Path, worked_out: list[int]) -> None:
    """An offer works nothing out again, here or in another run; a watering does."""
    with Desk.open(path) as desk:
        before = desk.water(ON)
        desk.write([Draft(Ref("animal", "K1"), ago(0), Offered(prey="cricket"))])
        assert before == desk.water(ON)
    with Desk.open(path) as again:
        assert before == again.water(ON)
        assert 1 == len(worked_out)
        again.write([Draft(H1, ago(0), Watered(value=40.0, unit="ml"))])
        assert ON == again.water(ON).homes[0].last_watered
    assert 2 == len(worked_out)


def test_a_correction_is_never_quiet(path: Path, worked_out: list[int]) -> None:
    """Undoing the watering brings the earlier answer back, worked out from the entries that stand."""
    with Desk.open(path) as desk:
        before = desk.water(ON)
        desk.write([Draft(H1, ago(0), Watered(value=40.0, unit="ml"))], intention="pour")
        assert before != desk.water(ON)
        desk.undo("pour")
        assert before.homes[0].last_watered == desk.water(ON).homes[0].last_watered


def test_a_home_in_any_spelling_and_none_like_it(path: Path) -> None:
    """h1 is H1; H9 names what is like it; a home without figures cannot be changed on paper."""
    with Desk.open(path) as desk:
        assert "H1" == desk.home("h1", ON).home
        with pytest.raises(NoSuchThing):
            desk.home("H9", ON)
        with pytest.raises(Refusal, match="a home whose size, openings and substrate"):
            desk.what_if_home("H2", ["cover 80 %"], ON)


def test_away_is_bounded(path: Path) -> None:
    """1 to 60 days; each home with its chance."""
    with Desk.open(path) as desk:
        with pytest.raises(Refusal, match="1 to 60 days"):
            desk.away(61, ON)
        assert {"H1", "H2"} == {home.home for home in desk.away(14, ON).homes}
