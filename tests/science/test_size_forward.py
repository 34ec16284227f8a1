"""Futures of the size staircase: they agree with the formulas, stop where they must, and are quick."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import gvach2021, lour2006
from nightround.science.size.data import FEMALE, MALE, SizeData
from nightround.science.size.fit import fit_size
from nightround.science.size.forecast import next_moult_matures, next_size, size_at
from nightround.science.size.forward import Waits, simulate_forward
from nightround.science.size.outcomes import (
    THREE,
    day_reached,
    final_size,
    maturity_outlook,
    quantiles,
    size_after,
    size_on,
)
from nightround.science.size.priors import SPIDER_PRIORS
from nightround.science.size.simulate import TrueRoom, simulate_room

LEVELS = np.arange(1, 20) / 20.0


def waits(n: int, *, first: np.ndarray | None = None, log_warmth: float = np.log(80.0)) -> Waits:
    """Waits of n animals at 22 °C or so: nine tenths of a 25 °C day a day."""
    table = 40.0 + 80.0 * LEVELS if first is None else first
    warmth = np.concatenate([[0.0], np.cumsum(np.full(700, 0.9))])
    return Waits(
        LEVELS, np.tile(table, (n, 1)), np.full(n, log_warmth), np.full(n, 0.1), np.full(n, 0.45), 0.27,
        warmth[None], np.zeros(n, dtype=np.int64),
    )  # fmt: skip


def mixed_room(seed: int = 1, taxa: int = 6, each: int = 8) -> TrueRoom:
    return simulate_room(
        np.random.default_rng(seed), n_taxa=taxa, animals_per_taxon=each, males=0.5, known_sex=0.3,
        fixed={"start": 1.0}, start_sd=0.5,
    )  # fmt: skip


def one(sex: int, mature: int, carapace: list[float], priors=SPIDER_PRIORS) -> SizeData:  # type: ignore[no-untyped-def]
    k = len(carapace)
    return SizeData(
        np.array([0]), np.array([0]), np.array([k]), np.array([sex]), np.array([mature]),
        np.zeros(k, dtype=int), np.arange(k), np.full(k, priors.channel_index("carapace_length_shed")),
        np.array(carapace), priors,
    )  # fmt: skip


def test_the_first_moult_drawn_agrees_with_the_formulas() -> None:
    """Sizes now and after one moult, and chances to mature, equal the closed forms up to drawing error."""
    fit = fit_size(mixed_room().data)
    futures = simulate_forward(fit, waits(48), np.random.default_rng(2), draws=4000)
    for part in ("carapace_length", "leg_span"):
        now = size_on(futures, part, 0.0)
        np.testing.assert_allclose(np.log(now), np.log(size_at(fit, part).quantiles(THREE)), atol=0.06)
        drawn, share = size_after(futures, part, 1)
        told = next_size(fit, part).quantiles(THREE)
        goes = share == 1.0
        assert goes.sum() > 20
        np.testing.assert_allclose(np.log(drawn[goes]), np.log(told[goes]), atol=0.09)
    matures = next_moult_matures(fit)
    share = np.mean(futures.mature_at == 1, axis=0)
    np.testing.assert_allclose(matures.chance, share, atol=0.05)
    np.testing.assert_allclose(matures.is_female, futures.female.mean(axis=0), atol=0.04)


def test_days_of_the_first_moult_are_the_clocks() -> None:
    """The clock's quantiles come back, and an animal that it gives no moult has none."""
    fit = fit_size(one(FEMALE, -1, [4.0, 5.0]))
    futures = simulate_forward(fit, waits(1), np.random.default_rng(3), draws=4000)
    assert [48.0, 80.0, 112.0] == pytest.approx(quantiles(futures.day[1], THREE)[0].tolist(), rel=0.05)
    never = simulate_forward(fit, waits(1, first=np.full(19, np.inf)), np.random.default_rng(3))
    assert 1 == len(never.day)
    assert np.isinf(day_reached(never, "leg_span", 500.0)).all()


def test_some_animals_alone_have_the_futures_they_have_among_all() -> None:
    """Sizes after one and three moults, days, sex and maturity agree up to drawing error, in any order."""
    fit = fit_size(mixed_room().data)
    chosen = np.array([41, 3, 20])
    ready = waits(48)
    everyone = simulate_forward(fit, ready, np.random.default_rng(2), draws=4000)
    alone = simulate_forward(fit, ready, np.random.default_rng(3), draws=4000, animals=chosen)
    for moults in (0, 1, 3):
        for part in ("carapace_length", "leg_span"):
            among, share = size_after(everyone, part, moults)
            found, share_alone = size_after(alone, part, moults)
            np.testing.assert_allclose(np.log(found), np.log(among[chosen]), atol=0.04)
            np.testing.assert_allclose(share_alone, share[chosen], atol=0.04)
    np.testing.assert_allclose(
        np.median(alone.day[1], axis=0), np.median(everyone.day[1], axis=0)[chosen], rtol=0.05
    )
    np.testing.assert_allclose(alone.female.mean(axis=0), everyone.female.mean(axis=0)[chosen], atol=0.04)


