"""Points about the mode of the hyperparameters and their weights: what a fit averages over.

The posterior is taken near its mode as a normal; points are placed by that normal and weighted by how the
true (approximated) posterior differs from it there. Small rooms, whose hyperparameters are little known, get
28 points, usual ones 16, large ones the 2 d sigma points.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from nightround.science.clock.propagate import Propagated
from nightround.science.thermal import FloatArray

LARGE_ROOM_ROWS: Final = 2000
SMALL_ROOM_ROWS: Final = 700
SMALL_ROOM_POINTS: Final = 28
USUAL_POINTS: Final = 16


def points_for(rows: int, size: int) -> FloatArray:
    """Standard normal points for a room of so many intervals [K, size]."""
    usual = SMALL_ROOM_POINTS if rows < SMALL_ROOM_ROWS else USUAL_POINTS
    return _spread_points(usual, size) if rows < LARGE_ROOM_ROWS else _sigma_points(size)


def integrate(
    run: Callable[[FloatArray], Propagated], white: FloatArray, z: FloatArray, covariance: FloatArray
) -> tuple[list[Propagated], FloatArray]:
    """Evaluate the points; weight each by the posterior over the normal that placed it.

    run           expectation propagation at a place in prior sd units
    white [K, d]  standard normal points; z, covariance: the mode and its normal, in prior sd units
    """
    root = np.linalg.cholesky(covariance)
    points, log_ratio = [], np.empty(len(white))
    for index, offset in enumerate(white):
        there = z + root @ offset
        point = run(there)
        points.append(point)
        log_ratio[index] = point.log_evidence - 0.5 * float(there @ there) + 0.5 * float(offset @ offset)
    log_ratio -= np.median(log_ratio)
    weight = np.exp(np.clip(log_ratio, -4.0, 1.5))
    return points, weight / weight.sum()


def _spread_points(count: int, size: int) -> FloatArray:
    """Deterministic normal points [count, size]: a lattice in mirrored pairs, made exactly white."""
    from scipy.special import ndtri

    half = count // 2
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (size + 1))
    steps = root ** -np.arange(1.0, size + 1.0)
    lattice = (0.5 + np.outer(np.arange(1, half + 1), steps)) % 1.0
    points = ndtri(np.clip(lattice, 1e-3, 1.0 - 1e-3))
    points = np.concatenate([points, -points])
    white = np.linalg.cholesky(np.linalg.inv(points.T @ points / count))
    return np.asarray(points @ white)


def _sigma_points(size: int) -> FloatArray:
    arms = np.sqrt(size) * np.eye(size)
    return np.concatenate([arms, -arms])
