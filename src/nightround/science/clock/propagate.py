"""Expectation propagation for one setting of the hyperparameters.

Each row's likelihood is stood in for by a normal message on its linear predictor; rows are updated
together, the normal part is solved by block elimination (`blocks`), and moults found late pass weights
over their cells along the animal's chain of intervals. The log evidence is the usual one of expectation
propagation, with the chain's shared nodes counted once (Bethe).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nightround.science.clock import sites
from nightround.science.clock.answers import Answer, answer_of, pass_on
from nightround.science.clock.blocks import Layout, Solved, Spreads, level_doubt, solve, spread_gradient
from nightround.science.clock.design import CELLS, Design, Kind, Timed, time_families
from nightround.science.clock.priors import COVARIATE_NAMES, COVARIATES, FIXED
from nightround.science.thermal import FloatArray

MAX_SWEEPS: Final = 40
LEAST_LOG_Q10: Final = 0.05
_STEP: Final = 1e-4


@dataclass(frozen=True)
class Hyper:
    """The hyperparameters in natural units, from the vector of priors.HYPER_NAMES [7]."""

    log_q10: float
    sigma: float
    spreads: Spreads
    missed: float

    @staticmethod
    def of(theta: FloatArray) -> Hyper:
        log_q10, *logs = (float(value) for value in theta)
        # Warmth never slows development below the upper turn: the prior's far tail is held here.
        log_q10 = max(log_q10, LEAST_LOG_Q10)
        sigma, animal, taxon, slope, group = (float(np.exp(value)) for value in logs[:5])
        return Hyper(
            log_q10, sigma, Spreads(animal, taxon, slope, group), 1.0 / (1.0 + float(np.exp(-logs[5])))
        )

    @property
    def noise(self) -> sites.Noise:
        return sites.Noise.of(self.sigma, self.missed)


@dataclass(frozen=True)
class Messages:
    """What expectation propagation passes around, and what a later run may start from.

    precision, pull [N]     normal message of each row
    log_length [N]          log of the row's elapsed thermal time when the messages were made
    forward, backward [M, 5]   weights over the cells of moults found late, from before and from after
    """

    precision: FloatArray
    pull: FloatArray
    log_length: FloatArray
    forward: FloatArray
    backward: FloatArray


@dataclass(frozen=True)
class Propagated:
    """Result for one setting of the hyperparameters.

    log_evidence             log p(records | hyperparameters)
    cavity_mean, cavity_variance [N]   each row's linear predictor without the row's own evidence
    extra [N]                variance of log D from missing climate, unknown size and unknown covariates
    log_scale [N]            log of the factor by which each row's message stands in for its likelihood
    """

    theta: FloatArray
    log_evidence: float
    solved: Solved
    messages: Messages
    cavity_mean: FloatArray
    cavity_variance: FloatArray
    extra: FloatArray
    log_scale: FloatArray
    gradient: FloatArray
    sweeps: int


def prior_coefficient_square(design: Design) -> FloatArray:
    """E[coefficient^2] of every basis column before anything is known [J, d]."""
    priors = [FIXED["intercept"], FIXED["slope_within"]] + [COVARIATES[name] for name in COVARIATE_NAMES]
    priors += design.place_priors()
    square = np.array([prior.mean**2 + prior.sd**2 for prior in priors])
    return np.tile(square, (design.data.taxa, 1))


@dataclass(frozen=True)
class Timing:
    """Lengths of all families at one Q10; by row the extra variance of log D and the log of what passed."""

    timed: tuple[Timed, ...]
    extra: FloatArray
    log_length: FloatArray


def timing_of(design: Design, log_q10: float, coefficient_square: FloatArray) -> Timing:
    timed, doubt, elapsed = time_families(design, log_q10)
    extra = doubt + (design.basis_doubt**2 * coefficient_square[design.taxon]).sum(axis=1)
    return Timing(timed, extra, np.log(elapsed))


def first_messages(design: Design, hyper: Hyper, timing: Timing) -> Messages:
    """Closed windows start at their middle; everything else starts with no message."""
    precision, pull = np.full(design.count, 1e-6), np.zeros(design.count)
    for family in design.families:
        if family.kind is Kind.RENEWAL:
            continue
        rows = family.rows[~family.running]
        precision[rows] = 1.0 / (hyper.sigma**2 + timing.extra[rows])
        pull[rows] = precision[rows] * timing.log_length[rows]
    cells = np.full((design.nodes, CELLS), 1.0 / CELLS)
    return Messages(precision, pull, timing.log_length, cells, np.ones_like(cells))


def _shift(messages: Messages, log_length: FloatArray) -> Messages:
    """Carry messages over to another Q10: lengths have moved, so the messages move with them."""
    pull = messages.pull + messages.precision * (log_length - messages.log_length)
    return replace(messages, pull=pull, log_length=log_length)


def _answers(
    design: Design,
    timing: Timing,
    noise: sites.Noise,
    mean: FloatArray,
    cavity: FloatArray,
    messages: Messages,
) -> list[Answer]:
    chance = design.data.chance_last[design.animal]
    return [
        answer_of(
            family,
            timed,
            mean[family.rows],
            cavity[family.rows],
            timing.extra[family.rows],
            noise,
            chance[family.rows],
            messages.forward,
            messages.backward,
        )
        for family, timed in zip(design.families, timing.timed, strict=True)
    ]


def cavities(solved: Solved, messages: Messages) -> tuple[FloatArray, FloatArray]:
    precision = np.maximum(1.0 / solved.variance - messages.precision, 1e-8)
    return (solved.mean / solved.variance - messages.pull) / precision, 1.0 / precision


def _update(
    design: Design,
    answers: list[Answer],
    mean: FloatArray,
    cavity: FloatArray,
    old: Messages,
    floor: FloatArray,
) -> Messages:
    """Messages that give each row's tilted mean and variance; precisions stay above `floor` [N]."""
    precision, tilted = old.precision.copy(), mean.copy()
    forward, backward = old.forward.copy(), old.backward.copy()
    for family, answer in zip(design.families, answers, strict=True):
        rows = family.rows
        shrink = np.clip(1.0 + cavity[rows] * answer.second, 0.02, 50.0)
        tilted[rows] = mean[rows] + cavity[rows] * answer.first
        precision[rows] = (1.0 / shrink - 1.0) / cavity[rows]
        pass_on(family, answer, (old.forward, old.backward), forward, backward)
    precision = _bound(design, np.clip(precision, np.maximum(floor, -0.5 / cavity), 1e9))
    # Where the precision was held, keep the tilted mean.
    pull = tilted * (1.0 / cavity + precision) - mean / cavity
    return Messages(precision, pull, old.log_length, forward, backward)


