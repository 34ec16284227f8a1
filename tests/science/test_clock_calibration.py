"""Simulation-based calibration of the moult clock, reduced and whole (Talts et al., arXiv 1804.06788)."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.sbc_clock import FORECASTS, PARAMETERS, QUANTITIES, Trial, judged, run_trials
from nightround.foundation.refusal import Refusal
from nightround.science.clock.draw import RoomShape, draw_room
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.integrate import AXIS, CORNER
from nightround.science.clock.posterior import draws, hyper_moments
from nightround.science.clock.priors import HYPER_NAMES, hyper_sd
from nightround.science.clock.shape import fitted_shape, lattice, normal_shape

ROOMS = 60


@pytest.fixture(scope="module")
def fitted() -> ClockFit:
    """A small drawn room, fitted."""
    return fit(draw_room(np.random.default_rng(31), RoomShape(animals=24, record_days=500)).data)


def test_sixty_rooms_are_calibrated() -> None:
    """Of 60 rooms drawn from the priors every quantity's ranks lie in their simultaneous bands.

    Normal scores: mean within 0.4 of 0 and sd within 0.7-1.3 (three Monte Carlo errors of 60 rooms: 0.39
    and 0.27).
    """
    for row in judged(run_trials(ROOMS)):
        assert row.inside, row
        assert abs(row.mean) < 0.4, row
        assert 0.7 < row.sd < 1.3, row


@pytest.mark.long
def test_a_thousand_rooms() -> None:
    """1,000 rooms: all quantities in their bands, |mean| <= 0.1, sd 0.93-1.07; intervals hold as they say."""
    trials = run_trials(1000)
    rows = {row.quantity: row for row in judged(trials)}
    assert tuple(rows) == QUANTITIES == PARAMETERS + FORECASTS
    assert not [row for row in rows.values() if not row.good]
    _check_intervals(trials)


def _check_intervals(trials: list[Trial]) -> None:
    """80 % intervals of the hyperparameters hold 76-84 %, 95 % ones 93-97 % (three Monte Carlo errors)."""
    held = np.stack([trial.inside for trial in trials]).mean(axis=0)
    assert np.all(np.abs(held[0] - 0.8) < 0.04), held[0]
    assert np.all(np.abs(held[1] - 0.95) < 0.021), held[1]


def test_a_large_room_recovers_its_hyperparameters() -> None:
    """400 animals: each truth lies within 3.3 posterior sd, and what intervals tell of is known far better.

    Q10, the spread of intervals and that of animals have at most a quarter of their prior sd left.
    """
    shape = RoomShape(groups=3, taxa=12, animals=400, record_days=700)
    room = draw_room(np.random.default_rng(400), shape)
    mean, sd = hyper_moments(fit(room.data))
    assert np.all(np.abs(room.theta - mean) < 3.3 * sd), (room.theta - mean) / sd
    left = dict(zip(HYPER_NAMES, sd / hyper_sd(), strict=True))
    for name in ("log_q10", "log_sigma_interval", "log_sigma_animal"):
        assert left[name] < 0.25, left


def test_draws_have_the_moments_of_the_fit(fitted: ClockFit) -> None:
    """20,000 draws: means and sds of hyperparameters, coefficients and taxa are those of the fit's points."""
    drawn = draws(fitted, np.random.default_rng(1), 20_000)
    mean, sd = hyper_moments(fitted)
    np.testing.assert_allclose((drawn.hyper.mean(axis=0) - mean) / sd, 0.0, atol=0.03)
    np.testing.assert_allclose(drawn.hyper.std(axis=0) / sd, 1.0, atol=0.03)
    solved = [point.solved for point in fitted.points]
    for got, means, variances in (
        (drawn.gamma, [s.gamma for s in solved], [np.diag(s.gamma_cov) for s in solved]),
        (drawn.taxon, [s.kappa for s in solved], [np.einsum("jdd->jd", s.kappa_cov) for s in solved]),
    ):
        centre = np.tensordot(fitted.weight, np.array(means), 1)
        about = np.tensordot(fitted.weight, np.array(variances) + (np.array(means) - centre) ** 2, 1)
        np.testing.assert_allclose((got.mean(axis=0) - centre) / np.sqrt(about), 0.0, atol=0.04)
        np.testing.assert_allclose(got.std(axis=0) / np.sqrt(about), 1.0, atol=0.04)


