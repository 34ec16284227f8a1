"""A home's own multiplier from weighings and felt moisture: closed forms, integration, simulated homes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.water_calibration import scores
from nightround.foundation.refusal import Refusal
from nightround.science.water import evidence, weighed
from nightround.science.water.balance import Watering, run
from nightround.science.water.calibrate import (
    Calibrated,
    Felt,
    Given,
    HomeEvidence,
    Spell,
    Weighing,
    calibrate,
)
from nightround.science.water.columns import balanced_water_mm, make_columns
from nightround.science.water.demand import Climate, Demand, homes_air
from nightround.science.water.openings import Opening
from nightround.science.water.ventilation import Ventilation

FloatArray = NDArray[np.float64]
COIR = (("coir", 1.0),)
AREA_MM2 = 200.0 * 150.0
HOLES = Ventilation((Opening("hole", 20, 3.0),), AREA_MM2, AREA_MM2, 100.0, 90_000.0)
MESH = Ventilation(
    (Opening("mesh", 1, 120.0, 120.0, 0.5, open_fraction=0.5),), AREA_MM2, AREA_MM2, 100.0, 90_000.0
)


def room(days: int) -> Climate:
    """One place at 24 C and 50 %, a degree warmer by day."""
    hours = np.arange(24 * days)
    return Climate(24.0 + np.sin(hours / 24.0 * 2 * np.pi)[None], np.full((1, hours.size), 0.5))


def true_grams(
    air: Ventilation, m: float, content: float, hours: list[int], days: int, given: tuple[Given, ...] = ()
) -> FloatArray:
    """What a home of 1,000 g without its water weighs at some hours, by `balance` at an hour a step."""
    columns, climate = make_columns([COIR], [50.0]), room(days)
    homes = homes_air([air], [0], multiplier=[m])
    demand, crust = Demand(homes, climate)(0, 24 * days), homes.crust_per_mm(columns.crust_mm)
    start = balanced_water_mm(COIR, 50.0, content)[:, None]
    per_mm = AREA_MM2 * 1e-3
    waterings = tuple(Watering(one.hour, 0, (one.ml or 0.0) / per_mm) for one in given)
    course = run(columns, start, demand, crust, 24 * days, waterings, keep_every=1)
    water = np.concatenate([start.sum(axis=0), course.water.sum(axis=1)[:, 0]])
    return np.asarray(1000.0 + per_mm * water[hours], dtype=np.float64)


def home(air: Ventilation, hours: list[int], grams: FloatArray, sd_g: float = 0.5) -> Spell:
    weighings = tuple(Weighing(hour, float(g), sd_g) for hour, g in zip(hours, grams, strict=True))
    return Spell(COIR, ((1.0, 50.0),), AREA_MM2, ((0, air),), weighings=weighings)


def one(spell: Spell, days: int) -> Calibrated:
    return calibrate([HomeEvidence((spell,))], room(days), 24 * days)[0]


def closed_form(spell: Spell, air: Ventilation, days: int, steps: int = 4001) -> tuple[float, float]:
    """Mean and sd of log m by regression of mass on the predicted loss of wet substrate, scale error and
    days that nobody measured, integrated over an even grid: no course of water, no filter, no outliers.
    """
    demand = Demand(homes_air([air], [0]), room(days))(0, 24 * days)[:, 0] * AREA_MM2 * 1e-3
    hours = [w.hour for w in spell.ordered]
    lost = np.append(0.0, np.cumsum(demand))[hours]
    mass = np.array([w.g for w in spell.ordered])
    log_m = np.linspace(-2.0, 2.0, steps)
    log = -0.5 * (log_m / evidence.PRIOR_SD_LOG) ** 2
    for at, m in enumerate(np.exp(log_m)):
        since = m * np.diff(lost, prepend=lost[0])
        walk = np.cumsum(
            (evidence.DAY_SPREAD * since) ** 2 / np.maximum(np.diff(hours, prepend=hours[0]) / 24, 1)
        )
        cover = np.minimum(walk[:, None], walk) + np.diag([w.sd_g**2 for w in spell.ordered])
        inverse, off = np.linalg.inv(cover), mass + m * lost
        level = (inverse @ off).sum() / inverse.sum()
        log[at] -= 0.5 * ((off - level) @ inverse @ (off - level) + np.linalg.slogdet(cover)[1])
        log[at] -= 0.5 * np.log(inverse.sum())
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float(weight @ log_m)
    return mean, float(np.sqrt(weight @ (log_m - mean) ** 2))


def test_no_evidence_returns_the_prior() -> None:
    """Median 1, standard deviation of log m 0.5, and members of every start."""
    found = one(home(HOLES, [], np.empty(0)), 5)
    assert found.quantile(0.5) == pytest.approx(1.0, abs=0.01)
    assert found.sd_log == pytest.approx(0.5, abs=0.01)
    assert found.quantile(0.9) == pytest.approx(np.exp(0.5 * 1.2816), rel=0.01)
    wet = found.members.water_mm.sum(axis=(0, 1))
    assert wet.max() > 5.0 * wet.min()


def test_one_weighing_of_an_unknown_empty_mass_says_nothing() -> None:
    found = one(home(HOLES, [48], np.array([1700.0])), 5)
    assert found.quantile(0.5) == pytest.approx(1.0, abs=0.02)
    assert found.sd_log == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("m", [0.5, 1.0, 1.6])
def test_agrees_with_the_closed_form_while_openings_decide(m: float) -> None:
    """Regression on the predicted loss of wet substrate gives the same m, within a third of its doubt."""
    hours = [24, 72, 120, 168, 240, 312, 360]
    noise = np.random.default_rng(3).normal(0.0, 0.5, len(hours))
    spell = home(HOLES, hours, true_grams(HOLES, m, 0.55, hours, 16) + noise)
    mean, sd = closed_form(spell, HOLES, 16)
    found = one(spell, 16)
    assert abs(np.log(found.quantile(0.5)) - mean) < 0.33 * sd
    assert 0.9 * sd < found.sd_log < 1.5 * sd
    assert abs(np.log(found.quantile(0.5) / m)) < 3.0 * sd


def test_dried_out_homes_are_not_taken_for_slow_ones() -> None:
    """Once the surface is dry the closed form gives far less than a true 1.6; the grid holds it."""
    hours = list(range(48, 24 * 60, 144))
    noise = np.random.default_rng(5).normal(0.0, 0.3, len(hours))
    spell = home(MESH, hours, true_grams(MESH, 1.6, 0.55, hours, 60) + noise, 0.3)
    mean, _ = closed_form(spell, MESH, 60)
    found = one(spell, 60)
    assert np.exp(mean) < 1.34
    assert found.quantile(0.025) < 1.6 < found.quantile(0.975)


def test_waterings_between_weighings_are_taken_along() -> None:
    hours = [24, 120, 216, 312, 408]
    given = (Given(100, 80.0), Given(300, 60.0))
    grams = true_grams(HOLES, 0.7, 0.5, hours, 20, given)
    found = one(replace(home(HOLES, hours, grams), given=given), 20)
    assert found.quantile(0.1) < 0.7 < found.quantile(0.9)
    assert found.sd_log < 0.4


@pytest.mark.parametrize(("at", "stays"), [(3, False), (3, True), (0, False)])
def test_a_weighing_that_does_not_fit_is_not_averaged_in(at: int, stays: bool) -> None:
    """One misread, or 60 g that nobody noted and that stay: m moves by less than its doubt without it."""
    hours = [24, 72, 120, 168, 240, 312, 360]
    good = true_grams(HOLES, 1.3, 0.55, hours, 16)
    off = good.copy()
    off[at : None if stays else at + 1] += 60.0
    clean, found = one(home(HOLES, hours, good), 16), one(home(HOLES, hours, off), 16)
    assert abs(np.log(found.quantile(0.5) / clean.quantile(0.5))) < clean.sd_log
    assert found.quantile(0.1) < 1.3 < found.quantile(0.9)
    assert found.sd_log < 3.0 * clean.sd_log


def test_without_outliers_the_filter_is_the_normal_likelihood(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three weighings of a home whose empty mass is known, against scipy's multivariate normal to 1e-6."""
    from scipy.stats import multivariate_normal

    monkeypatch.setattr(weighed, "LOG_KINDS", np.array([0.0, -1e9, -1e9]))
    g, sd, drift = np.array([[900.0, 893.0, 881.0]]), np.array([[0.5, 0.5, 1.0]]), np.array([0.0, 0.4, 0.9])
    water = np.array([100.0, 94.0, 80.0])
    readings = weighed.Readings(
        g, sd, np.array([50.0]), np.ones((1, 3), dtype=bool), np.array([800.0]), np.array([2.0])
    )
    found = weighed.weighed_log_likelihood(readings, water[None, :, None], drift[None, :, None])[0, 0]
    walk = np.cumsum(drift)
    cover = 4.0 + np.minimum(walk[:, None], walk) + np.diag(sd[0] ** 2)
    assert found == pytest.approx(float(multivariate_normal(800.0 + water, cover).logpdf(g[0])), abs=1e-6)


