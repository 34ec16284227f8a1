"""The machinery of simulation-based calibration itself: it accepts what is right and finds planted faults.

Method: Talts et al. (2018), arXiv 1804.06788.
"""

from __future__ import annotations

import numpy as np
import pytest

from nightround.foundation.refusal import Refusal
from nightround.science.calibration import (
    normal_scores,
    pointwise_level,
    rank_of,
    rank_of_chance,
    table,
    uniformity,
)

DRAWS = 399


def ranks_of_a_normal_model(rooms: int, *, bias: float = 0.0, claimed: float = 1.0) -> np.ndarray:
    """μ ~ N(0, 1), y ~ N(μ, 1): the posterior is N(y/2, 1/2); a fit may be biased or claim another sd."""
    rng = np.random.default_rng(8)
    ranks = []
    for _ in range(rooms):
        truth = rng.standard_normal()
        reading = truth + rng.standard_normal()
        sd = claimed * 0.5**0.5
        ranks.append(rank_of(truth, reading / 2.0 + bias * sd + sd * rng.standard_normal(DRAWS), rng))
    return np.array(ranks)


def test_an_exact_posterior_passes() -> None:
    """The conjugate normal model of the paper's first example is inside its band, mean 0 and sd 1."""
    row = uniformity("μ", ranks_of_a_normal_model(1000), DRAWS, quantities=10)
    assert row.good
    assert "| μ | 1000 | yes |" in table([row])


@pytest.mark.parametrize(("bias", "claimed"), [(0.4, 1.0), (0.0, 0.75), (0.0, 1.35)])
def test_planted_faults_are_found(bias: float, claimed: float) -> None:
    """Bias of 0.4 sd, posteriors a quarter too sure or a third too modest, leave the band and the limits."""
    row = uniformity("μ", ranks_of_a_normal_model(1000, bias=bias, claimed=claimed), DRAWS, quantities=10)
    assert not row.inside
    assert not row.good
    assert -bias == pytest.approx(row.mean, abs=0.1)
    assert 1.0 / claimed == pytest.approx(row.sd, abs=0.1)


def test_the_band_holds_as_often_as_it_says() -> None:
    """Of 2,000 sets of 200 uniform ranks 5 % leave the simultaneous 95 % band, give or take 1.5 %."""
    rng = np.random.default_rng(3)
    out = [
        not uniformity("u", rng.integers(0, DRAWS + 1, 200), DRAWS, quantities=1, error=0.05).inside
        for _ in range(2000)
    ]
    assert 0.05 == pytest.approx(float(np.mean(out)), abs=0.015)


def test_more_cells_need_a_lower_pointwise_level() -> None:
    """All cells hold together: the pointwise level lies below the simultaneous one, lower for more cells."""
    assert pointwise_level(500, 80, 0.95) < pointwise_level(500, 10, 0.95) < 0.05


def test_ties_are_broken_evenly_and_formulas_give_the_same_ranks() -> None:
    """A truth tied with all draws has ranks spread evenly; a formula's chance falls into its cell."""
    rng = np.random.default_rng(4)
    tied = [rank_of(np.inf, np.full(9, np.inf), rng) for _ in range(4000)]
    assert 400 == pytest.approx(np.bincount(tied).min(), abs=70)
    assert [0, 4, 9] == [rank_of_chance(chance, 9) for chance in (0.0, 0.45, 1.0)]
    assert 0.0 == pytest.approx(float(normal_scores(np.arange(10), 9).sum()), abs=1e-9)


def test_draws_that_do_not_fill_the_cells_are_refused() -> None:
    """401 ranks do not fall evenly into 40 cells."""
    with pytest.raises(Refusal, match="multiple"):
        uniformity("u", np.zeros(10, dtype=int), 400, quantities=1)
