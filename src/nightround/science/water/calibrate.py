"""A home's own multiplier m of its loss, and the water it holds now, from weighings and felt moisture.

    log m ~ normal(0, 0.5);  weighing = empty mass + water(m, start) + drift + scale error

The water's course is run anew for a grid of multipliers and starts, so waterings, changed openings and
dried-out substrate are all in it; where weighings leave only a narrow range, it is run again for that range.
The start is integrated out, the empty mass sets itself by the first weighing. Weighings that do not fit are
carried as misread or as following an unrecorded step (`weighed`), never averaged in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.water import evidence
from nightround.science.water.demand import Climate
from nightround.science.water.evidence import Felt, Given, HomeEvidence, Spell, Weighing
from nightround.science.water.predicted import (
    Predicted,
    Stage,
    predict,
    present_mm,
    set_stage,
    wettest_content,
)
from nightround.science.water.substrate import curves
from nightround.science.water.weighed import Readings, felt_chance, weighed_log_likelihood

__all__ = ["Calibrated", "Felt", "Given", "HomeEvidence", "Members", "Spell", "Weighing", "calibrate"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HOMES_AT_ONCE: Final = 120
MEMBERS: Final = 41
SEED: Final = 20261125
# Knots of the first and of further runs, points of the finer grid between them, and how unlikely what is
# left out may be: multipliers and starts.
FIRST_KNOTS: Final = (9, 5)
KNOTS: Final = (11, 13)
FIRST_POINTS: Final = (25, 13)
POINTS: Final = (31, 25)
LEFT_OUT: Final = 1e-5
# Further runs are for homes whose predicted loss, as a share of the scale's error, bends more than this.
BENDS: Final = 0.25
RUNS: Final = 1


@dataclass(frozen=True)
class Members:
    """Equally likely pairs of multiplier and present water: what a forecast starts from.

    multiplier [E];  water_mm [2, columns, E]: top and rest of the last spell's columns, above air-dry
    """

    multiplier: FloatArray
    water_mm: FloatArray


@dataclass(frozen=True)
class Calibrated:
    """One home's posterior: log m on an even grid with weights that add up to 1, and members.

    n_weighings, n_felt   what it rests on; a single weighing of an unknown empty mass says nothing
    """

    log_m: FloatArray
    weight: FloatArray
    members: Members
    n_weighings: int
    n_felt: int

    def quantile(self, level: float) -> float:
        """Quantile of m; the grid's points share their weight evenly over their cells."""
        step = self.log_m[1] - self.log_m[0]
        borders = np.append(self.log_m - 0.5 * step, self.log_m[-1] + 0.5 * step)
        below = np.append(0.0, np.cumsum(self.weight))
        return float(np.exp(np.interp(level, below, borders)))

    @property
    def sd_log(self) -> float:
        """Standard deviation of log m."""
        mean = float(self.weight @ self.log_m)
        return float(np.sqrt(self.weight @ (self.log_m - mean) ** 2))


def calibrate(homes: Sequence[HomeEvidence], climate: Climate, now: int) -> list[Calibrated]:
    """Posterior of every home at hour `now` of the climate, one by one independent.

    Entries after `now` are for the caller to leave out. Refuses an unknown climate within a spell.
    """
    found: list[Calibrated] = []
    for first in range(0, len(homes), HOMES_AT_ONCE):
        found += _together(homes[first : first + HOMES_AT_ONCE], climate, now)
    return found


@dataclass(frozen=True)
class _Facts:
    """Evidence of N spells as arrays: given water and its variance until each weighing [N, W]."""

    readings: Readings
    given_g: FloatArray
    pour_variance: FloatArray
    days: FloatArray


