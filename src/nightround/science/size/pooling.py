"""Pooling of taxa in groups in the world: a tree of normal vectors, solved by eliminating its leaves.

t_j ~ N(γ_h(j), diag(taxon_variance)),  γ_h ~ N(γ, diag(group_variance)),
γ ~ N(prior_mean, diag(prior_variance)), and the data say exp(−½ t_j' Λ_j t_j + η_j' t_j) of each t_j.
Exact, by the Schur complement at each level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightround.science.size.data import Floats


@dataclass(frozen=True, slots=True)
class Level:
    """Vectors of one level given their parents, and what the level tells the parents."""

    information: Floats  # (J, p, p)
    potential: Floats  # (J, p)
    given_parent: Floats  # (J, p, p) covariance given the parent
    up_information: Floats
    up_potential: Floats
    log_weight: float


@dataclass(frozen=True, slots=True)
class Pooled:
    """Posterior of the tree.

    mean, covariance        (J, p), (J, p, p) of the taxa; world_mean (p,) and world_covariance (p, p)
    taxon_square, group_square   (p,) sum over members of E[(child − parent)²]; *_share (p,) the summed
                            share of each spread's information that the data carry (for the scoring step)
    log_likelihood          log of the integral over the tree, up to the data's own constant
    """

    mean: Floats
    covariance: Floats
    group_mean: Floats
    group_covariance: Floats
    world_mean: Floats
    world_covariance: Floats
    taxon_square: Floats
    taxon_share: Floats
    group_square: Floats
    group_share: Floats
    log_likelihood: float


def _inverse(matrix: Floats) -> Floats:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def up(information: Floats, potential: Floats, variance: Floats) -> Level:
    """Integrate children N(parent, diag(variance)) out of exp(−½t'Λt + η't)."""
    precision: Floats = 1.0 / variance
    p = len(variance)
    inside: Floats = information + precision * np.eye(p)
    given_parent = _inverse(inside)
    mean0 = (given_parent @ potential[..., None])[..., 0]
    # Λ − Λ M⁻¹ Λ would cancel; P − P M⁻¹ P = P M⁻¹ Λ does not.
    up_information: Floats = precision[:, None] * (given_parent @ information)
    up_information = 0.5 * (up_information + np.swapaxes(up_information, 1, 2))
    _, log_determinant = np.linalg.slogdet(inside)
    weight = 0.5 * np.sum(potential * mean0) - 0.5 * np.sum(log_determinant)
    weight -= 0.5 * len(information) * np.sum(np.log(variance))
    return Level(information, potential, given_parent, up_information, precision * mean0, float(weight))


def down(
    level: Level, variance: Floats, parent_mean: Floats, parent_covariance: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Posterior of children: mean (J, p), covariance, and mean and variance of (child − parent)."""
    precision = 1.0 / variance
    drawn = (level.potential + precision * parent_mean)[..., None]
    mean = (level.given_parent @ drawn)[..., 0]
    gain = level.given_parent * precision
    covariance = level.given_parent + gain @ parent_covariance @ np.swapaxes(gain, 1, 2)
    away = -(level.given_parent @ level.information)
    spread = level.given_parent + away @ parent_covariance @ np.swapaxes(away, 1, 2)
    return mean, covariance, mean - parent_mean, np.einsum("jpp->jp", spread)


def pool(
    information: Floats,
    potential: Floats,
    group: NDArray[np.int64],
    n_groups: int,
    taxon_variance: Floats,
    group_variance: Floats,
    prior_mean: Floats,
    prior_variance: Floats,
) -> Pooled:
    """Solve the tree for J taxa with information (J, p, p) and potential (J, p). Exact; cost J·p³."""
    p = len(prior_mean)
    taxa = up(information, potential, taxon_variance)
    group_information = np.zeros((n_groups, p, p))
    group_potential = np.zeros((n_groups, p))
    np.add.at(group_information, group, taxa.up_information)
    np.add.at(group_potential, group, taxa.up_potential)
    groups = up(group_information, group_potential, group_variance)
    world_precision = groups.up_information.sum(axis=0) + np.diag(1.0 / prior_variance)
    world_covariance = np.linalg.inv(world_precision)
    pull = groups.up_potential.sum(axis=0) + prior_mean / prior_variance
    world_mean = world_covariance @ pull
    weight = taxa.log_weight + groups.log_weight + 0.5 * float(pull @ world_mean)
    weight -= 0.5 * float(np.sum(prior_mean**2 / prior_variance) + np.sum(np.log(prior_variance)))
    weight -= 0.5 * float(np.linalg.slogdet(world_precision)[1])
    g_mean, g_cov, g_away, g_var = down(groups, group_variance, world_mean, world_covariance)
    t_mean, t_cov, t_away, t_var = down(taxa, taxon_variance, g_mean[group], g_cov[group])
    return Pooled(
        t_mean,
        t_cov,
        g_mean,
        g_cov,
        world_mean,
        world_covariance,
        np.sum(t_away**2 + t_var, axis=0),
        np.sum((1.0 - t_var / taxon_variance) ** 2, axis=0),
        np.sum(g_away**2 + g_var, axis=0),
        np.sum((1.0 - g_var / group_variance) ** 2, axis=0),
        weight,
    )
