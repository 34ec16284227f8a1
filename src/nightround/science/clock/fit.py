"""Fit the moult clock: find the mode of the hyperparameters, then integrate over a few points around it.

The points are those of `integrate`; rooms over 4,000 intervals, whose hyperparameters are known to a percent
or so, get the mode alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nightround.science.clock.blocks import Layout, animal_squares, make_layout
from nightround.science.clock.data import ClockData
from nightround.science.clock.design import Design, make_design
from nightround.science.clock.integrate import LARGE_ROOM_ROWS, Integrated, integrate
from nightround.science.clock.priors import HYPER_NAMES, hyper_mean, hyper_sd
from nightround.science.clock.propagate import (
    Hyper,
    Messages,
    Propagated,
    prior_coefficient_square,
    propagate,
)
from nightround.science.clock.shape import Shape, normal_shape
from nightround.science.clock.summing import total
from nightround.science.thermal import FloatArray

HUGE_ROOM_ROWS: Final = 4_000
LEAST_SAMPLE_STEP: Final = 8
SAMPLE_ROWS: Final = 6_000
_OF_TAXA: Final = ("log_sigma_taxon", "log_sigma_slope", "log_sigma_group")
_MODE_TOLERANCE: Final = 0.1
_MOST_NEWS_ROUNDS: Final = 10
_NEWS_TOLERANCE: Final = 0.002
_ROUGH_TOLERANCE: Final = 0.4
_MAX_MODE_STEPS: Final = 40


@dataclass(frozen=True)
class ClockFit:
    """A fitted room.

    points [K]     expectation propagation at each setting of the hyperparameters
    weight [K]     their posterior weights, summing to 1
    mode, covariance   of the hyperparameters, order of priors.HYPER_NAMES
    shape        their posterior, in prior sd units
    """

    design: Design
    points: tuple[Propagated, ...]
    weight: FloatArray
    mode: FloatArray
    covariance: FloatArray
    coefficient_square: FloatArray
    slope_news: FloatArray
    start: Messages
    shape: Shape

    def hyper(self) -> FloatArray:
        """The settings of the hyperparameters [K, 7]."""
        return np.stack([point.theta for point in self.points])

    def mixed(
        self, means: FloatArray | Sequence[FloatArray], variances: FloatArray | Sequence[FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """Posterior mean and sd of what each point takes for normal; means, variances [K, ...]."""
        told, spread = np.asarray(means), np.asarray(variances)
        middle = np.tensordot(self.weight, told, 1)
        return middle, np.sqrt(np.tensordot(self.weight, spread + (told - middle) ** 2, 1))

    def interval_logs(self) -> tuple[FloatArray, FloatArray]:
        """Mean and sd of log D of every interval [N], [N] without its own evidence, in the data's order."""
        extra = [point.cavity_variance + point.extra for point in self.points]
        mean, sd = self.mixed([point.cavity_mean for point in self.points], extra)
        back = np.argsort(self.design.order)
        return mean[back], sd[back]


class _Objective:
    """Negative log posterior in prior sd units, keeping the last messages to start the next run from."""

    def __init__(self, design: Design, layout: Layout, square: FloatArray, start: Messages | None) -> None:
        self.design, self.layout, self.square, self.start = design, layout, square, start

    def __call__(self, z: FloatArray) -> tuple[float, FloatArray]:
        theta = hyper_mean() + hyper_sd() * z
        result = self.run(theta, gradient=True, tolerance=3e-3)
        return 0.5 * float(z @ z) - result.log_evidence, z - hyper_sd() * result.gradient

    def run(self, theta: FloatArray, *, gradient: bool = False, tolerance: float = 1e-2) -> Propagated:
        result = propagate(
            self.design,
            self.layout,
            theta,
            start=self.start,
            coefficient_square=self.square,
            tolerance=tolerance,
            gradient=gradient,
        )
        self.start = result.messages
        return result


def _first_inverse(design: Design) -> FloatArray:
    """A guess at the posterior covariance in prior sd units, so that the first steps have the right size."""
    data, sd = design.data, hyper_sd()
    closed = int((~data.intervals.running).sum())
    information = np.array(
        [closed, 2 * closed, data.animals / 4, data.taxa, data.taxa / 4, data.groups, closed / 40]
    )
    return np.diag(1.0 / (1.0 + information * sd**2))


