"""Scores of sets of forecasts, also where some moults have not come yet."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from nightround.foundation.refusal import Refusal
from nightround.science import track
from nightround.science.scores import brier, crps_until, levels, log_normal_wait
from nightround.science.thermal import FloatArray

FINE = np.concatenate([[0.0], np.geomspace(1e-3, 1e5, 6_000)])


def log_normal(centre: float, spread: float) -> FloatArray:
    """The log-normal distribution function on the fine grid [1, P]."""
    return np.asarray(stats.lognorm.cdf(FINE, spread, scale=math.exp(centre)))[None, :]


def closed_form(centre: float, spread: float, at: float) -> float:
    """CRPS of the log-normal law (Baran & Lerch 2015, Q. J. R. Meteorol. Soc. 141:2289; from memory):

    y (2 Phi(w) - 1) - 2 exp(m + s^2/2) (Phi(w - s) + Phi(s / sqrt 2) - 1), w = (log y - m) / s
    """
    phi = stats.norm.cdf
    w = (math.log(at) - centre) / spread
    mean = math.exp(centre + spread**2 / 2)
    return float(at * (2 * phi(w) - 1) - 2 * mean * (phi(w - spread) + phi(spread / math.sqrt(2)) - 1))


@pytest.mark.parametrize("at", [20.0, 60.0, 75.0, 240.0])
@pytest.mark.parametrize(("centre", "spread"), [(math.log(60.0), 0.27), (math.log(90.0), 0.6)])
def test_crps_is_the_closed_form_of_the_log_normal(centre: float, spread: float, at: float) -> None:
    """Without censoring the score on a fine grid is Baran & Lerch's formula to 1e-4 of a day's worth."""
    expected = closed_form(centre, spread, at)
    assert expected == pytest.approx(track.crps(FINE, log_normal(centre, spread)[0], at), rel=1e-4)
    found = crps_until(FINE, log_normal(centre, spread), np.array([at]), np.array([FINE[-1]]))
    assert expected == pytest.approx(float(found[0]), rel=1e-4)


def test_the_closed_form_is_itself_the_mean_distance_less_half_the_mean_difference() -> None:
    """E|X - y| - E|X - X'| / 2 (Gneiting & Raftery 2007) by SciPy's quadrature guards our memory."""
    law = stats.lognorm(0.5, scale=70.0)
    distance = integrate.quad(law.cdf, 0.0, 50.0)[0] + integrate.quad(law.sf, 50.0, np.inf)[0]
    difference = 2.0 * integrate.quad(lambda t: law.cdf(t) * law.sf(t), 0.0, np.inf)[0]
    assert distance - difference / 2.0 == pytest.approx(closed_form(math.log(70.0), 0.5, 50.0), rel=1e-6)


@pytest.mark.parametrize(("truth", "until"), [(math.inf, 40.0), (math.nan, 80.0), (90.0, 80.0), (30.0, 55.5)])
def test_a_wait_that_was_cut_off_is_scored_to_its_end(truth: float, until: float) -> None:
    """The score is the integral of (F - 1{moulted})^2 up to the follow-up's end, by SciPy's quadrature."""
    law = stats.lognorm(0.3, scale=60.0)
    happened = truth if truth <= until else math.inf
    pieces = sorted({0.0, min(happened, until), until})
    expected = sum(
        integrate.quad(lambda t: (law.cdf(t) - (t > happened)) ** 2, a, b)[0]
        for a, b in zip(pieces, pieces[1:], strict=False)
    )
    found = crps_until(FINE, log_normal(math.log(60.0), 0.3), np.array([truth]), np.array([until]))
    assert expected == pytest.approx(float(found[0]), rel=1e-4)


@given(st.floats(0.5, 300.0), st.floats(1.0, 300.0), st.floats(0.0, 200.0))
def test_a_longer_follow_up_never_lowers_the_score(truth: float, until: float, longer: float) -> None:
    """What is known of more days can only add to the error."""
    days, chance = np.array([0.0, 30.0, 60.0, 120.0]), np.array([[0.0, 0.2, 0.7, 0.95]])
    short = crps_until(days, chance, np.array([truth]), np.array([until]))
    long = crps_until(days, chance, np.array([truth]), np.array([until + longer]))
    assert long[0] >= short[0] - 1e-9


def test_brier_counts_who_was_followed_or_had_moulted() -> None:
    """Worked by hand: three animals at 20 %, 50 % and 80 % within 10 and 20 days.

    One moulted on day 5, one was followed to day 15 without a moult, one to day 30 with a moult on day 18.
    """
    days = np.array([0.0, 10.0, 20.0])
    chance = np.array([[0.0, 0.2, 0.8], [0.0, 0.2, 0.8], [0.0, 0.5, 0.5]])
    found = brier(
        days, chance, np.array([5.0, np.nan, 18.0]), np.array([5.0, 15.0, 30.0]), np.array([10.0, 20.0])
    )
    assert [3.0, 2.0] == found.number.tolist()
    assert np.allclose([(0.64 + 0.04 + 0.25) / 3, (0.04 + 0.25) / 2], found.score)
    assert np.allclose([1 / 3 * 2 / 3, 0.0], found.base_rate)


def test_brier_of_nobody_is_not_a_score() -> None:
    """Where nobody was followed for so long the score is NaN, not 0."""
    days, chance = np.array([0.0, 10.0]), np.array([[0.0, 0.5]])
    found = brier(days, chance, np.array([np.inf]), np.array([4.0]), np.array([9.0]))
    assert np.isnan(found.score).all() and found.number.tolist() == [0.0]


def test_levels_of_right_forecasts_are_uniform_also_where_waits_are_cut_off() -> None:
    """4,000 log-normal waits cut off at random: windows of 50 and 80 % hold so many, within 3 errors."""
    rng = np.random.default_rng(11)
    truth = np.exp(math.log(60.0) + 0.3 * rng.normal(size=4_000))
    until = rng.uniform(20.0, 140.0, truth.size)
    days = np.linspace(0.0, 400.0, 801)
    cumulative = np.repeat(stats.lognorm.cdf(days, 0.3, scale=60.0)[None, :], truth.size, axis=0)
    level, known = levels(days, cumulative, np.where(truth <= until, truth, np.inf), until)
    assert 0.4 < known.mean() < 0.8
    share, number = track.window_share(level, known, np.array([0.25, 0.1]), np.array([0.75, 0.9]))
    for said, seen, many in zip((0.5, 0.8), share, number, strict=True):
        assert abs(seen - said) < 3.0 * math.sqrt(said * (1.0 - said) / many)


def test_a_wait_cut_off_at_not_yet_is_the_conditional_law() -> None:
    """P(D <= e + t | D > e) of a log-normal interval, by SciPy's own distribution functions."""
    days, elapsed = np.array([0.0, 10.0, 45.0, 200.0]), np.array([30.0, 80.0])
    law = stats.lognorm(0.3, scale=60.0)
    expected = 1.0 - law.sf(elapsed[:, None] + days) / law.sf(elapsed)[:, None]
    found = log_normal_wait(days, np.full(2, math.log(60.0)), np.full(2, 0.3), elapsed)
    assert np.allclose(expected, found, atol=1e-12)


def test_what_cannot_be_scored_is_refused() -> None:
    """Moults before the forecast, shapes that do not fit, days that do not ascend and no follow-up."""
    days, chance, one = np.array([0.0, 10.0]), np.array([[0.0, 0.5]]), np.array([4.0])
    with pytest.raises(Refusal, match="unseen"):
        crps_until(days, chance, -one, one)
    with pytest.raises(Refusal, match="shape"):
        levels(days, chance[:, :1], one, one)
    with pytest.raises(Refusal, match="ascend"):
        brier(days + 1.0, chance, one, one, one)
    with pytest.raises(Refusal, match="follow-up"):
        crps_until(days, chance, one, 0.0 * one)
