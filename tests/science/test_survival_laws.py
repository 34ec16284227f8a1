"""Weibull and Gompertz laws: R's and lifelines' numbers, profile intervals, priors, refusals, coverage."""

from __future__ import annotations

import csv
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchmarks.survival_coverage import invented_lives, law_coverage
from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import Floats, Lives
from nightround.science.survival.parametric import LAWS, Fit, Prior, fit, log_likelihood
from science.survival_data import (
    CHANNING_MEN,
    CHANNING_WOMEN,
    COSMESIS_BOTH,
    COSMESIS_RADIATION,
    lives_of,
    looks_of,
    waltons,
)

FREMALE = Path(__file__).parent.parent / "data" / "survival" / "fremale.csv"


def fremale() -> Lives:
    """A hundred invented Frenchmen, ages in years, with late entry (R package fitdistrplus)."""
    with FREMALE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    age_in, age_out, death = (
        np.array([float(row[name]) for row in rows]) for name in ("age_in", "age_out", "death")
    )
    return Lives(age_in, age_out, np.where(death > 0, age_out, np.inf))


# R 4.2.2: optim (BFGS, reltol 1e-15) of
#   sum(d*dweibull(t,k,s,log=TRUE) + (1-d)*pweibull(t,k,s,lower=FALSE,log=TRUE)
#       - pweibull(e,k,s,lower=FALSE,log=TRUE))            in log(s), log(k), and of
#   sum(d*(log(r)+b*t) - r*expm1(b*t)/b + r*expm1(b*e)/b)  in log(r), b
# on fitdistrplus 1.1-8's fremale and on boot's channing (entry < exit) by sex; profile limits by uniroot of
# twice the lost log-likelihood less qchisq(.95, 1). Rows: number, value, low, high.
R_LAWS: dict[str, tuple[str, float, list[tuple[str, float, float, float]]]] = {
    "fremale weibull": ("weibull", -241.833509895, [
        ("scale_days", 45.34104672080, 29.44388189278, 56.08809051011),
        ("shape", 2.81351134428, 1.86307198715, 3.86337841797)]),
    "fremale gompertz": ("gompertz", -241.2071760562, [
        ("rate_per_day", 0.01495943207126, 0.00453639316566, 0.04416050272710),
        ("ageing_per_day", 0.0309529764709, 0.0156233245871, 0.0472214902941)]),
    "men weibull": ("weibull", -274.75089740591, [
        ("scale_days", *np.exp([6.87610248626, 6.41626029656, 6.94679231597])),
        ("shape", *np.exp([1.83740302914, 0.816733142612, 2.341148794822]))]),
    "women weibull": ("weibull", -801.74701507537, [
        ("scale_days", *np.exp([6.96450935148, 6.94041492540, 6.98373906105])),
        ("shape", *np.exp([2.26341123908, 2.00703480893, 2.46693225005]))]),
}  # fmt: skip


def set_of(name: str) -> Lives:
    """The lives of a row of the table."""
    return {
        "fremale": fremale,
        "men": lambda: lives_of(CHANNING_MEN),
        "women": lambda: lives_of(CHANNING_WOMEN),
    }[name.split()[0]]()


@pytest.mark.parametrize("name", R_LAWS)
def test_late_entry_is_rs(name: str) -> None:
    """Log-likelihood and profile limits are R's to 1e-6; best numbers to where R's optimiser stops, 2e-5.

    The likelihood is flat there to the tenth digit, and ours is no lower than R's.
    """
    law, value, rows = R_LAWS[name]
    found = fit(set_of(name), law, for_few_deaths=False)
    assert value == pytest.approx(found.log_likelihood, abs=1e-7)
    assert found.log_likelihood >= value - 1e-9
    told = found.parameters()
    for number, best, low, high in rows:
        assert best == pytest.approx(told[number].value, rel=2e-5)
        assert (low, high) == pytest.approx((told[number].low, told[number].high), rel=1e-6)
        assert told[number].bounded


def test_fremale_is_as_published() -> None:
    """R's fitdistrplus: Weibull 45.34 / 2.814 at -241.83, Gompertz 0.03095 / 0.01496 at -241.21."""
    weibull, gompertz = fit(fremale()), fit(fremale(), "gompertz")
    numbers = [round(one.value, 3) for one in weibull.parameters().values()]
    assert ([45.341, 2.814], -241.83) == (numbers, round(weibull.log_likelihood, 2))
    rate, ageing = (one.value for one in gompertz.parameters().values())
    assert (0.01496, 0.03095, -241.21) == (
        round(rate, 5),
        round(ageing, 5),
        round(gompertz.log_likelihood, 2),
    )


