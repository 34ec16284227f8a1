"""How likely completed intervals are, with the slope in every parameter.

The hidden states (premoult begun, fasting) are summed out by the forward algorithm; the gradient of the
log likelihood is the expected gradient of the complete one (Fisher's identity; Cappe, Moulines & Ryden 2005,
Inference in Hidden Markov Models, ch. 10), from one forward and one backward pass over all intervals at once.

Arrays end in the moments, all first moments of the intervals before all second ones: [premoult, fasting, M].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.appetite.chain import (
    PLACE,
    Chances,
    Inputs,
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
from nightround.science.appetite.priors import (
    HARDENING_EDGE,
    PARAMETER_NAMES,
    SURELY,
    TAKEN_WHILE_HARDENING,
)
from nightround.science.thermal import FloatArray, IntArray

_LOWEST: Final = 1e-12


@dataclass(frozen=True)
class Ready:
    """A room's completed intervals made ready; the inputs stand in the courses' order.

    flat [M]         moment of the courses at each place: by rank in its interval, longest intervals first
    first [K + 1]    where the moments of each rank begin
    before [M - N]   place of the moment before, for all but the first of each interval
    phase, step_days [M]   share of the interval passed, and days since the moment before (0 at the first)
    """

    courses: Courses
    taxa: int
    inputs: Inputs
    flat: IntArray
    first: IntArray
    before: IntArray
    phase: FloatArray
    step_days: FloatArray


def ready(data: AppetiteData) -> Ready:
    """Lay the moments out; they do not change with the parameters."""
    courses, packed = data.courses, pack(data.courses)
    inside = packed.moment >= 0
    flat = packed.moment[inside]
    first = np.concatenate([[0], np.cumsum(packed.active)]).astype(np.int64)
    before = [first[rank] + np.arange(count) for rank, count in enumerate(packed.active[1:])]
    return Ready(
        courses,
        data.taxa,
        inputs_of(courses),
        flat,
        first,
        np.concatenate([np.zeros(0, dtype=np.int64), *before]),
        (courses.elapsed / data.length[courses.row])[flat],
        packed.step_days[inside],
    )


@dataclass
class _Steps:
    """Chances of one setting between moments [M].

    stay          premoult has not begun at this moment if it had not at the one before
    into, out     a fast has begun, has ended since the moment before
    """

    stay: FloatArray
    into: FloatArray
    out: FloatArray
    share: float


@dataclass
class _Passed:
    """What both passes leave behind.

    state [2, 2, M]    chance of (premoult, fasting) at each moment
    before [2, 2, M]   the same just before, from the past alone; moved: once the fasting chain has stepped
    pull, later [2, 2, M]   what is seen from this moment on, by state at it; by state just before it
    opened [2]         expected number of intervals opened (not fasting, fasting)
    """

    log_likelihood: float
    state: FloatArray
    before: FloatArray
    moved: FloatArray
    pull: FloatArray
    later: FloatArray
    opened: FloatArray


def likelihood(room: Ready, values: FloatArray, effect: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Log likelihood and its gradients in the parameters [10] and the taxon effects [J].

    values [10]   order of PARAMETER_NAMES; effect [J]   of each taxon on the logit of the base chance
    """
    chance = chances(values, effect, room.courses, room.inputs)
    seen = outcome_likelihood(chance, room.courses.outcome)
    steps = _steps(room, values)
    passed = _both_passes(room, steps, np.ascontiguousarray(seen.transpose(1, 2, 0)[:, :, room.flat]))
    state = np.empty_like(seen)
    state[room.flat] = passed.state.transpose(2, 0, 1)
    by_value, by_taxon = _by_outcome(room, values, chance, state)
    by_value += _by_onset(room, values, steps, passed)
    by_value += _by_fasting(room, values, steps, passed)
    return passed.log_likelihood, by_value, by_taxon


def _steps(room: Ready, values: FloatArray) -> _Steps:
    alive = np.maximum(not_begun(values, room.phase), _LOWEST)
    stay = alive.copy()
    stay[room.phase.size - room.before.size :] /= alive[room.before]
    chain = fasting(values)
    gone = -np.expm1(-(chain.begin + chain.end) * room.step_days)
    return _Steps(np.minimum(stay, 1.0), chain.share * gone, (1.0 - chain.share) * gone, chain.share)