def _bound(design: Design, precision: FloatArray) -> FloatArray:
    """Shrink negative precisions until each animal's rows say something together, not less than nothing."""
    below = np.minimum(precision, 0.0)
    if not below.any():
        return precision
    animals = design.data.animals
    gain = np.bincount(design.animal, weights=precision - below, minlength=animals)
    loss = np.bincount(design.animal, weights=-below, minlength=animals)
    keep = np.minimum(1.0, 0.5 * gain / np.maximum(loss, 1e-12))
    return np.asarray(precision - below + below * keep[design.animal])


def log_scales(design: Design, found: Settled) -> FloatArray:
    """Log of each row's likelihood less that of its message, both under the row's cavity [N]."""
    mean, cavity, messages = found.mean, found.cavity, found.messages
    spread = 1.0 + cavity * messages.precision
    stood_in = 0.5 * (
        (messages.pull**2 * cavity + 2.0 * messages.pull * mean - messages.precision * mean**2) / spread
        - np.log(spread)
    )
    scale = -stood_in
    for family, answer in zip(design.families, found.answers, strict=True):
        scale[family.rows] += answer.log_z
    return scale


def log_evidence(design: Design, solved: Solved, log_scale: FloatArray, messages: Messages) -> float:
    """log p(records) of expectation propagation; moults shared by two intervals count once (Bethe)."""
    total = solved.log_normaliser + float(log_scale.sum())
    both = (design.node_past >= 0) & (design.node_future >= 0)
    if both.any():
        overlap = (messages.forward[both] * messages.backward[both]).sum(axis=1)
        total -= float(np.log(np.maximum(overlap, 1e-250)).sum())
    return total