def test_waltons_is_rs() -> None:
    """R, m <- survreg(Surv(T,E)~1): exp(coef(m)), 1/m$scale and m$loglik, to 1e-8."""
    found = fit(waltons())
    told = found.parameters()
    assert (55.7330784677, 3.45051034797) == pytest.approx(
        (told["scale_days"].value, told["shape"].value), rel=1e-8
    )
    assert found.log_likelihood == pytest.approx(-672.062187271, abs=1e-8)


# R: survreg(Surv(lower, upper, type="interval2") ~ 1) on KMsurv's bcdeter by treat, lower 0 as NA.
@pytest.mark.parametrize(
    ("text", "scale", "shape", "value"),
    [
        (COSMESIS_RADIATION, 57.52453328890, 1.12041013672, -64.59213928477),
        (COSMESIS_BOTH, 27.92517897826, 2.14498676426, -81.60920294539),
    ],
)
def test_deaths_between_looks_are_rs(text: str, scale: float, shape: float, value: float) -> None:
    """Interval-censored Weibull fits are R's to 1e-6; two dated deaths count by their density, as in R."""
    found = fit(looks_of(text))
    told = found.parameters()
    assert (scale, shape) == pytest.approx((told["scale_days"].value, told["shape"].value), rel=1e-6)
    assert value == pytest.approx(found.log_likelihood, abs=1e-7)


# lifelines 0.30.3: f = WeibullFitter().fit(exit, dead, entry=entry); f.lambda_, f.rho_, f.log_likelihood_
LIFELINES = {
    "men": (968.8396266633694, 6.280101519367955, -274.75089740440615),
    "women": (1058.3949947834017, 9.615767537348427, -801.7470150734592),
}


@pytest.mark.parametrize("name", LIFELINES)
def test_lifelines_says_the_same(name: str) -> None:
    """lifelines' Weibull of the residents, recorded and (where installed) run now, agrees to 1e-6."""
    lives = set_of(name)
    found = fit(lives)
    told = [one.value for one in found.parameters().values()]
    rows = [LIFELINES[name]]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            from lifelines import WeibullFitter
        except ImportError:
            pass
        else:
            other: Any = WeibullFitter().fit(lives.left_days, lives.died, entry=lives.entry_days)
            rows.append((other.lambda_, other.rho_, other.log_likelihood_))
    for scale, shape, value in rows:
        assert (scale, shape) == pytest.approx(told, rel=1e-5)
        assert found.log_likelihood >= value - 1e-8
        assert value == pytest.approx(found.log_likelihood, abs=1e-5)


def profile_end(found: Fit, lives: Lives, day: float, *, low: bool) -> float:
    """Lowest or highest survival past a day among numbers whose likelihood is not refuted, by SLSQP."""
    from scipy.optimize import minimize

    def survival(u: Floats) -> float:
        return float(np.exp(-found.law.cumulative(u[:, None], np.array([[day]])))[0, 0])

    def room(u: Floats) -> float:
        lost = found.log_likelihood - float(log_likelihood(found.law, lives, u[:, None])[0])
        return 3.841458820694124 / 2 - lost

    sign = 1.0 if low else -1.0
    scale = np.array([1.0, 1.0 if found.law.name == "weibull" else 0.01])
    ends = []
    for nudge in ([0.05, 0.05], [-0.05, 0.05], [0.05, -0.05], [-0.05, -0.05]):
        start = (found.best + np.array(nudge) * scale) / scale
        done = minimize(
            lambda x: sign * survival(x * scale), start, method="SLSQP",
            constraints={"type": "ineq", "fun": lambda x: room(x * scale)},
            options={"ftol": 1e-14, "maxiter": 400},
        )  # fmt: skip
        if room(done.x * scale) > -1e-6:
            ends.append(survival(done.x * scale))
    return min(ends) if low else max(ends)


@pytest.mark.parametrize("law", LAWS)
def test_profile_limits_of_survival_are_constrained_extremes(law: str) -> None:
    """The interval of survival past 70 years is what constrained optimisation finds, to 1e-4."""
    lives = fremale()
    found = fit(lives, law, for_few_deaths=False)
    (told,) = found.survival(np.array([70.0]))
    assert told.low == pytest.approx(profile_end(found, lives, 70.0, low=True), abs=1e-4)
    assert told.high == pytest.approx(profile_end(found, lives, 70.0, low=False), abs=1e-4)


@pytest.mark.parametrize("law", LAWS)
def test_answers_fit_together(law: str) -> None:
    """Half live past the median; survival falls; 1 on the first day; conditional survival is a ratio."""
    found = fit(fremale(), law)
    median = found.day_of(0.5)
    assert found.survival(np.array([median.value]))[0].value == pytest.approx(0.5)
    assert median.low < median.value < median.high
    told = found.survival(np.array([40.0, 60.0, 80.0]), from_days=40.0)
    values = [one.value for one in told]
    assert [1.0] == values[:1]
    assert values == sorted(values, reverse=True)
    whole = found.survival(np.array([40.0, 80.0]))
    assert values[2] == pytest.approx(whole[1].value / whole[0].value)
    assert all(0.0 <= one.low <= one.value <= one.high <= 1.0 for one in told)