def test_felt_dry_and_felt_wet_speak() -> None:
    """Of two homes made up alike and felt after ten days, the dry one loses faster."""
    told = replace(home(MESH, [], np.empty(0)), start_content=(0.5, 0.02))
    dry, wet = (one(replace(told, felt=(Felt(240, feel, feel),)), 11) for feel in ("dry", "wet"))
    assert dry.quantile(0.5) > 1.0 > wet.quantile(0.5)
    assert dry.n_felt == 1
    assert sum(weighed.felt_chance(feel, np.array(0.4)) for feel in ("dry", "damp", "wet")) == pytest.approx(
        1.0
    )


def test_order_of_entries_does_not_matter() -> None:
    """Weighings in any order give the same; weighing twice at one hour does not widen."""
    hours = [24, 96, 168, 264]
    spell = home(HOLES, hours, true_grams(HOLES, 0.8, 0.5, hours, 12))
    turned = one(replace(spell, weighings=spell.weighings[::-1]), 12)
    assert turned.quantile(0.5) == one(spell, 12).quantile(0.5)
    twice = tuple(weighing for weighing in spell.weighings for _ in range(2))
    assert one(replace(spell, weighings=twice), 12).sd_log <= one(spell, 12).sd_log * 1.02


def test_size_of_the_home_does_not_matter() -> None:
    """A home as wide as ten, weighed with a tenth of the fineness, has the same multiplier."""
    hours = [24, 96, 168, 264]
    grams = true_grams(HOLES, 0.8, 0.5, hours, 12)
    spell = home(HOLES, hours, grams, 0.5)
    wide = replace(
        HOLES,
        openings=(Opening("hole", 200, 3.0),),
        lid_area_mm2=10.0 * AREA_MM2,
        floor_area_mm2=10.0 * AREA_MM2,
        outside_area_mm2=900_000.0,
    )
    ten = replace(home(wide, hours, 10.0 * grams, 5.0), area_mm2=10.0 * AREA_MM2)
    # Air films know a lid's length, so the physics of ten homes is not quite that of one ten times as wide.
    assert one(ten, 12).quantile(0.5) == pytest.approx(one(spell, 12).quantile(0.5), rel=0.1)


