"""What a fit of the moult clock says of warmth and of wintering, each in doubt, and how they compete."""

from __future__ import annotations

from typing import Final

import numpy as np

from nightround.science.clock.fit import ClockFit

# A normal holds four fifths of its mass within so many standard deviations.
FOUR_IN_FIVE: Final = 1.2815515655446004


def q10_of(fitted: ClockFit) -> tuple[float, float, float]:
    """Q10 with the range that holds it four times in five: middle, low, high."""
    mean, sd = log_q10_of(fitted)
    return tuple(float(np.exp(mean + at * sd)) for at in (0.0, -FOUR_IN_FIVE, FOUR_IN_FIVE))  # type: ignore[return-value]


def log_q10_of(fitted: ClockFit) -> tuple[float, float]:
    """Posterior mean and standard deviation of log Q10; a room fitted at its mode alone has the mode's."""
    if len(fitted.points) == 1:
        return float(fitted.mode[0]), float(np.sqrt(fitted.covariance[0, 0]))
    values = fitted.hyper()[:, 0]
    mean = float(fitted.weight @ values)
    return mean, float(np.sqrt(fitted.weight @ (values - mean) ** 2))
