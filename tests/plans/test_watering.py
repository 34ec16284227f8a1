"""Water from a home's own figures: millilitres, "not before", feel first; drinking, which no plan touches."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from nightround.foundation.estimate import Estimate
from nightround.foundation.when import on_day
from nightround.journal.kinds.surroundings import Dish
from nightround.plans.tonight import tonight
from nightround.record.model import Batch, HomeAct, Record
from nightround.reports import water as reported
from nightround.reports.forecast import ForecastReport
from nightround.reports.tonight import TonightRow
from nightround.reports.water import Calibration, Dose, HomeWater, UntilDry, WaterReport
from plans.evening import ON, actions, ago, animal, forecast, home, job, look, record


def water_of(
    advised: Any, ml: float | None = None, until: int | None = None, dry_now: float | None = None, **more: Any
) -> HomeWater:
    """A home's report with that advice; `until` counts days from tonight; hardly dry yet if "not before"."""
    chance = dry_now if dry_now is not None else 0.02 if advised == "not_before" else 0.4
    day = None if until is None else ON + timedelta(days=until)
    dose = Dose(
        advised, "Substrate not before Thursday", "Bottom dry in 9 days (4 to 15)", ml, "", day, "n 4"
    )
    facts: dict[str, Any] = {"place": "", "made_up": None, "vessel": "", "openings": "", "substrate": ""}
    dry = UntilDry("bottom", {"0.1": 1.0, "0.5": 2.0, "0.9": 4.0}, chance)
    return HomeWater("H1", occupants=("K12",), missing=(), dose=dose, bottom=dry, **facts, **more)


def row_with(water: HomeWater | None, room: Record | None = None) -> TonightRow:
    """Tonight's row of K12 in H1 with that water report."""
    room = room or record(animal(home="H1", drank=(ago(1),)), homes={"H1": home()})
    report = None if water is None else WaterReport(ON, "test room", False, (water,))
    return (
        tonight(room, ForecastReport(ON, (forecast(400),), ()), {}, room="r", water=report).shelves[0].rows[0]
    )


def test_a_calibrated_home_gets_its_millilitres_and_where() -> None:
    """18 ml from the report; the reason and how sure it is are the report's own."""
    found = job(row_with(water_of("water", 18.0, 0)), "water")
    assert 18.0 == found.water_ml
    assert "18 ml (0.61 fl oz)" in found.title
    assert "Bottom dry in 9 days (4 to 15)" == found.reason
    assert "n 4" == found.sureness
    assert found.water_where


def test_not_before_is_no_job_and_is_said() -> None:
    """Watered 40 days ago: the interval rule would ask; the home's figures know better."""
    homes = {"H1": replace(home(), watered=((ago(40), None),))}
    room = record(animal(home="H1", drank=(ago(1),)), homes=homes)
    row = row_with(water_of("not_before", until=3), room)
    assert not {"water", "feel"} & set(actions(row))
    assert row.water_note.startswith("Substrate not before Thursday: bottom dry in 9 days")


def test_not_before_with_too_much_doubt_is_felt_by_the_interval() -> None:
    """One chance in five that it is dry already, and nobody felt it for 40 days: not left to the figures."""
    homes = {"H1": replace(home(), watered=((ago(40), None),))}
    room = record(animal(home="H1", drank=(ago(1),)), homes=homes)
    found = job(row_with(water_of("not_before", until=3, dry_now=0.2), room), "feel")
    assert "Last watered 40 days ago" in found.reason
    assert "Bottom dry in 9 days (4 to 15)" == found.why[0]
    fresh = replace(room, homes={"H1": replace(home(), watered=((ago(4), None),))})
    assert "feel" not in actions(row_with(water_of("not_before", until=3, dry_now=0.2), fresh))


def test_no_more_substrates_are_felt_in_one_round_than_asked() -> None:
    """Fifteen homes: the twelve most likely dry; three are told of, and no drink is put off."""
    animals = [animal(f"A{number:02d}", home=f"H{number}") for number in range(15)]
    homes = {
        f"H{number}": replace(home(), code=f"H{number}", occupants=(f"A{number:02d}",))
        for number in range(15)
    }
    waters = tuple(
        replace(water_of("feel_first", until=0, dry_now=0.03 * (number + 5)), home=f"H{number}")
        for number in range(15)
    )
    forecasts = tuple(replace(forecast(400), animal=each.code) for each in animals)
    done = tonight(
        record(*animals, homes=homes), ForecastReport(ON, forecasts, (), ()), {}, room="r",
        water=WaterReport(ON, "r", False, waters),
    )  # fmt: skip
    rows = [row for shelf in done.shelves for row in shelf.rows]
    felt = {row.animal for row in rows if "feel" in actions(row)}
    assert {f"A{number:02d}" for number in range(3, 15)} == felt
    assert "3 more substrates to feel in the next rounds" in done.notices
    assert 15 == sum("drink" in actions(row) for row in rows)
    assert all("coming round" in row.water_note for row in rows if row.animal not in felt)


def test_a_batch_tells_of_its_homes_water() -> None:
    """Batches have no row: the notice says what their home asks for."""
    batch = Batch("B1", "Aphonopelma inventum", home="H1")
    told = WaterReport(ON, "r", False, (water_of("not_before", until=3),))
    done = tonight(
        record(animal(), homes={"H1": replace(home(), occupants=())}, batches={"B1": batch}),
        ForecastReport(ON, (forecast(400),), (), ()), {}, room="r", water=told,
    )  # fmt: skip
    assert any("home H1: substrate not before Thursday" in words for words in done.notices)


