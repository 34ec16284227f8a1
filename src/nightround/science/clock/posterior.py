"""Draws from a fitted moult clock's posterior: hyperparameters, coefficients, taxa and animals together.

Hyperparameters come from the fit's smooth shape. Coefficients come from one of the fit's points, chosen by
its weight, where they are jointly normal; their mean is then carried from that point's hyperparameters to the
drawn ones along the straight line through all points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.clock.blocks import animal_means, make_layout
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.priors import hyper_mean, hyper_sd
from nightround.science.clock.propagate import Propagated
from nightround.science.thermal import FloatArray


@dataclass(frozen=True)
class ClockDraws:
    """Draws from the posterior of a room, n of each, row by row together.

    hyper [n, 7]      in the order of priors.HYPER_NAMES
    gamma [n, p]      intercept, slope within, slope between, covariates, log rates of places, groups
    taxon [n, J, d]   each taxon's level at its mean size, its slope, then covariates and places
    pace [n, A]       each animal's own effect on log length
    """

    hyper: FloatArray
    gamma: FloatArray
    taxon: FloatArray
    pace: FloatArray


def draws(fitted: ClockFit, rng: np.random.Generator, count: int) -> ClockDraws:
    """Draw `count` times from the posterior of a fitted room.

    Errors: Refusal when no draw is asked for.
    """
    if count < 1:
        raise Refusal("at least one draw was wanted", got=str(count))
    hyper = hyper_draws(fitted, rng, count)
    point = rng.choice(len(fitted.points), size=count, p=fitted.weight)
    drawn = [
        _of_point(fitted, fitted.points[index], rng, int(np.sum(point == index)))
        for index in range(len(fitted.points))
    ]
    order = np.argsort(np.argsort(point, kind="stable"), kind="stable")
    moved = (hyper - fitted.hyper()[point]) @ _slopes(fitted)
    gamma, taxon, pace = (np.concatenate(parts)[order] for parts in zip(*drawn, strict=True))
    sizes = gamma.shape[1], taxon[0].size
    return ClockDraws(
        hyper,
        gamma + moved[:, : sizes[0]],
        taxon + moved[:, sizes[0] : sum(sizes)].reshape(taxon.shape),
        pace + moved[:, sum(sizes) :],
    )


def hyper_draws(fitted: ClockFit, rng: np.random.Generator, count: int) -> FloatArray:
    """Draws of the hyperparameters alone [count, 7]; entries taken in since the fit move them as a whole."""
    shape, scale = fitted.shape, hyper_sd()
    centre = hyper_mean() + scale * (shape.centre + shape.root @ shape.moments()[0])
    moved = fitted.weight @ fitted.hyper() - centre
    return np.asarray(hyper_mean() + scale * shape.draws(rng, count) + moved)


def hyper_moments(fitted: ClockFit) -> tuple[FloatArray, FloatArray]:
    """Posterior mean [7] and sd [7] of the hyperparameters."""
    root = hyper_sd()[:, None] * fitted.shape.root
    covariance = root @ fitted.shape.moments()[1] @ root.T
    return fitted.weight @ fitted.hyper(), np.sqrt(np.diag(covariance))


def _slopes(fitted: ClockFit) -> FloatArray:
    """By how much each mean moves with each hyperparameter: least squares over the points [7, M]."""
    means = np.stack(
        [
            np.concatenate(
                [point.solved.gamma, point.solved.kappa.ravel(), animal_means(fitted.design, point.solved)]
            )
            for point in fitted.points
        ]
    )
    hyper, weight = fitted.hyper(), np.sqrt(fitted.weight)[:, None]
    places = weight * (hyper - fitted.weight @ hyper)
    return np.asarray(np.linalg.pinv(places, rcond=1e-6) @ (weight * (means - fitted.weight @ means)))


def _of_point(
    fitted: ClockFit, point: Propagated, rng: np.random.Generator, count: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Joint normal draws of gamma, the taxa's coefficients and the animals' effects at one point."""
    animals, taxa, _ = point.solved.levels
    gamma = (
        point.solved.gamma
        + rng.normal(size=(count, point.solved.gamma.size)) @ np.linalg.cholesky(point.solved.gamma_cov).T
    )
    taxon = np.einsum("jdp,np->njd", make_layout(fitted.design).map, gamma)
    inner = rng.normal(size=(count, *taxa.mean.shape))
    own = taxa.mean - np.einsum("jab,njb->nja", taxa.gain, taxon)
    taxon[:, :, :2] += own + np.einsum("jab,njb->nja", np.linalg.cholesky(taxa.cov), inner)
    lever = animals.lever * taxon[:, fitted.design.data.animal_taxon]
    noise = rng.normal(size=(count, animals.pull.size)) / np.sqrt(animals.precision)
    return gamma, taxon, animals.pull - lever.sum(axis=2) + noise
