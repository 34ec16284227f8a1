"""The staircase's algebra against dense linear algebra, SciPy and a published mixed-model fit."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from nightround.science.size import chain as chains
from nightround.science.size.data import Packed, SizeData, pack
from nightround.science.size.fit import first_spreads, fit_size
from nightround.science.size.layout import FIRST_COEFFICIENT, Layout, lay_out
from nightround.science.size.pooling import pool, up
from nightround.science.size.priors import SPIDER_PRIORS
from nightround.science.size.sweep import Spreads

# Trunk circumference of five orange trees [mm] at seven ages [days]. Source NLMEORANGE: Draper & Smith (1998)
# Applied Regression Analysis, 3rd ed., exercise 24.N; typed from memory, confirmed by the log-likelihood.
AGES = np.array([118.0, 484, 664, 1004, 1231, 1372, 1582])
TREES = np.array(
    [
        [30.0, 58, 87, 115, 120, 142, 145],
        [33, 69, 111, 156, 172, 203, 203],
        [30, 51, 75, 108, 115, 139, 140],
        [32, 62, 112, 167, 179, 209, 214],
        [30, 49, 81, 125, 142, 174, 177],
    ]
)


def test_chain_equals_dense_inverse() -> None:
    """Solutions, variances, covariances of neighbours and log determinant equal those of dense matrices."""
    rng = np.random.default_rng(3)
    n, k = 5, 7
    beside = -rng.random((n, k - 1))
    diagonal = 2.5 + rng.random((n, k))
    right = rng.standard_normal((n, k, 3))
    dense = np.zeros((n, k, k))
    for i in range(k):
        dense[:, i, i] = diagonal[:, i]
    for i in range(k - 1):
        dense[:, i, i + 1] = dense[:, i + 1, i] = beside[:, i]
    chain = chains.factor(diagonal, beside)
    inverse = np.linalg.inv(dense)
    variance, neighbours = chains.covariances(chain)
    np.testing.assert_allclose(inverse @ right, chains.solve(chain, right), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(np.einsum("nkk->nk", inverse), variance, rtol=1e-12)
    np.testing.assert_allclose(np.einsum("nkk->nk", inverse[:, :-1, 1:]), neighbours, rtol=1e-12)
    np.testing.assert_allclose(np.linalg.slogdet(dense)[1], chain.log_determinant, rtol=1e-12)


def test_pooling_equals_the_dense_joint_normal() -> None:
    """Taxa, groups and world from block elimination equal one dense solve of their joint precision."""
    rng = np.random.default_rng(4)
    j, h, p = 6, 2, 3
    group = np.array([0, 0, 1, 1, 1, 0])
    root = rng.standard_normal((j, p, p))
    information = root @ np.swapaxes(root, 1, 2)
    information[2] = 0.0
    potential = rng.standard_normal((j, p))
    potential[2] = 0.0
    taxon_variance, group_variance = np.array([0.3, 1.0, 0.1]), np.array([0.5, 0.2, 0.7])
    prior_mean, prior_variance = np.array([1.0, -1.0, 0.5]), np.array([2.0, 1.0, 3.0])
    pooled = pool(
        information, potential, group, h, taxon_variance, group_variance, prior_mean, prior_variance
    )
    size = (j + h + 1) * p
    dense, pull = np.zeros((size, size)), np.zeros(size)
    world = slice((j + h) * p, size)

    def link(child: slice, parent: slice, variance: np.ndarray) -> None:
        precision = np.diag(1.0 / variance)
        dense[child, child] += precision
        dense[parent, parent] += precision
        dense[child, parent] -= precision
        dense[parent, child] -= precision

    for t in range(j):
        here = slice(t * p, (t + 1) * p)
        dense[here, here] += information[t]
        pull[here] += potential[t]
        link(here, slice((j + group[t]) * p, (j + group[t] + 1) * p), taxon_variance)
    for g in range(h):
        link(slice((j + g) * p, (j + g + 1) * p), world, group_variance)
    dense[world, world] += np.diag(1.0 / prior_variance)
    pull[world] += prior_mean / prior_variance
    covariance = np.linalg.inv(dense)
    mean = covariance @ pull
    np.testing.assert_allclose(mean[: j * p].reshape(j, p), pooled.mean, rtol=1e-9)
    np.testing.assert_allclose(mean[world], pooled.world_mean, rtol=1e-9)
    np.testing.assert_allclose(covariance[:p, :p], pooled.covariance[0], rtol=1e-9)
    np.testing.assert_allclose(covariance[world, world], pooled.world_covariance, rtol=1e-9)
    square = np.zeros(p)
    for t in range(j):
        here, parent = slice(t * p, (t + 1) * p), slice((j + group[t]) * p, (j + group[t] + 1) * p)
        across = covariance[here, parent]
        away = covariance[here, here] + covariance[parent, parent] - across - across.T
        square += (mean[here] - mean[parent]) ** 2 + np.diag(away)
    np.testing.assert_allclose(square, pooled.taxon_square, rtol=1e-9)


def test_orange_trees_mixed_logistic_maximum_likelihood() -> None:
    """The pooling code maximises to the published exact ML fit of the Orange trees (source NLMEORANGE).

    Expected: asymptote 192.053, xmid 727.906, scal 348.073, sd of asymptotes 31.646, residual sd 7.843,
    log-likelihood -131.572; recomputed from the packaged data, equal to Pinheiro & Bates (2000) from memory.
    """
    from scipy.optimize import minimize

    def likelihood(parameters: np.ndarray) -> tuple[float, float]:
        xmid, scal = 1000 * parameters[0], 1000 * parameters[1]
        sd_tree, sd = np.exp(parameters[2:])
        shape = 1.0 / (1.0 + np.exp(-(AGES - xmid) / scal))
        information = np.full((5, 1, 1), (shape**2).sum() / sd**2)
        potential = (TREES @ shape / sd**2)[:, None]
        level = up(information, potential, np.array([sd_tree**2]))
        told, precision = level.up_potential.sum(), level.up_information.sum()
        asymptote = told / precision
        constant = -0.5 * TREES.size * np.log(2 * np.pi * sd**2) - 0.5 * (TREES**2).sum() / sd**2
        return level.log_weight + told * asymptote - 0.5 * precision * asymptote**2 + constant, asymptote

    best = minimize(
        lambda v: -likelihood(v)[0],
        np.array([0.7, 0.35, np.log(25.0), np.log(8.0)]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000, "maxfev": 4000},
    )
    value, asymptote = likelihood(best.x)
    assert 192.053 == pytest.approx(asymptote, abs=6e-4)
    assert 727.906 == pytest.approx(1000 * best.x[0], abs=2e-3)
    assert 348.073 == pytest.approx(1000 * best.x[1], abs=2e-3)
    assert 31.646 == pytest.approx(np.exp(best.x[2]), abs=6e-4)
    assert 7.8430 == pytest.approx(np.exp(best.x[3]), abs=6e-5)
    assert -131.572 == pytest.approx(value, abs=6e-4)


def _small_room() -> tuple[SizeData, Spreads]:
    """Two taxa, four animals (a mature male, a mature female), no decline or unseen maturity: all normal."""
    coefficients = tuple(
        dataclasses.replace(c, mean=0.0, sd=1e-7, group_sd=1e-7, taxon_sd=1e-7) if c.name == "decline" else c
        for c in SPIDER_PRIORS.coefficients
    )
    never = dataclasses.replace(
        SPIDER_PRIORS.maturity, mean=50.0, sd=0.1, group_sd=1e-3, taxon_sd=1e-3, difference_sd=1e-3
    )
    priors = dataclasses.replace(SPIDER_PRIORS, coefficients=coefficients, maturity=never)
    data = SizeData(
        taxon_of_animal=np.array([1, 0, 0, 1]),
        group_of_taxon=np.array([0, 0]),
        n_instars=np.array([3, 2, 4, 1]),
        sex=np.array([2, 0, 1, 0]),
        mature_instar=np.array([2, -1, 0, -1]),
        reading_animal=np.array([0, 0, 1, 2, 2, 3]),
        reading_instar=np.array([0, 2, 1, 0, 3, 0]),
        reading_channel=np.array([0, 1, 1, 1, 1, 0]),
        reading_value=np.array([3.0, 6.5, 8.0, 2.0, 4.4, 12.0]),
        priors=priors,
    )
    packed = pack(data)
    return data, first_spreads(data, packed, lay_out(data, packed))


def _dense(data: SizeData, packed: Packed, layout: Layout, spreads: Spreads) -> tuple[np.ndarray, ...]:
    """Prior mean and covariance of all states (n·K) and the readings' design, built the slow way."""
    n, k = packed.active.shape
    p = len(layout.coefficients)
    taxa = data.n_taxa
    prior = layout.array("mean")
    coefficient = np.kron(np.ones((taxa, taxa)), np.diag(layout.array("sd") ** 2 + spreads.group**2))
    coefficient += np.kron(np.eye(taxa), np.diag(spreads.taxon**2))
    basis = np.zeros((n * k, taxa * p + n + n * k))
    for i in range(n):
        row = np.zeros(basis.shape[1])
        at = packed.taxon[i] * p - FIRST_COEFFICIENT
        row[at + layout.must("start")] = 1.0
        row[taxa * p + n + i * k] = spreads.start
        for instar in range(k):
            basis[i * k + instar] = row
            row = row.copy()
            growing = 1.0 - packed.after[i, instar]
            row[at + layout.must("step")] += growing
            row[at + layout.must("mature_step")] += 1.0 - growing
            row[taxa * p + i] += spreads.animal * growing
            row[at + layout.must("male_last")] += packed.male_last[i, instar]
            row[at + layout.must("female_last")] += packed.female_last[i, instar]
            if instar + 1 < k:
                row[taxa * p + n + i * k + instar + 1] += spreads.step
    noise = np.eye(basis.shape[1])
    noise[: taxa * p, : taxa * p] = coefficient
    mean = basis[:, : taxa * p] @ np.tile(prior, taxa)
    return mean, basis @ noise @ basis.T


