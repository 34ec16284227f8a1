"""The product limit: R's numbers, the rules of the day, brute force, properties, measured coverage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.survival_coverage import curve_coverage
from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import ALIVE, DIED, LEFT, Floats, Lives
from nightround.science.survival.limits import METHODS
from nightround.science.survival.product_limit import (
    SHOWN,
    Curve,
    product_limit,
    product_limits,
    with_later_hazard,
)
from science.survival_data import CHANNING_MEN, CHANNING_WOMEN, lives_of

MONTHS = np.array([850.0, 900.0, 950.0, 1000.0, 1050.0, 1100.0])

# R 4.2.2, survival 3.5-3 (Debian):
#   data(channing, package="boot"); d <- subset(channing, entry < exit & sex == "Male")
#   f <- survfit(Surv(entry, exit, cens) ~ 1, data=d, conf.type="log-log", start.time=816)
#   summary(f, times=c(850,900,950,1000,1050,1100))     columns: survival, lower, upper
MEN_R = [
    (1.0, np.nan, np.nan),
    (0.804531129477, 0.6137815640789, 0.907635819207),
    (0.655983157713, 0.4814506901969, 0.784118786198),
    (0.500820398970, 0.3513983156538, 0.633037239027),
    (0.318000346665, 0.1984324970971, 0.444138864057),
    (0.150327436605, 0.0665263954716, 0.265818829532),
]
WOMEN_R = [
    (0.920526952433, 0.797067768060, 0.970219382078),
    (0.864438512626, 0.754864955546, 0.927314696855),
    (0.754515387410, 0.657445354526, 0.827632557219),
    (0.606200778391, 0.518353013265, 0.682980696907),
    (0.385706770231, 0.307834669315, 0.462861032519),
    (0.213449767300, 0.144619563516, 0.291290492262),
]
# The same with d$entry - 0.5 for d$entry: who comes on a day is at risk that day, our rule.
MEN_R_SAME_DAY = [1.0, 0.808091562417, 0.659491789148, 0.504897726091, 0.321392763531, 0.151931124578]
WOMEN_R_SAME_DAY = [
    0.923354881276, 0.868621380787, 0.759462551641, 0.610800804910, 0.389477855871, 0.215901376717,
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "expected", "n", "median"),
    [
        (CHANNING_MEN, MEN_R, 94, (1009.0, 945.0, 1033.0)),
        (CHANNING_WOMEN, WOMEN_R, 357, (1021.0, 1005.0, 1041.0)),
    ],
    ids=["men", "women"],
)
def test_late_entry_is_rs(
    text: str, expected: list[Floats], n: int, median: tuple[float, float, float]
) -> None:
    """Survival, log-log limits and medians of the Channing House residents are R's, to 1e-9.

    R counts who comes on a day from the day after: entries half a day late say that here.
    """
    curve = product_limit(lives_of(text, late_by=0.5), from_days=816.0, method="log-log")
    values = curve.at(MONTHS)
    np.testing.assert_allclose(np.stack([values.survival, values.low, values.high], 1), expected, rtol=1e-9)
    assert (n, median) == (curve.n, curve.day_of(0.5))


@pytest.mark.parametrize(
    ("text", "expected"), [(CHANNING_MEN, MEN_R_SAME_DAY), (CHANNING_WOMEN, WOMEN_R_SAME_DAY)]
)
def test_who_comes_on_a_day_is_at_risk_that_day(text: str, expected: list[float]) -> None:
    """Whole days keep our rule, which is R's with entries half a day earlier, to 1e-9."""
    curve = product_limit(lives_of(text), from_days=816.0)
    np.testing.assert_allclose(curve.at(MONTHS).survival, expected, rtol=1e-9)


# survfit(Surv(time, status) ~ 1, data=subset(aml, x=="Maintained"), conf.type="log-log") in the same R: the
# leukaemia trial of Embury et al. 1977 (R package survival, data set aml), weeks, + in remission yet.
AML = "0-9 0-13 0-13+ 0-18 0-23 0-28+ 0-31 0-34 0-45+ 0-48 0-161+"
AML_R = [
    (9, 11, 0.90909091, 0.508080206, 0.98667382),
    (13, 10, 0.81818182, 0.447428615, 0.95116223),
    (18, 8, 0.71590909, 0.350190386, 0.89902397),
    (23, 7, 0.61363636, 0.265752040, 0.83529924),
    (31, 5, 0.49090909, 0.167330910, 0.75339979),
    (34, 4, 0.36818182, 0.092829575, 0.65704083),
    (48, 2, 0.18409091, 0.011738480, 0.52501484),
]


def test_right_censoring_is_rs() -> None:
    """Numbers at risk, survival and log-log limits of the leukaemia trial are R's to the digits printed.

    On week 13 one relapses and one leaves sight: the relapse comes first, 10 at risk.
    """
    curve = product_limit(lives_of(AML), method="log-log")
    rows = np.stack([curve.days, curve.at_risk, curve.survival, curve.low, curve.high], axis=1)
    np.testing.assert_allclose(rows, AML_R, atol=6e-9)


