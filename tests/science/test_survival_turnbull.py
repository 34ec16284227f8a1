"""Turnbull's estimate: R's numbers, another program's likelihood, brute force, uniqueness, speed."""

from __future__ import annotations

import time
import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.survival_speed import looked_at_lives
from nightround.foundation.refusal import Refusal
from nightround.science.survival.cells import cells_of
from nightround.science.survival.data import Floats, Lives
from nightround.science.survival.product_limit import product_limit
from nightround.science.survival.turnbull import Turnbull, log_likelihood_of, turnbull
from science.survival_data import CHANNING_WOMEN, COSMESIS_BOTH, COSMESIS_RADIATION, lives_of, looks_of

# R 4.2.2, survival 3.5-3, KMsurv 0.1-5 (Debian): data(bcdeter); x <- subset(bcdeter, treat==1)
#   x$lower[x$lower==0] <- NA; survfit(Surv(lower, upper, type="interval2") ~ 1, data=x)
# Survival right after each of these months; R stops climbing at the fourth digit or so.
RADIATION_R = {
    5: 0.953661991281, 7: 0.920268748851, 8: 0.831623211879, 12: 0.760877365661, 25: 0.668228727157,
    34: 0.586417055221, 40: 0.465857836869, 48: 0.0,
}  # fmt: skip
BOTH_R = {
    5: 0.957580646469, 8: 0.915161292937, 12: 0.847808257351, 17: 0.702746890762, 19: 0.587535745309,
    20: 0.459983118075, 25: 0.330212782924, 34: 0.229156565886, 36: 0.107615016298, 48: 0.0,
}  # fmt: skip


def own_log_likelihood(lives: Lives, found: Turnbull) -> float:
    """Log-likelihood of a found curve by the plain formula, life by life."""
    dated = lives.left_days == lives.right_days
    after = np.where(np.isfinite(lives.right_days), lives.right_days, 0.0)
    mass_before = np.array([float(np.sum(found.mass[found.upto <= day])) for day in lives.left_days])
    strictly = np.array([float(np.sum(found.mass[found.upto < day])) for day in lives.left_days])
    left = 1.0 - np.where(dated, strictly, mass_before)
    right = 1.0 - np.array([float(np.sum(found.mass[found.upto <= day])) for day in after])
    entry = 1.0 - np.array([float(np.sum(found.mass[found.upto <= day - 0.25])) for day in lives.entry_days])
    return log_likelihood_of(lives, left, right, entry)


@pytest.mark.parametrize(
    ("text", "expected"),
    [(COSMESIS_RADIATION, RADIATION_R), (COSMESIS_BOTH, BOTH_R)],
    ids=["radiation", "both"],
)
def test_cosmesis_is_rs(text: str, expected: dict[int, float]) -> None:
    """Steps of the breast cosmesis trial are R's within its own convergence, and the likelihood no lower."""
    lives = looks_of(text)
    found = turnbull(lives)
    low, high = found.at(np.array(list(expected), dtype=float))
    np.testing.assert_allclose(high, list(expected.values()), atol=1.5e-3)
    assert (True, True) == (found.converged, found.unique)
    days = np.array([0, *expected], dtype=float)
    steps = np.array([1.0, *expected.values()])

    def theirs(at: Floats) -> Floats:
        return steps[np.searchsorted(days, at, side="right") - 1]

    dated = lives.left_days == lives.right_days
    after = np.where(np.isfinite(lives.right_days), lives.right_days, 0.0)
    before = theirs(np.where(dated, lives.left_days - 0.5, lives.left_days))
    told = log_likelihood_of(lives, before, theirs(after), np.ones(len(lives)))
    assert found.log_likelihood >= told - 1e-9
    assert told == pytest.approx(found.log_likelihood, abs=0.01)
    assert own_log_likelihood(lives, found) == pytest.approx(found.log_likelihood, abs=1e-6)


