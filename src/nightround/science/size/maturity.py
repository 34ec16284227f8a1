"""Females that mature unseen: the chance that an animal is mature, from size and from how little it grew.

Nobody sees a female mature from outside, and mature females grow little at a moult. A taxon's females are
taken to mature about a size M (log mm): P(mature | x) = S((x − M)/width), S logistic. M is known by a grid of
weights per taxon: prior, females noted as mature, and every step of a possible female, which was either one
of growth or one after maturity. Males show their maturity: one not noted as mature is not. Sex unknown: an
animal above M that did not mature as a male is the more likely a female.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.size.data import FEMALE, MALE, Floats, Integers, Packed
from nightround.science.size.priors import MaturityPrior

_GRID: Final = np.arange(0.0, 4.21, 0.12)


@dataclass(frozen=True, slots=True)
class Maturity:
    """Weights (J, G) of each taxon's size of maturity on the grid [log mm], and the width of S."""

    weights: Floats
    width: float

    def chance(self, taxon: Integers, x: Floats) -> Floats:
        """P(a female is mature | x) for x (n, ...) of animals of these taxa (n,)."""
        lattice = np.linspace(-1.0, 5.0, 121)
        table = self.weights @ _logistic((lattice[None, :] - _GRID[:, None]) / self.width)
        at = np.clip((x - lattice[0]) / (lattice[1] - lattice[0]), 0.0, len(lattice) - 1.001)
        below = at.astype(np.int64)
        rest = at - below
        row = taxon.reshape(-1, *([1] * (x.ndim - 1)))
        result: Floats = (1.0 - rest) * table[row, below] + rest * table[row, below + 1]
        return result

    def median(self) -> Floats:
        """Return (J,) the median size of maturity of each taxon [log mm]."""
        place = np.argmax(np.cumsum(self.weights, axis=1) >= 0.5, axis=1)
        return np.asarray(_GRID[place], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Steps:
    """Smoothed steps from each instar (n, K − 1): how likely as growth and as a step after maturity."""

    x: Floats
    log_growing: Floats
    log_mature: Floats


def prior_maturity(prior: MaturityPrior, n_taxa: int) -> Maturity:
    """Return what is known of the size of maturity before any record."""
    log_weights = -0.5 * ((_GRID - prior.mean) / prior.sd) ** 2
    weights = np.exp(log_weights - log_weights.max())
    return Maturity(np.tile(weights / weights.sum(), (n_taxa, 1)), prior.width)


def learn(prior: MaturityPrior, packed: Packed, n_taxa: int, state: Floats, steps: Steps) -> Maturity:
    """Weigh the grid by females noted as mature and by every step of a possible female."""
    log_weights = np.log(np.maximum(prior_maturity(prior, n_taxa).weights, 1e-300))
    noted = (packed.sex == FEMALE) & packed.after.any(axis=1)
    first = np.argmax(packed.after > 0, axis=1)
    at_noted = np.log(_logistic((state[noted, first[noted]][:, None] - _GRID) / prior.width))
    np.add.at(log_weights, packed.taxon[noted], at_noted)
    told = (packed.sex != MALE)[:, None] & packed.has_next[:, :-1] & (packed.after[:, :-1] == 0)
    told &= steps.log_growing != steps.log_mature
    animal, instar = np.nonzero(told)
    chance = _logistic((steps.x[animal, instar][:, None] - _GRID) / prior.width)
    unsexed = packed.sex[animal] != FEMALE
    chance[unsexed] = chance[unsexed] / (2.0 - chance[unsexed])
    ratio = np.exp(np.clip(steps.log_mature - steps.log_growing, -30.0, 30.0))[animal, instar][:, None]
    evidence = np.log1p(chance * (ratio - 1.0))
    of_taxa = np.searchsorted(packed.taxon[animal], packed.present)
    if len(animal):
        filled = np.diff(np.r_[of_taxa, len(animal)]) > 0
        log_weights[packed.present[filled]] += np.add.reduceat(evidence, of_taxa[filled], axis=0)
    weights = np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    return Maturity(weights / weights.sum(axis=1, keepdims=True), prior.width)


def before_the_step(maturity: Maturity, packed: Packed, state: Floats) -> Floats:
    """P(mature in instar k) (n, K) from size and sex alone; 1 where noted, 0 for males not noted."""
    female = maturity.chance(packed.taxon, state)
    sex = packed.sex[:, None]
    chance = np.where(sex == FEMALE, female, np.where(sex == MALE, 0.0, female / (2.0 - female)))
    result: Floats = np.where(packed.after > 0, 1.0, chance)
    return result


def after_the_step(before: Floats, steps: Steps) -> Floats:
    """P(mature in instar k) (n, K) once the step out of it is known; the last instar keeps what came before.

    Maturity stays: an animal mature in one instar is mature in the next.
    """
    chance = before.copy()
    if chance.shape[1] > 1:
        ratio = np.exp(np.clip(steps.log_mature - steps.log_growing, -30.0, 30.0))
        odds = before[:, :-1] * ratio
        chance[:, :-1] = odds / (odds + 1.0 - before[:, :-1])
        chance[:, -1:] = before[:, -1:]
    return chance


def mature_now(packed: Packed, before: Floats, after: Floats, last: Integers) -> Floats:
    """P(mature in its last instar) (n,): by size, or already by the step into it."""
    row = np.arange(len(last))
    earlier = np.where(last > 0, after[row, np.maximum(last - 1, 0)], 0.0)
    result: Floats = earlier + (1.0 - earlier) * before[row, last]
    return result


def _logistic(z: Floats) -> Floats:
    result: Floats = 1.0 / (1.0 + np.exp(-np.clip(z, -40.0, 40.0)))
    return result
