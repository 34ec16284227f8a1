"""The normal part of the clock, solved by eliminating animals, then taxa, then the rest.

Linear predictor of row n of animal i of taxon j:  eta = u_i + basis_n . kappa_j,  where kappa_j = T_j
gamma + (a_j, b_j, 0 ...). Each row carries a normal message exp(-precision eta^2 / 2 + pull eta). Because
animals sit inside taxa and taxa touch each other only through gamma, the cost is linear in rows, animals
and taxa.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from nightround.science.clock.design import Design
from nightround.science.clock.priors import COVARIATE_NAMES, COVARIATES, FIXED, FIXED_NAMES
from nightround.science.clock.summing import total
from nightround.science.thermal import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Spreads:
    """Standard deviations of the normal effects: animals, taxa, taxon slopes, groups."""

    animal: float
    taxon: float
    slope: float
    group: float


@dataclass(frozen=True)
class Layout:
    """How the global coefficients gamma [p] map onto each taxon's coefficients [d].

    map [J, d, p]   T_j
    prior_mean [p], prior_precision [p]   group rows have precision 1 / group spread^2, filled in later
    group [p]       True for group effects
    slope_news [J]  what the spread of rows of doubtful size says of each slope, as a precision about 0
    """

    map: FloatArray
    prior_mean: FloatArray
    prior_precision: FloatArray
    group: BoolArray
    slope_news: FloatArray


def make_layout(design: Design) -> Layout:
    """gamma = intercept, slope within, slope between, covariates, places, groups."""
    data, width = design.data, design.basis.shape[1]
    inner = width - 2
    size = len(FIXED_NAMES) + inner + data.groups
    mapping = np.zeros((data.taxa, width, size))
    mapping[:, 0, 0] = 1.0
    mapping[:, 1, 1] = 1.0
    mapping[:, 0, 2] = design.taxon_size
    for index in range(inner):
        mapping[:, 2 + index, 3 + index] = 1.0
    mapping[np.arange(data.taxa), 0, 3 + inner + data.taxon_group] = 1.0
    priors = [FIXED[name] for name in FIXED_NAMES] + [COVARIATES[name] for name in COVARIATE_NAMES]
    priors += design.place_priors()
    mean = np.array([prior.mean for prior in priors] + [0.0] * data.groups)
    precision = np.array([prior.sd**-2 for prior in priors] + [1.0] * data.groups)
    return Layout(mapping, mean, precision, np.arange(size) >= 3 + inner, np.zeros(data.taxa))


@dataclass(frozen=True)
class Solved:
    """Posterior of the normal part given the rows' messages.

    mean, variance [N]      of each row's linear predictor
    kappa, kappa_cov        [J, d], [J, d, d] coefficients of each taxon
    gamma, gamma_cov        [p], [p, p] global coefficients
    log_normaliser          log of the integral of prior times messages
    levels                  what eliminating each level left behind (for `spread_gradient`)
    """

    mean: FloatArray
    variance: FloatArray
    kappa: FloatArray
    kappa_cov: FloatArray
    gamma: FloatArray
    gamma_cov: FloatArray
    log_normaliser: float
    levels: tuple[Animals, _Taxa, _Globals]


@dataclass(frozen=True)
class Animals:
    """What eliminating the animals leaves: precision, mean at kappa = 0, lever on kappa; sums by taxon."""

    prior: FloatArray
    precision: FloatArray
    pull: FloatArray
    lever: FloatArray
    inner: FloatArray
    inner_pull: FloatArray


@dataclass(frozen=True)
class _Taxa:
    """What eliminating the taxa leaves: prior precision, covariance, mean and lever on gamma.

    The reduced sums.
    """

    prior: FloatArray
    determinant: FloatArray
    cov: FloatArray
    mean: FloatArray
    gain: FloatArray
    reduced: FloatArray
    reduced_pull: FloatArray


@dataclass(frozen=True)
class _Globals:
    """Prior precision [p], posterior precision's log determinant, pull, mean and covariance of gamma."""

    prior: FloatArray
    log_determinant: float
    pull: FloatArray
    mean: FloatArray
    cov: FloatArray


def _products(index: IntArray, bounds: IntArray, left: FloatArray, right: FloatArray) -> FloatArray:
    """Sums of left right' over the rows of each taxon [J, d, d]; rows are sorted by taxon."""
    taxa, width = bounds.size - 1, left.shape[1]
    if taxa > 24 and width <= 8:
        out = np.empty((taxa, width, width))
        for row in range(width):
            for column in range(row + 1):
                sums = np.bincount(index, weights=left[:, row] * right[:, column], minlength=taxa)
                out[:, row, column] = out[:, column, row] = sums
        return out
    return np.stack([left[a:b].T @ right[a:b] for a, b in zip(bounds[:-1], bounds[1:], strict=True)])