def test_radiation_steps() -> None:
    """The published steps .954 .920 .832 .761 .668 .586 .466 0 (Klein & Moeschberger, from R's KMsurv)."""
    found = turnbull(looks_of(COSMESIS_RADIATION))
    assert [0.954, 0.920, 0.832, 0.761, 0.668, 0.586, 0.466, 0.0] == found.survival.round(3).tolist()
    assert [4.0, 6.0, 7.0, 11.0, 24.0, 33.0, 38.0, 46.0] == found.after.tolist()
    assert [5.0, 7.0, 8.0, 12.0, 25.0, 34.0, 40.0, 48.0] == found.upto.tolist()


def test_dated_deaths_give_the_product_limit() -> None:
    """Without a death between two looks it is the product limit, in one step, late entry and all."""
    lives = lives_of(CHANNING_WOMEN)
    found, curve = turnbull(lives), product_limit(lives)
    assert (curve.from_days, 1) == (found.from_days, found.steps)
    np.testing.assert_allclose(found.survival, curve.survival, rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(found.upto, curve.days)


# surpyval 0.25, on `looked_at_lives(np.random.default_rng(seed), n, most_days=gap)`:
#   c = where(right == inf, 1, where(left == right, 0, 2)); xr = where(right == inf, left, right)
#   m = surpyval.Turnbull.fit(xl=left, xr=right, tl=entry - 0.5)
# log-likelihood of its steps m.x, m.R by log_likelihood_of, survival right before entry taken at entry - 0.5.
SURPYVAL = [
    (1, 30, 60, -27.26266272),
    (2, 30, 200, -19.44864911),
    (3, 100, 60, -83.42906617),
    (4, 400, 30, -548.30610046),
]


def surpyvals(lives: Lives) -> float | None:
    """Log-likelihood of surpyval's estimate, or None where it is not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            import surpyval
        except ImportError:
            return None
        model: Any = surpyval.Turnbull.fit(xl=lives.left_days, xr=lives.right_days, tl=lives.entry_days - 0.5)
    levels = np.concatenate(([1.0], model.R))

    def at(days: Floats) -> Floats:
        return np.asarray(levels[np.searchsorted(model.x, days, side="right")])

    after = np.where(np.isfinite(lives.right_days), lives.right_days, 0.0)
    dated = lives.left_days == lives.right_days
    left = at(np.where(dated, lives.left_days - 0.5, lives.left_days))
    return log_likelihood_of(lives, left, at(after), at(lives.entry_days - 0.5))


@pytest.mark.parametrize(("seed", "n", "gap", "theirs"), SURPYVAL)
def test_likelihood_with_late_entry_is_no_lower_than_surpyvals(
    seed: int, n: int, gap: int, theirs: float
) -> None:
    """Rooms with late entry: the log-likelihood is at least surpyval's, and not by much more."""
    lives = looked_at_lives(np.random.default_rng(seed), n, most_days=gap)
    found = turnbull(lives)
    now = surpyvals(lives)
    if now is not None:
        assert theirs == pytest.approx(now, abs=1e-6)
    assert found.converged
    assert found.log_likelihood >= theirs - 1e-6
    assert theirs == pytest.approx(found.log_likelihood, abs=0.2)


@st.composite
def small_rooms(draw: st.DrawFn) -> Lives:
    """Three to eight lives with late entry, deaths dated and between looks, and at least one death."""
    n = draw(st.integers(3, 8))

    def column(most: int) -> Floats:
        return np.array(draw(st.lists(st.integers(0, most), min_size=n, max_size=n)), dtype=float)

    entry = column(6)
    left = entry + column(5)
    right = left + column(4)
    alive = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)))
    alive[0] = False
    return Lives(entry, left, np.where(alive, np.inf, right))


def brute(lives: Lives, rng: np.random.Generator) -> float:
    """Best log-likelihood of hazards of the cells, found by climbing from four places, life by life."""
    from scipy.optimize import minimize

    cells = cells_of(lives)
    died = lives.died
    number = np.flatnonzero(died)

    def short(x: Floats) -> float:
        hazard = np.clip(1.0 / (1.0 + np.exp(-x)), 0.0, 1 - 1e-10)
        log_s = np.concatenate(([0.0], np.cumsum(np.log1p(-hazard))))
        total = 0.0
        for i, (first, last) in enumerate(zip(cells.first, cells.last, strict=True)):
            total += log_s[first] + np.log(-np.expm1(log_s[last + 1] - log_s[first]) + 1e-300)
            total -= log_s[cells.entry[number[i]]]
        total += float(np.sum(log_s[cells.seen]) - np.sum(log_s[cells.entry[~died]]))
        return -total

    starts = [rng.normal(0.0, 2.0, len(cells.after)) for _ in range(4)]
    return max(-float(minimize(short, start, method="BFGS", options={"gtol": 1e-9}).fun) for start in starts)