def test_draws_belong_together(fitted: ClockFit) -> None:
    """The linear predictor of every row, put together from each draw's parts, has the fit's mean and sd."""
    drawn = draws(fitted, np.random.default_rng(2), 20_000)
    design = fitted.design
    eta = drawn.pace[:, design.animal] + np.einsum("nd,cnd->cn", design.basis, drawn.taxon[:, design.taxon])
    means = np.stack([point.solved.mean for point in fitted.points])
    centre = fitted.weight @ means
    variance = np.stack([point.solved.variance for point in fitted.points])
    sd = np.sqrt(fitted.weight @ (variance + (means - centre) ** 2))
    np.testing.assert_allclose((eta.mean(axis=0) - centre) / sd, 0.0, atol=0.05)
    np.testing.assert_allclose(eta.std(axis=0) / sd, 1.0, atol=0.05)


def test_no_draw_is_refused(fitted: ClockFit) -> None:
    """Fewer than one draw is refused in words."""
    with pytest.raises(Refusal, match="at least one draw"):
        draws(fitted, np.random.default_rng(1), 0)


def test_a_skewed_shape_is_found() -> None:
    """A log-gamma posterior (skewness -0.71), known at 31 places: mean within 0.1 sd, sd 10 % small.

    Its long tail lies beyond the places where it is known, and a tail that nobody has seen is not believed:
    so skewed a posterior comes out about a tenth too narrow, never too wide.
    The reference is numerical integration of the density itself.
    """

    def height(t: np.ndarray) -> np.ndarray:
        """Log density of the log of a gamma of shape 2, scaled to curvature 1 at its mode 0."""
        x = t / np.sqrt(2.0)
        return np.asarray(2.0 * (x - np.exp(x) + 1.0))

    corners = CORNER * np.sign(lattice(16, 3))
    y = np.concatenate([AXIS * np.eye(3), -AXIS * np.eye(3), corners, np.zeros((1, 3))])
    log_posterior = height(y[:, 0]) - 0.5 * (y[:, 1:] ** 2).sum(axis=1)
    excess = log_posterior + 0.5 * (y**2).sum(axis=1)
    shape = fitted_shape(np.zeros(3), np.eye(3), y, excess, np.ones(len(y)))
    mean, covariance = shape.moments()
    grid = np.linspace(-12.0, 6.0, 20_001)
    density = np.exp(height(grid))
    true = float(grid @ density / density.sum())
    true_sd = float(np.sqrt((grid - true) ** 2 @ density / density.sum()))
    assert mean[0] == pytest.approx(true, abs=0.1)
    assert 0.88 * true_sd < np.sqrt(covariance[0, 0]) < true_sd
    np.testing.assert_allclose(mean[1:], 0.0, atol=0.03)


def test_a_run_that_did_not_settle_is_not_believed() -> None:
    """A wild value at one place changes the shape little when it is marked as untrusted."""
    rng = np.random.default_rng(3)
    y, trusted = rng.normal(size=(31, 3)), np.ones(31)
    trusted[4] = 0.0
    excess = np.zeros(31)
    excess[4] = 40.0
    mean, covariance = fitted_shape(np.zeros(3), np.eye(3), y, excess, trusted).moments()
    plain, usual = normal_shape(np.zeros(3), np.eye(3)).moments()
    np.testing.assert_allclose(mean, plain, atol=0.1)
    np.testing.assert_allclose(covariance, usual, atol=0.1)
