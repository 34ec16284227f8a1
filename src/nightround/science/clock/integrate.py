"""Points about the mode of the hyperparameters and their weights: what a fit averages over.

Small rooms, whose hyperparameters are little known and skewed, get a central composite design as in INLA
(Rue, Martino & Chopin 2009, J. R. Statist. Soc. B 71:319; from memory): first two points on every axis, which
show how far the posterior leans; then 16 corners about the centre and spread so found; and the mode. Usual
rooms get 16 lattice points, large ones the 2 d sigma points. A smooth shape is fitted to the log posterior at
the points (`shape`); weights are those nearest to the design's own that give the points its moments.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.clock.propagate import MAX_SWEEPS, Propagated
from nightround.science.clock.shape import Shape, fitted_shape, lattice
from nightround.science.thermal import FloatArray

LARGE_ROOM_ROWS: Final = 2000
SMALL_ROOM_ROWS: Final = 700
USUAL_POINTS: Final = 16
AXIS: Final = 2.3
CORNER: Final = 1.2
_UNTRUSTED_SHARE: Final = 0.05
_PROFILE: Final = np.linspace(-4.5, 4.5, 181)
_LARGEST: Final = 5.0
_SOFT: Final = 1e-3


@dataclass(frozen=True)
class Integrated:
    """What a fit averages over: points [K], their weights [K], the posterior's shape in prior sd units."""

    points: tuple[Propagated, ...]
    weight: FloatArray
    shape: Shape


class _Evaluated:
    """Runs so far: places in the mode's normal coordinates, log posterior less that at the mode."""

    def __init__(
        self, run: Callable[[FloatArray], Propagated], z: FloatArray, root: FloatArray, home: Propagated
    ) -> None:
        self.run, self.z, self.root, self.home = run, z, root, home
        self.base = home.log_evidence - 0.5 * float(z @ z)
        self.places: list[FloatArray] = []
        self.points: list[Propagated] = []
        self.heights: list[float] = []

    def add(self, places: FloatArray) -> None:
        """Run expectation propagation at more places [K, d]."""
        for place in places:
            there = self.z + self.root @ place
            point = self.run(there)
            self._keep(place, point, point.log_evidence - 0.5 * float(there @ there) - self.base)

    def add_home(self) -> None:
        self._keep(np.zeros(self.z.size), self.home, 0.0)

    def _keep(self, place: FloatArray, point: Propagated, height: float) -> None:
        self.places.append(place)
        self.points.append(point)
        self.heights.append(height)

    def trusted(self) -> FloatArray:
        """1 where the run settled, else 0."""
        return np.array([float(point.sweeps < MAX_SWEEPS) for point in self.points])


def integrate(
    run: Callable[[FloatArray], Propagated],
    rows: int,
    z: FloatArray,
    covariance: FloatArray,
    home: Propagated,
) -> Integrated:
    """Evaluate the points of a room of so many rows and weigh them.

    run             expectation propagation at a place in prior sd units
    z, covariance   the mode and its normal, in prior sd units; home: the run at the mode
    """
    size = z.size
    root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    seen = _Evaluated(run, z, root, home)
    middle, spread = np.zeros(size), np.ones(size)
    if rows < SMALL_ROOM_ROWS:
        seen.add(AXIS * _axes(size))
        middle, spread = _leaning(np.array(seen.heights) + 0.5 * AXIS**2, seen.trusted(), size)
        corners = _corners(size)
        seen.add(middle + spread * CORNER * corners)
        seen.add_home()
        share = _composite_weights(size, len(corners))
    else:
        white = lattice(USUAL_POINTS, size) if rows < LARGE_ROOM_ROWS else np.sqrt(size) * _axes(size)
        seen.add(white)
        share = np.full(len(white), 1.0 / len(white))
    y, trusted = (np.array(seen.places) - middle) / spread, seen.trusted()
    excess = np.array(seen.heights) + 0.5 * (y**2).sum(axis=1)
    shape = fitted_shape(z + root @ middle, root * spread, y, excess, trusted)
    share = share * np.where(trusted > 0.0, 1.0, _UNTRUSTED_SHARE)
    mean, shape_covariance = shape.moments()
    weight = _tilted(y, share, mean, np.diag(shape_covariance))
    return Integrated(tuple(seen.points), weight, shape)