@settings(max_examples=20)
@given(small_rooms())
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_the_likelihood_is_the_highest(lives: Lives) -> None:
    """Climbing over all hazards from several places finds nothing higher than 2e-6 above; bounds hold."""
    found = turnbull(lives)
    assert brute(lives, np.random.default_rng(3)) <= found.log_likelihood + 2e-6
    assert np.all(np.diff(found.survival) <= 1e-12)
    assert np.all((found.survival >= 0.0) & (found.survival <= 1.0) & (found.mass > 0.0))
    assert found.mass.sum() <= 1.0 + 1e-9


@settings(max_examples=40)
@given(small_rooms())
def test_order_does_not_matter(lives: Lives) -> None:
    """Lives in another order give the same likelihood and, where unique, the same survival."""
    one = turnbull(lives)
    other = turnbull(lives.only(np.random.default_rng(1).permutation(len(lives))))
    assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=1e-6)
    if one.unique and len(one.survival) == len(other.survival):
        np.testing.assert_allclose(one.survival, other.survival, atol=2e-3)


@settings(max_examples=30)
@given(small_rooms())
def test_without_late_entry_the_masses_are_unique(lives: Lives) -> None:
    """All watched from day 0: always unique."""
    early = Lives(np.zeros(len(lives)), lives.left_days, lives.right_days)
    assert turnbull(early).unique


def test_late_entry_may_leave_masses_open() -> None:
    """A case with late entry that is told not unique: moving mass along the free direction costs nothing.

    All of (0, 9], with one that came on day 5 and was seen alive on day 8: mass before day 5 and after day 8
    are told apart by the condition of entry only.
    """
    lives = Lives(np.array([0.0, 0.0, 5.0]), np.array([0.0, 0.0, 8.0]), np.array([9.0, 9.0, 9.0]))
    found = turnbull(lives)
    assert not found.unique
    cells = cells_of(lives)
    assert ([0.0, 8.0], [5.0, 9.0]) == (cells.after.tolist(), cells.upto.tolist())
    assert 0.0 == pytest.approx(found.log_likelihood, abs=1e-6)


def test_inside_a_cell_the_curve_is_a_range() -> None:
    """Between looks survival lies between dead at once and dead at last; outside cells it is one number."""
    found = turnbull(Lives(np.zeros(3), np.array([10.0, 12.0, 30.0]), np.array([20.0, 18.0, np.inf])))
    low, high = found.at(np.array([11.0, 15.0, 20.0, 31.0]))
    np.testing.assert_allclose(low[:3], [1.0, 1 / 3, 1 / 3], atol=1e-6)
    np.testing.assert_allclose(high[:3], [1.0, 1.0, 1 / 3], atol=1e-6)
    assert np.isnan([low[3], high[3]]).all()


def test_what_cannot_be_estimated_is_refused() -> None:
    """Two lives, and lives without a death."""
    with pytest.raises(Refusal, match="at least 3 lives"):
        turnbull(Lives(np.zeros(2), np.ones(2), np.full(2, 3.0)))
    with pytest.raises(Refusal, match="a death"):
        turnbull(Lives(np.zeros(3), np.ones(3), np.full(3, np.inf)))


@pytest.mark.parametrize(("late", "gap"), [(False, 30), (True, 30), (True, 200)])
def test_two_thousand_intervals_in_two_seconds(late: bool, gap: int) -> None:
    """2,000 intervals, late entry or not, converge in under 2 s of processor time."""
    lives = looked_at_lives(np.random.default_rng(1), 2000, late=late, most_days=gap)
    began = time.process_time()
    found = turnbull(lives)
    assert found.converged
    assert time.process_time() - began < 2.0