def _minimise(
    function: _Objective, z: FloatArray, inverse: FloatArray, tolerance: float = _MODE_TOLERANCE
) -> tuple[FloatArray, FloatArray]:
    """Quasi-Newton (BFGS) with halving.

    Stops when the next step is a small part of the posterior's spread.
    """
    value, slope = function(z)
    for _ in range(_MAX_MODE_STEPS):
        step = -inverse @ slope
        if float(-slope @ step) < tolerance**2:
            break
        longest = float(np.abs(step).max())
        step = step * min(1.0, 1.5 / longest)
        for _ in range(8):
            new_value, new_slope = function(z + step)
            if _better(value, new_value, float(slope @ step), float(new_slope @ step)):
                break
            step = step * 0.4
        else:
            break
        inverse = _bfgs(inverse, step, new_slope - slope)
        z, value, slope = z + step, new_value, new_slope
    return z, inverse


def _better(value: float, new_value: float, slope: float, new_slope: float) -> bool:
    """Enough of a fall (Armijo), or the slope says so where the fall is lost in the value's rounding.

    The second is the approximate Wolfe condition of Hager and Zhang (2005): sums over many intervals are good
    to about one in a million only.
    """
    if new_value <= value + 1e-4 * slope + 1e-9:
        return True
    return new_slope <= -0.8 * slope and new_value <= value + 1e-6 * abs(value)


def _bfgs(inverse: FloatArray, step: FloatArray, change: FloatArray) -> FloatArray:
    curve = float(step @ change)
    if curve <= 1e-10:
        return inverse
    left = np.eye(step.size) - np.outer(step, change) / curve
    return left @ inverse @ left.T + np.outer(step, step) / curve


def _covariance(function: _Objective, z: FloatArray, inverse: FloatArray) -> FloatArray:
    """Posterior covariance in prior sd units from differences of gradients, kept inside the prior's size."""
    size = z.size
    hessian = np.empty((size, size))
    base = function(z)[1]
    for index in range(size):
        ahead = z.copy()
        ahead[index] += 0.3 * float(np.sqrt(inverse[index, index]))
        hessian[index] = (function(ahead)[1] - base) / (ahead[index] - z[index])
    values, vectors = np.linalg.eigh((hessian + hessian.T) / 2.0)
    return np.asarray((vectors / np.maximum(values, 0.8)) @ vectors.T)


def _mode(design: Design, z: FloatArray, inverse: FloatArray) -> tuple[_Objective, FloatArray, FloatArray]:
    """The mode, its curvature, and the objective, ready at the mode with the coefficients' sizes found."""
    function = _Objective(design, make_layout(design), prior_coefficient_square(design), None)
    doubtful = bool(design.basis_doubt.any() or design.data.animal_size_sd.any())
    z, inverse = _minimise(function, z, inverse, _ROUGH_TOLERANCE if doubtful else _MODE_TOLERANCE)
    if doubtful:
        _hear_of_slopes(function, hyper_mean() + hyper_sd() * z)
        z, inverse = _minimise(function, z, inverse)
    return function, z, inverse


def _hear_of_slopes(function: _Objective, theta: FloatArray) -> None:
    """Find the sizes of the coefficients, and what rows of doubtful size say of slopes, until they agree."""
    for _ in range(_MOST_NEWS_ROUNDS):
        result = function.run(theta)
        before, news = function.layout.slope_news, _slope_news(function.design, result)
        function.layout = replace(function.layout, slope_news=news)
        function.square = _coefficient_square(result)
        if np.abs((news - before) * result.solved.kappa_cov[:, 1, 1]).max(initial=0.0) < _NEWS_TOLERANCE:
            break


def _sample(data: ClockData, step: int) -> ClockData:
    """The intervals of one animal in `step`, taken through the taxa in turn; the same animals and places."""
    order = np.argsort(data.animal_taxon, kind="stable")
    chosen = np.zeros(data.animals, dtype=bool)
    chosen[order[::step]] = True
    return replace(data, intervals=data.intervals.only(chosen[data.intervals.animal]))


