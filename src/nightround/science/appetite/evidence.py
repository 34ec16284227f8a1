"""Evidence of appetite and signs about how long each running interval is, and how it tilts a forecast.

For an interval of length L premoult begins between moments n - 1 and n with chance w_n(L), and what was seen
has, given that, a likelihood B_n that no longer depends on L:

    P(seen | L) = sum over n of w_n(L) B_n,    B_n = forward(n - 1, not begun) . step . backward(n, begun)

so that the fasting chain is run once forward and once backward for all animals, and only the sum is over the
grid of lengths.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.appetite.chain import (
    PLACE,
    Packed,
    chances,
    fasting,
    flags,
    inputs_of,
    not_begun,
    outcome_likelihood,
    pack,
)
from nightround.science.appetite.data import AppetiteNow
from nightround.science.appetite.fit import AppetiteFit
from nightround.science.appetite.priors import LYING_DAYS, SIGN_NAMES
from nightround.science.thermal import FloatArray

_BACK: Final = SIGN_NAMES.index("on_its_back")
_CHUNK: Final = 2_000_000


@dataclass(frozen=True)
class Evidence:
    """What the moments so far say, by animal and length of the interval.

    log_likelihood [N, G]   0 throughout for an animal without evidence
    in_premoult [N, G]      chance that premoult has begun by the last moment, given the length
    fasting [N, G]          chance that it fasted for a reason of its own at the last moment, given the length
    """

    log_likelihood: FloatArray
    in_premoult: FloatArray
    fasting: FloatArray


@dataclass(frozen=True)
class _Branches:
    """Log likelihood of what was seen if premoult began just before moment n: [K + 1, N] (the last: not yet).

    phase_from [K, N]  days at 25 C at each moment (NaN beyond the last)
    last_fasting [K + 1, N]   chance of fasting at the last moment in each branch
    """

    log_seen: FloatArray
    elapsed: FloatArray
    last_fasting: FloatArray


def evidence(fit: AppetiteFit, now: AppetiteNow, grid: FloatArray) -> Evidence:
    """Log likelihood of each running interval's evidence on a grid of lengths.

    grid [G] or [N, G]   length of the interval in days at 25 C; a length already passed counts as just passed
    """
    courses = now.courses
    lengths = np.broadcast_to(grid, (courses.count, grid.shape[-1]))
    packed = pack(courses)
    out = Evidence(np.zeros(lengths.shape), np.zeros(lengths.shape), np.zeros(lengths.shape))
    depth = packed.moment.shape[0]
    if not depth:
        return out
    branches = _branches(fit, now, packed)
    counts = np.bincount(courses.row, minlength=courses.count)[packed.order]
    begin = 0
    while begin < courses.count and counts[begin]:
        depth = int(counts[begin])
        end = min(courses.count, begin + max(1, _CHUNK // (depth * lengths.shape[1])))
        end = min(end, int((counts > 0).sum()))
        rows = packed.order[begin:end]
        _sum_branches(fit, now, branches, slice(begin, end), depth, lengths[rows], rows, out)
        begin = end
    return out


def _branches(fit: AppetiteFit, now: AppetiteNow, packed: Packed) -> _Branches:
    courses = now.courses
    chance = chances(fit.values, fit.taxon_effect, courses, inputs_of(courses))
    seen = outcome_likelihood(chance, courses.outcome)
    seen[:, 1] *= flags(courses.signs, fit.sign_log_ratio)[:, None]
    chain = fasting(fit.values)
    turn = chain.step(packed.step_days)
    depth, size = packed.moment.shape
    opening = np.array([1.0 - chain.share, chain.share])
    # moved[n]: not begun, fasting state on arriving at moment n; the log of what it was divided by.
    moved, log_moved = np.zeros((depth + 1, size, 2)), np.full((depth + 1, size), -np.inf)
    state, log_state = np.broadcast_to(opening, (size, 2)).copy(), np.zeros(size)
    last = np.zeros((size, 2))
    for rank in range(depth):
        count = packed.active[rank]
        arriving = np.einsum("nf,nfg->ng", state[:count], turn[rank, :count])
        moved[rank, :count], log_moved[rank, :count] = arriving, log_state[:count]
        arriving = arriving * seen[packed.moment[rank, :count], 0]
        norm = arriving.sum(axis=1)
        state[:count] = arriving / norm[:, None]
        log_state[:count] += np.log(norm)
    last = state
    log_seen, last_fasting = _backwards(packed, seen, turn, moved, log_moved)
    counts = np.bincount(courses.row, minlength=courses.count)[packed.order]
    log_seen[counts, np.arange(size)] = log_state
    last_fasting[counts, np.arange(size)] = last[:, 1]
    elapsed = np.where(packed.moment >= 0, courses.elapsed[packed.moment], np.nan)
    return _Branches(log_seen, elapsed, last_fasting)


def _backwards(
    packed: Packed, seen: FloatArray, turn: FloatArray, moved: FloatArray, log_moved: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Join each branch's past with its future: log likelihood and chance of fasting at the end."""
    depth, size = packed.moment.shape
    log_seen = np.full((depth + 1, size), -np.inf)
    last_fasting = np.zeros((depth + 1, size))
    # behind [N, f]: what follows given fasting state f on arrival; fast: the part that ends fasting.
    ones = np.ones((size, 2))
    behind, ending = ones.copy(), np.broadcast_to([0.0, 1.0], (size, 2)).copy()
    log_behind = np.zeros(size)
    for rank in range(depth - 1, -1, -1):
        count = packed.active[rank]
        here = seen[packed.moment[rank, :count], 1]
        pull, end = here * behind[:count], here * ending[:count]
        whole = (moved[rank, :count] * pull).sum(axis=1)
        log_seen[rank, :count] = np.log(whole) + log_moved[rank, :count] + log_behind[:count]
        last_fasting[rank, :count] = (moved[rank, :count] * end).sum(axis=1) / whole
        back = np.einsum("nfg,ng->nf", turn[rank, :count], pull)
        norm = back.max(axis=1)
        behind[:count] = back / norm[:, None]
        ending[:count] = np.einsum("nfg,ng->nf", turn[rank, :count], end) / norm[:, None]
        log_behind[:count] += np.log(norm)
    return log_seen, last_fasting


