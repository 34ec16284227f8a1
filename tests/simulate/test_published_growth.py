"""What the simulator's growth implies, against published facts: inputs stated, another output checked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nightround.simulate.life import Biology, Breaks, Herd, Life
from nightround.simulate.prey import FEEDERS
from nightround.simulate.taxa import TAXA, SimulatedTaxon

YEAR = 365.25


def taxon(letter: str) -> SimulatedTaxon:
    """The simulator's taxon with that tag letter."""
    return next(kind for kind in TAXA if kind.letter == letter)


def cohort(kind: SimulatedTaxon, warmth_c: float, days: int, number: int) -> list[Life]:
    """Spiderlings that leave the sac together and live at one constant temperature."""
    biology = Biology(np.random.default_rng(20260301), (kind,), Breaks())
    herd = Herd(biology, np.full((1, days), warmth_c), np.zeros(days), number)
    for _ in range(number):
        herd.add(biology.hatch(0, 0), 0, 0.0, 0)
    for day in range(days):
        early, late = herd.day(day)
        for index in early + late:
            herd.moult(index, day)
    return herd.lives


def immortal(kind: SimulatedTaxon) -> SimulatedTaxon:
    """The same growth without deaths, so that nobody is missing from a mean age."""
    return replace(kind, first_weeks_risk=0.0, moult_risk=0.0, yearly_risk=0.0, adult_days=(4e4, 4e4))


def median_age(lives: list[Life], moult: int) -> float:
    """Median age in years at a moult (1: the first)."""
    return float(np.median([life.moults[moult - 1] for life in lives if len(life.moults) >= moult])) / YEAR


def test_a_slow_tarantula_that_grows_38_percent_a_moult_is_seven_at_its_eleventh() -> None:
    """GVACH2021 (Zool. Anz. 293: 37-45, abstract): +38 % a moult; 7.03 y at moult 11, 4.03 y at moult 8.

    Inputs: 38 % flat, our slow taxon's intervals (66 days at 25 C first, growing with size to the power
    0.53), and 22 C, which is assumed because the abstract gives no temperature. The ages are outputs.
    """
    flat = replace(immortal(taxon("G")), ratio=1.38, decline=0.0, male_mm=1e6, female_mm=1e6)
    lives = cohort(flat, 22.0, int(11 * YEAR), 200)
    assert median_age(lives, 11) == pytest.approx(7.03, rel=0.15)
    assert median_age(lives, 8) == pytest.approx(4.03, rel=0.15)


def test_a_slow_tarantula_moults_once_or_twice_a_year() -> None:
    """GVACH2021: one to two moults a year, spiderling to adult. Output: moults a year over seven years."""
    lives = cohort(immortal(taxon("G")), 22.0, int(7 * YEAR), 200)
    assert 1.0 <= np.mean([len(life.moults) for life in lives]) / 7 <= 2.0


def test_a_slow_tarantula_loses_a_tenth_of_its_cohort_every_year() -> None:
    """GVACH2021: 10.7 % die a year. Inputs: 2 % a moult, 8 % in the first two months, 4 % a year."""
    lives = cohort(replace(taxon("G"), adult_days=(4e4, 4e4)), 22.0, int(6 * YEAR), 1500)
    deaths = sum(life.died is not None for life in lives)
    years = sum(6.0 if life.died is None else life.died / YEAR for life in lives)
    assert 100 * deaths / years == pytest.approx(10.7, abs=2.0)