def test_gompertz_of_constant_hazard_is_exponential() -> None:
    """With ageing 0 the hazard is the rate: survival exp(-rate t), median log 2 / rate."""
    law, u = LAWS["gompertz"], np.array([[np.log(0.02)], [0.0]])
    days = np.array([[0.0], [10.0], [50.0]])
    np.testing.assert_allclose(law.cumulative(u, days)[:, 0], 0.02 * days[:, 0], rtol=1e-12)
    assert np.log(2) / 0.02 == pytest.approx(float(law.day_of(u, 0.5)[0]))


def test_gompertz_may_never_reach_a_share() -> None:
    """Falling hazard: if only 1 - 1/e ever die, the day at which 80 % are dead does not come."""
    u = np.array([[np.log(0.01)], [-0.01]])
    assert np.inf == LAWS["gompertz"].day_of(u, 0.2)[0]


def test_a_prior_speaks_where_lives_are_silent() -> None:
    """Three alive, none dead: refused without a prior; with one the fit stays near it, and says so wide."""
    lives = Lives(np.zeros(3), np.array([300.0, 500.0, 700.0]), np.full(3, np.inf))
    with pytest.raises(Refusal, match="3 deaths or a prior"):
        fit(lives)
    prior = Prior((float(np.log(3000.0)), float(np.log(2.0))), (0.7, 0.4))
    found = fit(lives, prior=prior)
    assert found.parameters()["scale_days"].value == pytest.approx(3000.0, rel=0.2)
    (told,) = found.survival(np.array([3000.0]))
    assert told.high - told.low > 0.5
    assert found.log_posterior < found.log_likelihood


def test_a_weak_prior_hardly_moves_a_hundred_lives() -> None:
    """Log scale with sd 10 and log shape with sd 10 move fremale's numbers by under a thousandth."""
    plain = fit(fremale()).parameters()
    weak = fit(fremale(), prior=Prior((4.0, 0.5), (10.0, 10.0))).parameters()
    for name, told in plain.items():
        assert told.value == pytest.approx(weak[name].value, rel=2e-3)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_what_has_no_best_fit_is_refused() -> None:
    """All dead on one day: the shape grows without end. Deaths on day 0, unknown laws, pairs: refused too."""
    with pytest.raises(Refusal, match="a best fit within sight"):
        fit(lives_of("0-50 0-50 0-50 0-50"))
    with pytest.raises(Refusal, match="whole_days"):
        fit(lives_of("0-0 0-50 0-60 0-70"))
    with pytest.raises(Refusal, match="weibull, gompertz"):
        fit(fremale(), "normal")
    with pytest.raises(Refusal, match="at least 3 lives"):
        fit(lives_of("0-50 0-60"))


def test_order_and_empty_stays_change_nothing() -> None:
    """Reversed lives, and a life that left on the day it came, leave the fit as it was."""
    lives = fremale()
    one = fit(lives).parameters()["scale_days"].value
    turned = fit(lives.only(np.arange(len(lives))[::-1])).parameters()["scale_days"].value
    more = Lives(
        np.append(lives.entry_days, 30.0),
        np.append(lives.left_days, 30.0),
        np.append(lives.right_days, np.inf),
    )
    assert one == pytest.approx(turned, rel=1e-7)
    assert one == pytest.approx(fit(more).parameters()["scale_days"].value, rel=1e-7)


def test_laws_recover_their_truth() -> None:
    """40 rooms of 400 lives, shape 2.5, scale 1,500, late entry: each true number is held by 33 or more.

    Of 40 sound intervals of 95 % fewer than 33 hold in 7 of 10,000 runs.
    """
    held = np.zeros(2)
    for seed in range(40):
        lives = invented_lives(np.random.default_rng(seed), 400).whole_days()
        told = fit(lives).parameters()
        scale, shape = told["scale_days"], told["shape"]
        held += [scale.low < 1500.0 < scale.high, shape.low < 2.5 < shape.high]
    assert held.min() >= 33, held


def test_intervals_of_laws_hold_what_they_say() -> None:
    """120 rooms of 20: 95 % intervals hold on 91-99.5 % of days (three Monte Carlo errors of 120 rooms)."""
    held = law_coverage(20, 120)
    assert 0.91 <= held.all <= 0.995, held


@pytest.mark.long
@pytest.mark.parametrize("n", [20, 40])
def test_intervals_of_laws_hold_in_a_thousand_rooms(n: int) -> None:
    """1,000 rooms: 93-97 % over all days."""
    held = law_coverage(n, 1000)
    assert 0.93 <= held.all <= 0.97, held
