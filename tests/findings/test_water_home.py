"""A home's water from the record, against homes that dry at a known multiplier, and in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from findings.watered_home import (
    EMPTY_G,
    FIRST,
    MADE_UP,
    OPENING,
    day,
    dried,
    journal,
    water_of,
    weighed,
)
from nightround.findings.water.changes import away, changes
from nightround.findings.water.evidence import describe
from nightround.findings.water.report import home_water, room_water, water_report
from nightround.plans import watering
from record.notebook import CLOCK, told

WEIGHINGS = range(0, 43, 7)


def test_intervals_hold_the_true_multiplier_and_the_days_to_come() -> None:
    """80 % intervals of m, and of the bottom's wetness four weeks on, hold the truth in 18 of 24 homes.

    The truth is the hourly balance at a known m; a scale of 0.7 g sd reads it seven times in six weeks.
    """
    random = np.random.default_rng(7)
    held, foreseen, count = 0, 0, 24
    for _ in range(count):
        multiplier = float(np.exp(random.normal(0.0, 0.4)))
        truth = dried(multiplier, 71, float(random.uniform(0.6, 0.9)))
        lines = [weighed(n, truth.grams(n) + random.normal(0.0, 0.7)) for n in WEIGHINGS]
        report, _, _ = water_of(journal(lines, 42), 42)
        assert report.calibration is not None
        estimate = report.calibration.multiplier
        held += estimate.low <= multiplier <= estimate.high
        low, _, high = report.course[28].bottom
        foreseen += low - 0.005 <= truth.wetness(70)[1] <= high + 0.005
    assert held >= 18
    assert foreseen >= 18


def test_a_weighed_home_says_how_it_knows() -> None:
    """Seven weighings calibrate: evidence is counted, the interval is narrow and holds the truth."""
    truth = dried(1.5, 43)
    report, _, _ = water_of(journal([weighed(n, truth.grams(n)) for n in WEIGHINGS], 42), 42)
    assert report.calibration is not None and report.loss_now is not None
    assert ("weighed", 7, 0) == (
        report.calibration.how, report.calibration.n_weighings, report.calibration.n_felt,
    )  # fmt: skip
    assert 1.35 < report.calibration.multiplier.low < 1.5 < report.calibration.multiplier.high < 1.65
    true_loss = truth.grams(41) - truth.grams(42)
    assert report.loss_now.low * 0.95 <= true_loss <= report.loss_now.high * 1.05
    assert 12 == len(report.loss_months)
    assert (
        "box 20 × 15 × 12 cm (7.87 × 5.91 × 4.72 in)" == report.vessel
        and "60 holes of 4 mm in the lid" == report.openings
    )


def test_an_uncalibrated_home_says_feel_first_with_a_wide_interval() -> None:
    """Never weighed, never felt: no millilitres, and the physics' multiplier from a half to twice."""
    report, _, _ = water_of(journal([], 42), 42)
    assert ("feel_first", None) == (report.dose.advised, report.dose.ml)
    assert report.calibration is not None and "not" == report.calibration.how
    assert report.calibration.multiplier.low < 0.55 and report.calibration.multiplier.high > 1.8
    assert "not weighed yet" in report.calibration.words
    assert any("draught" in each for each in report.assumed)
    assert any("coir" in each for each in report.assumed)


def test_a_home_only_felt_is_known_by_its_fingers() -> None:
    """Felt dry below yesterday: water tonight, down a side, a twentieth of the substrate at most."""
    felt = (41, "home H1  moisture_felt  surface=dry; bottom=dry")
    report, _, _ = water_of(journal([felt], 42), 42)
    assert report.calibration is not None and "felt" == report.calibration.how
    assert "water" == report.dose.advised
    assert report.dose.ml is not None and 10.0 <= report.dose.ml <= 0.05 * 1500.0
    assert "feel it before the rest" in report.dose.reason
    assert "side" in report.dose.where
    assert report.bottom is not None and report.bottom.dry_now > 0.6


