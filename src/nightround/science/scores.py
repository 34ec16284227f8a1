"""Scores of a set of forecasts against what happened, where some of it has not happened yet.

Truth and follow-up are counted like the forecasts, in days from the close of the day they were made on. Every
score uses what is known of all animals up to the end of their follow-up. Scoring only those that moulted in
time is a trap: it rewards forecasts that are too early.

crps_until      the continuous ranked probability score up to the end of the follow-up, in days:
                the integral of (F(t) - 1{moulted by t})^2; the smaller the better, 0 is perfect
brier           mean squared error of the chance of a moult within so many days
levels          levels of outcomes, for `track.window_share` and `track.calibration`
log_normal_wait the yardstick: a log-normal interval, cut off at "not yet"
Sources: Gneiting & Raftery (2007, J. Am. Statist. Ass. 102:359) for the scores; the integral stopped at the
end of the follow-up is the threshold-weighted form of Gneiting & Ranjan (2011, J. Bus. Econ. Statist.
29:411). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science import track
from nightround.science.thermal import BoolArray, FloatArray


@dataclass(frozen=True)
class Brier:
    """Brier scores of the chance of a moult within so many days.

    within [H]      the days asked about
    score [H]       mean of (chance - moulted)^2; NaN where nobody was followed for so long
    base_rate [H]   what the share that moulted would have scored, had it been known beforehand
    number [H]      animals that were followed for so long, or moulted sooner
    """

    within: FloatArray
    score: FloatArray
    base_rate: FloatArray
    number: FloatArray


def crps_until(days: FloatArray, cumulative: FloatArray, truth: FloatArray, until: FloatArray) -> FloatArray:
    """Return the continuous ranked probability score of each forecast up to its follow-up's end [N], in days.

    days [P]            ascending, from 0
    cumulative [N, P]   chance of a moult by each of them, linear between, level past the last
    truth [N]           days until the moult; inf or NaN where it has not come
    until [N]           days that the animal was followed: the score's integral ends there
    Errors: Refusal for shapes that do not fit, and for moults before the close of the forecast's day.
    """
    truth = _checked(days, cumulative, truth, until)
    return np.array(
        [
            _cut_score(days, row, float(at), float(end))
            for row, at, end in zip(cumulative, truth, until, strict=True)
        ]
    )


def _cut_score(days: FloatArray, cumulative: FloatArray, truth: float, until: float) -> float:
    """The score of one forecast cut off at `until`."""
    kept = days < until
    points = np.append(days[kept], until)
    level = np.append(cumulative[kept], np.interp(until, days, cumulative))
    return track.crps(points, level, min(truth, until))


def brier(
    days: FloatArray, cumulative: FloatArray, truth: FloatArray, until: FloatArray, within: FloatArray
) -> Brier:
    """Return Brier scores of the chances of a moult within each of `within` [H] days.

    days [P], cumulative [N, P], truth [N], until [N]   as for `crps_until`
    An animal counts at a horizon up to which it was followed, and at every one once it has moulted.
    """
    truth = _checked(days, cumulative, truth, until)
    within = np.asarray(within, dtype=np.float64)
    chance = np.array([np.interp(within, days, row) for row in cumulative]).reshape(truth.size, within.size)
    moulted = truth[:, None] <= np.minimum(within, until[:, None])
    known = (until[:, None] >= within) | (truth <= until)[:, None]
    number = known.sum(axis=0).astype(np.float64)
    rate = _mean(moulted.astype(np.float64), known, number)
    return Brier(within, _mean((chance - moulted) ** 2, known, number), rate * (1.0 - rate), number)


def _mean(values: FloatArray, known: BoolArray, number: FloatArray) -> FloatArray:
    """Mean over the animals that are known [H]; NaN of none."""
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.asarray(np.divide(total, number, out=np.full(number.shape, np.nan), where=number > 0.0))


def levels(
    days: FloatArray, cumulative: FloatArray, truth: FloatArray, until: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return the level of each outcome, and whether it is known rather than only exceeded [N], [N].

    The level is the chance that the forecast had given to a moult as early as the true one; of a wait that
    still ran when the follow-up ended it is what was given to the days that had passed.
    days [P], cumulative [N, P], truth [N], until [N]   as for `crps_until`
    """
    truth = _checked(days, cumulative, truth, until)
    known = truth <= until
    at = np.where(known, truth, until)
    return np.array([np.interp(day, days, row) for day, row in zip(at, cumulative, strict=True)]), known


def log_normal_wait(
    days: FloatArray, centre: FloatArray, spread: FloatArray, elapsed: FloatArray
) -> FloatArray:
    """Return chances of a moult by each of `days` [P] for normal log intervals with none yet [N, P].

    centre, spread [N]   mean and sd of the log of the interval in days
    elapsed [N]          days passed since the last moult, above 0
    """
    from scipy.special import log_ndtr

    scale = np.asarray(spread)[:, None]
    start = np.asarray(elapsed)[:, None]
    middle = np.asarray(centre)[:, None]
    now = log_ndtr(-(np.log(start) - middle) / scale)
    then = log_ndtr(-(np.log(start + days[None, :]) - middle) / scale)
    return np.asarray(-np.expm1(then - now), dtype=np.float64)


def _checked(days: FloatArray, cumulative: FloatArray, truth: FloatArray, until: FloatArray) -> FloatArray:
    """Return the truth with inf where it has not come, after looking at shapes and days."""
    wanted = (truth.size, days.size)
    if cumulative.shape != wanted or until.shape != truth.shape:
        raise Refusal(
            f"forecasts of shape {wanted} and one follow-up each", got=f"{cumulative.shape}, {until.shape}"
        )
    if days.size < 2 or days[0] != 0.0 or np.any(np.diff(days) <= 0.0):
        raise Refusal("days that ascend from 0")
    truth = np.where(np.isnan(truth), np.inf, truth)
    if np.any(truth < 0.0):
        raise Refusal(
            "moults after the close of the forecast's day",
            got=f"{float(truth.min()):g} days",
            todo="Leave out the animals that had moulted unseen",
        )
    if np.any(until <= 0.0):
        raise Refusal("a follow-up of more than 0 days", got=f"{float(until.min()):g}")
    return truth