def test_a_female_purseweb_spider_moults_about_yearly_after_maturity() -> None:
    """MIYA1992 (Acta Arachnol. 41: 177-186, abstract; Atypus karschi): adult females moult every year.

    Inputs: size at both ends, the ratio and the first interval. Outputs: the adult's moults a year, and the
    years to adulthood (3 to 4 published) and moults (9 to 11 published), each with a margin of a quarter.
    """
    lives = cohort(immortal(taxon("A")), 23.4, int(12 * YEAR), 200)
    females = [life for life in lives if life.sex == "female" and life.mature_at is not None]
    matured = [life.moults[life.mature_at] / YEAR for life in females if life.mature_at is not None]
    after = [len(life.moults) - 1 - (life.mature_at or 0) for life in females]
    rate = sum(after) / sum(12.0 - age for age in matured)
    assert len(females) > 80
    assert rate == pytest.approx(1.0, abs=0.25)
    assert 3.0 * 0.75 <= np.median(matured) <= 4.0 * 1.25
    assert 9 * 0.75 <= np.median([(life.mature_at or 0) + 1 for life in females]) <= 11 * 1.25


def test_development_is_four_times_faster_at_32_than_at_15_degrees_and_slower_again_at_35() -> None:
    """LIERIG (Bull. Entomol. Res., abstract): egg to adult 94.4 d at 15 C, 23.8 d at 32 C, slower at 35 C.

    Input: a Q10 of 2.25, computed from the two, so that their ratio of 3.97 says only that whole days and
    moults keep it. Outputs: 35 C slower than 32 C, and the ratio within a fifth under our taxon's own Q10.
    """
    own = immortal(taxon("W"))
    cold, warm = (median_age(cohort(own, warmth, 1200, 150), 6) for warmth in (15.0, 32.0))
    assert cold / warm == pytest.approx(94.4 / 23.8, rel=0.2)
    kind = replace(immortal(taxon("W")), q10=2.25)
    age = {warmth: median_age(cohort(kind, warmth, 1200, 150), 6) for warmth in (15.0, 32.0, 35.0)}
    assert age[15.0] / age[32.0] == pytest.approx(94.4 / 23.8, rel=0.06)
    assert age[35.0] > 1.05 * age[32.0]


def test_a_funnel_web_building_wolf_spider_grows_as_in_the_laboratory() -> None:
    """MOREIRA2011 (Zoologia 28: 565-570, table as transcribed in an open repository), 26.7 C.

    Inputs: 0.62 mm on leaving the sac, ratio of the first moult, its decline, first interval, exponent
    0.31 of duration on size. Outputs: sizes of instar 11 (5.54 mm), adult females (8.60 mm) and males
    (6.97 mm), the durations of instars 2 to 10, and the falling ratio.
    """
    lives = cohort(immortal(taxon("W")), 26.7, 900, 400)
    sizes = {
        sex: np.median([life.carapace_mm for life in lives if life.sex == sex and life.stopped])
        for sex in ("female", "male")
    }
    instar_11 = np.median([np.exp(life.log_sizes[10]) for life in lives if len(life.log_sizes) > 11])
    assert sizes["female"] == pytest.approx(8.60, rel=0.12)
    assert sizes["male"] == pytest.approx(6.97, rel=0.12)
    assert instar_11 == pytest.approx(5.54, rel=0.15)
    published = [21.45, 24.45, 24.54, 25.70, 27.00, 28.10, 29.50, 30.60, 34.58]
    lasted = [
        np.median([life.moults[k] - life.moults[k - 1] for life in lives if len(life.moults) > k])
        for k in range(1, 10)
    ]
    assert lasted == pytest.approx(published, rel=0.2)
    long = [np.array(life.log_sizes[:10]) for life in lives if len(life.log_sizes) > 10]
    steps = np.median(np.diff(np.array(long), axis=1), axis=0)[:8]
    assert np.polyfit(range(8), steps, 1)[0] < 0


def test_the_larders_fruit_flies_are_as_long_as_measured() -> None:
    """CHEN2014 (UBC undergraduate journal, abstract): D. melanogaster 2.607 mm at 20 C, 2.547 at 29 C."""
    flies = [feeder.size_mm for feeder in FEEDERS if feeder.name == "fruit fly"]
    assert len(flies) == 1
    assert 2.5 <= flies[0] <= 2.65