def test_felt_wet_is_not_watered() -> None:
    """Felt wet below yesterday: not before a day to come, or not within what is looked ahead."""
    felt = (41, "home H1  moisture_felt  surface=damp; bottom=wet")
    report, _, _ = water_of(journal([felt], 42), 42)
    assert "not_before" == report.dose.advised
    assert report.dose.until is None or report.dose.until.isoformat() > day(42)


def test_what_was_written_of_the_animal_is_done_to_its_home() -> None:
    """'K1 felt dry below' is known of H1."""
    felt = (41, "animal K1  moisture_felt  surface=dry; bottom=dry")
    report, _, _ = water_of(journal([felt], 42), 42)
    assert report.calibration is not None and 1 == report.calibration.n_felt


def test_a_watering_shows_and_a_dish_or_web_does_not() -> None:
    """150 ml poured yesterday wet the bottom; 150 ml into the dish leave it as it was."""
    lines = [(30, "home H1  moisture_felt  bottom=dry; surface=dry")]
    plain, poured, dish = (
        water_of(journal([*lines, *more], 42), 42)[0].course[0].bottom[1]
        for more in (
            [],
            [(41, "home H1  watered  value=150; where=side")],
            [(41, "home H1  watered  value=150; where=dish")],
        )
    )
    assert plain == pytest.approx(dish, abs=0.02)
    assert poured > plain + 0.1


@pytest.mark.parametrize(
    "where", [*watering._WHERE.values(), watering._DOWN_A_SIDE, watering._GENTLY, "corner", ""]
)
def test_what_a_tap_writes_counts_as_poured_down(where: str) -> None:
    """The places that the round advises, 'under the web' and 'dry on top' among them, wet the bottom."""
    home = told(journal([(5, f"home H1  watered  value=100; where={where}")], 6), day(6)).homes["H1"]
    described = describe(home, CLOCK, 0, FIRST.toordinal(), 150)
    assert described.evidence is not None
    (given,) = described.evidence.spells[-1].given
    assert (100.0, True) == (given.ml, given.deep)


@pytest.mark.parametrize(
    "where", ["dish", "the web", "inside the dish in the corner", "bowl", "on the glass"]
)
def test_what_reaches_no_substrate_is_not_its_water(where: str) -> None:
    """Drinking water and a sprayed web leave the substrate's balance as it is."""
    home = told(journal([(5, f"home H1  watered  value=100; where={where}")], 6), day(6)).homes["H1"]
    described = describe(home, CLOCK, 0, FIRST.toordinal(), 150)
    assert described.evidence is not None
    assert () == described.evidence.spells[-1].given


def test_felt_dry_and_then_watered_in_one_evening_is_dry_before_the_water() -> None:
    """The usual order of a round; written the other way round it was dry after the water."""
    felt, poured = (
        "home H1  moisture_felt  surface=dry; bottom=dry",
        "home H1  watered  value=100; where=side",
    )
    day_before, usual, reverse = (
        water_of(journal(lines, 42), 42)[0].course[0].bottom[1]
        for lines in (
            [(39, felt), (40, poured)],
            [(40, felt), (40, poured)],
            [(40, poured), (40, felt)],
        )
    )
    assert usual == pytest.approx(day_before, abs=0.03)
    assert reverse < usual - 0.01


def test_a_flood_wets_it_through() -> None:
    """A flooded home is wetter than the same one without the flood, and less sure."""
    lines = [(30, "home H1  moisture_felt  bottom=dry; surface=dry")]
    before = water_of(journal(lines, 42), 42)[0].course[0].bottom
    after = water_of(journal([*lines, (41, "home H1  trouble  what=flooded")], 42), 42)[0].course[0].bottom
    assert after[1] > before[1] + 0.2
    assert after[2] - after[0] > before[2] - before[0]


def test_made_up_anew_starts_afresh() -> None:
    """Felt wet in the old filling says nothing of the new one."""
    lines = [(20, "home H1  moisture_felt  bottom=wet; surface=wet"), (30, MADE_UP)]
    report, _, _ = water_of(journal(lines, 42), 42)
    assert day(30) == str(report.made_up)
    assert report.course[0].bottom[2] - report.course[0].bottom[0] > 0.5


