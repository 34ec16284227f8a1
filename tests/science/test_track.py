"""How forecasts are scored: shares with censored waits, intervals, and by what windows are widened."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ndtr, ndtri
from scipy.stats import CensoredData, ecdf, lognorm

from nightround.science.track import (
    calibration,
    crps,
    product_limit,
    spreads,
    unwidened,
    widened,
    wilson,
    window_share,
)

Z80 = float(ndtri(0.9))


@pytest.mark.parametrize(
    ("successes", "number", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilsons_interval_is_the_published_one(successes: int, number: int, low: float, high: float) -> None:
    """95 % intervals of Newcombe 1998, Statistics in Medicine 17:857, table I, method 3 (from memory)."""
    found = wilson(np.array([successes / number]), np.array([float(number)]), 0.95)
    assert (low, high) == pytest.approx((found[0][0], found[1][0]), abs=6e-5)


def test_the_product_limit_is_that_of_another_library() -> None:
    """Shares and effective numbers follow from SciPy's product limit and its Greenwood errors."""
    rng = np.random.default_rng(3)
    truth, end = rng.uniform(size=60), rng.uniform(0.2, 1.2, 60)
    level, known = np.minimum(truth, end), truth <= end
    claimed = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
    share, effective = product_limit(level, known, claimed)
    other = ecdf(CensoredData(uncensored=level[known], right=level[~known]))
    assert other.cdf.evaluate(claimed) == pytest.approx(share)
    with warnings.catch_warnings():  # SciPy gives no interval before the first event and past the last
        warnings.simplefilter("ignore", RuntimeWarning)
        low = other.sf.confidence_interval(0.9, method="linear").low.evaluate(claimed)
    error = (1.0 - share - low) / ndtri(0.95)
    inside = np.isfinite(error) & (low > 0.0)
    assert inside.sum() >= 4
    assert error[inside] == pytest.approx(np.sqrt(share * (1.0 - share) / effective)[inside])


def test_without_censoring_shares_are_plain_shares_of_all() -> None:
    """7 of 10 levels up to 0.75, 6 from 0.2 to 0.82; worth 10, also where all lie on one side."""
    level = np.array([0.05, 0.1, 0.25, 0.3, 0.45, 0.6, 0.7, 0.8, 0.85, 0.95])
    known = np.ones(10, dtype=bool)
    share, number = product_limit(level, known, np.array([0.01, 0.75, 1.0]))
    assert [0.0, 0.7, 1.0] == pytest.approx(list(share))
    assert [10.0, 10.0, 10.0] == pytest.approx(list(number))
    inside, worth = window_share(level, known, np.array([0.2]), np.array([0.82]))
    assert (0.6, 10.0) == pytest.approx((float(inside[0]), float(worth[0])))


def staggered(rng: np.random.Generator, number: int, sd: float) -> tuple[np.ndarray, ...]:
    """Intervals that begin at any time of a watch of 100 days: forecast medians, lengths, days watched."""
    median = np.exp(rng.normal(np.log(50.0), 0.5, number))
    length = median * np.exp(rng.normal(0.0, sd, number))
    return median, length, rng.uniform(0.0, 100.0, number)


@pytest.mark.parametrize(("sd", "held"), [(0.3, 0.8), (0.45, 2 * float(ndtr(Z80 / 1.5)) - 1)])
def test_running_waits_do_not_bias_the_shares(sd: float, held: float) -> None:
    """Shares by the product limit, and of windows that are over, are right; finished waits alone look early.

    400,000 intervals forecast with a spread of 0.3 and true spreads of 0.3 and 0.45.
    """
    rng = np.random.default_rng(11)
    median, length, watched = staggered(rng, 400_000, sd)
    known = length <= watched
    level = ndtr(np.log(np.minimum(length, watched) / median) / 0.3)
    share, _ = window_share(level, known, np.array([0.1]), np.array([0.9]))
    assert held == pytest.approx(float(share[0]), abs=0.006)
    inside = np.abs(np.log(length / median)) <= Z80 * 0.3
    over = median * np.exp(Z80 * 0.3) <= watched
    assert held == pytest.approx(float(inside[over].mean()), abs=0.006)
    early = product_limit(level, known, np.array([0.5]))[0]
    assert 0.5 == pytest.approx(float(early[0]), abs=0.006)
    assert float((level[known] <= 0.5).mean()) > 0.55


def test_the_band_of_a_curve_holds_the_truth_as_often_as_it_says() -> None:
    """Nine-in-ten intervals of the curve hold the diagonal in 86–95 % of 400 rooms of 40 waits."""
    rng = np.random.default_rng(5)
    claimed = np.array([0.25, 0.5, 0.75])
    inside = np.zeros(3)
    for _ in range(400):
        median, length, watched = staggered(rng, 40, 0.3)
        level = ndtr(np.log(np.minimum(length, watched) / median) / 0.3)
        curve = calibration(level, length <= watched, claimed)
        inside += (curve.low <= claimed) & (claimed <= curve.high)
    assert all(0.86 <= share <= 0.95 for share in inside / 400)


