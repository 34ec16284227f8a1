"""What one family of intervals answers, given the doubt that the rest of the room leaves about its lengths.

log Z with its derivatives for expectation propagation, and Z by cells for the chains of moults found late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.clock import sites
from nightround.science.clock.design import Family, Kind, Timed
from nightround.science.thermal import BoolArray, FloatArray, IntArray


def _cell_weights(node: IntArray, weights: FloatArray, cells: int) -> FloatArray:
    """Weights over each row's cells: its node's, or all on the first where the day is known [n, cells]."""
    out = np.zeros((node.size, cells))
    out[:, 0] = 1.0
    wide = node >= 0
    if wide.any():
        out[wide] = weights[node[wide]]
    return out


@dataclass(frozen=True)
class Answer:
    """One family's log Z with derivatives in the cavity mean, and Z by cells for the chains [n, g, h]."""

    log_z: FloatArray
    first: FloatArray
    second: FloatArray
    by_cell: FloatArray | None


def _with_chance(sums: sites.Sums, chance: FloatArray, running: BoolArray) -> sites.Sums:
    """For running rows: chance that there is no further moult, else the chance of no moult yet."""
    stop = np.where(running, chance, 0.0)
    return sites.Sums(stop + (1.0 - stop) * sums.value, (1.0 - stop) * sums.first, (1.0 - stop) * sums.second)


def answer_of(
    family: Family,
    timed: Timed,
    mean: FloatArray,
    cavity: FloatArray,
    extra: FloatArray,
    noise: sites.Noise,
    chance: FloatArray,
    forward: FloatArray,
    backward: FloatArray,
) -> Answer:
    variance = cavity + extra
    if family.kind is Kind.WINDOW:
        low, high = timed.log_low[:, 0, 0], timed.log_high[:, 0, 0]
        sums = sites.narrow_window(low, high, mean, variance, noise)
        return Answer(*sites.log_moments(sums), None)
    if family.kind is Kind.WAITING:
        sums = sites.waiting(timed.log_low[:, 0, 0], mean, variance, noise, chance)
        return Answer(*sites.log_moments(sums), None)
    starts = _cell_weights(family.start_node, forward, family.cells[0])
    ends = _cell_weights(family.end_node, backward, family.cells[1])
    weight = starts[:, :, None] * ends[:, None, :]
    wide_chance, running = chance[:, None, None], family.running[:, None, None]
    if family.kind is Kind.LATE:
        return _late(family, timed, mean, cavity, extra, noise, chance, weight)
    wide_mean, wide_variance = mean[:, None, None], variance[:, None, None]
    if family.kind is Kind.RENEWAL:
        sums = sites.renewal(timed.log_low, timed.log_high, wide_mean, wide_variance, noise)
    else:
        sums = sites.narrow_window(timed.log_low, timed.log_high, wide_mean, wide_variance, noise)
    sums = _with_chance(sums, wide_chance, running)
    return Answer(*sites.log_moments(sites.weigh(sums, weight)), sums.value)


def _late(
    family: Family,
    timed: Timed,
    mean: FloatArray,
    cavity: FloatArray,
    extra: FloatArray,
    noise: sites.Noise,
    chance: FloatArray,
    weight: FloatArray,
) -> Answer:
    """f(D) / S(r), r what had passed when the watch began.

    For a closed interval f has a closed form; 1 / S is then averaged over eta as f leaves it. For a running
    one the ratio of two chances is smooth and may leave eta far from normal: it is averaged over the cavity.
    """
    lifted = (mean[:, None, None], (cavity + extra)[:, None, None])
    sums = sites.narrow_window(timed.log_low, timed.log_high, *lifted, noise)
    sums = _with_chance(sums, chance[:, None, None], family.running[:, None, None])
    log_z, first, second = sites.log_moments(sites.weigh(sums, weight))
    running = family.running
    log_z, first, second = (np.where(running, 0.0, values) for values in (log_z, first, second))
    shrink = np.clip(1.0 + cavity * second, 0.02, 50.0)
    centre, spread = mean + cavity * first, np.sqrt(cavity * shrink)
    points, shares = sites.nodes()
    by_start = weight.sum(axis=2)
    entry = (by_start * timed.log_entry).sum(axis=1) / np.maximum(by_start.sum(axis=1), 1e-250)
    eta = centre[:, None] + spread[:, None] * points
    stop = np.where(running, chance, 0.0)

    def waited(log_wait: FloatArray) -> FloatArray:
        wide = np.repeat(log_wait[:, None], points.size, 1)
        return sites.waiting(wide, eta, extra[:, None], noise, stop[:, None]).value

    odds = shares / np.maximum(waited(entry), 1e-6)
    odds *= np.where(running[:, None], waited(timed.log_low[:, 0, 0]), 1.0)
    total = odds.sum(axis=1)
    moved = (odds * points).sum(axis=1) / total
    narrowed = (odds * points**2).sum(axis=1) / total - moved**2
    first = (centre + spread * moved - mean) / cavity
    second = (shrink * narrowed - 1.0) / cavity
    return Answer(log_z + np.log(total), first, second, sums.value)


def pass_on(
    family: Family,
    answer: Answer,
    old: tuple[FloatArray, FloatArray],
    forward: FloatArray,
    backward: FloatArray,
) -> None:
    """New weights over the cells of shared moults, written into forward and backward."""
    if answer.by_cell is None:
        return
    starts = _cell_weights(family.start_node, old[0], family.cells[0])
    ends = _cell_weights(family.end_node, old[1], family.cells[1])
    into_end = np.einsum("ng,ngh->nh", starts, answer.by_cell)
    into_start = np.einsum("ngh,nh->ng", answer.by_cell, ends)
    for node, weights, target in (
        (family.end_node, into_end, forward),
        (family.start_node, into_start, backward),
    ):
        wide = node >= 0
        if wide.any():
            target[node[wide]] = weights[wide] / np.maximum(weights[wide].sum(axis=1, keepdims=True), 1e-250)