def _first_guess(design: Design, warm: ClockFit | None) -> tuple[FloatArray, FloatArray]:
    """Where the search starts, in prior sd units: an earlier fit, a sample of a large room, or the prior."""
    scale = hyper_sd()
    if warm is not None:
        return (warm.mode - hyper_mean()) / scale, warm.covariance / np.outer(scale, scale)
    zero = np.zeros(len(HYPER_NAMES))
    if design.count < LARGE_ROOM_ROWS:
        return zero, _first_inverse(design)
    step = max(LEAST_SAMPLE_STEP, design.count // SAMPLE_ROWS)
    small = make_design(_sample(design.data, step))
    function, z, inverse = _mode(small, zero, _first_inverse(small))
    return z, _of_the_whole(_covariance(function, z, inverse), step)


def _of_the_whole(covariance: FloatArray, step: int) -> FloatArray:
    """Covariance that a whole room leaves, from that of one animal in `step`, in prior sd units.

    Intervals and animals tell `step` times more; taxa and groups are in the sample already.
    """
    times = np.where([name in _OF_TAXA for name in HYPER_NAMES], 1.0, float(step))
    told = np.linalg.inv(covariance) - np.eye(times.size)
    return np.asarray(np.linalg.inv(np.eye(times.size) + told * np.sqrt(np.outer(times, times))))


def fit(data: ClockData, *, warm: ClockFit | None = None) -> ClockFit:
    """Fit the moult clock to a room.

    data   see `ClockData`; a room without any interval gives back the published priors
    warm   an earlier fit of nearly the same room: its mode starts the search
    Errors: Refusal when the data contradict their description.
    """
    design = make_design(data)
    function, z, inverse = _mode(design, *_first_guess(design, warm))
    scale = hyper_sd()
    if design.count >= HUGE_ROOM_ROWS:
        home, covariance = function.run(hyper_mean() + scale * z), inverse
        found = Integrated((home,), np.ones(1), normal_shape(z, covariance))
    else:
        covariance = _covariance(function, z, inverse)
        home = function.run(hyper_mean() + scale * z)

        def at(there: FloatArray) -> Propagated:
            function.start = home.messages
            return function.run(hyper_mean() + scale * there)

        found = integrate(at, design.count, z, covariance, home)
    return ClockFit(
        design,
        found.points,
        found.weight,
        hyper_mean() + scale * z,
        covariance * np.outer(scale, scale),
        function.square,
        function.layout.slope_news,
        home.messages,
        found.shape,
    )


def _slope_news(design: Design, result: Propagated) -> FloatArray:
    """What the spread of rows of doubtful size says of each taxon's slope, as a precision about 0 [J].

    A row of doubtful size has variance doubt^2 slope^2 more. Its likelihood Z changes with a variance v as
    d log Z / dv = ((log Z)'' + (log Z)'^2) / 2, so it speaks on slope^2; an animal's shared doubt likewise.
    """
    cavity, precision = result.cavity_variance, result.messages.precision
    first = (result.solved.mean - result.cavity_mean) / cavity
    second = -precision / (1.0 + cavity * precision)
    of_rows = 0.5 * (second + first**2) * design.basis_doubt[:, 1] ** 2
    prior = result.solved.levels[0].prior
    of_animals = 0.5 * (animal_squares(design, result.solved) * prior**2 - prior)
    said = total(design.summing.rows_by_taxon, of_rows)
    said += total(design.summing.animals_by_taxon, of_animals * design.data.animal_size_sd**2)
    # News that would take back half of what is known of a slope is not believed.
    return np.maximum(-2.0 * said, -0.5 / result.solved.kappa_cov[:, 1, 1])


def _coefficient_square(result: Propagated) -> FloatArray:
    """E[coefficient^2] of every column for every taxon [J, d]."""
    solved = result.solved
    return np.asarray(solved.kappa**2 + np.einsum("jdd->jd", solved.kappa_cov))


def hyper_at(fitted: ClockFit, point: int) -> Hyper:
    """The hyperparameters of one point in natural units."""
    return Hyper.of(fitted.points[point].theta)