def room_of(rng: np.random.Generator, ratio: float, number: int) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Levels of one room's forecasts whose errors are `ratio` times as wide as claimed; some still run."""
    median, length, watched = staggered(rng, number, 0.3 * ratio)
    watched += 60.0
    low = ndtr(np.log(np.minimum(length, watched) / median) / 0.3)
    high = np.where(length <= watched, low, 1.0)
    # What was told ends somewhere: later moults are only known to be later.
    beyond = low > 0.97
    return np.where(beyond, 0.97, low), np.where(beyond, 1.0, high), [f"g{n % 3}" for n in range(number)]


def test_where_the_model_is_right_windows_are_rarely_widened_and_it_costs_little() -> None:
    """In at most 10 % of 300 rooms of 60 right forecasts; their mean CRPS grows by under 1 %."""
    rng = np.random.default_rng(7)
    applied = []
    for _ in range(300):
        low, high, group = room_of(rng, 1.0, 60)
        applied.append(spreads(low, high, np.ones(60), group, ["g0"])["g0"].applied)
    factor = np.array(applied)
    assert float((factor > 1.0).mean()) <= 0.10
    grid = np.concatenate([[0.0], np.geomspace(1.0, 1000.0, 400)])
    truth = lognorm(0.3, scale=50.0).ppf((np.arange(200) + 0.5) / 200)

    def mean_score(spread: float) -> float:
        return float(np.mean([crps(grid, lognorm(0.3 * spread, scale=50.0).cdf(grid), t) for t in truth]))

    cost = np.mean([mean_score(value) for value in factor[:60]]) / mean_score(1.0) - 1.0
    assert 0.0 <= cost < 0.01


def test_errors_half_as_wide_again_are_told_and_windows_hold_again() -> None:
    """With errors 1.5 times as wide, after 60 intervals, 80 % windows hold 76–84 %, mean of 300 rooms."""
    rng = np.random.default_rng(9)
    held = []
    for _ in range(300):
        low, high, group = room_of(rng, 1.5, 60)
        applied = spreads(low, high, np.ones(60), group, ["g0"])["g0"].applied
        held.append(2.0 * float(ndtr(Z80 * applied / 1.5)) - 1.0)
    assert 0.76 <= float(np.mean(held)) <= 0.84
    assert 0.607 == pytest.approx(2.0 * float(ndtr(Z80 / 1.5)) - 1.0, abs=1e-3)


def test_a_group_without_forecasts_follows_its_room_and_nothing_is_narrowed() -> None:
    """No forecast: factor 1 and wide; a room too modest is not narrowed; a new group leans on the others."""
    nothing = spreads(np.zeros(0), np.zeros(0), np.zeros(0), [], ["a"])["a"]
    assert 1.0 == pytest.approx(nothing.factor, abs=0.02)
    assert (1.0, 0.0) == (nothing.applied, nothing.intervals)
    rng = np.random.default_rng(1)
    low, high, _ = room_of(rng, 0.6, 80)
    modest = spreads(low, high, np.ones(80), ["a"] * 80, ["a"])["a"]
    assert modest.high < 1.0 and modest.applied == 1.0
    low, high, _ = room_of(rng, 1.6, 80)
    wide = spreads(low, high, np.ones(80), ["a"] * 80, ["a", "new"])
    assert 1.0 < wide["new"].factor < wide["a"].factor
    assert wide["new"].low < wide["a"].low


@given(
    st.lists(st.floats(0.0, 1.0), min_size=3, max_size=12),
    st.floats(1.0, 2.0),
    st.floats(0.05, 1.0),
)
def test_widening_keeps_what_it_must(steps: list[float], factor: float, ever: float) -> None:
    """0 stays 0; the chance of no further moult, the median and the order stay; the rest moves outward."""
    rising = np.concatenate([[0.0], np.cumsum(np.array(steps) + 1e-3)])
    cumulative = (rising / rising[-1] * ever)[None, :]
    wider = widened(cumulative, np.array([factor]))
    assert 0.0 == wider[0, 0]
    assert ever == pytest.approx(wider[0, -1])
    assert np.all(np.diff(wider[0]) >= -1e-12)
    below = cumulative[0] <= ever / 2
    assert np.all(wider[0, below] >= cumulative[0, below] - 1e-12)
    assert np.all(wider[0, ~below] <= cumulative[0, ~below] + 1e-12)


def test_undoing_a_widening_gives_the_levels_back() -> None:
    """What a widened forecast says of an outcome is turned into what the plain one would have said."""
    level = np.array([0.02, 0.3, 0.5, 0.8, 0.99])
    wider = ndtr(ndtri(level) / 1.4)
    assert level == pytest.approx(unwidened(wider, np.full(5, 1.4)))
    assert list(level) == list(unwidened(level, np.ones(5)))


@pytest.mark.parametrize("truth", [0.5, 30.0, 80.0, 400.0])
def test_crps_is_the_integral_it_says(truth: float) -> None:
    """Against SciPy's quadrature of (F − 1[moulted])² over the points' span, also past the last point."""
    days, chance = np.array([0.0, 10.0, 50.0, 120.0]), np.array([0.0, 0.05, 0.6, 0.97])

    def squared(t: float) -> float:
        return float((np.interp(t, days, chance) - (t >= truth)) ** 2)

    pieces = sorted({0.0, 10.0, 50.0, 120.0, truth, max(120.0, truth)})
    expected = sum(quad(squared, a + 1e-9, b - 1e-9)[0] for a, b in zip(pieces, pieces[1:], strict=False))
    assert expected == pytest.approx(crps(days, chance, truth), rel=1e-6)