# Freireich et al. 1963 (Blood 21:699), weeks of remission under 6-MP, as in Cox & Oakes 1984, table 1.1; from
# memory, as are the well-known steps of its product limit.
SIX_MP = (
    "0-6 0-6 0-6 0-6+ 0-7 0-9+ 0-10 0-10+ 0-11+ 0-13 0-16 0-17+ 0-19+ 0-20+ 0-22 0-23 0-25+ 0-32+ 0-32+"
    " 0-34+ 0-35+"
)


def test_six_mp() -> None:
    """The product limit of the 6-MP remissions: .857 .807 .753 .690 .627 .538 .448."""
    curve = product_limit(lives_of(SIX_MP))
    assert [6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0] == curve.days.tolist()
    assert [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448] == curve.survival.round(3).tolist()


def test_arrived_and_died_on_one_day() -> None:
    """One arrives and dies on day 100 while another, watched since 90, lives on: two at risk, survival 1/2.

    A program that does not count the arrival at risk divides by one, and survival falls to 0 although an
    animal lives.
    """
    lives = lives_of("100-100 90-150+ 95-130+")
    curve = product_limit(lives, from_days=90.0)
    assert [3.0] == curve.at_risk.tolist()
    assert 1 - 1 / 3 == pytest.approx(curve.survival[0])
    pair = product_limit(lives_of("100-100 90-150+ 160-170+"), from_days=90.0)
    assert ([2.0], [0.5]) == (pair.at_risk.tolist(), pair.survival.tolist())
    assert 0.5 == pair.at(np.array([149.0])).survival[0]


def test_survival_is_not_0_while_an_animal_lives() -> None:
    """Where all watched die and others come later, the curve starts after that day and says so."""
    lives = lives_of("0-10 2-12 20-40 20-50+ 25-60+ 30-70 33-80+")
    curve = product_limit(lives)
    assert (25.0, 2, 5) == (curve.from_days, curve.unused, curve.n)
    assert curve.survival[-1] > 0.0
    assert np.isnan(curve.at(np.array([10.0, 24.0])).survival).all()


def test_past_the_last_animal_survival_is_unknown() -> None:
    """After the last day anybody was watched the curve is NaN, unless all had died: then 0."""
    open_ended = product_limit(lives_of("0-10 0-20 0-30+"))
    assert np.isnan(open_ended.at(np.array([31.0])).survival[0])
    closed = product_limit(lives_of("0-10 0-20 0-30"))
    assert 0.0 == closed.at(np.array([31.0])).survival[0]
    assert (20.0, np.inf) == (
        product_limit(lives_of("0-10 0-20 0-30")).day_of(0.5)[0],
        open_ended.day_of(0.1)[0],
    )


def test_fewer_than_three_have_no_curve() -> None:
    """Two lives are refused, alone and in groups."""
    with pytest.raises(Refusal, match="at least 3 lives"):
        product_limit(lives_of("0-10 0-20"))
    curves = product_limits(lives_of("0-10 0-20 0-30 0-40 5-50+"), np.array([0, 0, 1, 1, 1]))
    assert curves[0] is None
    assert isinstance(curves[1], Curve)


def test_deaths_between_two_looks_are_refused() -> None:
    """The product limit takes no interval for a day."""
    with pytest.raises(Refusal, match="1 between two looks.*Turnbull"):
        product_limit(Lives(np.zeros(3), np.array([1.0, 2.0, 3.0]), np.array([1.0, 4.0, np.inf])))


def by_hand(lives: Lives, from_days: float, day: float) -> float:
    """Survival past a day, counted life by life."""
    survival = 1.0
    for death in sorted({float(d) for d in lives.left_days[lives.died] if from_days <= d <= day}):
        at_risk = sum(
            max(e, from_days) <= death <= x for e, x in zip(lives.entry_days, lives.left_days, strict=True)
        )
        died = int(np.sum(lives.died & (lives.left_days == death)))
        survival *= 1.0 - died / at_risk
    return survival


@st.composite
def rooms(draw: st.DrawFn) -> Lives:
    """Three to twelve lives with many ties, late entries, and censoring."""
    n = draw(st.integers(3, 12))
    entry = np.array(draw(st.lists(st.integers(0, 12), min_size=n, max_size=n)), dtype=float)
    stay = np.array(draw(st.lists(st.integers(0, 15), min_size=n, max_size=n)), dtype=float)
    died = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)))
    return Lives(entry, entry + stay, np.where(died, entry + stay, np.inf), np.where(died, DIED, LEFT))


@settings(max_examples=60)
@given(rooms())
def test_curves_are_what_counting_gives(lives: Lives) -> None:
    """Survival is that counted by hand; it falls, lies in its interval, in 0-1, whatever the order."""
    curve = product_limit(lives)
    assert np.all(np.diff(np.concatenate(([1.0], curve.survival))) <= 1e-12)
    for day, value in zip(curve.days, curve.survival, strict=True):
        assert by_hand(lives, curve.from_days, float(day)) == pytest.approx(float(value), abs=1e-12)
    assert np.all((curve.low <= curve.survival + 1e-9) & (curve.survival <= curve.high + 1e-9))
    assert np.all((curve.low >= 0.0) & (curve.high <= 1.0))
    turned = product_limit(lives.only(np.arange(len(lives))[::-1]))
    np.testing.assert_array_equal(curve.survival, turned.survival)
    np.testing.assert_array_equal(curve.low, turned.low)


