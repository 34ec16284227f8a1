"""How long an interval that already runs will go on: survival, odd intervals, further evidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.clock import sites
from nightround.science.thermal import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class DurationEvidence:
    """Further evidence about each animal's running interval, as a function of its length (appetite, signs).

    log_duration [G]           rising, evenly spaced grid of log D
    log_likelihood [A', G]     log likelihood of the evidence for each of the animals asked about
    """

    log_duration: FloatArray
    log_likelihood: FloatArray


# From the median to this level the outlier share goes over to what Bayes says of an overdue animal.
_SURELY_LATE: Final = 0.8


def shares_of(
    log_passed: FloatArray, mean: FloatArray, variance: FloatArray, noise: sites.Noise
) -> FloatArray:
    """Weights of the mixture's parts for an interval that has run so long, unconditional scale [3, A'].

    Up to its median an interval that still runs says nothing about being one of the few odd ones (a missed
    moult, a wrong date), so among those still running the parts keep their shares: otherwise each day without
    a moult would make a near moult less likely. Past the median Bayes takes over, in full from the 80 %
    point.
    """
    spread = np.sqrt(variance + noise.variance[:, None])
    usual = sites.ndtr((log_passed - mean) / spread[0])
    trust = np.clip((usual - 0.5) / (_SURELY_LATE - 0.5), 0.0, 1.0)
    anchor = np.minimum(log_passed, mean)
    running = sites.ndtr((mean + noise.shift[:, None] - anchor) / spread)
    return np.asarray(noise.weight[:, None] * running ** (trust - 1.0))


Shares = Callable[[FloatArray, FloatArray, FloatArray, sites.Noise], FloatArray]
"""A rule for the weights of the parts, as `shares_of`."""


def plain_shares(
    log_passed: FloatArray, mean: FloatArray, variance: FloatArray, noise: sites.Noise
) -> FloatArray:
    """Return the weights by Bayes' rule alone [3, A']: those of a whole interval, whatever has passed."""
    return np.broadcast_to(noise.weight[:, None], (noise.weight.size, log_passed.size))


def survival(
    log_wait: FloatArray,
    mean: FloatArray,
    variance: FloatArray,
    noise: sites.Noise,
    known: BoolArray,
    shares: FloatArray,
) -> FloatArray:
    """P(the wait is longer), of an interval from its moult or of the wait since the watch began.

    shares [3, A']   weights of the mixture's parts: the result is on their scale
    """
    lift = (slice(None),) + (None,) * (log_wait.ndim - 1)
    out = np.empty_like(log_wait)
    if known.any():
        shape = (3,) + (1,) * log_wait.ndim
        spread = np.sqrt(variance[known][lift] + noise.variance.reshape(shape))
        z = (mean[known][lift] + noise.shift.reshape(shape) - log_wait[known]) / spread
        out[known] = (shares[:, known][(slice(None), *lift)] * sites.ndtr(z)).sum(axis=0)
    if not known.all():
        other = ~known
        moments = mean[other][lift], variance[other][lift]
        out[other] = sites.renewal_tail(log_wait[other], *moments, noise).value
    return out


@dataclass(frozen=True)
class WatchedLater:
    """Intervals whose last moult is known but whose watch began later, so that S(entry) divides their odds.

    rows [w]           which of the animals asked about
    eta, share [w, k]  where their linear predictor may lie, and how much each counts: cavity over S(entry)
    extra [w]          further variance of log D
    """

    rows: IntArray
    eta: FloatArray
    share: FloatArray
    extra: FloatArray

    def survival(self, log_wait: FloatArray, noise: sites.Noise, shares: FloatArray) -> FloatArray:
        """P(the interval is longer) of each row [w, ...]; shares [3, w]."""
        lift = (slice(None), slice(None)) + (None,) * (log_wait.ndim - 1)
        out = np.zeros((*self.eta.shape, *log_wait.shape[1:]))
        for part in range(noise.weight.size):
            spread = np.sqrt(self.extra + noise.variance[part])[:, None]
            z = (self.eta[lift] + noise.shift[part] - log_wait[:, None]) / spread[lift]
            out += shares[part][:, None][lift] * sites.ndtr(z)
        return np.asarray((self.share[lift] * out).sum(axis=1))


def watched_later(
    rows: IntArray,
    log_entry: FloatArray,
    mean: FloatArray,
    cavity: FloatArray,
    extra: FloatArray,
    noise: sites.Noise,
) -> WatchedLater:
    """Nodes over each row's cavity, weighed by one over the chance that the interval ran until the watch."""
    points, weights = sites.nodes()
    eta = mean[:, None] + np.sqrt(cavity)[:, None] * points
    wait = np.repeat(log_entry[:, None], points.size, 1)
    entered = sites.waiting(wait, eta, extra[:, None], noise, np.zeros((rows.size, 1))).value
    share = weights / np.maximum(entered, 1e-6)
    return WatchedLater(rows, eta, share / share.sum(axis=1, keepdims=True), extra)


def _tilt(steps: FloatArray, log_middle: FloatArray, evidence: DurationEvidence) -> FloatArray:
    """Multiply probability steps by the evidence at their lengths.

    The last step is the rest of the distribution.
    """
    grid = evidence.log_duration
    step = grid[1] - grid[0]
    place = np.clip((log_middle - grid[0]) / step, 0.0, grid.size - 1.001)
    low = place.astype(np.int64)
    rows = np.arange(steps.shape[0])[:, None]
    values = evidence.log_likelihood
    inside = values[rows, low] + (place - low) * (values[rows, low + 1] - values[rows, low])
    return np.asarray(steps * np.exp(inside - values.max(axis=1, keepdims=True)))


def gone_with_evidence(
    now: FloatArray, then: FloatArray, log_then: FloatArray, never_now: FloatArray, evidence: DurationEvidence
) -> FloatArray:
    """P(T <= t) when evidence about the length multiplies the distribution.

    No further moult counts as endless.
    """
    steps = np.diff(np.concatenate([now[:, None], then], axis=1), axis=1) * -1.0
    rest = then[:, -1:]
    middle = np.concatenate([log_then[:, :1], (log_then[:, 1:] + log_then[:, :-1]) / 2.0], axis=1)
    never = (never_now / np.maximum(1.0 - never_now, 1e-12) * now)[:, None]
    tilted = _tilt(
        np.concatenate([steps, rest + never], axis=1),
        np.concatenate([middle, log_then[:, -1:]], axis=1),
        evidence,
    )
    total = np.maximum(tilted.sum(axis=1, keepdims=True), 1e-250)
    return np.asarray(np.cumsum(tilted[:, :-1], axis=1) / total)
