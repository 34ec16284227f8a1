"""Losses of batches as counts with their denominators: how many spiderlings of how many died.

    low, high = Clopper & Pearson's exact interval of k losses among n     (Biometrika 1934, 26:404)

A batch whose start was not counted has no share (NaN), however many were found dead. Those whose fate is not
known (escaped, eaten unseen, miscounted) make the share a range: from none of them lost to all of them. For
several batches together the deaths of one batch are not independent (one cold night takes half of it): the
interval is widened by the design effect, the spread of the batches' shares over that of independent animals,
at least 1; from fewer than three batches that spread cannot be told, and no interval across batches is given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import FEWEST, Floats

LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True)
class Losses:
    """Losses of k batches; arrays (k,).

    started        animals at the start; NaN: not counted
    lost, unknown  known dead, and of unknown fate
    share_low, share_high   share lost if none, or all, of unknown fate are lost
    low, high      exact interval from the lower end of the first to the upper end of the second
    """

    started: Floats
    lost: Floats
    unknown: Floats
    share_low: Floats
    share_high: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Together:
    """All counted batches together.

    batches, started, lost, unknown   sums over the batches whose start was counted
    uncounted      batches left out, their start not counted
    design         design effect; None with fewer than three batches
    low, high      interval for a share lost across batches; None with fewer than three
    """

    batches: int
    uncounted: int
    started: int
    lost: int
    unknown: int
    share_low: float | None
    share_high: float | None
    design: float | None
    low: float | None
    high: float | None


def exact_interval(lost: ArrayLike, started: ArrayLike, level: float = LEVEL) -> tuple[Floats, Floats]:
    """Clopper and Pearson's interval of shares; counts need not be whole. NaN where nothing started."""
    from scipy.special import betaincinv

    tail = (1.0 - level) / 2
    k, n = np.asarray(lost, dtype=np.float64), np.asarray(started, dtype=np.float64)
    inside_low, inside_high = (k > 0) & (n > 0), (k < n) & (n > 0)
    low = betaincinv(np.where(inside_low, k, 1.0), np.where(inside_low, n - k + 1.0, 1.0), tail)
    high = betaincinv(np.where(inside_high, k + 1.0, 1.0), np.where(inside_high, n - k, 1.0), 1.0 - tail)
    known = np.where(n > 0, 1.0, np.nan)
    return np.where(inside_low, low, 0.0) * known, np.where(inside_high, high, 1.0) * known


def losses(lost: Floats, started: Floats, unknown: Floats | None = None, level: float = LEVEL) -> Losses:
    """Share lost of each batch, with its interval; counts (k,), `started` NaN where it was not counted."""
    k, n = np.asarray(lost, dtype=np.float64), np.asarray(started, dtype=np.float64)
    u = np.zeros_like(k) if unknown is None else np.asarray(unknown, dtype=np.float64)
    if not (k.shape == n.shape == u.shape) or k.ndim != 1:
        raise Refusal("counts of batches of one length", got=f"shapes {k.shape}, {n.shape}, {u.shape}")
    if not (np.all(k >= 0) and np.all(u >= 0)):
        raise Refusal("losses of 0 or more", got="some below, or not numbers")
    over = (k + u > n) | (n < 0)
    if over.any():
        at = int(np.argmax(over))
        raise Refusal(
            "no more losses than animals at the start",
            got=f"batch {at}: {k[at]:g} lost and {u[at]:g} unknown of {n[at]:g}",
            todo="Count the batch's start again, or leave it unknown",
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        few, many = k / n, (k + u) / n
    low, high = exact_interval(k, n, level)[0], exact_interval(k + u, n, level)[1]
    return Losses(n, k, u, few, many, low, high)


def together(of: Losses, level: float = LEVEL) -> Together:
    """All batches as one share, with an interval that allows for batches that differ."""
    counted = np.isfinite(of.started) & (of.started > 0)
    n, k, u = of.started[counted], of.lost[counted], of.unknown[counted]
    batches, total = int(counted.sum()), float(n.sum())
    sums = (batches, int((~counted).sum()), int(total), int(k.sum()), int(u.sum()))
    if not batches:
        return Together(*sums, None, None, None, None, None)
    shares = float(k.sum() / total), float((k + u).sum() / total)
    if batches < FEWEST:
        return Together(*sums, *shares, None, None, None)
    designs = _design(k, n), _design(k + u, n)
    low = exact_interval(k.sum() / designs[0], total / designs[0], level)[0]
    high = exact_interval((k + u).sum() / designs[1], total / designs[1], level)[1]
    return Together(*sums, *shares, max(designs), float(low), float(high))


def _design(lost: Floats, started: Floats) -> float:
    """Spread of the batches' losses about their common share over that of independent animals, at least 1.

    The variance of a ratio of sums: B/(B-1) sum (k - n p)^2 against n p (1 - p) in all.
    """
    share = lost.sum() / started.sum()
    independent = started.sum() * share * (1.0 - share)
    if independent <= 0.0:
        return 1.0
    batches = len(lost)
    spread = batches / (batches - 1) * float(np.sum((lost - started * share) ** 2))
    return max(1.0, spread / float(independent))
