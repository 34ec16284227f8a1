"""The shape of the hyperparameters' posterior: a normal times the exponential of a small smooth correction.

In coordinates in which the posterior is nearly standard normal, log posterior + y'y / 2 is a small, smooth
function. It is taken as a sum of Hermite polynomials up to the fourth degree whose coefficients have normal
priors of the sizes below, fitted to the log posterior at the few places where it is known (ridge regression).
Moments and draws then cost no further run of expectation propagation. Why not the normal alone: spreads that
are little known have skewed posteriors (up to half a standard deviation between mode and mean).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations, permutations
from typing import Final

import numpy as np

from nightround.science.thermal import FloatArray

# Usual sizes of the coefficients by kind, found on rooms drawn from the priors (common practice, no source).
_SIZES: Final = {
    "1": 0.3, "x": 0.15, "xx": 0.04, "xy": 0.025, "xxx": 0.035, "xxy": 0.022, "xyz": 0.006, "xxxx": 0.005,
    "xxyy": 0.004,
}  # fmt: skip
_NOISE: Final = 0.05
_UNTRUSTED_NOISE: Final = 3.0
# Corrections known further out than this stand for tails that nobody has seen.
_LARGEST: Final = 6.0
_BEYOND: Final = (1.0, 0.5)
_WIDER: Final = 1.15
_NODES: Final = 4096
_PROPOSALS: Final = 20


@dataclass(frozen=True)
class Shape:
    """A posterior of d hyperparameters: place = centre + root y, density of y as told above.

    centre [d], root [d, d]
    coefficients [C]   of the polynomials of `_polynomials`
    bounds             least and largest value of the correction
    """

    centre: FloatArray
    root: FloatArray
    coefficients: FloatArray
    bounds: tuple[float, float]

    def correction(self, y: FloatArray) -> FloatArray:
        """Log posterior over the standard normal, up to a constant [n]."""
        return np.clip(_polynomials(y) @ self.coefficients, *self.bounds)

    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Mean [d] and covariance [d, d] of y."""
        nodes, polynomials = _nodes(self.centre.size)
        weight = _weights(np.clip(polynomials @ self.coefficients, *self.bounds), nodes)
        mean = weight @ nodes
        return mean, np.einsum("n,ni,nj->ij", weight, nodes - mean, nodes - mean)

    def draws(self, rng: np.random.Generator, count: int) -> FloatArray:
        """Draws of the place [count, d], by weighing normal draws."""
        y = _WIDER * rng.normal(size=(_PROPOSALS * count + 2000, self.centre.size))
        chosen = rng.choice(len(y), size=count, p=_weights(self.correction(y), y), replace=False)
        return np.asarray(self.centre + y[chosen] @ self.root.T)


def normal_shape(centre: FloatArray, covariance: FloatArray) -> Shape:
    """The normal without any correction."""
    root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    return Shape(centre, root, np.zeros(_sizes(centre.size).size), (0.0, 0.0))


def fitted_shape(
    centre: FloatArray, root: FloatArray, y: FloatArray, excess: FloatArray, trusted: FloatArray
) -> Shape:
    """Fit the correction to what is known.

    y [K, d], excess [K]   places, and log posterior + y'y / 2 there, up to a constant
    trusted [K]            1 where the value holds, 0 where the run did not settle
    """
    excess = np.clip(excess - np.median(excess), -_LARGEST, _LARGEST)
    sizes = _sizes(centre.size)
    scaled = _polynomials(y) * sizes
    noise = np.where(trusted > 0.0, _NOISE, _UNTRUSTED_NOISE) ** 2
    coefficients = sizes * (scaled.T @ np.linalg.solve(scaled @ scaled.T + np.diag(noise), excess))
    seen = excess[trusted > 0.0]
    least, largest = (float(seen.min()), float(seen.max())) if seen.size else (0.0, 0.0)
    return Shape(centre, root, coefficients, (least - _BEYOND[0], largest + _BEYOND[1]))


def lattice(count: int, size: int) -> FloatArray:
    """Deterministic normal points [count, size]: a lattice in mirrored pairs, made exactly white."""
    from scipy.special import ndtri

    half = count // 2
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (size + 1))
    steps = root ** -np.arange(1.0, size + 1.0)
    places = (0.5 + np.outer(np.arange(1, half + 1), steps)) % 1.0
    points = ndtri(np.clip(places, 1e-3, 1.0 - 1e-3))
    points = np.concatenate([points, -points])
    white = np.linalg.cholesky(np.linalg.inv(points.T @ points / count))
    return np.asarray(points @ white)


def _weights(correction: FloatArray, y: FloatArray) -> FloatArray:
    """Weights of normal draws that are `_WIDER` than standard."""
    log_weight = correction - 0.5 * (1.0 - _WIDER**-2) * (y**2).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


@cache
def _nodes(size: int) -> tuple[FloatArray, FloatArray]:
    nodes = _WIDER * lattice(_NODES, size)
    return nodes, _polynomials(nodes)


@cache
def _terms(size: int) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Kinds and coordinates of the polynomials."""
    alone, pairs = range(size), list(combinations(range(size), 2))
    out: list[tuple[str, tuple[int, ...]]] = [("1", ())]
    for kind in ("x", "xx", "xxx", "xxxx"):
        out += [(kind, (i,)) for i in alone]
    out += [("xy", pair) for pair in pairs] + [("xxyy", pair) for pair in pairs]
    out += [("xxy", pair) for pair in permutations(alone, 2)]
    return (*out, *(("xyz", triple) for triple in combinations(alone, 3)))


def _sizes(size: int) -> FloatArray:
    return np.array([_SIZES[kind] for kind, _ in _terms(size)])


def _polynomials(y: FloatArray) -> FloatArray:
    """Hermite polynomials of the rows of y [n, C]."""
    second, third, fourth = y**2 - 1.0, y**3 - 3.0 * y, y**4 - 6.0 * y**2 + 3.0
    powers = {"x": y, "xx": second, "xxx": third, "xxxx": fourth}
    out = np.ones((len(y), len(_terms(y.shape[1]))))
    for column, (kind, at) in enumerate(_terms(y.shape[1])):
        if kind in powers:
            out[:, column] = powers[kind][:, at[0]]
        elif kind == "xxyy":
            out[:, column] = second[:, at[0]] * second[:, at[1]]
        elif kind == "xxy":
            out[:, column] = second[:, at[0]] * y[:, at[1]]
        elif at:
            out[:, column] = y[:, at].prod(axis=1)
    return out
