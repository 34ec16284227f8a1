"""Fit appetite to completed intervals, whose phase is known: the mode under weak priors.

The hidden states (premoult begun, fasting) are summed out by the forward algorithm; the gradient of the
log likelihood is the expected gradient of the complete one (Fisher's identity; Cappe, Moulines & Ryden 2005,
Inference in Hidden Markov Models, ch. 10), from one forward and one backward pass over all intervals at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.appetite.chain import (
    PLACE,
    Chances,
    Inputs,
    Packed,
    chances,
    expit,
    fasting,
    hardening,
    inputs_of,
    not_begun,
    outcome_likelihood,
    pack,
)
from nightround.science.appetite.data import NO_OFFER, AppetiteData, Courses
from nightround.science.appetite.doubt import ENOUGH_OFFERS, around
from nightround.science.appetite.priors import (
    HARDENING_EDGE,
    PARAMETER_NAMES,
    SIGN_NAMES,
    SURELY,
    TAKEN_WHILE_HARDENING,
    TAXON,
    parameter_mean,
    parameter_sd,
    sign_mean,
)
from nightround.science.appetite.signs import SILENT_DAYS, ratios, silence
from nightround.science.thermal import FloatArray

_LOWEST: Final = 1e-12
# More offers sharpen nothing that a forecast would notice, and cost time: the room's newest are taken.
MOST_OFFERS: Final = 5000


@dataclass(frozen=True)
class AppetiteFit:
    """A fitted appetite.

    values [10]         order of PARAMETER_NAMES; taxon_effect [J] on the logit of the base chance
    settings [S, 10]    equally likely settings that evidence is averaged over; one in rooms with many offers
    sign_log_ratio [5]  how much more often each sign is first noted in premoult than before, log
    silence [J, D + 1]  log of how much less likely d days without any sign are in premoult, by taxon
    n_intervals, n_offers, n_signs [5]   what it rests on; 0: the priors alone
    """

    values: FloatArray
    settings: FloatArray
    taxon_effect: FloatArray
    sign_log_ratio: FloatArray
    silence: FloatArray
    n_intervals: int
    n_offers: int
    n_signs: tuple[int, ...]

    def value(self, name: str) -> float:
        """Return one parameter on the scale of its prior."""
        return float(self.values[PLACE[name]])


def prior_fit(taxa: int) -> AppetiteFit:
    """Return the priors as a fit, for a room without a completed interval."""
    zeros = (0,) * len(SIGN_NAMES)
    silent = np.zeros((taxa, SILENT_DAYS + 1))
    return AppetiteFit(parameter_mean(), _prior_settings(), np.zeros(taxa), sign_mean(), silent, 0, 0, zeros)


def _prior_settings() -> FloatArray:
    return parameter_mean() + parameter_sd() * around(np.zeros(len(PARAMETER_NAMES)), None)


@dataclass(frozen=True)
class _Problem:
    """A room's completed intervals made ready."""

    data: AppetiteData
    courses: Courses
    packed: Packed
    inputs: Inputs
    phase: FloatArray


def fit_appetite(data: AppetiteData) -> AppetiteFit:
    """Fit appetite to completed intervals.

    data   see `AppetiteData`; without any offer the priors come back
    Result: posterior mode of the parameters, taxa pooled about their common base, ratios of the signs.
    """
    courses = data.courses
    n_offers = int((courses.outcome != NO_OFFER).sum())
    if not n_offers:
        values, settings, effect = parameter_mean(), _prior_settings(), np.zeros(data.taxa)
    else:
        values, settings, effect = _mode(_prepare(thinned(data, MOST_OFFERS)), n_offers)
    ratio, counts = ratios(data, values)
    return AppetiteFit(
        values, settings, effect, ratio, silence(data, values), courses.count, n_offers, counts
    )


def thinned(data: AppetiteData, most: int) -> AppetiteData:
    """Return the data with only as many of the newest intervals as hold about `most` offers."""
    courses = data.courses
    offered = np.bincount(courses.row[courses.outcome != NO_OFFER], minlength=courses.count)
    if offered.sum() <= most:
        return data
    latest = np.full(courses.count, -np.inf)
    np.maximum.at(latest, courses.row, courses.day)
    order = np.argsort(-latest, kind="stable")
    keep = np.zeros(courses.count, dtype=bool)
    keep[order[: int(np.searchsorted(np.cumsum(offered[order]), most)) + 1]] = True
    return AppetiteData(courses.only(keep), data.length[keep], data.taxa)


def _prepare(data: AppetiteData) -> _Problem:
    courses = data.courses
    phase = courses.elapsed / data.length[courses.row]
    return _Problem(data, courses, pack(courses), inputs_of(courses), phase)


