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
from nightround.science.appetite.signs import SILENT_DAYS
from nightround.science.thermal import FloatArray, IntArray

_BACK: Final = SIGN_NAMES.index("on_its_back")
_CHUNK: Final = 2_000_000


@dataclass(frozen=True)
class Evidence:
    """What the moments so far say, by animal and length of the interval.

    log_likelihood [N, G]   0 throughout for an animal without evidence
    in_premoult [N, G]      chance that premoult has begun by the last moment, given the length
    unexplained [N, G]      chance that it last fasted for a reason of its own, premoult not begun
    """

    log_likelihood: FloatArray
    in_premoult: FloatArray
    unexplained: FloatArray


@dataclass(frozen=True)
class _Branches:
    """What was seen, by the moment before which premoult began; rows in the packed order.

    log_seen [K + 1, N]  log likelihood if it began just before moment k (beyond the last moment: not yet)
    elapsed [K, N]       days at 25 C at each moment, NaN beyond the last
    fasting [N]          chance of fasting at the last moment if premoult has not begun
    counts [N]           moments of each row
    """

    log_seen: FloatArray
    elapsed: FloatArray
    fasting: FloatArray
    counts: IntArray


def evidence(fit: AppetiteFit, now: AppetiteNow, grid: FloatArray) -> Evidence:
    """Log likelihood of each running interval's evidence on a grid of lengths.

    grid [G] or [N, G]   length of the interval in days at 25 C; a length already passed counts as just passed
    Result: the mean of the likelihoods over the fit's settings, counting in the chance that refusals have
    nothing to do with moulting in this room, and the chances that go with it.
    """
    lengths = np.broadcast_to(grid, (now.courses.count, grid.shape[-1]))
    packed = pack(now.courses)
    each = [_at_setting(fit, values, now, packed, lengths) for values in fit.settings]
    if len(each) == 1 and not fit.unshown:
        return each[0]
    shares = [(1.0 - fit.unshown) / len(each)] * len(each)
    if fit.unshown:
        each.append(_at_setting(fit, fit.plain, now, packed, lengths))
        shares.append(fit.unshown)
    top = np.max([one.log_likelihood for one in each], axis=0)
    weight = [share * np.exp(one.log_likelihood - top) for share, one in zip(shares, each, strict=True)]
    total = np.sum(weight, axis=0)
    return Evidence(
        top + np.log(total),
        np.sum([w * one.in_premoult for w, one in zip(weight, each, strict=True)], axis=0) / total,
        np.sum([w * one.unexplained for w, one in zip(weight, each, strict=True)], axis=0) / total,
    )


