"""Intervals of a product limit on single days, by five methods; `METHODS` is their table.

All work from the table of deaths: d_j deaths among n_j at risk on day t_j, S = prod (1 - d_j/n_j), and from
the number still at risk right after the day asked about. Which one is shown was chosen by measured coverage
in small samples (docs/survival.md).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Steps:
    """Deaths up to and including each of k days asked about; arrays (k,).

    survival       the product limit
    greenwood      sum of d / (n (n - d)): the variance of log survival; inf once all at risk died
    beta_first, beta_second   prod (n-d+1)/(n+1), and prod (n-d+1)(n-d+2)/((n+1)(n+2))
    remaining      at risk right after the day
    deaths, at_risk, upto     the table itself (J,), and how many of its rows each day has behind it (k,)
    """

    survival: Floats
    greenwood: Floats
    beta_first: Floats
    beta_second: Floats
    remaining: Floats
    deaths: Floats
    at_risk: Floats
    upto: NDArray[np.int64]


def log_log(steps: Steps, level: float) -> tuple[Floats, Floats]:
    """Greenwood's variance on the scale log(-log S); unknown (NaN) before the first death and at 0."""
    from scipy.special import ndtri

    inside = (steps.survival > 0.0) & (steps.survival < 1.0)
    s = np.where(inside, steps.survival, 0.5)
    spread = ndtri(0.5 + level / 2) * np.sqrt(np.where(inside, steps.greenwood, 0.0)) / np.abs(np.log(s))
    low, high = s ** np.exp(spread), s ** np.exp(-spread)
    return np.where(inside, low, np.nan), np.where(inside, high, np.nan)


def effective(steps: Steps, level: float) -> tuple[Floats, Floats]:
    """Wilson's score interval on the effective number (1 - S) / (S v) (Rothman 1978, J. Chronic Dis. 31:557).

    Before the first death, and once all at risk died, the number is that at risk last. From memory.
    """
    from scipy.special import ndtri

    s = steps.survival
    inside = (s > 0.0) & (s < 1.0)
    last = steps.at_risk[np.maximum(steps.upto - 1, 0)] if len(steps.at_risk) else steps.remaining
    edge = np.where(s >= 1.0, steps.remaining, last)
    with np.errstate(divide="ignore", invalid="ignore"):
        n = np.where(inside, (1.0 - s) / (s * steps.greenwood), edge)
    z2 = ndtri(0.5 + level / 2) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = (s + z2 / (2 * n)) / (1 + z2 / n)
        half = np.sqrt(z2) / (1 + z2 / n) * np.sqrt(s * (1 - s) / n + z2 / (4 * n * n))
    return np.where(n > 0, np.clip(middle - half, 0, 1), 0.0), np.where(
        n > 0, np.clip(middle + half, 0, 1), 1.0
    )


def beta_product(steps: Steps, level: float) -> tuple[Floats, Floats]:
    """Products of beta variables, by their first two moments (Fay, Brittain & Proschan 2013).

    Above: prod Beta(n-d+1, d) over the deaths. Below: the same times Beta(m, 1), m still at risk, for the
    death that might have come right after the day; none at risk: 0. Without censoring these are Clopper and
    Pearson's, and hold at least what they say. Biostatistics 14:723; from memory.
    """
    first, second = steps.beta_first, steps.beta_second
    m = steps.remaining
    below = _fitted(first * m / (m + 1.0), second * m / (m + 2.0))
    above = _fitted(first, second)
    tail = (1.0 - level) / 2
    return _quantile(below, tail), _quantile(above, 1.0 - tail)


def beta_half(steps: Steps, level: float) -> tuple[Floats, Floats]:
    """Half the step: prod Beta(n-d+1, d) over the deaths times Beta(m + 1/2, 1/2), by its first two moments.

    Between the two ends of `beta_product`; without censoring it is Jeffreys' interval. Before the first death
    the upper end is 1; once all at risk died the lower end is 0.
    """
    m = steps.remaining
    first = steps.beta_first * (m + 0.5) / (m + 1.0)
    second = steps.beta_second * (m + 0.5) * (m + 1.5) / ((m + 1.0) * (m + 2.0))
    half, tail = _fitted(first, second), (1.0 - level) / 2
    low = np.where(steps.survival <= 0.0, 0.0, _quantile(half, tail))
    return low, np.where(steps.survival >= 1.0, 1.0, _quantile(half, 1.0 - tail))


def _fitted(first: Floats, second: Floats) -> tuple[Floats, Floats, Floats]:
    """Beta parameters of these moments, and the value where there is no spread (NaN elsewhere)."""
    variance = np.maximum(second - first**2, 0.0)
    fixed = variance <= 1e-15
    v = np.where(fixed, 1.0, variance)
    total = np.where(fixed, 2.0, first * (1.0 - first) / v - 1.0)
    mean = np.where(fixed, 0.5, first)
    return mean * total, (1.0 - mean) * total, np.where(fixed, first, np.nan)


def _quantile(beta: tuple[Floats, Floats, Floats], chance: float) -> Floats:
    from scipy.special import betaincinv

    a, b, fixed = beta
    return np.asarray(np.where(np.isnan(fixed), betaincinv(a, b, chance), fixed), dtype=np.float64)


def likelihood(steps: Steps, level: float) -> tuple[Floats, Floats]:
    """Survival whose likelihood ratio is not refuted (Thomas & Grunkemeier 1975, JASA 70:865; from memory).

    Under S(t) = s the hazards are d_j / (n_j + g), one g for all days up to t. Before any death
    the interval is [exp(-q/2n), 1], n those still at risk; once all at risk died, it starts at 0.
    """
    from scipy.special import chdtri

    limit = float(chdtri(1, 1.0 - level))
    low, high = np.zeros(len(steps.survival)), np.ones(len(steps.survival))
    for upto in np.unique(steps.upto):
        here = steps.upto == upto
        d, n = steps.deaths[:upto], steps.at_risk[:upto]
        if upto == 0:
            low[here] = np.exp(-limit / (2 * np.maximum(steps.remaining[here], 1e-300)))
            continue
        low[here] = _end(d, n, limit, below=True) if np.all(n > d) else 0.0
        high[here] = _end(d, n, limit, below=False)
    return low, high


def _end(d: Floats, n: Floats, limit: float, *, below: bool) -> float:
    """One end of the likelihood-ratio interval: halving between no change and as far as hazards can go."""
    far, near = 1.0, 0.0
    for _ in range(50):
        share = (far + near) / 2
        g = float(np.max(d - n)) * share if below else float(np.sum(n)) * share / (1.0 - share)
        far, near = (far, share) if _refuted(d, n, g) < limit else (share, near)
    g = float(np.max(d - n)) * near if below else float(np.sum(n)) * near / (1.0 - near)
    return float(np.prod(1.0 - d / (n + g)))


def _refuted(d: Floats, n: Floats, g: float) -> float:
    """Twice the log-likelihood lost when every hazard is d / (n + g) instead of d / n."""
    alive = n > d
    lost = d * np.log((n + g) / n)
    kept = (n - d)[alive] * (np.log1p(-d[alive] / (n[alive] + g)) - np.log1p(-d[alive] / n[alive]))
    return 2.0 * float(np.sum(lost) - np.sum(kept))


METHODS: dict[str, Callable[[Steps, float], tuple[Floats, Floats]]] = {
    "log-log": log_log,
    "effective": effective,
    "likelihood": likelihood,
    "beta": beta_product,
    "half-beta": beta_half,
}
