"""Maturity: at each moult a chance logistic in the new size, by sex; sizes of maturity pooled between taxa.

A moult to log carapace length x matures a juvenile with chance 1 / (1 + exp(−(x − M) / width)). M is the
taxon's, one for females and one for males, pooled in groups and the world (`maturity_priors`). What is known
of M is a grid of weights per taxon over (females' M, males' M − females' M), passed up and down the tree of
taxa exactly on the grid.

Evidence. A male shows his maturity: noted, or not yet (censored at the last instar on record). A female
matures unseen and then grows little: her stages are a chain of juvenile and mature instars, summed over, with
the likelihood of each step between two instars that were read, as growth or as a step after maturity. An
animal of unknown sex is half the one and half the other, as far as its own course does not tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.size.data import FEMALE, MALE, Floats, Integers, Packed
from nightround.science.size.maturity_priors import MaturityPrior

GRID_STEP: Final = 0.15
FEMALE_GRID: Final[Floats] = np.arange(0.0, 4.21, GRID_STEP, dtype=np.float64)
DIFFERENCE_GRID: Final[Floats] = GRID_STEP * np.arange(-6, 5, dtype=np.float64)
MALE_GRID: Final[Floats] = GRID_STEP * np.arange(-6, len(FEMALE_GRID) + 4, dtype=np.float64)
# Position in MALE_GRID of females' grid point f with difference d (F, D).
MALE_AT: Final = np.arange(len(FEMALE_GRID))[:, None] + np.arange(len(DIFFERENCE_GRID))[None, :]
_EARLIER_MOULTS: Final = 4
_LEAST: Final = 1e-300


@dataclass(frozen=True, slots=True)
class Maturity:
    """Weights (J, F, D) of each taxon's size of maturity and of the males' difference, and the prior."""

    weights: Floats
    prior: MaturityPrior

    def sizes(self, male: bool) -> tuple[Floats, Floats]:
        """Return grid (G,) and weights (J, G) of the log size at which half of the moults mature."""
        if not male:
            return FEMALE_GRID, np.asarray(self.weights.sum(axis=2), dtype=np.float64)
        weights = np.zeros((len(self.weights), len(MALE_GRID)))
        for column in range(len(DIFFERENCE_GRID)):
            weights[:, column : column + len(FEMALE_GRID)] += self.weights[:, :, column]
        return MALE_GRID, weights


@dataclass(frozen=True, slots=True)
class Steps:
    """Log likelihood (n, K − 1) of the step from each instar as growth, as a female's maturing step, and as
    one after maturity; all 0 where the step was not read."""

    log_growing: Floats
    log_maturing: Floats
    log_mature: Floats

    def ratios(self) -> tuple[Floats, Floats]:
        """Likelihoods of a maturing step and of a mature one over that of growth."""
        maturing = np.exp(np.clip(self.log_maturing - self.log_growing, -30.0, 30.0))
        mature = np.exp(np.clip(self.log_mature - self.log_growing, -30.0, 30.0))
        return np.asarray(maturing), np.asarray(mature)


@dataclass(frozen=True, slots=True)
class Courses:
    """How likely each packed animal's course is under each size of maturity, and its stages.

    female_log    (n, F) log likelihood as a female, by her size of maturity
    male_log      (n, G) as a male, by his
    stage         (n, K, F) chance that a female is mature in each instar, given her size of maturity
    """

    female_log: Floats
    male_log: Floats
    stage: Floats


@dataclass(frozen=True, slots=True)
class Stages:
    """What is told of each packed animal, sizes of maturity summed over.

    female        (n,) chance that it is a female
    after         (n, K) chance that it is mature in each instar (mature males count only where noted)
    maturing      (n, K) chance that the step from an instar is a female's maturing one that nobody noted
    now           (n,) the same in its last instar
    """

    female: Floats
    after: Floats
    maturing: Floats
    now: Floats


def hazard(x: Floats, grid: Floats, width: Floats | float) -> Floats:
    """Return P(a moult to log size x matures) for each size of maturity: x (...,) → (..., G)."""
    z = (x[..., None] - grid) / (width[..., None] if isinstance(width, np.ndarray) else width)
    result: Floats = 1.0 / (1.0 + np.exp(-np.clip(z, -40.0, 40.0)))
    return result


def wider(width: float, variance: Floats) -> Floats:
    """Width of the logistic averaged over a normal x: the usual probit matching, 1.7 sd per width."""
    return np.asarray(np.sqrt(width**2 + variance / 1.7**2), dtype=np.float64)


def follow(
    prior: MaturityPrior, packed: Packed, x: Floats, variance: Floats, told: Steps, *, stages: bool = True
) -> Courses:
    """Follow every animal's course under every size of maturity.

    x, variance   (n, K) log size by which each instar's moult was decided, and its variance
    """
    width = wider(prior.width, variance)
    female = packed.sex != MALE
    male = packed.sex != FEMALE
    f, g, (n, k) = len(FEMALE_GRID), len(MALE_GRID), packed.active.shape
    female_log, stage = np.zeros((n, f)), np.zeros((n, k, f) if stages else (0, k, f))
    male_log = np.zeros((n, g))
    female_log[female], found = _as_female(prior, packed, x, width, told, np.nonzero(female)[0], stages)
    if stages:
        stage[female] = found
    male_log[male] = _as_male(prior, packed, x, width, np.nonzero(male)[0])
    return Courses(female_log, male_log, stage)


def _mature_at_first(prior: MaturityPrior, x: Floats, width: Floats, grid: Floats) -> Floats:
    """P(mature in the first instar on record | its size), from the moults that must have led there."""
    juvenile = np.ones((len(x), len(grid)))
    for back in range(_EARLIER_MOULTS):
        juvenile *= 1.0 - hazard(x - back * prior.usual_step, grid, width)
    return np.asarray(1.0 - juvenile, dtype=np.float64)


def _as_female(
    prior: MaturityPrior, packed: Packed, x: Floats, width: Floats, told: Steps, rows: Integers, stages: bool
) -> tuple[Floats, Floats]:
    """Sum over the chains juvenile … mature of each possible female; forwards, then backwards."""
    x, width, k = x[rows], width[rows], x.shape[1]
    noted = packed.after[rows] > 0
    maturing_ratio, ratio = (ratios[rows] for ratios in told.ratios())
    mature = _mature_at_first(prior, x[:, 0], width[:, 0], FEMALE_GRID)
    juvenile = np.where(noted[:, :1], 0.0, 1.0 - mature)
    total = mature + juvenile
    log_likelihood = np.log(np.maximum(total, _LEAST))
    forward = [(juvenile / np.maximum(total, _LEAST), mature / np.maximum(total, _LEAST))]
    hazards = []
    for at in range(k - 1):
        there = packed.has_next[rows, at, None]
        chance = hazard(x[:, at + 1], FEMALE_GRID, width[:, at + 1])
        juvenile, mature = forward[-1]
        matures = juvenile * chance
        grown = juvenile - matures
        grown[noted[:, at + 1]] = 0.0
        adult = mature * ratio[:, at, None] + matures * maturing_ratio[:, at, None]
        total = np.maximum(grown + adult, _LEAST)
        log_likelihood += np.where(there, np.log(total), 0.0)
        forward.append((np.where(there, grown / total, juvenile), np.where(there, adult / total, mature)))
        hazards.append(chance)
    if not stages:
        return log_likelihood, np.zeros(0)
    return log_likelihood, _backwards(packed, rows, forward, hazards, noted, (maturing_ratio, ratio))


def _backwards(
    packed: Packed,
    rows: Integers,
    forward: list[tuple[Floats, Floats]],
    hazards: list[Floats],
    noted: NDArray[np.bool_],
    ratios: tuple[Floats, Floats],
) -> Floats:
    stage = np.empty((len(rows), len(forward), len(FEMALE_GRID)))
    juvenile_later = mature_later = np.ones_like(forward[0][0])
    for at in range(len(forward) - 1, -1, -1):
        if at < len(hazards):
            there, chance = packed.has_next[rows, at, None], hazards[at]
            grown = (1.0 - chance) * juvenile_later
            grown[noted[:, at + 1]] = 0.0
            juvenile_new = grown + chance * ratios[0][:, at, None] * mature_later
            mature_new = ratios[1][:, at, None] * mature_later
            size = np.maximum(np.maximum(juvenile_new, mature_new), _LEAST)
            juvenile_later = np.where(there, juvenile_new / size, 1.0)
            mature_later = np.where(there, mature_new / size, 1.0)
        juvenile, mature = forward[at]
        adult = mature * mature_later
        stage[:, at] = adult / np.maximum(adult + juvenile * juvenile_later, _LEAST)
    return stage


def _as_male(prior: MaturityPrior, packed: Packed, x: Floats, width: Floats, rows: Integers) -> Floats:
    """Immature at every moult before the noted one, mature then; not noted: immature so far."""
    noted = packed.after[rows] > 0
    first = _mature_at_first(prior, x[rows, 0], width[rows, 0], MALE_GRID)
    log_likelihood = np.log(np.maximum(np.where(noted[:, :1], first, 1.0 - first), _LEAST))
    for at in range(1, x.shape[1]):
        chance = hazard(x[rows, at], MALE_GRID, width[rows, at])
        chance = np.where(noted[:, at, None], chance, 1.0 - chance)
        counts = packed.active[rows, at] & ~noted[:, at - 1]
        log_likelihood += np.where(counts[:, None], np.log(np.maximum(chance, _LEAST)), 0.0)
    return log_likelihood


def _both(courses: Courses, rows: Integers) -> Floats:
    """Log likelihood (r, F, D) of animals of unknown sex."""
    male = courses.male_log[rows][:, MALE_AT]
    result: Floats = np.logaddexp(courses.female_log[rows][:, :, None], male) - np.log(2.0)
    return result


def learn(
    prior: MaturityPrior, packed: Packed, group_of_taxon: Integers, courses: Courses, read: NDArray[np.bool_]
) -> Maturity:
    """Weigh the sizes of maturity of all taxa by the courses of their animals.

    read   (n,) animals of which anything was measured: only they count
    """
    n_taxa = len(group_of_taxon)
    f, d = len(FEMALE_GRID), len(DIFFERENCE_GRID)
    evidence = np.zeros((n_taxa, f, d))
    female, male = (np.nonzero(read & (packed.sex == sex))[0] for sex in (FEMALE, MALE))
    either = np.nonzero(read & (packed.sex != FEMALE) & (packed.sex != MALE))[0]
    as_female, as_male = np.zeros((n_taxa, f)), np.zeros((n_taxa, len(MALE_GRID)))
    np.add.at(as_female, packed.taxon[female], courses.female_log[female])
    np.add.at(as_male, packed.taxon[male], courses.male_log[male])
    evidence += as_female[:, :, None] + as_male[:, MALE_AT]
    np.add.at(evidence, packed.taxon[either], _both(courses, either))
    return Maturity(pooled_weights(prior, evidence, group_of_taxon), prior)


def pooled_weights(prior: MaturityPrior, evidence: Floats, group_of_taxon: Integers) -> Floats:
    """Weights (J, F, D) of every taxon given the log evidence (J, F, D) of all; scales summed over."""
    total: list[Floats] = []
    logs: list[float] = []
    for scale, share in prior.scales:
        weights, log_evidence = _pooled(prior, evidence, group_of_taxon, scale)
        total.append(weights)
        logs.append(float(np.log(share)) + log_evidence)
    shares = np.exp(np.array(logs) - max(logs))
    mixed: Floats = np.einsum("s,sjfd->jfd", shares / shares.sum(), np.array(total))
    return mixed


def _kernel(grid: Floats, sd: float) -> Floats:
    """Chance (from, to) of a child on the grid given its parent."""
    matrix = np.exp(-0.5 * ((grid[:, None] - grid[None, :]) / sd) ** 2)
    result: Floats = matrix / matrix.sum(axis=1, keepdims=True)
    return result


def _pooled(
    prior: MaturityPrior, evidence: Floats, group_of_taxon: Integers, scale: float
) -> tuple[Floats, float]:
    """One scale of the spreads: messages up to groups and world, and down again, exact on the grid."""
    n_groups = int(group_of_taxon.max(initial=0)) + 1
    to_taxon = (
        _kernel(FEMALE_GRID, scale * prior.taxon_sd),
        _kernel(DIFFERENCE_GRID, scale * prior.difference_taxon_sd),
    )
    to_group = (
        _kernel(FEMALE_GRID, scale * prior.group_sd),
        _kernel(DIFFERENCE_GRID, scale * prior.difference_group_sd),
    )
    world = -0.5 * ((FEMALE_GRID - prior.mean) / prior.sd)[:, None] ** 2
    world = world - 0.5 * ((DIFFERENCE_GRID - prior.difference_mean) / prior.difference_sd)[None, :] ** 2
    world = world - world.max()
    world = world - np.log(np.exp(world).sum())

    def up(log_message: Floats, kernels: tuple[Floats, Floats]) -> Floats:
        top = log_message.max(axis=(1, 2), keepdims=True)
        moved = kernels[0] @ np.exp(log_message - top) @ kernels[1].T
        return np.asarray(np.log(np.maximum(moved, _LEAST)) + top, dtype=np.float64)

    def down(log_belief: Floats, kernels: tuple[Floats, Floats]) -> Floats:
        top = log_belief.max(axis=(1, 2), keepdims=True)
        moved = kernels[0].T @ np.exp(log_belief - top) @ kernels[1]
        return np.asarray(np.log(np.maximum(moved, _LEAST)), dtype=np.float64)

    of_taxa = up(evidence, to_taxon)
    in_groups = np.zeros((n_groups, *evidence.shape[1:]))
    np.add.at(in_groups, group_of_taxon, of_taxa)
    of_groups = up(in_groups, to_group)
    whole = world + of_groups.sum(axis=0)
    log_evidence = float(np.log(np.exp(whole - whole.max()).sum()) + whole.max())
    above_groups = down(whole[None] - of_groups, to_group)
    above_taxa = down((above_groups + in_groups)[group_of_taxon] - of_taxa, to_taxon)
    belief = above_taxa + evidence
    weights = np.exp(belief - belief.max(axis=(1, 2), keepdims=True))
    return weights / weights.sum(axis=(1, 2), keepdims=True), log_evidence


def female_share(maturity: Maturity, packed: Packed, courses: Courses) -> tuple[Floats, Floats]:
    """Joint weights (n, F) of being a female with that size of maturity, and (n, G) of being such a male."""
    n, f, g = len(packed.sex), len(FEMALE_GRID), len(MALE_GRID)
    as_female, as_male = np.zeros((n, f)), np.zeros((n, g))
    taxon = packed.taxon
    known = packed.sex == FEMALE
    as_female[known] = maturity.sizes(male=False)[1][taxon[known]]
    known = packed.sex == MALE
    as_male[known] = maturity.sizes(male=True)[1][taxon[known]]
    either = np.nonzero((packed.sex != FEMALE) & (packed.sex != MALE))[0]
    weights = maturity.weights[taxon[either]]
    ratio = courses.male_log[either][:, MALE_AT] - courses.female_log[either][:, :, None]
    share = weights / (1.0 + np.exp(np.clip(ratio, -40.0, 40.0)))
    as_female[either] = share.sum(axis=2)
    rest = weights - share
    for column in range(len(DIFFERENCE_GRID)):
        as_male[either, column : column + f] += rest[:, :, column]
    return as_female, as_male


def tell(maturity: Maturity, packed: Packed, courses: Courses, last: Integers) -> Stages:
    """Sum over the sizes of maturity: chance to be a female, and to be mature in each instar."""
    as_female, _ = female_share(maturity, packed, courses)
    after = np.einsum("nf,nkf->nk", as_female, courses.stage)
    maturing = np.zeros_like(after)
    maturing[:, :-1] = np.maximum(np.diff(after, axis=1), 0.0) * packed.has_next[:, :-1]
    maturing[(packed.after > 0).any(axis=1)] = 0.0
    after = np.where(packed.after > 0, 1.0, after)
    now: Floats = after[np.arange(len(last)), last]
    return Stages(np.asarray(as_female.sum(axis=1), dtype=np.float64), after, maturing, now)


def prior_maturity(prior: MaturityPrior, group_of_taxon: Integers) -> Maturity:
    """Return what is known of the sizes of maturity before any record."""
    shape = (len(group_of_taxon), len(FEMALE_GRID), len(DIFFERENCE_GRID))
    return Maturity(pooled_weights(prior, np.zeros(shape), group_of_taxon), prior)
