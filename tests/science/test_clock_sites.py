"""The closed forms of the moult clock's likelihood, against numerical integration (scipy.integrate)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from nightround.science.clock import sites

NOISE = sites.Noise.of(0.27, 0.03)
MEANS = (3.0, 3.4, 4.2)
VARIANCE = 0.06
ZERO = np.zeros(1)


def log_density(log_length: float, eta: float) -> float:
    """Density of log D at eta, straight from the mixture's definition."""
    spread = np.sqrt(NOISE.variance)
    return float((NOISE.weight * norm.pdf(log_length, eta + NOISE.shift, spread)).sum())


def over_eta(function: Callable[[float], float], mean: float) -> float:
    """Average a function of eta over its normal doubt."""
    spread = np.sqrt(VARIANCE)
    value, _ = quad(
        lambda eta: function(eta) * norm.pdf(eta, mean, spread),
        mean - 9 * spread,
        mean + 9 * spread,
        limit=200,
    )
    return float(value)


def survival(length: float, eta: float) -> float:
    """P(D > length | eta)."""
    return float(
        (NOISE.weight * norm.sf((np.log(length) - eta - NOISE.shift) / np.sqrt(NOISE.variance))).sum()
    )


def array(value: float) -> sites.FloatArray:
    """One value as an array of one."""
    return np.array([value])


@pytest.mark.parametrize("mean", MEANS)
def test_a_window_is_the_probability_between_its_ends(mean: float) -> None:
    """P(30 < D <= 33) averaged over eta equals the double integral."""
    expected = over_eta(lambda eta: survival(30.0, eta) - survival(33.0, eta), mean)
    sums = sites.window(array(np.log(30.0)), array(np.log(33.0)), array(mean), array(VARIANCE), NOISE)
    assert expected == pytest.approx(float(sums.value[0]), rel=1e-7)


@pytest.mark.parametrize("mean", MEANS)
def test_waiting_counts_the_chance_of_no_further_moult(mean: float) -> None:
    """p + (1 - p) P(D > 30), the chance p that the last moult was the final one."""
    expected = over_eta(lambda eta: 0.2 + 0.8 * survival(30.0, eta), mean)
    sums = sites.waiting(array(np.log(30.0)), array(mean), array(VARIANCE), NOISE, array(0.2))
    assert expected == pytest.approx(float(sums.value[0]), rel=1e-7)


@pytest.mark.parametrize("mean", MEANS)
def test_renewal_tail_is_the_integral_of_survival_over_the_mean(mean: float) -> None:
    """G(30) = integral of S from 30 on over E[D], both by quadrature."""

    def tail(eta: float) -> float:
        centre = eta + NOISE.shift + NOISE.variance / 2.0
        expected_length = float((NOISE.weight * np.exp(centre)).sum())
        value, _ = quad(lambda y: survival(np.exp(y), eta) * np.exp(y), np.log(30.0), eta + 14.0, limit=300)
        return value / expected_length

    sums = sites.renewal_tail(array(np.log(30.0)), array(mean), array(VARIANCE), NOISE)
    assert over_eta(tail, mean) == pytest.approx(float(sums.value[0]), rel=1e-6)


def test_the_wait_of_an_arrival_is_certain_to_be_longer_than_nothing() -> None:
    """G(0) = 1 and G(infinity) = 0: the renewal wait is a proper distribution."""
    ends = np.array([-np.inf, np.inf])
    value = sites.renewal_tail(ends, np.full(2, 3.4), np.full(2, VARIANCE), NOISE).value
    np.testing.assert_allclose(value, [1.0, 0.0], atol=1e-12)


FORMS: dict[str, Callable[[sites.FloatArray], sites.Sums]] = {
    "window": lambda m: sites.window(array(3.4), array(3.5), m, array(VARIANCE), NOISE),
    "narrow window": lambda m: sites.narrow_window(array(3.4), array(3.43), m, array(VARIANCE), NOISE),
    "waiting": lambda m: sites.waiting(array(3.4), m, array(VARIANCE), NOISE, array(0.1)),
    "renewal": lambda m: sites.renewal(array(3.4), array(3.5), m, array(VARIANCE), NOISE),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("mean", MEANS)
def test_derivatives_are_those_of_the_value(form: str, mean: float) -> None:
    """First and second derivative in the mean equal central differences."""
    function, step = FORMS[form], 1e-4
    ahead, here, behind = (function(array(mean + offset)) for offset in (step, 0.0, -step))
    assert (ahead.value[0] - behind.value[0]) / (2 * step) == pytest.approx(float(here.first[0]), rel=1e-5)
    assert (ahead.first[0] - behind.first[0]) / (2 * step) == pytest.approx(float(here.second[0]), rel=1e-5)


def test_narrow_windows_equal_exact_ones() -> None:
    """Two-point quadrature differs from the exact probability by less than 1 in 100,000."""
    days = np.array([16.0, 30.0, 60.0, 200.0])
    means = np.array([2.9, 3.2, 4.4, 5.0])
    low, high, doubt = np.log(days - 0.5), np.log(days + 0.5), np.full(4, VARIANCE)
    exact = sites.window(low, high, means, doubt, NOISE)
    narrow = sites.narrow_window(low, high, means, doubt, NOISE)
    np.testing.assert_allclose(narrow.value, exact.value, rtol=1e-5)
    np.testing.assert_allclose(narrow.first / exact.value, exact.first / exact.value, atol=1e-4)


def test_far_tails_stay_finite() -> None:
    """A length forty standard deviations away has a finite log likelihood and derivatives."""
    sums = sites.window(array(20.0), array(20.1), array(0.0), array(0.01), NOISE)
    log_z, first, second = sites.log_moments(sums)
    assert np.isfinite([log_z[0], first[0], second[0]]).all()
    tail = sites.renewal_tail(array(60.0), array(0.0), array(0.01), NOISE)
    assert np.isfinite(tail.value).all()
