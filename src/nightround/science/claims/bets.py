"""Evidence against a share: how much a fair bet against "at most so many lie outside" would have won.

    e = integral over p from b to 1 of  prod_i [x_i p / b + (1 - x_i)(1 - p)/(1 - b)]  dp / (1 - b)

x_i is 1 where animal i lies outside, 0 where it lies inside or nothing is known of it yet; b is the largest
share that the claim allows outside. While the claim holds, each factor has mean 1 at most whatever came
before, so e passes 20 at any time, however often one looks, in at most 5 % of all rooms (Ville 1939, Etude
critique de la notion de collectif; Ramdas et al. 2023, Statistical Science 38:576-601; both from memory).
The weight over p is uniform: no alternative is chosen after the fact. It is the prequential likelihood of
the best alternative up to what learning it costs (Dawid 1984, J. R. Statist. Soc. A 147:278-292, from
memory), over the best of the claim.

An animal whose outcome is open counts as inside. That can only lower e, so censoring of any kind, also when
those that do badly are sold, never makes evidence."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import Refusal

Floats = NDArray[np.float64]

STRAINED: Final = 5.0
CONTRADICTED: Final = 20.0
SURE: Final = 0.99
OUTSIDE_TYPICAL: Final = 0.1
"""Share that a typical range (the central 90 %) leaves outside, both sides together."""
OUTSIDE_MIDDLE: Final = 0.5
"""Share on either side of a single typical number, read as the middle one."""
MOSTLY: Final = 0.5
"""A range is supported against "at most this share lies inside"."""
_FEWEST_NODES, _MOST_NODES = 32, 512


def evidence(outside: ArrayLike, bound: float) -> float:
    """Return e of outcomes (n,): 1 outside, 0 inside or open, or chances of being outside in between.

    Exact up to 1,000 outcomes (Gauss-Legendre), 1 without any. Errors: Refusal for chances beyond 0 and 1.
    """
    x = np.asarray(outside, dtype=np.float64)
    if x.ndim != 1 or not np.all((x >= 0.0) & (x <= 1.0)) or not 0.0 < bound < 1.0:
        raise Refusal("chances from 0 to 1 in one row, and a share between 0 and 1", got=f"{x!r}, {bound!r}")
    nodes = int(np.clip(len(x) // 2 + 1, _FEWEST_NODES, _MOST_NODES))
    at, weight = _nodes(nodes)
    p = bound + (1.0 - bound) * (at + 1.0) / 2.0
    logs = np.log(x[:, None] * p / bound + (1.0 - x[:, None]) * (1.0 - p) / (1.0 - bound)).sum(axis=0)
    peak = float(logs.max(initial=-np.inf)) if len(x) else 0.0
    return float(np.exp(min(peak, 600.0)) * np.sum(weight * np.exp(logs - peak)) / 2.0)


@lru_cache(maxsize=64)
def _nodes(number: int) -> tuple[Floats, Floats]:
    at, weight = np.polynomial.legendre.leggauss(number)
    return np.asarray(at), np.asarray(weight)


def mixed(*values: float) -> float:
    """Return the mean of several e of one claim: bets made side by side with equal stakes."""
    return float(np.mean(values))


def more_needed(
    outside: ArrayLike, bound: float, wanted: float = CONTRADICTED, most: int = 400
) -> int | None:
    """Return how many more outcomes outside, and none inside, bring e to `wanted`; None beyond `most`.

    Those that are open now stay open.
    """
    x = np.asarray(outside, dtype=np.float64)
    low, high = 0, most
    if evidence(np.append(x, np.ones(most)), bound) < wanted:
        return None
    while low < high:
        middle = (low + high) // 2
        if evidence(np.append(x, np.ones(middle)), bound) >= wanted:
            high = middle
        else:
            low = middle + 1
    return low