def test_more_weighings_never_widen_on_average() -> None:
    """Twelve homes with 3 and with 6 weighings over one stretch."""
    hours, rng = [24, 72, 144, 216, 288, 336], np.random.default_rng(8)
    few, many = [], []
    for m in np.exp(rng.normal(0.0, 0.4, 12)):
        spell = home(HOLES, hours, true_grams(HOLES, float(m), 0.55, hours, 15) + rng.normal(0.0, 0.5, 6))
        many.append(spell)
        few.append(replace(spell, weighings=spell.weighings[:3]))
    homes = [HomeEvidence((spell,)) for spell in few + many]
    widths = [found.sd_log for found in calibrate(homes, room(15), 360)]
    assert np.mean(widths[12:]) < np.mean(widths[:12])


def test_homes_are_independent_of_the_others_run_with_them() -> None:
    hours = [24, 96, 168, 264]
    spells = [home(air, hours, true_grams(air, 0.8, 0.5, hours, 12)) for air in (HOLES, MESH)]
    together = calibrate([HomeEvidence((spell,)) for spell in spells], room(12), 288)
    for spell, found in zip(spells, together, strict=True):
        assert found.quantile(0.5) == pytest.approx(one(spell, 12).quantile(0.5), rel=1e-9)


def test_an_unknown_climate_is_refused() -> None:
    climate = room(5)
    climate.temperature_c[0, 30] = np.nan
    with pytest.raises(Refusal, match="climate"):
        calibrate([HomeEvidence((home(HOLES, [24], np.array([900.0])),))], climate, 120)


def test_intervals_hold_what_they_say() -> None:
    """400 invented homes with scale noise, outliers, waterings: 95 % and 80 % intervals within three Monte
    Carlo errors of 95 and 80 % (the whole run: docs/calibration/2026-11-25-water.md).
    """
    found = scores(400, 21)
    assert np.mean([s.in_95 for s in found]) == pytest.approx(0.95, abs=0.033)
    assert np.mean([s.in_80 for s in found]) == pytest.approx(0.80, abs=0.060)


@pytest.mark.long
def test_intervals_hold_at_length() -> None:
    """4,000 homes: 95 % intervals hold 93-97 %."""
    assert 0.93 <= np.mean([s.in_95 for s in scores(4000, 7)]) <= 0.97