def level_doubt(design: Design, coefficient_square: FloatArray) -> FloatArray:
    """Variance that doubt of an animal's size adds to its own effect: E[slope^2] times that doubt's [A].

    coefficient_square [J, d]   E[coefficient^2] of every column for every taxon
    """
    data = design.data
    return np.asarray(coefficient_square[data.animal_taxon, 1] * data.animal_size_sd**2)


def eliminate_animals(
    design: Design,
    variance: FloatArray,
    basis: FloatArray,
    precision: FloatArray,
    pull: FloatArray,
) -> Animals:
    """Sum the rows of each animal and take its own effect out; variance [A] is that effect's prior one."""
    by = design.summing
    weighted = basis * precision[:, None]
    prior = 1.0 / variance
    own = total(by.rows_by_animal, precision) + prior
    own_pull = total(by.rows_by_animal, pull)
    coupling = total(by.rows_by_animal, weighted)
    lever = coupling / own[:, None]
    order, bounds = design.animal_order, design.animal_bounds
    taxon_of = design.data.animal_taxon
    inner = _products(design.taxon, design.taxon_start, basis, weighted) - _products(
        taxon_of[order], bounds, coupling[order], lever[order]
    )
    inner_pull = total(by.rows_by_taxon, basis * pull[:, None])
    inner_pull -= total(by.animals_by_taxon, lever * own_pull[:, None])
    return Animals(prior, own, own_pull / own, lever, inner, inner_pull)


def _taxon_prior(design: Design, spreads: Spreads) -> FloatArray:
    """Prior precisions of each taxon's intercept and slope [J, 2]."""
    between_sd = FIXED["slope_between"].mean * design.taxon_size_sd
    return np.stack(
        [1.0 / (spreads.taxon**2 + between_sd**2), np.full(between_sd.size, spreads.slope**-2)], axis=1
    )


def _taxa(design: Design, spreads: Spreads, animals: Animals) -> _Taxa:
    """Intercept and slope of each taxon; a taxon whose size is unknown has a wider intercept."""
    inner, inner_pull = animals.inner, animals.inner_pull
    prior = _taxon_prior(design, spreads)
    first, second = inner[:, 0, 0] + prior[:, 0], inner[:, 1, 1] + prior[:, 1]
    across = inner[:, 0, 1]
    determinant = first * second - across**2
    cov = np.empty((prior.shape[0], 2, 2))
    cov[:, 0, 0], cov[:, 1, 1] = second / determinant, first / determinant
    cov[:, 0, 1] = cov[:, 1, 0] = -across / determinant
    gain = cov @ inner[:, :2, :]
    mean = np.einsum("jab,jb->ja", cov, inner_pull[:, :2])
    reduced = inner - inner[:, :, :2] @ gain
    reduced_pull = inner_pull - np.einsum("jab,jb->ja", inner[:, :, :2], mean)
    return _Taxa(prior, determinant, cov, mean, gain, reduced, reduced_pull)


def _globals(layout: Layout, spread: float, taxa: _Taxa) -> _Globals:
    prior = np.where(layout.group, spread**-2, layout.prior_precision)
    precision = np.diag(prior) + (layout.map.transpose(0, 2, 1) @ taxa.reduced @ layout.map).sum(axis=0)
    pull = prior * layout.prior_mean + np.einsum("jdp,jd->p", layout.map, taxa.reduced_pull)
    cov = np.linalg.inv(precision)
    return _Globals(prior, float(np.linalg.slogdet(precision)[1]), pull, cov @ pull, cov)


def solve(
    design: Design,
    layout: Layout,
    spreads: Spreads,
    basis: FloatArray,
    precision: FloatArray,
    pull: FloatArray,
    doubt: FloatArray | float = 0.0,
) -> Solved:
    """Eliminate animals, taxa and the global block; then go back down for every row's mean and variance.

    basis [N, d]; precision, pull [N]: the rows' messages; doubt [A]: see `level_doubt`. Linear in N.
    """
    variance = spreads.animal**2 + doubt + np.zeros(design.data.animals)
    animals = eliminate_animals(design, variance, basis, precision, pull)
    return solve_above(design, layout, spreads, basis, animals)