def _together(homes: Sequence[HomeEvidence], climate: Climate, now: int) -> list[Calibrated]:
    spells = tuple(spell for home in homes for spell in home.spells)
    home_of = np.array([number for number, home in enumerate(homes) for _ in home.spells])
    stage = set_stage(spells, climate, now)
    grids = [_prior_grid(home) for home in homes]
    spoken = np.array([any(one.weighings or one.felt for one in home.spells) for home in homes])
    if spoken.any():
        rows = np.flatnonzero(spoken[home_of])
        own = np.searchsorted(np.flatnonzero(spoken), home_of[rows])
        for number, grid in zip(np.flatnonzero(spoken), _weighed(stage.only(rows), own), strict=True):
            grids[number] = grid
    last = np.array([np.flatnonzero(home_of == number)[-1] for number in range(len(homes))])
    members = _members(stage.only(last), grids)
    return [
        Calibrated(
            grid.log_m,
            grid.weight.sum(axis=1),
            one,
            sum(len(spell.weighings) for spell in home.spells),
            sum(len(spell.felt) for spell in home.spells),
        )
        for home, grid, one in zip(homes, grids, members, strict=True)
    ]


@dataclass(frozen=True)
class _Grid:
    """A home's posterior: weight [G, Q] of multipliers [G] and of the last spell's starts [Q]."""

    log_m: FloatArray
    content: FloatArray
    weight: FloatArray


def _prior_range() -> tuple[float, float]:
    reach = 4.0 * evidence.PRIOR_SD_LOG
    low, high = np.log(evidence.MULTIPLIERS)
    return max(float(low), -reach), min(float(high), reach)


def _prior_grid(home: HomeEvidence) -> _Grid:
    """What is known of a home that nobody weighed or felt."""
    log_m, content = np.linspace(*_prior_range(), 101), np.linspace(*_range_of_start(home.spells[-1]), 25)
    of_m = _normal(-0.5 * (log_m / evidence.PRIOR_SD_LOG) ** 2, 0)
    of_start = np.exp(_start_prior(home.spells[-1:], content[None]))[0]
    return _Grid(log_m, content, of_m[:, None] * of_start)


def _weighed(stage: Stage, home_of: IntArray) -> list[_Grid]:
    """Posteriors of homes with evidence: a coarse run, narrower ones where courses bend, a narrow grid."""
    spells, facts, homes = stage.spells, _facts(stage.spells), int(home_of[-1]) + 1
    low_m, high_m = (np.full(homes, end) for end in _prior_range())
    low_c, high_c = np.array([_range_of_start(spell) for spell in spells]).T
    first = predict(
        stage, _even(low_m, high_m, FIRST_KNOTS[0])[home_of], _even(low_c, high_c, FIRST_KNOTS[1])
    )
    ranges = _narrowed(first, facts, spells, home_of, (low_m, high_m, low_c, high_c), FIRST_POINTS)
    bent = np.zeros(homes, dtype=bool)
    np.logical_or.at(bent, home_of, _bends(first, facts, home_of, ranges))
    found: list[_Grid] = [_Grid(np.empty(0), np.empty(0), np.empty(0))] * homes
    for again in (False, True):
        chosen = np.flatnonzero(bent == again)
        if not chosen.size:
            continue
        rows = np.flatnonzero(np.isin(home_of, chosen))
        own, some = np.searchsorted(chosen, home_of[rows]), stage.only(rows)
        here = (ranges[0][chosen], ranges[1][chosen], ranges[2][rows], ranges[3][rows])
        predicted = first.only(rows)
        for _ in range(RUNS if again else 0):
            here = _narrowed(predicted, _facts(some.spells), some.spells, own, here, FIRST_POINTS)
            knots = _even(here[0], here[1], KNOTS[0])[own], _even(here[2], here[3], KNOTS[1])
            predicted = predict(some, *knots)
        for number, grid in zip(chosen, _final(predicted, some.spells, own, here), strict=True):
            found[number] = grid
    return found


_Ranges = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


