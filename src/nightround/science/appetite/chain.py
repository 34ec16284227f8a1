"""Moments packed for the forward algorithm, and the chances that the chain is made of.

Each interval has two hidden states: whether premoult has begun (once, for good, at a phase drawn from a
logistic) and whether the animal fasts for a reason of its own (two states in continuous time).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.appetite.data import NO_OFFER, Courses
from nightround.science.appetite.priors import (
    COLDEST_C,
    HARDENING_EDGE,
    LONGEST_GAP_DAYS,
    PARAMETER_NAMES,
    PARAMETERS,
    REFERENCE_C,
    SHORTEST_GAP_DAYS,
    SURELY,
    TAKEN_WHILE_HARDENING,
    UNKNOWN_HARDENING_DAYS,
    UNKNOWN_LOG_WEEKS_SD,
    UNKNOWN_TEMPERATURE_SD_C,
    WARMEST_C,
)
from nightround.science.thermal import BoolArray, FloatArray, IntArray

PLACE: Final = {name: index for index, name in enumerate(PARAMETER_NAMES)}


def expit(value: FloatArray) -> FloatArray:
    """Return the logistic function without overflow."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * np.asarray(value))))


@dataclass(frozen=True)
class Packed:
    """Courses in time-major order: moment k of row n stands at [k, n]; rows with most moments first.

    order [N]           the rows as given, by place here
    active [K]          how many rows have a k-th moment (they are the first ones)
    moment [K, N]       index into the courses' moments, -1 beyond the last
    step_days [K, N]    calendar days since the moment before, 0 at the first
    """

    courses: Courses
    order: IntArray
    active: IntArray
    moment: IntArray
    step_days: FloatArray


def pack(courses: Courses) -> Packed:
    """Sort rows by their number of moments and lay the moments out by rank."""
    counts = np.bincount(courses.row, minlength=courses.count)
    order = np.argsort(-counts, kind="stable")
    longest = int(counts.max(initial=0))
    first = np.concatenate([[0], np.cumsum(counts)])[:-1][order]
    rank = np.arange(longest)[:, None]
    inside = rank < counts[order][None, :]
    moment = np.where(inside, first[None, :] + rank, -1)
    gap = np.concatenate([[0.0], np.diff(courses.day)])
    step = np.where(inside & (rank > 0), gap[moment] if gap.size else 0.0, 0.0)
    return Packed(courses, order, inside.sum(axis=1), moment, step)


@dataclass(frozen=True)
class Inputs:
    """What the base chance of each moment depends on; what is not known is flat and dampened.

    warmth, hunger [M]   degrees above the reference, log weeks since the last meal
    damp [M]             factor on the logit that stands for integrating the unknown out
    """

    warmth: FloatArray
    hunger: FloatArray
    damp: FloatArray


def inputs_of(courses: Courses) -> Inputs:
    """Work the inputs out once; they do not change with the parameters."""
    known_t, known_g = np.isfinite(courses.temperature_c), np.isfinite(courses.since_meal_days)
    warmth = np.where(known_t, np.clip(courses.temperature_c, COLDEST_C, WARMEST_C) - REFERENCE_C, 0.0)
    days = np.clip(courses.since_meal_days, SHORTEST_GAP_DAYS, LONGEST_GAP_DAYS)
    hunger = np.where(known_g, np.log(days / 7.0), 0.0)
    variance = np.where(known_t, 0.0, (PARAMETERS["warmth"].mean * UNKNOWN_TEMPERATURE_SD_C) ** 2)
    variance = variance + np.where(known_g, 0.0, (PARAMETERS["hunger"].mean * UNKNOWN_LOG_WEEKS_SD) ** 2)
    return Inputs(warmth, hunger, 1.0 / np.sqrt(1.0 + np.pi / 8.0 * variance))


@dataclass(frozen=True)
class Chances:
    """Chances of one setting of the parameters, by moment.

    ready [M], base [M]   share of the appetite after the last moult; chance that a hungry animal takes it
    taken [M, 2, 2]       chance that the offer is taken, by (premoult, fasting)
    """

    ready: FloatArray
    base: FloatArray
    taken: FloatArray


def hardening(courses: Courses) -> FloatArray:
    """Hardening days of each moment's interval [M], the usual ones where the size is not known."""
    days = np.where(np.isfinite(courses.hardening_days), courses.hardening_days, UNKNOWN_HARDENING_DAYS)
    return np.asarray(days[courses.row])


def chances(values: FloatArray, taxon_effect: FloatArray, courses: Courses, inputs: Inputs) -> Chances:
    """Chance of taking each offer in each of the four states.

    values [10]        order of PARAMETER_NAMES; taxon_effect [J] on the logit
    """
    logit = values[PLACE["base"]] + taxon_effect[courses.taxon[courses.row]]
    logit = logit + values[PLACE["warmth"]] * inputs.warmth + values[PLACE["hunger"]] * inputs.hunger
    base = expit(inputs.damp * logit)
    days = hardening(courses) * np.exp(values[PLACE["log_hardening"]])
    hard = expit((courses.elapsed - days) / (HARDENING_EDGE * days))
    ready = TAKEN_WHILE_HARDENING + (1.0 - TAKEN_WHILE_HARDENING) * hard
    left = expit(values[[PLACE["premoult_left"], PLACE["fasting_left"]]])
    share = np.array([[1.0, left[1]], [left[0], left[0] * left[1]]])
    taken = np.minimum((ready * base)[:, None, None] * share, SURELY)
    return Chances(ready, base, taken)


def outcome_likelihood(chance: Chances, outcome: IntArray) -> FloatArray:
    """Likelihood of what became of each offer, by (premoult, fasting) [M, 2, 2]; 1 for a look."""
    shaped = outcome[:, None, None]
    known = np.where(shaped == 1, chance.taken, 1.0 - chance.taken)
    return np.where(shaped == NO_OFFER, 1.0, known)


@dataclass(frozen=True)
class Fasting:
    """The fasting chain of one setting: share of time, and the chance to have changed after some days."""

    begin: float
    end: float

    @property
    def share(self) -> float:
        """Share of all time spent fasting."""
        return self.begin / (self.begin + self.end)

    def step(self, days: FloatArray) -> FloatArray:
        """Transition chances [..., from, to] over so many days."""
        gone = -np.expm1(-(self.begin + self.end) * days)
        into, out = self.share * gone, (1.0 - self.share) * gone
        return np.stack([np.stack([1.0 - into, into], -1), np.stack([out, 1.0 - out], -1)], -2)


def fasting(values: FloatArray) -> Fasting:
    """Return the chain's rates per day."""
    begin = float(np.exp(values[PLACE["log_fasts_begin"]]))
    return Fasting(begin, float(np.exp(-values[PLACE["log_fasts_last"]])))


def not_begun(values: FloatArray, phase: FloatArray) -> FloatArray:
    """Chance that premoult has not begun by a phase (any shape)."""
    spread = np.exp(values[PLACE["log_onset_spread"]])
    return expit((values[PLACE["onset"]] - phase) / spread)


def flags(signs: BoolArray, log_ratio: FloatArray) -> FloatArray:
    """Return how much likelier the signs noted at each moment are in premoult [M]."""
    return np.asarray(np.exp(signs @ log_ratio))