def solve_above(
    design: Design, layout: Layout, spreads: Spreads, basis: FloatArray, animals: Animals
) -> Solved:
    """As `solve`, where the animals are eliminated already; `design` may hold a part of the rows only."""
    taxa = _taxa(design, spreads, _with_news(animals, layout, _taxon_prior(design, spreads)))
    rest = _globals(layout, spreads.group, taxa)
    down = layout.map.copy()
    down[:, :2, :] -= taxa.gain @ layout.map
    kappa = down @ rest.mean
    kappa[:, :2] += taxa.mean
    kappa_cov = down @ rest.cov @ down.transpose(0, 2, 1)
    kappa_cov[:, :2, :2] += taxa.cov
    mean, variance = _rows(design, basis, kappa, kappa_cov, animals)
    return Solved(
        mean,
        variance,
        kappa,
        kappa_cov,
        rest.mean,
        rest.cov,
        _log_normaliser(layout, animals, taxa, rest),
        (animals, taxa, rest),
    )


def _with_news(animals: Animals, layout: Layout, prior: FloatArray) -> Animals:
    """Add what the spread of rows of doubtful size says of the slopes.

    It was heard at one setting of the spreads; at another it may not take back more than half of what is
    known of a slope there, or its variance would be negative.
    """
    if not layout.slope_news.any():
        return animals
    inner = animals.inner.copy()
    known = inner[:, 1, 1] + prior[:, 1] - inner[:, 0, 1] ** 2 / (inner[:, 0, 0] + prior[:, 0])
    inner[:, 1, 1] += np.maximum(layout.slope_news, -0.5 * known)
    return replace(animals, inner=inner)


def _rows(
    design: Design, basis: FloatArray, kappa: FloatArray, kappa_cov: FloatArray, animals: Animals
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of each row's linear predictor."""
    lever = basis - animals.lever[design.animal]
    mean = animals.pull[design.animal] + np.einsum("nd,nd->n", lever, kappa[design.taxon])
    spread = np.empty_like(lever)
    bounds = design.taxon_start
    for taxon in np.flatnonzero(bounds[1:] > bounds[:-1]):
        rows = slice(bounds[taxon], bounds[taxon + 1])
        spread[rows] = lever[rows] @ kappa_cov[taxon]
    variance = 1.0 / animals.precision[design.animal] + np.einsum("nd,nd->n", lever, spread)
    return mean, variance


def _log_normaliser(layout: Layout, animals: Animals, taxa: _Taxa, rest: _Globals) -> float:
    """Log determinants of prior over posterior, and the quadratic forms, level by level."""
    determinants = (
        np.log(animals.prior).sum()
        - np.log(np.maximum(animals.precision, 1e-300)).sum()
        + np.log(taxa.prior).sum()
        - np.log(np.maximum(taxa.determinant, 1e-300)).sum()
        + np.log(rest.prior).sum()
        - rest.log_determinant
    )
    squares = (
        (animals.pull**2 * animals.precision).sum()
        + (animals.inner_pull[:, :2] * taxa.mean).sum()
        + rest.pull @ rest.mean
        - (rest.prior * layout.prior_mean**2).sum()
    )
    return 0.5 * float(determinants + squares)


def animal_means(design: Design, solved: Solved) -> FloatArray:
    """Mean effect of every animal [A]."""
    animals = solved.levels[0]
    return np.asarray(animals.pull - (animals.lever * solved.kappa[design.data.animal_taxon]).sum(axis=1))


def animal_squares(design: Design, solved: Solved) -> FloatArray:
    """E[effect^2] of every animal [A]."""
    animals, taxon_of = solved.levels[0], design.data.animal_taxon
    mean = animal_means(design, solved)
    spread = np.einsum("ad,ade,ae->a", animals.lever, solved.kappa_cov[taxon_of], animals.lever)
    return np.asarray(mean**2 + 1.0 / animals.precision + spread)


def spread_gradient(design: Design, layout: Layout, spreads: Spreads, solved: Solved) -> FloatArray:
    """Derivatives of the log normaliser in the logs of the four spreads [4].

    Sums of E[effect^2] / prior variance - 1, level by level.
    """
    animals, taxa, rest = solved.levels
    u_square = animal_squares(design, solved)
    onto = taxa.gain @ layout.map
    t_mean = taxa.mean - onto @ rest.mean
    t_square = t_mean**2 + np.einsum("jaa->ja", taxa.cov) + np.einsum("jap,pq,jaq->ja", onto, rest.cov, onto)
    excess = t_square * taxa.prior - 1.0
    group_square = rest.mean[layout.group] ** 2 + np.diag(rest.cov)[layout.group]
    return np.array(
        [
            ((u_square * animals.prior - 1.0) * spreads.animal**2 * animals.prior).sum(),
            (excess[:, 0] * spreads.taxon**2 * taxa.prior[:, 0]).sum(),
            excess[:, 1].sum(),
            (group_square * spreads.group**-2 - 1.0).sum(),
        ]
    )
