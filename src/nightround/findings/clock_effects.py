"""What a fit of the moult clock says of warmth and of wintering, each in doubt, and how they compete."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.clock.fit import ClockFit
from nightround.science.clock.priors import COVARIATE_NAMES, FIXED_NAMES

# A normal holds four fifths of its mass within so many standard deviations.
FOUR_IN_FIVE: Final = 1.2815515655446004
_WINTER: Final = COVARIATE_NAMES.index("winter")


@dataclass(frozen=True)
class Effect:
    """A factor known by the normal law of its log: how many times as fast, or as long."""

    log_mean: float
    log_sd: float

    @property
    def middle(self) -> float:
        """The factor that is as likely too low as too high."""
        return float(np.exp(self.log_mean))

    @property
    def range(self) -> tuple[float, float]:
        """The factors between which it lies four times in five."""
        reach = FOUR_IN_FIVE * self.log_sd
        return float(np.exp(self.log_mean - reach)), float(np.exp(self.log_mean + reach))


@dataclass(frozen=True)
class WinterEffect:
    """What wintering does to an interval's length at the same warmth, and how it competes with Q10.

    ratio         times as long, of an interval that was all wintering
    correlation   of log Q10 and log ratio in the posterior (None where the fit stands on its mode alone)
    n_wintered, n_not   completed intervals that were mostly wintering, and hardly or not at all
    """

    ratio: Effect
    correlation: float | None
    n_wintered: int
    n_not: int


def q10_of(fitted: ClockFit) -> Effect:
    """Q10: how many times as fast in 10 degrees more; where only the mode was fitted, with its spread."""
    if len(fitted.points) == 1:
        return Effect(float(fitted.mode[0]), float(np.sqrt(fitted.covariance[0, 0])))
    values = fitted.hyper()[:, 0]
    return Effect(*(float(value) for value in fitted.mixed(values, np.zeros(values.size))))


def winter_of(fitted: ClockFit) -> WinterEffect | None:
    """The effect of wintering; None in a room of which nobody ever said what was wintered.

    The coefficient is normal at each setting of the hyperparameters; means and spreads are averaged over the
    settings, and their common movement with log Q10 is the correlation.
    """
    share = fitted.design.data.intervals.covariates[:, _WINTER]
    if not np.isfinite(share).any():
        return None
    at = len(FIXED_NAMES) + _WINTER
    mean = np.array([point.solved.gamma[at] for point in fitted.points])
    variance = np.array([point.solved.gamma_cov[at, at] for point in fitted.points])
    middle, spread = (float(value) for value in fitted.mixed(mean, variance))
    closed = ~fitted.design.data.intervals.running
    q10 = q10_of(fitted)
    correlation = None
    if len(fitted.points) > 1 and q10.log_sd > 0.0:
        together = float(fitted.weight @ ((fitted.hyper()[:, 0] - q10.log_mean) * (mean - middle)))
        correlation = together / (q10.log_sd * spread)
    return WinterEffect(
        Effect(middle, spread),
        correlation,
        int((closed & (share >= 0.5)).sum()),
        int((closed & (share < 0.5)).sum()),
    )