def _site_gradient(
    design: Design,
    theta: FloatArray,
    timing: Timing,
    square: FloatArray,
    state: tuple[FloatArray, FloatArray],
    messages: Messages,
    base: float,
) -> FloatArray:
    """Derivatives of the summed log Z in Q10, sigma and missed share; cavities held, exact at convergence."""
    out = np.zeros(theta.size)
    for index in (0, 1, 6):
        moved = theta.copy()
        moved[index] += _STEP
        hyper = Hyper.of(moved)
        there = timing_of(design, hyper.log_q10, square) if index == 0 else timing
        answers = _answers(design, there, hyper.noise, *state, messages)
        out[index] = (sum(float(answer.log_z.sum()) for answer in answers) - base) / _STEP
    return out


@dataclass(frozen=True)
class Settled:
    """Where the sweeps came to rest."""

    solved: Solved
    messages: Messages
    mean: FloatArray
    cavity: FloatArray
    answers: list[Answer]
    sweeps: int


def settle(
    design: Design,
    hyper: Hyper,
    timing: Timing,
    messages: Messages,
    solver: Callable[[Messages], Solved],
    tolerance: float,
) -> Settled:
    """Sweep over the rows of `design` until no row's linear predictor moves by more than `tolerance` sd.

    solver   the normal part given the rows' messages
    """
    # Ambiguous rows (a missed moult or a slow animal?) have messages of negative precision; bounded so that
    # an animal's own precision stays positive.
    rows_of = np.bincount(design.animal, minlength=design.data.animals)
    floor = -0.1 * hyper.spreads.animal**-2 / np.maximum(rows_of, 1)[design.animal]
    previous: FloatArray | None = None
    for sweep in range(1, MAX_SWEEPS + 1):
        solved = solver(messages)
        if not np.all(solved.variance > 0.0):
            # Too much was taken back: go on without negative precisions.
            floor = np.zeros_like(floor)
            messages = replace(messages, precision=np.maximum(messages.precision, 0.0))
            solved = solver(messages)
        mean, cavity = cavities(solved, messages)
        answers = _answers(design, timing, hyper.noise, mean, cavity, messages)
        if previous is not None:
            moved = np.abs(solved.mean - previous) / np.sqrt(solved.variance)
            if moved.max(initial=0.0) < tolerance:
                break
        previous = solved.mean
        new = _update(design, answers, mean, cavity, messages, floor)
        messages = new if sweep < 8 else _damp(messages, new, 0.3 if sweep < 16 else 0.6)
    return Settled(solved, messages, mean, cavity, answers, sweep)


def propagate(
    design: Design,
    layout: Layout,
    theta: FloatArray,
    *,
    start: Messages | None = None,
    coefficient_square: FloatArray | None = None,
    tolerance: float = 1e-3,
    gradient: bool = False,
) -> Propagated:
    """Run expectation propagation to convergence for one vector of hyperparameters [7]."""
    hyper = Hyper.of(theta)
    square = prior_coefficient_square(design) if coefficient_square is None else coefficient_square
    timing = timing_of(design, hyper.log_q10, square)
    messages = first_messages(design, hyper, timing) if start is None else _shift(start, timing.log_length)

    doubt = level_doubt(design, square)

    def solver(now: Messages) -> Solved:
        return solve(design, layout, hyper.spreads, design.basis, now.precision, now.pull, doubt)

    found = settle(design, hyper, timing, messages, solver, tolerance)
    state = found.mean, found.cavity
    scale = log_scales(design, found)
    slope = np.zeros(theta.size)
    if gradient:
        base = sum(float(answer.log_z.sum()) for answer in found.answers)
        slope = _site_gradient(design, theta, timing, square, state, found.messages, base)
        slope[2:6] = spread_gradient(design, layout, hyper.spreads, found.solved)
    evidence = log_evidence(design, found.solved, scale, found.messages)
    return Propagated(
        theta, evidence, found.solved, found.messages, *state, timing.extra, scale, slope, found.sweeps
    )


def _damp(old: Messages, new: Messages, keep: float = 0.5) -> Messages:
    return Messages(
        keep * old.precision + (1.0 - keep) * new.precision,
        keep * old.pull + (1.0 - keep) * new.pull,
        new.log_length,
        keep * old.forward + (1.0 - keep) * new.forward,
        keep * old.backward + (1.0 - keep) * new.backward,
    )
