"""Forecasts made less sure where a room's past ones were surer than they should have been."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from nightround.findings.distribution import with_distribution
from nightround.reports.track_record import Widening
from nightround.science.clock.forecast import ClockForecast
from nightround.science.track import widened

if TYPE_CHECKING:
    from nightround.findings.moult import ClockRoom


def widen(room: ClockRoom, result: ClockForecast, widenings: Mapping[str, Widening]) -> ClockForecast:
    """Return the forecast with the windows of each group as wide as its past errors ask for.

    Medians, the chance of no further moult and the chance that it moulted unseen stay as they are.
    """
    groups = (room.histories[animal].group for animal in room.asked)
    factor = np.array([widenings[group].applied if group in widenings else 1.0 for group in groups])
    rows = np.flatnonzero(factor > 1.0)
    if not rows.size:
        return result
    return with_distribution(result, rows, widened(result.cumulative[rows], factor[rows]))