def _mode(problem: _Problem, n_offers: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The mode, the settings around it, and the taxon effects."""
    from scipy.optimize import minimize

    size = len(PARAMETER_NAMES)
    mean, sd = parameter_mean(), parameter_sd()

    def objective(z: FloatArray) -> tuple[float, FloatArray]:
        values, effect = mean + sd * z[:size], TAXON.sd * z[size:]
        found, by_value, by_taxon = _likelihood(problem, values, effect)
        slope = z - np.concatenate([sd * by_value, TAXON.sd * by_taxon])
        return 0.5 * float(z @ z) - found, slope

    start = np.zeros(size + problem.data.taxa)
    bounds = [(-4.0, 4.0)] * start.size
    best = minimize(
        objective,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 60, "ftol": 1e-6, "gtol": 0.05},
    )
    found = np.asarray(best.x, dtype=np.float64)
    own, taxa = found[:size], found[size:]

    def slope(z: FloatArray) -> FloatArray:
        return objective(np.concatenate([z, taxa]))[1][:size]

    points = around(own, slope) if n_offers < ENOUGH_OFFERS else own[None]
    return mean + sd * own, mean + sd * points, TAXON.sd * taxa


@dataclass
class _Gathered:
    """Expected counts.

    state [M, 2, 2]      chance of (premoult, fasting) at each moment
    onset [M, 3]         chance of (not yet to not yet, not yet to begun, begun to begun) into each moment
    turn [K, N, 2, 2]    chance of each step of the fasting chain into each moment, packed
    begun [2]            expected number of intervals opened (not fasting, fasting)
    """

    state: FloatArray
    onset: FloatArray
    turn: FloatArray
    begun: FloatArray


def _likelihood(
    problem: _Problem, values: FloatArray, effect: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Log likelihood and its gradients in the parameters [10] and the taxon effects [J]."""
    chance = chances(values, effect, problem.courses, problem.inputs)
    seen = outcome_likelihood(chance, problem.courses.outcome)
    value, gathered, stay = _forward_backward(problem, values, seen)
    by_value, by_taxon = _by_outcome(problem, values, chance, gathered.state)
    by_value += _by_onset(problem, values, gathered.onset, stay)
    by_value += _by_fasting(problem, values, gathered)
    return value, by_value, by_taxon


def _steps(problem: _Problem, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Chance that premoult still has not begun at each moment given the one before [K, N]; fasting steps."""
    moment = problem.packed.moment
    alive = np.maximum(not_begun(values, problem.phase), _LOWEST)[moment]
    before = np.concatenate([np.ones((1, moment.shape[1])), alive[:-1]])
    stay = np.minimum(alive / before, 1.0)
    turn = fasting(values).step(problem.packed.step_days)
    return stay, turn


def _forward_backward(
    problem: _Problem, values: FloatArray, seen: FloatArray
) -> tuple[float, _Gathered, FloatArray]:
    packed = problem.packed
    stay, turn = _steps(problem, values)
    share = fasting(values).share
    size = packed.moment.shape[1]
    opening = np.zeros((size, 2, 2))
    opening[:, 0] = (1.0 - share, share)
    forward = [opening]
    scale, total = [], 0.0
    for rank, count in enumerate(packed.active):
        moved = forward[-1][:count] @ turn[rank, :count]
        ahead = moved.copy()
        ahead[:, 0] *= stay[rank, :count, None]
        ahead[:, 1] += moved[:, 0] - ahead[:, 0]
        ahead *= seen[packed.moment[rank, :count]]
        norm = ahead.sum(axis=(1, 2))
        scale.append(norm)
        total += float(np.log(norm).sum())
        forward.append(ahead / norm[:, None, None])
    return total, _backward(problem, seen, stay, turn, forward, scale), stay


def _backward(
    problem: _Problem,
    seen: FloatArray,
    stay: FloatArray,
    turn: FloatArray,
    forward: list[FloatArray],
    scale: list[FloatArray],
) -> _Gathered:
    packed = problem.packed
    moments = problem.courses.row.size
    gathered = _Gathered(np.zeros((moments, 2, 2)), np.zeros((moments, 3)), np.zeros(turn.shape), np.zeros(2))
    behind = np.ones((packed.moment.shape[1], 2, 2))
    for rank in range(len(packed.active) - 1, -1, -1):
        count = packed.active[rank]
        at = packed.moment[rank, :count]
        pull = seen[at] * behind[:count] / scale[rank][:, None, None]
        gathered.state[at] = forward[rank + 1] * behind[:count]
        kept = stay[rank, :count, None]
        # What is to come, by fasting state on arrival, for an interval in and out of premoult before.
        later = np.stack([kept * pull[:, 0] + (1.0 - kept) * pull[:, 1], pull[:, 1]], axis=1)
        before = forward[rank][:count]
        moved = before @ turn[rank, :count]
        gathered.onset[at, 0] = (moved[:, 0] * kept * pull[:, 0]).sum(axis=1)
        gathered.onset[at, 1] = (moved[:, 0] * (1.0 - kept) * pull[:, 1]).sum(axis=1)
        gathered.onset[at, 2] = (moved[:, 1] * pull[:, 1]).sum(axis=1)
        gathered.turn[rank, :count] = (before.transpose(0, 2, 1) @ later) * turn[rank, :count]
        behind[:count] = later @ turn[rank, :count].transpose(0, 2, 1)
        if rank == 0:
            gathered.begun = (before[:, 0] * behind[:count, 0]).sum(axis=0)
    return gathered


def _by_outcome(
    problem: _Problem, values: FloatArray, chance: Chances, state: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Expected gradient of the outcomes: d log p where taken, -p / (1 - p) d log p where not."""
    courses, inputs = problem.courses, problem.inputs
    taken = courses.outcome[:, None, None] == 1
    free = chance.taken < SURELY
    lever = np.where(taken, 1.0, -chance.taken / (1.0 - chance.taken)) * state * free
    lever[courses.outcome == NO_OFFER] = 0.0
    all_states = lever.sum(axis=(1, 2))
    by_logit = all_states * (1.0 - chance.base) * inputs.damp
    out = np.zeros(len(PARAMETER_NAMES))
    out[PLACE["base"]] = by_logit.sum()
    out[PLACE["warmth"]] = by_logit @ inputs.warmth
    out[PLACE["hunger"]] = by_logit @ inputs.hunger
    left = expit(values[[PLACE["premoult_left"], PLACE["fasting_left"]]])
    out[PLACE["premoult_left"]] = lever[:, 1].sum() * (1.0 - left[0])
    out[PLACE["fasting_left"]] = lever[:, :, 1].sum() * (1.0 - left[1])
    days = hardening(courses) * np.exp(values[PLACE["log_hardening"]])
    hard = (chance.ready - TAKEN_WHILE_HARDENING) / (1.0 - TAKEN_WHILE_HARDENING)
    by_days = -courses.elapsed / (HARDENING_EDGE * days) * hard * (1.0 - hard) * (1.0 - TAKEN_WHILE_HARDENING)
    out[PLACE["log_hardening"]] = (all_states * by_days / chance.ready).sum()
    by_taxon = np.bincount(courses.taxon[courses.row], weights=by_logit, minlength=problem.data.taxa)
    return out, np.asarray(by_taxon, dtype=np.float64)


def _by_onset(problem: _Problem, values: FloatArray, onset: FloatArray, stay: FloatArray) -> FloatArray:
    """Expected gradient of when premoult begins."""
    packed = problem.packed
    spread = float(np.exp(values[PLACE["log_onset_spread"]]))
    off = (values[PLACE["onset"]] - problem.phase) / spread
    gone = 1.0 - expit(off)
    out = np.zeros(len(PARAMETER_NAMES))
    inside = packed.moment >= 0
    for name, slope in (("onset", gone / spread), ("log_onset_spread", -gone * off)):
        at = slope[packed.moment]
        by_stay = np.diff(at, axis=0, prepend=np.zeros((1, at.shape[1])))[inside]
        kept = np.minimum(stay[inside], 1.0 - 1e-9)
        counts = onset[packed.moment[inside]]
        out[PLACE[name]] = (counts[:, 0] * by_stay - counts[:, 1] * kept / (1.0 - kept) * by_stay).sum()
    return out


def _by_fasting(problem: _Problem, values: FloatArray, gathered: _Gathered) -> FloatArray:
    """Expected gradient of the fasting chain: opening share, and every step's counts over its chances."""
    chain = fasting(values)
    days = problem.packed.step_days
    share, rate = chain.share, chain.begin + chain.end
    gone = -np.expm1(-rate * days)
    counts = gathered.turn
    into, out = np.maximum(share * gone, _LOWEST), np.maximum((1.0 - share) * gone, _LOWEST)
    by_into = counts[..., 0, 1] / into - counts[..., 0, 0] / (1.0 - into)
    by_out = counts[..., 1, 0] / out - counts[..., 1, 1] / (1.0 - out)
    by_into, by_out = np.where(days > 0.0, by_into, 0.0), np.where(days > 0.0, by_out, 0.0)
    by_share = float((by_into * gone - by_out * gone).sum())
    by_share += float(gathered.begun[1] / share - gathered.begun[0] / (1.0 - share))
    by_rate = float(((by_into * share + by_out * (1.0 - share)) * days * (1.0 - gone)).sum())
    turn = share * (1.0 - share)
    result = np.zeros(len(PARAMETER_NAMES))
    result[PLACE["log_fasts_begin"]] = by_share * turn + by_rate * chain.begin
    result[PLACE["log_fasts_last"]] = by_share * turn - by_rate * chain.end
    return result
