"""How well weighings and felt moisture agree with predicted courses.

A weighing is the home's empty mass, which nobody knows, and its water: `level = weighing - predicted water`.
The level drifts between weighings by errors of poured water and by days that nobody measured (variance
`drift`). Each weighing is good, misread (wide error, level untouched), or follows an unrecorded step (the
level moves and stays moved). The chances of these three are carried along, one normal for each kind of the
last weighing (a switching filter, merged at each weighing: GPB2, Bar-Shalom & Li; from memory).

Arrays: [..., cells]; a cell is one pair of multiplier and start.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.water import evidence
from nightround.science.water.evidence import Feel

FloatArray = NDArray[np.float64]

GOOD, MISREAD, STEP = 0, 1, 2
LOG_KINDS: Final = np.log([1.0 - evidence.MISREAD - evidence.STEPPED, evidence.MISREAD, evidence.STEPPED])
NEVER: Final = -1e12


@dataclass(frozen=True)
class Readings:
    """Weighings of many spells, padded to the most of any. [N, W], hours in order; `there` marks real ones.

    sd_g                 of the scale;  wide_g [N]  of a misreading or an unrecorded step
    empty_g, empty_sd_g  [N] what is known of the empty mass; sd infinite: nothing
    """

    g: FloatArray
    sd_g: FloatArray
    wide_g: FloatArray
    there: NDArray[np.bool_]
    empty_g: FloatArray
    empty_sd_g: FloatArray


def weighed_log_likelihood(readings: Readings, water_g: FloatArray, drift_g2: FloatArray) -> FloatArray:
    """Log likelihood [N, cells] of predicted water [N, W, cells] with drift before each weighing [N, W,
    cells].

    With an unknown empty mass the first weighing only sets it.
    """
    count, most, cells = water_g.shape
    log = np.zeros((3, count, cells))
    log[GOOD:] = NEVER
    log[GOOD] = 0.0
    known = np.isfinite(readings.empty_sd_g)
    mean = np.broadcast_to(np.where(known, readings.empty_g, 0.0)[:, None], (3, count, cells)).copy()
    variance = np.broadcast_to(
        np.where(known, readings.empty_sd_g, 0.0)[:, None] ** 2, (3, count, cells)
    ).copy()
    begun = known.copy()
    for at in range(most):
        here = readings.there[:, at]
        if not here.any():
            continue
        level = readings.g[:, at, None] - water_g[:, at]
        good = np.broadcast_to(readings.sd_g[:, at, None] ** 2, (count, cells))
        wide = np.broadcast_to(readings.wide_g[:, None] ** 2, (count, cells))
        moved = _moved(log, mean, variance, level, drift_g2[:, at], good, wide)
        first = _first(level, good, wide)
        use_first, use = (here & ~begun)[None, :, None], (here & begun)[None, :, None]
        log, mean, variance = (
            np.where(use, after, np.where(use_first, fresh, before))
            for before, after, fresh in zip((log, mean, variance), moved, first, strict=True)
        )
        begun |= here
    return _log_sum(log)


def _first(level: FloatArray, good: FloatArray, wide: FloatArray) -> tuple[FloatArray, ...]:
    """The first weighing of an unknown empty mass sets the level, whatever it says."""
    log = np.empty((3, *level.shape))
    log[GOOD], log[MISREAD], log[STEP] = np.log1p(-evidence.MISREAD), np.log(evidence.MISREAD), NEVER
    return log, np.stack([level] * 3), np.stack([good, wide + good, good])


def _moved(
    log: FloatArray,
    mean: FloatArray,
    variance: FloatArray,
    level: FloatArray,
    drift: FloatArray,
    good: FloatArray,
    wide: FloatArray,
) -> tuple[FloatArray, ...]:
    """Chances, means and variances of the level after one more weighing, by its kind."""
    logs, means, variances = [], [], []
    off = level - mean
    for kind in (GOOD, MISREAD, STEP):
        before = variance + (drift + wide if kind == STEP else drift)
        error = good + wide if kind == MISREAD else good
        whole = before + error
        gain = before / whole
        weight = log + (LOG_KINDS[kind] - 0.5 * (np.log(2.0 * np.pi * whole) + off * off / whole))
        together = _log_sum(weight)
        share = np.exp(weight - together)
        each = mean + gain * off
        centre = (share * each).sum(axis=0)
        logs.append(together)
        means.append(centre)
        variances.append((share * (before * error / whole + (each - centre) ** 2)).sum(axis=0))
    return np.stack(logs), np.stack(means), np.stack(variances)


def _log_sum(log: FloatArray) -> FloatArray:
    """Log of the sum of exponentials over the first axis."""
    highest = log.max(axis=0)
    return np.asarray(highest + np.log(np.exp(log - highest).sum(axis=0)), dtype=np.float64)


def felt_chance(feel: Feel, wetness: FloatArray) -> FloatArray:
    """Chance that a home of that wetness (0 air-dry, 1 as wet as it drains to) feels so.

    Two thresholds with logistic doubt of the same standard deviation, and a slip now and then.
    """
    steep = np.pi / np.sqrt(3.0) / evidence.FELT_SD
    damp, wet = (
        1.0 / (1.0 + np.exp(np.clip(-steep * (wetness - at), -60.0, 60.0))) for at in evidence.FELT_THRESHOLDS
    )
    chance = {"dry": 1.0 - damp, "damp": damp - wet, "wet": wet}[feel]
    return np.asarray(evidence.FELT_SLIP / 3.0 + (1.0 - evidence.FELT_SLIP) * chance, dtype=np.float64)