def test_states_and_likelihood_equal_the_dense_normal_model() -> None:
    """With held spreads and no decline, states, their sds and the likelihood are those of SciPy's normal."""
    from scipy.stats import multivariate_normal

    data, spreads = _small_room()
    fit = fit_size(data, hold_spreads=spreads)
    packed, layout = fit.inside.packed, fit.inside.layout
    mean, covariance = _dense(data, packed, layout, spreads)
    k = packed.active.shape[1]
    place = fit.inside.place
    at = place[data.reading_animal] * k + data.reading_instar
    errors = np.array([SPIDER_PRIORS.channels[c].error for c in data.reading_channel])
    seen = covariance[np.ix_(at, at)] + np.diag(errors**2)
    y = np.log(data.reading_value)
    gain = covariance[:, at] @ np.linalg.inv(seen)
    expected = (mean + gain @ (y - mean[at])).reshape(-1, k)[place]
    left = np.sqrt(np.diag(covariance - gain @ covariance[at])).reshape(-1, k)[place]
    known = ~np.isnan(fit.log_size_mean)
    np.testing.assert_allclose(expected[known], fit.log_size_mean[known], atol=1e-6)
    np.testing.assert_allclose(left[known], fit.log_size_sd[known], atol=1e-6)
    density = multivariate_normal(mean[at], seen).logpdf(y) + 0.5 * len(y) * np.log(2 * np.pi)
    assert density == pytest.approx(fit.log_likelihood, abs=1e-5)