def _final(
    predicted: Predicted, spells: tuple[Spell, ...], home_of: IntArray, ranges: _Ranges
) -> list[_Grid]:
    """Posterior on a grid that is narrowed once more."""
    facts = _facts(spells)
    ranges = _narrowed(predicted, facts, spells, home_of, ranges, POINTS)
    log_m, content = _even(ranges[0], ranges[1], POINTS[0]), _even(ranges[2], ranges[3], POINTS[1])
    log = _log_posterior(predicted, facts, spells, log_m[home_of], content, blur=False)
    _, joint = _joined(log, log_m, home_of)
    last = [int(np.flatnonzero(home_of == number)[-1]) for number in range(len(log_m))]
    return [_Grid(log_m[n], content[row], _normal(joint[row], (0, 1))) for n, row in enumerate(last)]


def _bends(predicted: Predicted, facts: _Facts, home_of: IntArray, ranges: _Ranges) -> NDArray[np.bool_]:
    """Whether a spell's losses [N] depend on more than the multiplier, within the ranges."""
    count, most = predicted.lost_over_m.shape[:2]
    if not most:
        return np.ones(count, dtype=bool)
    log_m, content = _even(ranges[0], ranges[1], 9)[home_of], _even(ranges[2], ranges[3], 9)
    by_m, by_start = _weights(predicted.log_m, log_m), _weights(predicted.content, content)
    per_m = _fine(predicted.lost_over_m, by_m, by_start)
    spread = (per_m.max(axis=(2, 3)) - per_m.min(axis=(2, 3))) * np.exp(ranges[1][home_of])[:, None]
    error = np.maximum(BENDS * facts.readings.sd_g, 1e-3 * per_m.mean(axis=(2, 3)))
    return np.asarray(((spread > error) & facts.readings.there).any(axis=1))


def _even(low: FloatArray, high: FloatArray, points: int) -> FloatArray:
    """Even points from low to high, one row each."""
    return np.asarray(low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, points), dtype=np.float64)


def _range_of_start(spell: Spell) -> tuple[float, float]:
    """Mean contents that the start may have had."""
    tables = curves(spell.parts)
    if spell.start_content is None:
        dry, wet = tables.air_dry, wettest_content(spell)
        return dry + 0.02 * (wet - dry), wet
    mean, sd = spell.start_content
    reach = 4.0 * max(sd, 1e-4)
    return max(mean - reach, tables.air_dry), min(mean + reach, tables.saturated)


def _facts(spells: tuple[Spell, ...]) -> _Facts:
    most = max((len(spell.weighings) for spell in spells), default=0)
    shape = (len(spells), most)
    g, sd, there = np.zeros(shape), np.ones(shape), np.zeros(shape, dtype=bool)
    given, variance, days = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    wide = np.array([_wide_g(spell) for spell in spells])
    for row, spell in enumerate(spells):
        last = float(spell.start)
        amounts = [(one.hour, *one.amount(spell.area_mm2)) for one in spell.given]
        for at, one in enumerate(spell.ordered):
            g[row, at], sd[row, at], there[row, at] = one.g, one.sd_g, True
            until = [a for a in amounts if a[0] < one.hour or (a[0] == one.hour and one.after)]
            given[row, at] = sum(ml for _, ml, _ in until)
            variance[row, at] = sum(ml_sd**2 for _, _, ml_sd in until)
            days[row, at], last = (one.hour - last) / 24.0, float(one.hour)
    empty = np.array([spell.empty_g or (0.0, np.inf) for spell in spells])
    readings = Readings(g, sd, wide, there, empty[:, 0], empty[:, 1])
    return _Facts(readings, given, np.maximum(np.diff(variance, axis=1, prepend=0.0), 0.0), days)


def _wide_g(spell: Spell) -> float:
    """How far a misreading or an unrecorded step goes [g]."""
    depth = sum(share * depth for share, depth in spell.ends)
    holds = spell.area_mm2 * depth * 1e-3 * (wettest_content(spell) - curves(spell.parts).air_dry)
    errors = [one.sd_g for one in spell.weighings]
    return max(evidence.WIDE_SHARE * holds, evidence.WIDE_SCALE_ERRORS * max(errors, default=1.0))