def test_later_days_follow_the_warmth_expected() -> None:
    """Half the warmth doubles the wait between the first and the second moult to come."""
    fit = fit_size(one(FEMALE, -1, [4.0, 5.0]))
    usual = waits(1)
    cold = replace(usual, warmth=usual.warmth / 2.0)
    between = [
        float(np.median((f.day[2] - f.day[1])[:, 0]))
        for f in (simulate_forward(fit, w, np.random.default_rng(4), draws=2000) for w in (usual, cold))
    ]
    assert 2.0 == pytest.approx(between[1] / between[0], rel=0.03)


def test_sizes_on_a_date_and_dates_of_a_size_say_the_same() -> None:
    """P(at least 60 mm on day d) never exceeds P(60 mm reached by d): a size once reached may not be lost."""
    futures = simulate_forward(fit_size(mixed_room().data), waits(48), np.random.default_rng(5))
    reached = day_reached(futures, "leg_span", 60.0)
    before = np.zeros(48)
    for day in (0.0, 90.0, 270.0, 540.0):
        by_then = (reached <= day).mean(axis=0)
        assert np.all(by_then >= before)
        before = by_then
    low = size_on(futures, "leg_span", 540.0)[:, 0]
    assert np.all(reached[:, low > 61.0].min(axis=0) <= 540.0)


def test_males_stop_and_females_go_on() -> None:
    """A noted male has no moult to come and keeps his size; females moult on past maturity.

    In a few draws growth stops short of it: the prior of the decline allows that.
    """
    male = simulate_forward(fit_size(one(MALE, 2, [7.0, 9.0, 11.0])), waits(1), np.random.default_rng(6))
    assert 1 == len(male.day)
    assert np.all(male.mature_at == 0)
    assert 11.0 == pytest.approx(float(np.median(final_size(male, "carapace_length"))), rel=0.03)
    female = simulate_forward(fit_size(one(FEMALE, -1, [7.0, 9.0, 11.0])), waits(1), np.random.default_rng(6))
    moults = np.isfinite(female.day).sum(axis=0) - 1
    grown = female.mature_at < 25
    assert grown.mean() > 0.97
    assert np.all((moults >= female.mature_at + 3)[grown])


def test_an_animal_of_unknown_sex_has_both_outlooks() -> None:
    """Chances of the sexes add up to one, each has its dates and sizes, and males end smaller on average."""
    fit = fit_size(one(0, -1, [4.0, 5.1, 6.5]))
    futures = simulate_forward(fit, waits(1), np.random.default_rng(7), draws=2000)
    female, male = (maturity_outlook(futures, female=sex) for sex in (True, False))
    assert 1.0 == pytest.approx(float(female.chance[0] + male.chance[0]))
    for outlook in (female, male):
        assert np.all(np.diff(outlook.day[0]) > 0)
        assert np.all(np.diff(outlook.size[0]) > 0)
    assert male.final[0, 1] < female.final[0, 1]


def test_waits_of_other_animals_are_refused() -> None:
    """Waits of two animals for a fit of one."""
    with pytest.raises(Refusal, match="every animal"):
        simulate_forward(fit_size(one(FEMALE, -1, [4.0])), waits(2), np.random.default_rng(8))


def test_the_same_seed_gives_the_same_futures() -> None:
    """Two runs agree to the last digit."""
    fit = fit_size(mixed_room().data)
    first, second = (simulate_forward(fit, waits(48), np.random.default_rng(9), draws=50) for _ in range(2))
    np.testing.assert_array_equal(first.log_size, second.log_size)


def test_four_hundred_animals_over_eighteen_months_in_two_seconds() -> None:
    """400 animals, 500 draws: futures to 18 months and answers under 2 s (processor time, best of three)."""
    fit = fit_size(mixed_room(taxa=20, each=20).data)
    times = []
    for _ in range(3):
        begun = time.process_time()
        futures = simulate_forward(fit, waits(400), np.random.default_rng(1), horizon_days=548.0)
        size_on(futures, "leg_span", 548.0)
        quantiles(day_reached(futures, "leg_span", 60.0), THREE)
        maturity_outlook(futures, female=True)
        times.append(time.process_time() - begun)
    assert (500, 400) == futures.female.shape
    assert min(times) < 2.0