def _axes(size: int) -> FloatArray:
    return np.concatenate([np.eye(size), -np.eye(size)])


def _corners(size: int) -> FloatArray:
    """Mirrored corners +-1 [16, size], size at most 7: columns of a Hadamard matrix, so that no two alike."""
    matrix = np.ones((1, 1))
    while len(matrix) <= size:
        matrix = np.block([[matrix, matrix], [matrix, -matrix]])
    return np.concatenate([matrix[:, 1 : size + 1], -matrix[:, 1 : size + 1]])


def _composite_weights(size: int, corners: int) -> FloatArray:
    """Weights of axes, corners and centre that give a standard normal's E[x x'] and E[x^2 y^2]."""
    corner = 1.0 / (corners * CORNER**4)
    axis = (1.0 - corners * corner * CORNER**2) / (2.0 * AXIS**2)
    centre = 1.0 - corners * corner - 2.0 * size * axis
    return np.concatenate([np.full(2 * size, axis), np.full(corners, corner), [centre]])


def _leaning(excess: FloatArray, trusted: FloatArray, size: int) -> tuple[FloatArray, FloatArray]:
    """Mean and sd along every axis, from log posterior over normal at both ends [2 d].

    Between, the log ratio is taken as a t^3 + b t^4, which both ends settle.
    """
    excess = np.clip(excess * trusted, -_LARGEST, _LARGEST)
    odd = (excess[:size] - excess[size:]) / (2.0 * AXIS**3)
    even = (excess[:size] + excess[size:]) / (2.0 * AXIS**4)
    t = np.clip(_PROFILE, -1.4 * AXIS, 1.4 * AXIS)
    ratio = np.clip(odd[:, None] * t**3 + even[:, None] * t**4, -6.0, 6.0)
    height = ratio - 0.5 * _PROFILE**2
    weight = np.exp(height - height.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean = weight @ _PROFILE
    return mean, np.sqrt(weight @ _PROFILE**2 - mean**2)


def _tilted(y: FloatArray, share: FloatArray, mean: FloatArray, variance: FloatArray) -> FloatArray:
    """The weights nearest to `share` (relative entropy) with this mean and, softly, these variances [K].

    Newton's method on the convex dual; the softness keeps it solvable where the points cannot do it.
    """
    wanted = np.concatenate([mean, variance])
    features = np.concatenate([y, (y - mean) ** 2], axis=1)
    push = np.zeros(wanted.size)

    def at(push: FloatArray) -> tuple[float, FloatArray]:
        log_weight = np.log(np.maximum(share, 1e-300)) + features @ push
        top = float(log_weight.max())
        weight = np.exp(log_weight - top)
        total = float(weight.sum())
        return top + float(np.log(total)) - float(push @ wanted) + 0.5 * _SOFT * float(push @ push), (
            weight / total
        )

    value, weight = at(push)
    for _ in range(30):
        reached = weight @ features
        slope = reached - wanted + _SOFT * push
        if float(np.abs(slope).max()) < 1e-6:
            break
        centred = features - reached
        curve = (centred * weight[:, None]).T @ centred + _SOFT * np.eye(wanted.size)
        step = -np.linalg.solve(curve, slope)
        length = 1.0
        while length > 1e-3:
            new_value, new_weight = at(push + length * step)
            if new_value <= value + 1e-4 * length * float(slope @ step):
                break
            length *= 0.5
        push, value, weight = push + length * step, new_value, new_weight
    return weight