@settings(max_examples=40)
@given(rooms(), st.integers(0, 30))
def test_a_life_that_leaves_as_it_comes_changes_nothing(lives: Lives, day: int) -> None:
    """A life censored on the day it came, on which nobody died, leaves every step as it was."""
    at = day + 0.25
    more = Lives(*(np.append(a, b) for a, b in (
        (lives.entry_days, at), (lives.left_days, at), (lives.right_days, np.inf)
    )))  # fmt: skip
    start = float(lives.entry_days.min())
    one, other = product_limit(lives, from_days=start), product_limit(more, from_days=start)
    np.testing.assert_array_equal(one.survival, other.survival)


@settings(max_examples=40)
@given(rooms())
def test_those_sold_with_their_later_hazard(lives: Lives) -> None:
    """Ratio 1 is the curve itself; 0.5 lies at or above, 2 at or below, 0 at or above both."""
    curve = product_limit(lives)
    same, half, twice, never = (with_later_hazard(lives, curve, ratio) for ratio in (1.0, 0.5, 2.0, 0.0))
    np.testing.assert_allclose(same, curve.survival, atol=1e-12)
    assert np.all((never >= half - 1e-12) & (half >= same - 1e-12) & (same >= twice - 1e-12))


def test_later_hazard_by_hand() -> None:
    """Ten watched, five sold on day 10, one of the other five dies on day 20, at twice the hazard later.

    The chance to live past day 20: (5 · 4/5 + 5 · (4/5)^2) / 10 = 0.72.
    """
    left = np.array([10.0] * 5 + [20.0] + [30.0] * 4)
    fate = np.array([LEFT] * 5 + [DIED] + [ALIVE] * 4)
    lives = Lives(np.zeros(10), left, np.where(fate == DIED, left, np.inf), fate)
    assert [0.72] == pytest.approx(with_later_hazard(lives, product_limit(lives), 2.0).tolist())


def test_intervals_without_censoring_are_binomial() -> None:
    """3 of 17 dead: the beta product is Clopper and Pearson's (R: binom.test(3, 17)), half-beta Jeffreys'."""
    lives = lives_of(" ".join(["0-5", "0-6", "0-7"] + ["0-20+"] * 14))
    exact = product_limit(lives, method="beta").at(np.array([10.0]))
    assert (1 - 0.4343178728443, 1 - 0.0379850680706) == pytest.approx(
        (exact.low[0], exact.high[0]), abs=1e-10
    )
    from scipy.special import betaincinv

    half = product_limit(lives).at(np.array([10.0]))
    jeffreys = betaincinv(14.5, 3.5, [0.025, 0.975])
    np.testing.assert_allclose([half.low[0], half.high[0]], jeffreys, rtol=1e-9)


def test_likelihood_interval_is_where_the_ratio_is_refuted() -> None:
    """At both ends of the likelihood interval, a search over all hazards finds the ratio at its limit."""
    from scipy.optimize import minimize

    lives = lives_of(AML)
    curve = product_limit(lives, method="likelihood")
    d, n = curve.deaths[:4], curve.at_risk[:4]
    best = float(np.sum(d * np.log(d / n) + (n - d) * np.log(1 - d / n)))
    for end in (curve.low[3], curve.high[3]):
        found = minimize(
            lambda h: -float(np.sum(d * np.log(h) + (n - d) * np.log(1 - h))), d / n, method="SLSQP",
            bounds=[(1e-9, 1 - 1e-9)] * 4, options={"ftol": 1e-14, "maxiter": 500},
            constraints={"type": "eq", "fun": lambda h, end=end: float(np.prod(1 - h) - end)},
        )  # fmt: skip
        assert 3.841458820694124 == pytest.approx(2 * (best + float(found.fun)), rel=1e-4)


def test_an_unknown_method_is_refused() -> None:
    """The table of intervals is named."""
    with pytest.raises(Refusal, match="half-beta"):
        product_limit(lives_of(AML), method="plain")
    assert SHOWN in METHODS


@pytest.mark.parametrize("n", [10, 40])
def test_intervals_hold_what_they_say(n: int) -> None:
    """250 rooms with late entry and censoring: 95 % intervals hold on 93-97 % of days, widened by chance.

    Days of one room go together, so three Monte Carlo errors of 250 rooms are taken: 0.02 at most.
    """
    held = curve_coverage(n, 250, (SHOWN,))[SHOWN]
    assert 0.92 <= held.all <= 0.98, held


@pytest.mark.long
@pytest.mark.parametrize("n", [10, 20, 40, 100])
def test_intervals_hold_what_they_say_in_1500_rooms(n: int) -> None:
    """1,500 rooms: 93-97 % over all days, and no single day under 91 %."""
    held = curve_coverage(n, 1500, (SHOWN,))[SHOWN]
    assert 0.93 <= held.all <= 0.97, held
    assert held.by_day.min() >= 0.91, held