def test_entries_after_the_day_change_nothing() -> None:
    """As of day 28 the report is the same whether or not later weighings are in the journal."""
    truth = dried(1.3, 43)
    early = [weighed(n, truth.grams(n)) for n in WEIGHINGS if n <= 28]
    later = [weighed(n, truth.grams(n) + 50.0) for n in WEIGHINGS if n > 28]
    one, _, _ = water_of(journal(early, 28), 28)
    other, _, _ = water_of(journal([*early, *later], 42), 28)
    assert one == other


def test_missing_is_said_and_never_zero() -> None:
    """Without depth, openings, substrate or size it says which, and gives no figure."""
    whole = f"{day(0)}  animal K1  arrived  home=H1\n{day(0)}  {MADE_UP}\n"
    bare = f"{day(0)}  animal K1  arrived  home=H1\n"
    unknown_mix = whole.replace("coir 70, sand 30", "dragon dust 60, coir 40") + f"{day(0)}  {OPENING}\n"
    for page, wanted in (
        (whole, "which openings it has"),
        (bare, "its size"),
        (whole.replace("; depth_low_mm=50; depth_high_mm=50", ""), "how deep the substrate is"),
        (unknown_mix, "dragon dust"),
        (whole.replace("depth_high_mm=50", "depth_high_mm=130"), "under the home's inner height"),
        (whole.replace("; inner_height_mm=120", ""), "its inner size"),
    ):
        report, _, _ = water_of(page, 5)
        assert any(wanted in each for each in report.missing), (wanted, report.missing)
        assert ("describe", None, None) == (report.dose.advised, report.loss_now, report.bottom)


def test_openings_that_cannot_be_are_missing_not_a_crash() -> None:
    """Ten thousand holes of 40 mm do not fit the lid."""
    page = journal([], 5).replace("number=60; width_mm=4", "number=10000; width_mm=40")
    report, _, _ = water_of(page, 5)
    assert report.missing and report.loss_now is None


def test_days_without_readings_are_counted_in_words() -> None:
    """A room nobody read is taken as usual, and that is said beside the figures."""
    report, _, _ = water_of(journal([], 42, read=False), 42)
    assert any("nobody read it" in each for each in report.assumed)
    some = "\n".join(
        line for line in journal([], 42).splitlines() if not (line[:10] > day(20) and "reading" in line)
    )
    told_of = water_of(some, 42)[0].assumed
    assert any("days without temperature at shelf A" in each for each in told_of)


def test_a_misread_weighing_is_asked_about_and_hardly_counts() -> None:
    """80 g too much on day 21 is questioned, with its number and day; m stays what the others say."""
    truth = dried(1.5, 43)
    right = [weighed(n, truth.grams(n)) for n in WEIGHINGS]
    wrong = [weighed(n, truth.grams(n) + (80.0 if n == 21 else 0.0)) for n in WEIGHINGS]
    clean, _, _ = water_of(journal(right, 42), 42)
    report, _, record = water_of(journal(wrong, 42), 42)
    assert clean.calibration is not None and report.calibration is not None
    assert () == clean.calibration.questioned
    (asked,) = report.calibration.questioned
    assert day(21) == str(asked.day) == str(record.entries[asked.number].when.last)
    assert "misread" in asked.words and "80 g" in asked.words
    assert report.calibration.multiplier.value == pytest.approx(1.5, rel=0.1)


def test_a_watering_nobody_noted_is_asked_about_and_later_weighings_still_count() -> None:
    """100 ml poured on day 20 and not written down: one question between days 14 and 21, about 100 ml."""
    truth = dried(1.5, 43, 0.5, given=((20, 100.0),))
    report, _, _ = water_of(journal([weighed(n, truth.grams(n)) for n in WEIGHINGS], 42), 42)
    assert report.calibration is not None
    (asked,) = report.calibration.questioned
    assert day(21) == str(asked.day) and "nobody noted" in asked.words
    assert report.calibration.multiplier.value == pytest.approx(1.5, rel=0.15)


