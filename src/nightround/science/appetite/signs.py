"""What signs, and their absence, have meant in this room's completed intervals.

A sign that was noted: how much more often it is first noted in premoult than before it. No sign noted: how
often so many days of premoult had passed without one at the last time somebody was there, with the keeper's
own habits and taxa that hide counted in; where no sign was ever noted, silence says nothing.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from nightround.science.appetite.chain import PLACE, not_begun
from nightround.science.appetite.data import AppetiteData
from nightround.science.appetite.priors import (
    NEVER_NOTES,
    OTHERS_COUNT_AS,
    OUTSIDE_DAYS,
    SIGN_NAMES,
    SIGNS,
    sign_mean,
)
from nightround.science.thermal import BoolArray, FloatArray

# Silence is counted in whole days at 25 C, up to so many.
SILENT_DAYS: Final = 120
_RATIO_GRID: Final = np.linspace(-3.0, 3.0, 121)
_SHOWS: Final = np.linspace(0.0, 1.0, 11)
_RATES: Final = np.geomspace(0.01, 0.64, 10)


def ratios(data: AppetiteData, values: FloatArray) -> tuple[FloatArray, tuple[int, ...]]:
    """Log ratio of each sign [5] and how many of each were noted.

    Given that a sign was noted, the moment it was first noted at is moment i with chance proportional to
    1 + (ratio - 1) P(premoult at i): how often the keeper writes down signs at all does not matter here.
    """
    courses = data.courses
    begun = 1.0 - not_begun(values, courses.elapsed / data.length[courses.row])
    out, counts = sign_mean(), []
    for index, name in enumerate(SIGN_NAMES):
        noted = courses.signs[:, index]
        counts.append(int(noted.sum()))
        if not noted.any():
            continue
        log_ratio = SIGNS[name].mean + SIGNS[name].sd * _RATIO_GRID
        rows = np.zeros(courses.count, dtype=bool)
        rows[courses.row[noted]] = True
        near = rows[courses.row]
        weight = 1.0 + np.expm1(log_ratio)[:, None] * begun[near]
        sums = np.stack([np.bincount(courses.row[near], weights=w, minlength=courses.count) for w in weight])
        score = np.log(weight[:, noted[near]]).sum(axis=1) - np.log(sums[:, rows]).sum(axis=1)
        out[index] = log_ratio[int(np.argmax(score - 0.5 * _RATIO_GRID**2))]
    return out, tuple(counts)


def silence(data: AppetiteData, values: FloatArray) -> FloatArray:
    """Log of how much less likely d days without any sign are in premoult [J, SILENT_DAYS + 1].

    In premoult an interval shows signs at all with chance s, and then one is noted at rate r a day:
    P(none in d) = s exp(-r d) + 1 - s, averaged over s and r given each taxon's intervals and, counting less,
    all others. Outside premoult exp(-r0 d). Never above 0: silence does not speak for a moult. In a room
    where no sign was ever noted it is 0.
    """
    if not data.courses.signs.any():
        return np.zeros((data.taxa, SILENT_DAYS + 1))
    inside, noted, outside, stray = _silent_days(data, values)
    taxon = data.courses.taxon
    by_taxon = np.zeros((data.taxa, _SHOWS.size, _RATES.size))
    np.add.at(by_taxon, taxon, _score(inside, noted))
    tells = np.bincount(taxon[inside > 0.0], minlength=data.taxa)
    rest = (tells.sum() - tells).astype(np.float64)
    power = np.minimum(1.0, OTHERS_COUNT_AS / np.maximum(rest, 1.0))
    log_weight = by_taxon + power[:, None, None] * (by_taxon.sum(axis=0) - by_taxon)
    log_weight += np.log(np.where(_SHOWS == 0.0, NEVER_NOTES, (1.0 - NEVER_NOTES) / (_SHOWS.size - 1)))[
        :, None
    ]
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
    weight /= weight.sum(axis=(1, 2), keepdims=True)
    days = np.arange(SILENT_DAYS + 1)
    none = _SHOWS[:, None, None] * np.exp(-_RATES[:, None] * days) + 1.0 - _SHOWS[:, None, None]
    in_premoult = np.einsum("jsr,srd->jd", weight, none)
    room = stray.sum() / max(float(outside.sum()), 1.0)
    watched = np.bincount(taxon, weights=outside, minlength=data.taxa)
    noted_there = np.bincount(taxon, weights=stray, minlength=data.taxa)
    usual = (noted_there + OUTSIDE_DAYS * room) / (watched + OUTSIDE_DAYS)
    return np.asarray(np.minimum(np.log(in_premoult) + usual[:, None] * days, 0.0))


def _silent_days(
    data: AppetiteData, values: FloatArray
) -> tuple[FloatArray, BoolArray, FloatArray, FloatArray]:
    """Of each interval [N]: silent days in premoult, whether a sign ended them, silent days before, stray.

    Days count to the first sign, else to the last moment; after a stray sign nothing is silent any more.
    """
    courses = data.courses
    noted = courses.signs.any(axis=1)
    last = np.zeros(courses.count)
    np.maximum.at(last, courses.row, courses.elapsed)
    first = np.full(courses.count, np.inf)
    np.minimum.at(first, courses.row[noted], courses.elapsed[noted])
    end = np.minimum(first, last)
    onset = values[PLACE["onset"]] * data.length
    signed = np.isfinite(first)
    inside = np.where(signed & (first < onset), 0.0, np.maximum(end - onset, 0.0))
    return inside, signed & (first >= onset), np.minimum(end, onset), (signed & (first < onset)) * 1.0


def _score(inside: FloatArray, noted: BoolArray) -> FloatArray:
    """Log likelihood of each interval by (shows, rate) [N, S, R]."""
    shows, rate = _SHOWS[:, None], _RATES
    days = inside[:, None, None]
    left = np.exp(-rate * days)
    likelihood = np.where(noted[:, None, None], shows * rate * left, shows * left + 1.0 - shows)
    return np.asarray(np.log(np.maximum(likelihood, 1e-12)))
