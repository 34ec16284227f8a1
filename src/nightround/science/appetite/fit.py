"""Fit appetite to completed intervals, whose phase is known: the mode under weak priors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.appetite.chain import PLACE
from nightround.science.appetite.data import NO_OFFER, AppetiteData
from nightround.science.appetite.doubt import ENOUGH_OFFERS, around, log_evidence, root_of
from nightround.science.appetite.likelihood import Ready, likelihood, ready
from nightround.science.appetite.priors import (
    NO_PREMOULT,
    PARAMETER_NAMES,
    SIGN_NAMES,
    TAXON,
    UNSHOWN,
    parameter_mean,
    parameter_sd,
    sign_mean,
)
from nightround.science.appetite.signs import SILENT_DAYS, ratios, silence
from nightround.science.thermal import BoolArray, FloatArray

# More offers sharpen nothing that a forecast would notice, and cost time: the room's newest are taken.
MOST_OFFERS: Final = 5000
_SIZE: Final = len(PARAMETER_NAMES)
_MAX_STEPS: Final = 60
_TOLERANCE: Final = 0.1


@dataclass(frozen=True)
class AppetiteFit:
    """A fitted appetite.

    values [10]         order of PARAMETER_NAMES; taxon_effect [J] on the logit of the base chance
    settings [S, 10]    equally likely settings that evidence is averaged over; one in rooms with many offers
    plain [10], unshown   the setting in which premoult leaves the appetite as it is, and its chance
    sign_log_ratio [5]  how much more often each sign is first noted in premoult than before, log
    silence [J, D + 1]  log of how much less likely d days without any sign are in premoult, by taxon
    n_intervals, n_offers, n_signs [5]   what it rests on; 0: the priors alone
    """

    values: FloatArray
    settings: FloatArray
    plain: FloatArray
    unshown: float
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
    values = parameter_mean()
    plain = _without_premoult(values)
    return AppetiteFit(
        values, _prior_settings(), plain, UNSHOWN, np.zeros(taxa), sign_mean(), silent, 0, 0, zeros
    )


def _prior_settings() -> FloatArray:
    return parameter_mean() + parameter_sd() * around(np.zeros(_SIZE), np.eye(_SIZE))


def _without_premoult(values: FloatArray) -> FloatArray:
    out = values.copy()
    out[PLACE["premoult_left"]] = NO_PREMOULT
    return out


def fit_appetite(data: AppetiteData) -> AppetiteFit:
    """Fit appetite to completed intervals.

    data   see `AppetiteData`; without any offer the priors come back
    Result: posterior mode of the parameters, taxa pooled about their common base, ratios of the signs.
    """
    courses = data.courses
    n_offers = int((courses.outcome != NO_OFFER).sum())
    if not n_offers:
        values, settings, effect = parameter_mean(), _prior_settings(), np.zeros(data.taxa)
        plain, unshown = _without_premoult(values), UNSHOWN
    else:
        values, effect, settings, plain, unshown = _mode(ready(thinned(data, MOST_OFFERS)), n_offers)
    ratio, counts = ratios(data, values)
    return AppetiteFit(
        values,
        settings,
        plain,
        unshown,
        effect,
        ratio,
        silence(data, values),
        courses.count,
        n_offers,
        counts,
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


def _mode(room: Ready, n_offers: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, float]:
    """The mode, taxon effects, the settings around it, the setting without premoult, and its chance."""
    free = np.ones(_SIZE + room.taxa, dtype=bool)
    height, best, root = _search(room, free, n_offers < ENOUGH_OFFERS)
    mean, sd = parameter_mean(), parameter_sd()
    values, effect = mean + sd * best[:_SIZE], TAXON.sd * best[_SIZE:]
    if root is None:
        return values, effect, values[None], values, 0.0
    settings = mean + sd * around(best[:_SIZE], root)
    free[PLACE["premoult_left"]] = False
    level, other, narrow = _search(room, free, True)
    assert narrow is not None
    favour = log_evidence(level, narrow) - log_evidence(height, root)
    odds = UNSHOWN / (1.0 - UNSHOWN) * float(np.exp(np.clip(favour, -50.0, 50.0)))
    return values, effect, settings, mean + sd * other[:_SIZE], odds / (1.0 + odds)


def _search(room: Ready, free: BoolArray, spread: bool) -> tuple[float, FloatArray, FloatArray | None]:
    """Height and place of the posterior's mode in prior sd units, and the root of its covariance if wanted.

    free [10 + J]   what is searched; what is not stands where premoult leaves the appetite as it is
    """
    mean, sd = parameter_mean(), parameter_sd()
    whole = np.zeros(free.size)
    whole[PLACE["premoult_left"]] = (NO_PREMOULT - mean[PLACE["premoult_left"]]) / sd[PLACE["premoult_left"]]

    def objective(z: FloatArray) -> tuple[float, FloatArray]:
        there = whole.copy()
        there[free] = z
        found, by_value, by_taxon = likelihood(room, mean + sd * there[:_SIZE], TAXON.sd * there[_SIZE:])
        slope = np.concatenate([sd * by_value, TAXON.sd * by_taxon])
        return 0.5 * float(z @ z) - found, z - slope[free]

    own = minimise(objective, np.zeros(int(free.sum())))
    whole[free] = own
    value = objective(own)[0]
    if not spread:
        return -value, whole, None
    count = int(free[:_SIZE].sum())

    def slope(z: FloatArray) -> FloatArray:
        return objective(np.concatenate([z, own[count:]]))[1][:count]

    return -value, whole, root_of(own[:count], slope)


def minimise(function: Callable[[FloatArray], tuple[float, FloatArray]], z: FloatArray) -> FloatArray:
    """Quasi-Newton search (BFGS) in prior sd units; a library's would cost more time to load than this takes.

    function   value and slope; z [n] where to begin. Stops when the next step is a small part of the doubt.
    """
    value, slope = function(z)
    inverse = np.eye(z.size)
    for number in range(_MAX_STEPS):
        step = -inverse @ slope
        if float(-slope @ step) < _TOLERANCE**2:
            break
        step = step * min(1.0, 1.0 / float(np.abs(step).max()))
        for _ in range(8):
            new_value, new_slope = function(z + step)
            if new_value <= value + 1e-4 * float(slope @ step) + 1e-9:
                break
            step = step * 0.4
        else:
            break
        change = new_slope - slope
        curve = float(step @ change)
        if curve > 1e-10:
            # The first step tells the scale of them all.
            start = inverse if number else inverse * (curve / float(change @ change))
            left = np.eye(z.size) - np.outer(step, change) / curve
            inverse = left @ start @ left.T + np.outer(step, step) / curve
        z, value, slope = z + step, new_value, new_slope
    return z