def _weights(knots: FloatArray, points: FloatArray) -> FloatArray:
    """Linear interpolation from even knots [N, A] to points [N, G] as weights [N, G, A]."""
    step = (knots[:, 1] - knots[:, 0])[:, None]
    at = np.clip((points - knots[:, :1]) / step, 0.0, knots.shape[1] - 1.0)
    found = np.clip(1.0 - np.abs(at[:, :, None] - np.arange(knots.shape[1])), 0.0, 1.0)
    return np.asarray(found, dtype=np.float64)


def _log_posterior(
    predicted: Predicted,
    facts: _Facts,
    spells: tuple[Spell, ...],
    log_m: FloatArray,
    content: FloatArray,
    blur: bool,
) -> FloatArray:
    """Log likelihood and start's prior of each spell [N, G, Q]; `blur` adds the grid's own coarseness to the
    errors, so that nothing falls between its points.
    """
    by_m, by_start = _weights(predicted.log_m, log_m), _weights(predicted.content, content)
    shape = (len(spells), log_m.shape[1], content.shape[1])
    log = np.broadcast_to(_start_prior(spells, content)[:, None, :], shape).copy()
    weighed = predicted.lost_over_m[:, : facts.readings.g.shape[1]]
    if weighed.shape[1]:
        lost = _fine(weighed, by_m, by_start) * np.exp(log_m)[:, None, :, None]
        start = np.einsum("nqb,nb->nq", by_start, predicted.start_g)
        water = start[:, None, None, :] + facts.given_g[:, :, None, None] - lost
        drift = _drift(lost, facts, log_m, blur)
        flat = (*water.shape[:2], -1)
        log += weighed_log_likelihood(facts.readings, water.reshape(flat), drift.reshape(flat)).reshape(shape)
    if predicted.surface.shape[1]:
        surface = _fine(predicted.surface, by_m, by_start)
        bottom = _fine(predicted.bottom, by_m, by_start)
        for row, spell in enumerate(spells):
            for at, felt in enumerate(spell.felt):
                if felt.surface:
                    log[row] += np.log(felt_chance(felt.surface, surface[row, at]))
                if felt.bottom:
                    log[row] += np.log(felt_chance(felt.bottom, bottom[row, at]))
    return log


def _fine(knots: FloatArray, by_m: FloatArray, by_start: FloatArray) -> FloatArray:
    """Values at knots [N, W, A, B] on the finer grid [N, W, G, Q]."""
    half = np.matmul(by_m[:, None], knots)
    return np.asarray(np.matmul(half, by_start.transpose(0, 2, 1)[:, None]), dtype=np.float64)


def _drift(lost: FloatArray, facts: _Facts, log_m: FloatArray, blur: bool) -> FloatArray:
    """Variance of the level before each weighing [N, W, G, Q] [g2].

    Days nobody measured put the level off by what was lost since; in a home that dries out it comes back.
    """
    since = np.diff(lost, axis=1, prepend=0.0)
    days = np.maximum(facts.days, 1.0)[:, :, None, None]
    so_far = np.maximum(np.cumsum(facts.days, axis=1), 1.0)[:, :, None, None]
    apart = np.maximum(log_m[:, 1] - log_m[:, 0], 1e-9)[:, None, None, None]
    turned = np.diff(np.gradient(lost, axis=2), axis=1, prepend=0.0) / apart
    drift = evidence.DAY_SPREAD**2 * np.maximum(since**2 / days, turned**2 / so_far)
    # Where the loss does not follow the multiplier, what was poured too much leaves as well.
    wet = np.clip(turned / np.maximum(since, 1e-9), 0.0, 1.0)
    owed = np.zeros_like(drift[:, 0])
    for at in range(drift.shape[1]):
        poured = facts.pour_variance[:, at, None, None]
        drift[:, at] += poured + owed * (1.0 - wet[:, at]) ** 2
        owed = owed * wet[:, at] ** 2 + poured
    if blur:
        many = facts.readings.there.sum(axis=1)[:, None, None, None]
        coarse = np.gradient(since, axis=2) ** 2 + np.gradient(since, axis=3) ** 2
        drift = drift + 0.25 * many * coarse
    return np.asarray(drift, dtype=np.float64)