def test_an_uncalibrated_home_is_felt_first() -> None:
    """Feared dry tonight though watered 3 days ago; not feared: by the interval only."""
    homes = {"H1": replace(home(), watered=((ago(3), None),))}
    room = record(animal(home="H1", drank=(ago(1),)), homes=homes)
    assert "feel" in actions(row_with(water_of("feel_first", until=0), room))
    row = row_with(water_of("feel_first", until=9), room)
    assert not {"water", "feel"} & set(actions(row))
    assert "no day can be named" in row.water_note


def test_left_alone_gently_and_on_its_back_nothing() -> None:
    """A dose goes away from an animal that hardens; one on its back gets none."""
    back = record(animal(home="H1", looks=(look(0, on_its_back=True),)), homes={"H1": home()})
    assert "water" not in actions(row_with(water_of("water", 18.0, 0), back))
    white = record(animal(home="H1", looks=(look(0, fangs="white"),)), homes={"H1": home()})
    assert "away from the animal" in job(row_with(water_of("water", 18.0, 0), white), "water").title


def test_watered_tonight_is_watered() -> None:
    """No second dose on the evening of the first."""
    room = record(animal(home="H1"), homes={"H1": replace(home(), watered=((ON, 18.0),))})
    assert "water" not in actions(row_with(water_of("water", 18.0, 0), room))


def test_a_dish_found_dry_is_filled_whatever_the_days() -> None:
    """Drops two days ago; the dish of 20 ml found dry yesterday; filled today it is well again."""
    dry = HomeAct(5, on_day(ago(1)), Dish(state="found_dry"))
    acts = (HomeAct(4, on_day(ago(9)), Dish(state="filled", value=20.0, unit="ml")), dry)
    one = animal(home="H1", drink_given=(ago(9), ago(2)))
    found = job(row_with(None, record(one, homes={"H1": replace(home(), acts=acts)})), "drink")
    assert "Dish found dry" in found.reason
    assert "fill the dish (20 ml (0.68 fl oz))" in found.title
    filled = (*acts, HomeAct(6, on_day(ON), Dish(state="filled")))
    well = record(replace(one, drink_given=(ago(2), ON)), homes={"H1": replace(home(), acts=filled)})
    assert "drink" not in actions(row_with(None, well))


def test_a_dish_that_likely_dried_up_is_due_before_the_days() -> None:
    """Filled four days ago and likely dry since yesterday; drops given today settle it."""
    dish = reported.Dish(20.0, ago(4), None, ago(1))
    water = replace(water_of("not_before", until=3), dish=dish)
    room = record(animal(home="H1", drink_given=(ago(4),)), homes={"H1": home()})
    assert "Dish likely dry by now" in job(row_with(water, room), "drink").reason
    assert "drink" not in actions(row_with(None, room))
    settled = record(animal(home="H1", drink_given=(ago(4), ago(0))), homes={"H1": home()})
    assert "drink" not in actions(row_with(water, settled))


def test_weighing_is_asked_for_where_a_few_would_settle_it() -> None:
    """Two more bring it to ten per cent, weighed nine days ago; not an animal that is left alone."""
    estimate = Estimate(1.2, 0.9, 1.5, "", 1, 3, "")
    known = Calibration("weighed", estimate, 3, 0, 2, "known to ±25%")
    water = water_of("not_before", until=3, calibration=known, last_weighed=(ago(9), 400.0))
    asked = record(animal(home="H1", offers=(), drank=(ago(1),)), homes={"H1": home()})
    assert (
        "2 more weighings would bring its loss to ±10 %" == job(row_with(water, asked), "weigh_home").reason
    )
    hardening = record(animal(home="H1", looks=(look(0, fangs="white"),)), homes={"H1": home()})
    assert "weigh_home" not in actions(row_with(water, hardening))
    lately = replace(water, last_weighed=(ago(2), 400.0))
    assert "weigh_home" not in actions(row_with(lately, asked))


@given(
    st.sampled_from(["water", "not_before", "feel_first", "describe", None]),
    st.integers(0, 40),
    st.integers(0, 40),
    st.one_of(st.none(), st.integers(-3, 60)),
)
def test_no_water_plan_lengthens_the_days_between_drinks(
    advised: Any, drank: int, watered: int, until: int | None
) -> None:
    """The drink job is the same whatever the substrate's figures say."""
    room = record(
        animal(home="H1", drank=(ago(drank),), watered=(ago(watered),)),
        homes={"H1": replace(home(), watered=((ago(watered), 20.0),))},
    )
    plain = row_with(None, room)
    told = row_with(None if advised is None else water_of(advised, 18.0, until), room)
    assert [each for each in plain.jobs if each.action == "drink"] == [
        each for each in told.jobs if each.action == "drink"
    ]


@given(st.integers(0, 40), st.one_of(st.none(), st.integers(-40, 40)))
def test_a_dish_only_brings_a_drink_forward(drank: int, dry_in: int | None) -> None:
    """Whatever day it is likely dry by, no drink that is due by the days is missing."""
    dry_by = None if dry_in is None else ON + timedelta(days=dry_in)
    water = replace(water_of("not_before", until=9), dish=reported.Dish(20.0, ago(40), None, dry_by))
    room = record(animal(home="H1", drank=(ago(drank),)), homes={"H1": home()})
    if "drink" in actions(row_with(None, room)):
        assert "drink" in actions(row_with(water, room))
