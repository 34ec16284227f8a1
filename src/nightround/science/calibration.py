"""Simulation-based calibration: do posteriors cover the truth as often as they claim.

Draw everything from the priors, draw data, fit, and note the rank of each true quantity among draws of its
posterior: over many rooms ranks must be uniform (Talts, Betancourt, Simpson, Vehtari & Gelman 2018,
arXiv 1804.06788). Two checks of uniformity:

- the empirical distribution of ranks stays inside a simultaneous band. The band's pointwise level is set by
  simulation so that it holds for all ranks together with the wanted chance (as in Säilynoja, Bürkner &
  Vehtari 2022, Statistics and Computing 32:32; from memory), Bonferroni over the quantities looked at;
- normal scores of the ranks have mean near 0 and standard deviation near 1, which names the fault: a mean off
  0 is bias, a standard deviation over 1 overconfidence, under 1 modesty.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

MEAN_LIMIT: Final = 0.1
SD_LIMITS: Final = (0.93, 1.07)
_BAND_TRIALS: Final = 40_000
_BAND_SEED: Final = 18040678


def rank_of(truth: float, draws: Floats, rng: np.random.Generator) -> int:
    """Rank of the truth among L draws, 0 … L; ties are broken at random."""
    below, equal = int(np.sum(draws < truth)), int(np.sum(draws == truth))
    return below + int(rng.integers(0, equal + 1))


def rank_of_chance(chance: float, draws: int) -> int:
    """Rank that goes with a posterior's distribution function at the truth, where that is a formula."""
    return min(int(chance * (draws + 1)), draws)


def normal_scores(ranks: Integers, draws: int) -> Floats:
    """Normal scores of ranks 0 … draws: the standard normal's quantile at (rank + 1/2) / (draws + 1)."""
    from scipy.special import ndtri

    return np.asarray(ndtri((ranks + 0.5) / (draws + 1.0)), dtype=np.float64)


@cache
def pointwise_level(n: int, cells: int, simultaneous: float) -> float:
    """Pointwise level at which all of `cells` counts of n uniform ranks lie in their intervals together.

    Simulated with a fixed seed: 1 − simultaneous is the share of rooms' sets of n ranks that leave the band.
    """
    rng = np.random.default_rng(_BAND_SEED)
    counts = np.cumsum(rng.multinomial(n, np.full(cells, 1.0 / cells), _BAND_TRIALS), axis=1)[:, :-1]
    return float(np.quantile(_least_tail(counts, n, cells), 1.0 - simultaneous))


def _least_tail(counts: Integers, n: int, cells: int) -> Floats:
    """Smallest two-sided tail (…,) of cumulated counts (…, cells − 1) of n uniform ranks."""
    from scipy.special import bdtr

    at = np.arange(1, cells) / cells
    below = bdtr(counts.astype(float), n, at)
    above = 1.0 - np.where(counts > 0, bdtr(np.maximum(counts - 1.0, 0.0), n, at), 0.0)
    return np.asarray(2.0 * np.minimum(below, above).min(axis=-1), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Uniformity:
    """What the ranks of one quantity say.

    inside     the rank ECDF stays within its simultaneous band
    furthest   largest distance of the ECDF from uniform
    mean, sd   of the normal scores
    """

    quantity: str
    n: int
    inside: bool
    furthest: float
    mean: float
    sd: float

    @property
    def good(self) -> bool:
        """Inside the band, |mean| ≤ 0.1 and sd within 0.93–1.07."""
        return self.inside and abs(self.mean) <= MEAN_LIMIT and SD_LIMITS[0] <= self.sd <= SD_LIMITS[1]


def uniformity(
    quantity: str, ranks: Integers, draws: int, *, quantities: int, error: float = 0.01, cells: int = 40
) -> Uniformity:
    """Judge the ranks (n,) of one of `quantities` quantities, total chance of a false alarm `error`.

    Ranks 0 … draws are gathered in `cells` equal cells; draws + 1 must be a multiple of it.
    """
    if (draws + 1) % cells:
        raise Refusal("draws + 1 that are a multiple of the cells", got=f"{draws} draws, {cells} cells")
    n = len(ranks)
    counts = np.cumsum(np.bincount(ranks * cells // (draws + 1), minlength=cells))[:-1]
    at = np.arange(1, cells) / cells
    level = pointwise_level(n, cells, 1.0 - error / quantities)
    scores = normal_scores(ranks, draws)
    return Uniformity(
        quantity,
        n,
        bool(_least_tail(counts, n, cells) >= level),
        float(np.abs(counts / n - at).max()),
        float(scores.mean()),
        float(scores.std()),
    )


def table(rows: list[Uniformity]) -> str:
    """Rows as a Markdown table."""
    lines = ["| quantity | rooms | in band | furthest | mean | sd | good |", "|---|---|---|---|---|---|---|"]
    for row in rows:
        lines.append(
            f"| {row.quantity} | {row.n} | {'yes' if row.inside else 'NO'} | {row.furthest:.3f} |"
            f" {row.mean:+.3f} | {row.sd:.3f} | {'yes' if row.good else 'NO'} |"
        )
    return "\n".join(lines)
