"""Simulation-based calibration of the size staircase, reduced and whole (Talts et al., arXiv 1804.06788)."""

from __future__ import annotations

import pytest

from benchmarks.sbc_size import QUANTITIES, calibrate

FORECASTS = QUANTITIES[-5:]
# What the approximate fit is known not to meet: docs/calibration/2026-11-25-sizes.md.
LIMITS = {
    "log spread of steps": (0.35, 1.5),
    "log spread of animals": (0.35, 1.2),
    "step of a taxon": (0.35, 1.25),
    "decline of a taxon": (0.35, 1.3),
}


def test_a_hundred_rooms_have_calibrated_forecasts() -> None:
    """Of 100 rooms drawn from the priors the ranks of all five forecasts lie in their simultaneous bands.

    Normal scores: mean within 0.3 of 0 and sd within 0.8-1.2 (three Monte Carlo errors of 100 rooms).
    """
    for row in calibrate(100):
        if row.quantity in FORECASTS:
            assert row.inside, row
            assert abs(row.mean) < 0.3, row
            assert 0.8 < row.sd < 1.2, row


@pytest.mark.long
def test_a_thousand_rooms() -> None:
    """1,000 rooms: forecasts in their bands, |mean| ≤ 0.1, sd 0.93-1.07; the rest no worse than told."""
    for row in calibrate(1000):
        if row.quantity in FORECASTS:
            assert row.good, row
        else:
            most_mean, most_sd = LIMITS.get(row.quantity, (0.2, 1.2))
            assert abs(row.mean) < most_mean, row
            assert 0.85 < row.sd < most_sd, row
