"""How little the parameters are known in a young room: settings over which evidence is averaged.

The posterior near its mode is taken as a normal (Laplace); evidence is the mean of the likelihoods at a dozen
points of it, so that a room which has not yet shown that refusals come before moults does not bet on it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from nightround.science.thermal import FloatArray

# With more offers than this the parameters are known well enough for the mode alone.
ENOUGH_OFFERS: Final = 2500
POINTS: Final = 12
_STEP: Final = 0.1


def spread_points(count: int, size: int) -> FloatArray:
    """Deterministic normal points [count, size] in mirrored pairs, made exactly white (an R_d lattice)."""
    from scipy.special import ndtri

    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (size + 1))
    steps = root ** -np.arange(1.0, size + 1.0)
    lattice = (0.5 + np.outer(np.arange(1, count // 2 + 1), steps)) % 1.0
    points = ndtri(np.clip(lattice, 1e-3, 1.0 - 1e-3))
    points = np.concatenate([points, -points])
    return np.asarray(points / np.sqrt((points**2).mean(axis=0)))


def around(mode: FloatArray, slope: Callable[[FloatArray], FloatArray] | None) -> FloatArray:
    """Points of the posterior in prior sd units [POINTS, P].

    mode [P]   where it is highest
    slope      gradient of the negative log posterior; None where there are no data: the prior itself
    """
    size = mode.size
    white = spread_points(POINTS, size)
    if slope is None:
        return mode + white
    base = slope(mode)
    hessian = np.stack([(slope(mode + _STEP * row) - base) / _STEP for row in np.eye(size)])
    values, vectors = np.linalg.eigh((hessian + hessian.T) / 2.0)
    # The likelihood never makes the prior wider.
    root = vectors / np.sqrt(np.maximum(values, 1.0))
    return np.asarray(mode + white @ root.T)