def test_grammostola_from_the_eighth_to_the_eleventh_moult() -> None:
    """GVACH2021: input +38 % a moult and moult 8 at 4.03 years; output moult 11, published at 7.03 years.

    The growth of intervals with size is the moult clock's prior (0.45). Median within a tenth of the three
    years between, and they are inside the 80 % window.
    """
    ratio = 1.0 + gvach2021.SIZE_INCREASE_PER_MOULT_FRACTION
    longer = ratio**0.45
    first = 365.25 * 4.03 * (longer - 1.0) / (longer**8 - 1.0)
    eighth = first * longer**8
    told = waits(1, first=eighth * np.exp(0.27 * (LEVELS - 0.5) * 3.3), log_warmth=np.log(0.9 * eighth))
    # Its carapace, and so how soon it matures, is not in the abstract: maturity is kept out of the way.
    priors = replace(SPIDER_PRIORS, maturity=replace(SPIDER_PRIORS.maturity, mean=50.0, sd=0.1, group_sd=1e-3,
                                                     taxon_sd=1e-3, difference_sd=1e-3))  # fmt: skip
    fit = fit_size(one(MALE, -1, (1.4 * ratio ** np.arange(9)).tolist(), priors))
    futures = simulate_forward(fit, told, np.random.default_rng(10), draws=2000, horizon_days=3000.0)
    years = quantiles(futures.day[3], THREE)[0] / 365.25
    assert 3.0 == pytest.approx(float(years[1]), rel=0.1)
    assert years[0] < 7.03 - 4.03 < years[2]


def test_moults_to_maturity_of_a_recluse() -> None:
    """LLAETA2014: input sizes of Loxosceles laeta at its first instar (2.3 mm) and as adult (about 13 mm).

    Output: moults to maturity; published for two congeners: 5-8, mostly 7 (FISCH2005), 6 of 5-8 (RINALDI).
    Steps and the width of the chance at each moult are the priors', so the answer is wide: its median and the
    likeliest number lie in the published range, which holds nearly half of it. Sizes count as ratios only.
    """
    maturity = replace(
        SPIDER_PRIORS.maturity, mean=np.log(13.0) - 0.1, sd=0.02, group_sd=0.02, taxon_sd=0.02,
        difference_mean=0.0, difference_sd=0.02, difference_group_sd=0.02, difference_taxon_sd=0.02,
    )  # fmt: skip
    fit = fit_size(one(FEMALE, -1, [2.3], replace(SPIDER_PRIORS, maturity=maturity)))
    futures = simulate_forward(fit, waits(1), np.random.default_rng(11), draws=4000)
    moults = futures.mature_at[:, 0]
    assert 5 <= np.median(moults) <= 8
    assert int(np.argmax(np.bincount(np.minimum(moults, 40)))) in (6, 7)
    assert 0.45 < float(np.mean((moults >= 5) & (moults <= 8)))


def test_males_that_mature_one_moult_later_weigh_twice_as_much() -> None:
    """FABER1994: input the priors of step and mass exponent; output 2.12, the ratio of two male size morphs.

    The two morphs of Zygoballus rufipes mature one moult apart; published 2.12 by mass.
    """
    rng = np.random.default_rng(12)
    step = next(c for c in SPIDER_PRIORS.coefficients if c.name == "step")
    slope = SPIDER_PRIORS.part("mass").slope
    assert slope is not None
    drawn = np.exp(
        (step.mean + step.total_variance**0.5 * rng.standard_normal(20_000))
        * (slope.mean + slope.total_variance**0.5 * rng.standard_normal(20_000))
    )
    assert 2.12 == pytest.approx(float(np.median(drawn)), rel=0.1)
    low, high = np.quantile(drawn, (0.25, 0.75))
    assert low < 2.12 < high


@pytest.mark.parametrize(
    ("sex", "table"), [(FEMALE, lour2006.CARAPACE_FEMALE), (MALE, lour2006.CARAPACE_MALE)]
)
def test_scorpion_last_instar_from_the_first_five(sex: int, table: tuple[float, ...]) -> None:
    """LOUR2006: input carapaces of instars 1-5; output instar 6, the adult, inside 95 %."""
    fit = fit_size(one(sex, -1, list(table[:-1])))
    low, high = next_size(fit, "carapace_length", last_moult=1.0).quantiles((0.025, 0.975))[0]
    assert low < table[-1] < high