def test_one_entry_re_runs_its_own_home_and_changes_no_other() -> None:
    """The other home's course is taken over as it is; what is kept equals what is worked out cold."""
    second = "\n".join(
        line.replace("H1", "H2").replace("K1", "K2")
        for line in journal([], 42).splitlines()
        if "reading" not in line
    )
    page = journal([(40, "home H1  moisture_felt  bottom=damp")], 42) + "\n" + second
    before = room_water(told(page, day(42)))
    record = told(page + f"\n{day(42)}  home H1  watered  value=30; where=side", day(42))
    after, cold = room_water(record, before), room_water(record)
    assert after.courses["H2"] is before.courses["H2"]
    assert after.courses["H1"] is not before.courses["H1"]
    for code in ("H1", "H2"):
        warm, fresh = home_water(record, after, code), home_water(record, cold, code)
        assert warm.dose == fresh.dose
        assert warm.bottom == fresh.bottom


def test_a_report_lists_homes_in_use_and_says_how_many_have_no_figures() -> None:
    """An empty home is not listed; one without figures is counted in a notice."""
    page = journal([], 10) + f"\n{day(0)}  animal K2  arrived  home=H2\n{day(0)}  home H3  made_up  shape=box"
    record = told(page, day(10))
    report = water_report(record, room_water(record), room="test")
    assert {"H1", "H2"} == {home.home for home in report.homes}
    assert ("1 home without figures: what is missing stands beside each",) == report.notices


def test_covering_loses_less_and_holes_lose_more_and_dry_sooner() -> None:
    """Each change keeps its side of the present loss: cover 80 % < cover 50 % < now < more holes."""
    truth = dried(1.5, 43)
    _, water, _ = water_of(journal([weighed(n, truth.grams(n)) for n in WEIGHINGS], 42), 42)
    half, most, holes = changes(water, water.courses["H1"])
    assert most.share < half.share < 1.0 < holes.share
    assert "80% of the lid covered" == most.label
    assert "6 more holes of 3 mm in the lid" == holes.label


def test_away_names_the_driest_first_and_the_unknown_last() -> None:
    """The home felt dry comes before the one felt wet; the one without figures closes the list."""
    second = journal([(41, "home H1  moisture_felt  bottom=wet; surface=wet")], 42).replace("H1", "H2")
    second = "\n".join(line.replace("K1", "K2") for line in second.splitlines() if "reading" not in line)
    page = journal([(41, "home H1  moisture_felt  bottom=dry; surface=dry")], 42) + "\n" + second
    record = told(page + f"\n{day(0)}  animal K3  arrived  home=H3", day(42))
    report = away(record, room_water(record), 14, room="test")
    assert ["H1", "H2", "H3"] == [row.home for row in report.homes]
    assert report.homes[0].bottom is not None and report.homes[1].bottom is not None
    assert report.homes[0].bottom > report.homes[1].bottom
    assert report.homes[2].bottom is None and "feel it" in report.homes[2].words


def test_the_dish_is_told_apart_from_the_substrate() -> None:
    """Filled with 20 ml, found dry later."""
    lines = [(5, "home H1  dish  state=filled; value=20"), (9, "home H1  dish  state=found_dry")]
    dish = water_of(journal(lines, 10), 10)[0].dish
    assert dish is not None
    assert (20.0, day(5), day(9)) == (dish.ml, str(dish.filled), str(dish.found_dry))


def test_an_empty_scale_reading_says_nothing_of_the_empty_mass() -> None:
    """Only differences of weighings speak: 300 g more under every weighing change nothing."""
    truth = dried(1.2, 43)
    one, _, _ = water_of(journal([weighed(n, truth.grams(n)) for n in WEIGHINGS], 42), 42)
    assert EMPTY_G > 0.0
    other, _, _ = water_of(journal([weighed(n, truth.grams(n) + 300.0) for n in WEIGHINGS], 42), 42)
    assert one.calibration is not None and other.calibration is not None
    assert one.calibration.multiplier.value == pytest.approx(other.calibration.multiplier.value, rel=1e-6)
    assert replace(one, last_weighed=None).dose.advised == other.dose.advised
