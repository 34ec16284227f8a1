"""`nightround water`: all homes, one home, days away, changes before they are made, and recipes."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.foundation import clock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Moved
from nightround.journal.kinds.surroundings import MadeUp, Opening, Watered, Weighed
from nightround.journal.store import Journal

END = date(2026, 3, 1)
MADE = MadeUp(
    shape="box", inner_length_mm=200.0, inner_width_mm=150.0, inner_height_mm=120.0,
    substrate="coir 70, sand 30", depth_low_mm=50.0, depth_high_mm=50.0,
)  # fmt: skip
HOLES = Opening(shape="hole", number=6, width_mm=3.0, thickness_mm=2.0, at="lid", label="lid holes")


def weighed(days: int, grams: float) -> Draft:
    """Home H1 on the scale so many days ago."""
    body = Weighed(value=grams, unit="g", written=f"{grams:.0f}", written_unit="g")
    return Draft(Ref("home", "H1"), ago(days), body)


def ago(days: int) -> object:
    """A day before the evening, as entries have it."""
    return on_day(END - timedelta(days=days))


@pytest.fixture
def room(own_room: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """K1 in H1, watered and weighed three times; K2 in H2, never weighed; K3 in a home nobody described."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 1, 20, 30, tzinfo=UTC))
    drafts = []
    for code, home in (("K1", "H1"), ("K2", "H2"), ("K3", "H3")):
        one = Ref("animal", code)
        drafts += [Draft(one, ago(60), Arrived(taxon="Grammostola pulchra"))]
        drafts += [Draft(one, ago(60), Moved(home=home, place="shelf A"))]
    for home in ("H1", "H2"):
        drafts += [Draft(Ref("home", home), ago(40), MADE), Draft(Ref("home", home), ago(40), HOLES)]
    drafts += [Draft(Ref("home", "H1"), ago(31), Watered(value=60.0, unit="ml", where="side"))]
    drafts += [weighed(30, 1412.0), weighed(20, 1405.0), weighed(10, 1398.0)]
    with Journal.create(own_room, time_zone="UTC") as journal:
        journal.append(drafts)
    return own_room


def test_all_homes(room: Path) -> None:
    """What each rests on, feel first where nobody weighed, missing things; the assumed last."""
    told = " ".join(run("water").stdout.split())
    for words in (
        "shelf A",
        "H1",
        "3 weighed",
        "physics alone",
        "not",
        "described",
        "Feel the substrate",
        "dry already: ",
    ):
        assert words in told, words
    assert told.index("Assumed, in all these figures") > told.index("H3")
    assert "draught over the lid" in told


def test_json_holds_the_whole_report(room: Path) -> None:
    """Every home with dose, calibration, course, months and what is assumed; unknown is null."""
    homes = {home["home"]: home for home in json.loads(run("water", "--json").stdout)["homes"]}
    assert {"H1", "H2", "H3"} == homes.keys()
    assert 3 == homes["H1"]["calibration"]["n_weighings"]
    assert "feel_first" == homes["H2"]["dose"]["advised"]
    assert homes["H2"]["dose"]["ml"] is None
    assert homes["H3"]["missing"] and homes["H3"]["loss_now"] is None
    assert homes["H1"]["course"] and 12 == len(homes["H1"]["loss_months"]) and homes["H1"]["assumed"]


def test_nobody_is_told_to_wait_where_it_may_be_dry_already(room: Path) -> None:
    """H1 was weighed but never felt: one chance in ten or more that it is dry now, so it is felt first."""
    (one,) = [home for home in json.loads(run("water", "--json").stdout)["homes"] if home["home"] == "H1"]
    assert one["bottom"]["dry_now"] >= 0.1
    assert "feel_first" == one["dose"]["advised"]
    assert "Feel the substrate; if dry below, water 60 ml" in " ".join(run("tonight").stdout.split())


def test_one_home_in_detail(room: Path) -> None:
    """How it is made up, its loss with its basis, the course, months, changes and the assumed."""
    told = " ".join(run("water", "h1").stdout.split())
    for words in (
        "Home H1, shelf A",
        "in it: K1",
        "last watered 2026-01-29",
        "ml a day now",
        "Wetness to come",
        "Kept moist, ml a day",
        "If it were changed",
        "Assumed",
    ):
        assert words in told, words
    assert "Not on record" in run("water", "H3").stdout


def test_changes_before_they_are_made(room: Path) -> None:
    """Covering slows it, six more holes quicken it; what cannot be read is refused by name."""
    asked = run("water", "H1", "--if", "cover 80 %", "--if", "add 6 holes 3 mm", "--json")
    covered, more = json.loads(asked.stdout)
    assert covered["share"] < 1.0 < more["share"]
    assert "of now" in run("water", "H1", "--if", "cover 80%").stdout
    refused = run("water", "H1", "--if", "paint it blue")
    assert 1 == refused.exit_code
    assert "paint it blue" in refused.stderr and "Traceback" not in refused.stderr


def test_days_away(room: Path) -> None:
    """The homes by how likely they dry first; a home that is not described is not said to be safe."""
    told = " ".join(run("water", "--away", "14").stdout.split())
    assert "14 days away from 2026-03-01" in told
    rows = {home["home"]: home for home in json.loads(run("water", "--away", "14", "--json").stdout)["homes"]}
    assert rows["H3"]["bottom"] is None
    assert 0.0 <= rows["H1"]["bottom"] <= 1.0
    assert 1 == run("water", "--away", "0").exit_code


def test_a_recipe_needs_no_room(own_room: Path) -> None:
    """Litres of each part add up to the fill; water to add and mass to expect; the sources named."""
    asked = ("water", "--recipe", "coir 70, sand 30", "--vessel", "tank 10 gal", "--depth", "8-12cm")
    made = json.loads(run(*asked, "--json").stdout)
    litres = dict(made["litres"])
    assert {"coir", "sand"} == litres.keys()
    assert 0.7 == pytest.approx(litres["coir"] / sum(litres.values()))
    assert made["full_g"] == pytest.approx(
        made["dry_g"] + made["water_there_ml"] + made["water_to_add_ml"], rel=1e-3
    )
    told = run(*asked).stdout
    assert "Water to add" in told and "Sources" in told and "(" in told
    assert not own_room.exists()


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (("--if", "cover 80 %"), 2, "--if needs the home"),
        (("--recipe", "coir 100"), 2, "--vessel and --depth"),
        (("H9",), 1, "H9"),
    ],
)
def test_what_cannot_be_asked(room: Path, arguments: tuple[str, ...], code: int, word: str) -> None:
    """Exit code 2 for bad usage, 1 for a home that is not on record; never a traceback."""
    refused = run("water", *arguments)
    assert code == refused.exit_code
    assert word in refused.stderr and "Traceback" not in refused.stderr


def test_help_loads_nothing_heavy() -> None:
    """`nightround --help` and the command's own help leave numpy and the findings alone."""
    code = (
        "import sys; from click.testing import CliRunner; from nightround.cli.main import nightround;"
        "CliRunner().invoke(nightround, ['water', '--help']);"
        "print([name for name in ('numpy', 'scipy', 'nightround.findings.water') if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "[]" == told.stdout.strip()
