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


def root_of(mode: FloatArray, slope: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Root of the posterior covariance about its mode [P, P], in prior sd units.

    mode [P]   where the posterior is highest; slope   gradient of its negative logarithm
    """
    base = slope(mode)
    hessian = np.stack([(slope(mode + _STEP * row) - base) / _STEP for row in np.eye(mode.size)])
    values, vectors = np.linalg.eigh((hessian + hessian.T) / 2.0)
    # The likelihood never makes the prior wider.
    return np.asarray(vectors / np.sqrt(np.maximum(values, 1.0)))


def around(mode: FloatArray, root: FloatArray) -> FloatArray:
    """Points of the posterior about its mode [P], given the root of its covariance [POINTS, P]."""
    return np.asarray(mode + spread_points(POINTS, mode.size) @ root.T)


def log_evidence(height: float, root: FloatArray) -> float:
    """Log of how likely the data are, by Laplace: the posterior's height at its mode, and its width."""
    return height + float(np.log(np.abs(np.linalg.det(root))))