def _both_passes(room: Ready, steps: _Steps, seen: FloatArray) -> _Passed:
    before, moved, state = (np.empty_like(seen) for _ in range(3))
    norm = np.empty(seen.shape[2])
    now = np.zeros((2, 2, int(room.first[1])))
    now[0] = [[1.0 - steps.share], [steps.share]]
    opening = now
    for begin, end in zip(room.first[:-1], room.first[1:], strict=True):
        at = slice(begin, end)
        before[:, :, at] = now = now[:, :, : end - begin]
        both, keep = now.sum(axis=1), 1.0 - steps.into[at] - steps.out[at]
        stepped = now * keep
        stepped[:, 0] += both * steps.out[at]
        stepped[:, 1] += both * steps.into[at]
        moved[:, :, at] = stepped
        begun = stepped[0] * (1.0 - steps.stay[at])
        now = stepped
        now[0] -= begun
        now[1] += begun
        now *= seen[:, :, at]
        norm[at] = now.sum(axis=(0, 1))
        now /= norm[at]
        state[:, :, at] = now
    pull, later, behind = _backward(room, steps, seen, norm, state)
    opened = (opening[0] * behind[0]).sum(axis=1)
    return _Passed(float(np.log(norm).sum()), state, before, moved, pull, later, opened)


def _backward(
    room: Ready, steps: _Steps, seen: FloatArray, norm: FloatArray, state: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The pass back: pull and later of every moment, and what lies behind the opening; fills in `state`."""
    pull, later = seen / norm, np.empty_like(seen)
    behind = np.ones((2, 2, int(room.first[1])))
    for begin, end in zip(room.first[-2::-1], room.first[:0:-1], strict=True):
        at, own = slice(begin, end), behind[:, :, : end - begin]
        state[:, :, at] *= own
        pull[:, :, at] *= own
        ahead = pull[:, :, at]
        later[1, :, at] = ahead[1]
        later[0, :, at] = ahead[1] + steps.stay[at] * (ahead[0] - ahead[1])
        free, fast = later[:, 0, at], later[:, 1, at]
        own[:, 0] = free + steps.into[at] * (fast - free)
        own[:, 1] = fast + steps.out[at] * (free - fast)
    return pull, later, behind


def _by_outcome(
    room: Ready, values: FloatArray, chance: Chances, state: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Expected gradient of the outcomes: d log p where taken, -p / (1 - p) d log p where not."""
    courses, inputs = room.courses, room.inputs
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
    by_taxon = np.bincount(courses.taxon[courses.row], weights=by_logit, minlength=room.taxa)
    return out, np.asarray(by_taxon, dtype=np.float64)


def _by_onset(room: Ready, values: FloatArray, steps: _Steps, passed: _Passed) -> FloatArray:
    """Expected gradient of when premoult begins."""
    spread = float(np.exp(values[PLACE["log_onset_spread"]]))
    off = (values[PLACE["onset"]] - room.phase) / spread
    gone = 1.0 - expit(off)
    still = (passed.moved[0] * steps.stay * passed.pull[0]).sum(axis=0)
    begun = (passed.moved[0] * (1.0 - steps.stay) * passed.pull[1]).sum(axis=0)
    kept = np.minimum(steps.stay, 1.0 - 1e-9)
    lever = still - begun * kept / (1.0 - kept)
    out = np.zeros(len(PARAMETER_NAMES))
    later = room.phase.size - room.before.size
    for name, slope in (("onset", gone / spread), ("log_onset_spread", -gone * off)):
        by_stay = slope.copy()
        by_stay[later:] -= slope[room.before]
        out[PLACE[name]] = lever @ by_stay
    return out


def _by_fasting(room: Ready, values: FloatArray, steps: _Steps, passed: _Passed) -> FloatArray:
    """Expected gradient of the fasting chain: opening share, and every step's counts over its chances."""
    chain = fasting(values)
    share, days = chain.share, room.step_days
    gone = steps.into + steps.out
    # Counts over chances: of staying minus of going, from either state.
    pair = np.einsum("pfm,pgm->fgm", passed.before, passed.later)
    by_into = np.where(days > 0.0, pair[0, 1] - pair[0, 0], 0.0)
    by_out = np.where(days > 0.0, pair[1, 0] - pair[1, 1], 0.0)
    by_share = float((by_into * gone - by_out * gone).sum())
    by_share += float(passed.opened[1] / share - passed.opened[0] / (1.0 - share))
    by_rate = float(((by_into * share + by_out * (1.0 - share)) * days * (1.0 - gone)).sum())
    turn = share * (1.0 - share)
    result = np.zeros(len(PARAMETER_NAMES))
    result[PLACE["log_fasts_begin"]] = by_share * turn + by_rate * chain.begin
    result[PLACE["log_fasts_last"]] = by_share * turn - by_rate * chain.end
    return result
