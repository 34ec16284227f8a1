"""Chains of normal states, one per animal: solve and invert tridiagonal precision matrices together.

The precision of a chain is T = L D Lᵀ with unit lower bidiagonal L (Rue & Held 2005, Gaussian Markov Random
Fields, §2.4; from memory). The work is linear in the number of instars and done for all animals at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.size.data import Floats


@dataclass(frozen=True, slots=True)
class Chain:
    """Factor of n chains of K states: pivots (n, K) and multipliers (n, K−1) of L."""

    pivots: Floats
    multipliers: Floats

    @property
    def log_determinant(self) -> Floats:
        """Log determinant of each chain's precision, (n,)."""
        result: Floats = np.log(self.pivots).sum(axis=1)
        return result


def factor(diagonal: Floats, beside: Floats) -> Chain:
    """Factor the precisions with `diagonal` (n, K) > 0 and `beside` (n, K−1); positive definite assumed."""
    pivots = diagonal.copy()
    multipliers = np.empty_like(beside)
    for k in range(beside.shape[1]):
        multipliers[:, k] = beside[:, k] / pivots[:, k]
        pivots[:, k + 1] -= multipliers[:, k] * beside[:, k]
    return Chain(pivots, multipliers)


def solve(chain: Chain, right: Floats) -> Floats:
    """Solve T X = right for right (n, K, r) columns at once."""
    x = right.copy()
    steps = chain.multipliers.shape[1]
    for k in range(steps):
        x[:, k + 1] -= chain.multipliers[:, k, None] * x[:, k]
    x /= chain.pivots[:, :, None]
    for k in range(steps - 1, -1, -1):
        x[:, k] -= chain.multipliers[:, k, None] * x[:, k + 1]
    return x


def covariances(chain: Chain) -> tuple[Floats, Floats]:
    """Return the variances (n, K) and the covariances of neighbours (n, K−1) in T⁻¹."""
    variance = 1.0 / chain.pivots
    beside = np.empty_like(chain.multipliers)
    for k in range(chain.multipliers.shape[1] - 1, -1, -1):
        beside[:, k] = -chain.multipliers[:, k] * variance[:, k + 1]
        variance[:, k] -= chain.multipliers[:, k] * beside[:, k]
    return variance, beside