def phase_of(length: FloatArray, elapsed: FloatArray, usual_length: FloatArray) -> FloatArray:
    """Phase of a moment; counted back from the coming moult where the opening one is not known."""
    return np.asarray(1.0 - (length - elapsed) / np.maximum(length, usual_length))


def _sum_branches(
    fit: AppetiteFit,
    now: AppetiteNow,
    branches: _Branches,
    part: slice,
    depth: int,
    lengths: FloatArray,
    rows: np.ndarray[tuple[int], np.dtype[np.int64]],
    out: Evidence,
) -> None:
    length = np.maximum(lengths, now.elapsed_now[rows, None])
    elapsed = branches.elapsed[:depth, part, None]
    phase = phase_of(length[None], elapsed, now.usual_length[None, rows, None])
    alive = not_begun(fit.values, np.where(np.isnan(phase), 0.0, phase))
    # Beyond an animal's last moment nothing has begun since.
    alive = np.concatenate([np.ones((1, *alive.shape[1:])), alive])
    inside = ~np.isnan(elapsed)
    begins = np.where(inside, np.maximum(alive[:-1] - alive[1:], 0.0), 0.0)
    log_seen = branches.log_seen[: depth + 1, part]
    top = log_seen.max(axis=0)
    seen = np.exp(log_seen - top)
    counts = inside[..., 0].sum(axis=0)
    not_yet = alive[counts, np.arange(counts.size)] * seen[counts, np.arange(counts.size), None]
    by_branch = begins * seen[:depth, :, None]
    begun = by_branch.sum(axis=0)
    total = np.maximum(begun + not_yet, 1e-300)
    fasts = (by_branch * branches.last_fasting[:depth, part, None]).sum(axis=0)
    fasts += not_yet * branches.last_fasting[counts, np.arange(rows.size) + part.start, None]
    out.log_likelihood[rows] = np.log(total) + top[:, None]
    out.in_premoult[rows] = begun / total
    out.fasting[rows] = fasts / total
    _add_lying(fit, now, rows, length, out)


def _add_lying(
    fit: AppetiteFit,
    now: AppetiteNow,
    rows: np.ndarray[tuple[int], np.dtype[np.int64]],
    length: FloatArray,
    out: Evidence,
) -> None:
    """On its back: besides premoult, the moult itself is hours away."""
    courses = now.courses
    seen = np.flatnonzero(courses.signs[:, _BACK])
    if not seen.size:
        return
    place = np.full(courses.count, -1)
    place[rows] = np.arange(rows.size)
    mine = seen[place[courses.row[seen]] >= 0]
    at = place[courses.row[mine]]
    left = length[at] - courses.elapsed[mine, None]
    ratio = np.exp(fit.sign_log_ratio[_BACK])
    close = np.exp(-((left / LYING_DAYS) ** 2))
    np.add.at(out.log_likelihood, courses.row[mine], np.log1p((ratio - 1.0) * close))


def premoult_chance(fit: AppetiteFit, phase: FloatArray) -> FloatArray:
    """Chance that premoult has begun by a phase, before anything about appetite is known (any shape)."""
    return np.asarray(1.0 - not_begun(fit.values, phase))


def left_in_premoult(fit: AppetiteFit) -> float:
    """Share of the appetite that is left in premoult."""
    return float(1.0 / (1.0 + np.exp(-fit.values[PLACE["premoult_left"]])))