def _at_setting(
    fit: AppetiteFit, values: FloatArray, now: AppetiteNow, packed: Packed, lengths: FloatArray
) -> Evidence:
    out = Evidence(np.zeros(lengths.shape), np.zeros(lengths.shape), np.zeros(lengths.shape))
    branches = _branches(fit, values, now, packed)
    begin, end = 0, int((branches.counts > 0).sum())
    while begin < end:
        depth = int(branches.counts[begin])
        stop = min(end, begin + max(1, _CHUNK // (depth * lengths.shape[1])))
        _sum_branches(values, now, branches, slice(begin, stop), packed.order[begin:stop], lengths, out)
        begin = stop
    _add_lying(fit, now, lengths, out)
    return out


def _branches(fit: AppetiteFit, values: FloatArray, now: AppetiteNow, packed: Packed) -> _Branches:
    courses = now.courses
    chance = chances(values, fit.taxon_effect, courses, inputs_of(courses))
    seen = outcome_likelihood(chance, courses.outcome)
    seen[:, 1] *= flags(courses.signs, fit.sign_log_ratio)[:, None]
    chain = fasting(values)
    turn = chain.step(packed.step_days)
    depth, size = packed.moment.shape
    # moved[k]: fasting states on arrival at moment k, premoult not begun; and the log of their scale.
    moved, log_moved = np.zeros((depth, size, 2)), np.zeros((depth, size))
    state = np.tile([1.0 - chain.share, chain.share], (size, 1))
    log_state = np.zeros(size)
    for rank in range(depth):
        count = packed.active[rank]
        arriving = np.einsum("nf,nfg->ng", state[:count], turn[rank, :count])
        moved[rank, :count], log_moved[rank, :count] = arriving, log_state[:count]
        arriving = arriving * seen[packed.moment[rank, :count], 0]
        norm = arriving.sum(axis=1)
        state[:count] = arriving / norm[:, None]
        log_state[:count] += np.log(norm)
    log_seen = _backwards(packed, seen[:, 1], turn, moved, log_moved)
    counts = (packed.moment >= 0).sum(axis=0)
    log_seen[counts, np.arange(size)] = log_state
    elapsed = np.where(packed.moment >= 0, courses.elapsed[packed.moment], np.nan) if depth else moved[..., 0]
    log_seen += _silence(fit, now, packed, elapsed)
    return _Branches(log_seen, elapsed, state[:, 1], counts)


def _silence(fit: AppetiteFit, now: AppetiteNow, packed: Packed, elapsed: FloatArray) -> FloatArray:
    """What it says that no sign was noted in the days of premoult of each branch [K + 1, N]; 0 with signs."""
    courses = now.courses
    signed = np.bincount(courses.row, weights=courses.signs.any(axis=1), minlength=courses.count) > 0
    last = np.nan_to_num(elapsed).max(axis=0, initial=0.0)
    before = np.concatenate([elapsed[:1], elapsed[:-1]])
    days = np.nan_to_num(last - (elapsed + before) / 2.0)
    whole = np.clip(np.round(days), 0, SILENT_DAYS).astype(np.int64)
    said = np.where(signed[packed.order], 0.0, fit.silence[courses.taxon[packed.order], whole])
    return np.concatenate([said, np.zeros((1, courses.count))])


def _backwards(
    packed: Packed, seen: FloatArray, turn: FloatArray, moved: FloatArray, log_moved: FloatArray
) -> FloatArray:
    """Join the past of each branch with its future in premoult: log likelihood [K + 1, N]."""
    depth, size = packed.moment.shape
    log_seen = np.full((depth + 1, size), -np.inf)
    behind, log_behind = np.ones((size, 2)), np.zeros(size)
    for rank in range(depth - 1, -1, -1):
        count = packed.active[rank]
        pull = seen[packed.moment[rank, :count]] * behind[:count]
        whole = (moved[rank, :count] * pull).sum(axis=1)
        log_seen[rank, :count] = np.log(whole) + log_moved[rank, :count] + log_behind[:count]
        back = np.einsum("nfg,ng->nf", turn[rank, :count], pull)
        norm = back.max(axis=1)
        behind[:count] = back / norm[:, None]
        log_behind[:count] += np.log(norm)
    return log_seen


def phase_of(length: FloatArray, elapsed: FloatArray, usual_length: FloatArray) -> FloatArray:
    """Phase of a moment; counted back from the coming moult where the opening one is not known."""
    return np.asarray(1.0 - (length - elapsed) / np.maximum(length, usual_length))


def _sum_branches(
    values: FloatArray,
    now: AppetiteNow,
    branches: _Branches,
    part: slice,
    rows: IntArray,
    lengths: FloatArray,
    out: Evidence,
) -> None:
    """Sum the branches of some rows over their grids; arrays are [moment, row, length]."""
    counts = branches.counts[part]
    depth, place = int(counts[0]), np.arange(counts.size)
    length = np.maximum(lengths[rows], now.elapsed_now[rows, None])
    elapsed = branches.elapsed[:depth, part, None]
    inside = ~np.isnan(elapsed)
    phase = phase_of(length, np.where(inside, elapsed, 0.0), now.usual_length[rows, None])
    alive = np.concatenate([np.ones((1, *phase.shape[1:])), not_begun(values, phase)])
    begins = np.where(inside, np.maximum(alive[:-1] - alive[1:], 0.0), 0.0)
    log_seen = branches.log_seen[: depth + 1, part]
    top = log_seen.max(axis=0)
    seen = np.exp(log_seen - top)
    begun = np.einsum("knl,kn->nl", begins, seen[:depth])
    not_yet = alive[counts, place] * seen[counts, place, None]
    total = np.maximum(begun + not_yet, 1e-300)
    out.log_likelihood[rows] = np.log(total) + top[:, None]
    out.in_premoult[rows] = begun / total
    out.unexplained[rows] = not_yet / total * branches.fasting[part, None]


def _add_lying(fit: AppetiteFit, now: AppetiteNow, lengths: FloatArray, out: Evidence) -> None:
    """On its back: besides premoult, the moult itself is hours away."""
    courses = now.courses
    seen = np.flatnonzero(courses.signs[:, _BACK])
    rows = courses.row[seen]
    length = np.maximum(lengths[rows], now.elapsed_now[rows, None])
    close = np.exp(-(((length - courses.elapsed[seen, None]) / LYING_DAYS) ** 2))
    out.log_likelihood[rows] += np.log1p(np.expm1(fit.sign_log_ratio[_BACK]) * close)