def _start_prior(spells: tuple[Spell, ...], content: FloatArray) -> FloatArray:
    """Log prior of the start [N, Q] on its points, adding up to 1 each."""
    log = np.zeros_like(content)
    for row, spell in enumerate(spells):
        if spell.start_content is not None:
            mean, sd = spell.start_content
            log[row] = -0.5 * ((content[row] - mean) / max(sd, 1e-4)) ** 2
    return np.asarray(log - np.log(np.exp(log).sum(axis=1, keepdims=True)), dtype=np.float64)


def _joined(log: FloatArray, log_m: FloatArray, home_of: IntArray) -> tuple[FloatArray, FloatArray]:
    """Log posterior of m by home [H, G], and of m and start by spell [N, G, Q], each up to a constant."""
    highest = log.max(axis=2, keepdims=True)
    alone = highest[..., 0] + np.log(np.exp(log - highest).sum(axis=2))
    home = -0.5 * (log_m / evidence.PRIOR_SD_LOG) ** 2
    np.add.at(home, home_of, alone)
    return home, log + (home[home_of] - alone)[:, :, None]


def _normal(log: FloatArray, axes: int | tuple[int, ...]) -> FloatArray:
    weight = np.exp(log - log.max(axis=axes, keepdims=True))
    return np.asarray(weight / weight.sum(axis=axes, keepdims=True), dtype=np.float64)


def _narrowed(
    predicted: Predicted,
    facts: _Facts,
    spells: tuple[Spell, ...],
    home_of: IntArray,
    ranges: _Ranges,
    points: tuple[int, int],
) -> _Ranges:
    """Ranges of log m (by home) and of the start (by spell) that leave out next to nothing."""
    log_m, content = _even(ranges[0], ranges[1], points[0]), _even(ranges[2], ranges[3], points[1])
    log = _log_posterior(predicted, facts, spells, log_m[home_of], content, blur=True)
    home, spell = _joined(log, log_m, home_of)
    low_m, high_m = _kept(_normal(home, 1), log_m)
    low_c, high_c = _kept(_normal(spell, (1, 2)).sum(axis=1), content)
    return low_m, high_m, low_c, high_c


def _kept(weight: FloatArray, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ends of the range within which all but `LEFT_OUT` on either side lies, a point further out."""
    below = np.cumsum(weight, axis=1)
    first = np.maximum((below > LEFT_OUT).argmax(axis=1) - 1, 0)
    last = np.minimum((below >= 1.0 - LEFT_OUT).argmax(axis=1) + 1, points.shape[1] - 1)
    rows = np.arange(len(points))
    return points[rows, first], points[rows, last]


def _members(stage: Stage, grids: list[_Grid]) -> list[Members]:
    """Pairs at even steps of each home's weight, through all starts within each multiplier; run to now."""
    at = (np.arange(MEMBERS) + 0.5) / MEMBERS
    pairs = []
    for grid in grids:
        below = np.cumsum(grid.weight.ravel())
        cell = np.minimum(np.searchsorted(below, at * below[-1]), grid.weight.size - 1)
        of_m, of_start = np.unravel_index(cell, grid.weight.shape)
        pairs.append((grid.log_m[of_m], grid.content[of_start]))
    log_m, content = (np.stack([pair[side] for pair in pairs]) for side in (0, 1))
    present = present_mm(stage, log_m, content, np.random.default_rng(SEED))
    return [
        Members(np.exp(log_m[number]), present[:, stage.spell_of == number]) for number in range(len(grids))
    ]
