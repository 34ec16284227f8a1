"""A forecast whose distributions were changed: odds and quantiles follow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nightround.science.appetite.tilt import quantiles
from nightround.science.clock.forecast import QUANTILES, WITHIN_DAYS, ClockForecast
from nightround.science.thermal import FloatArray, IntArray


def with_distribution(forecast: ClockForecast, rows: IntArray, cumulative: FloatArray) -> ClockForecast:
    """Return the forecast with the distributions [B, H] of these rows [B] put in, and what follows from them.

    The chance that it moulted unseen stays as it is.
    """
    whole, within, days = forecast.cumulative.copy(), forecast.within.copy(), forecast.quantile_days.copy()
    whole[rows] = cumulative
    within[rows] = cumulative[:, np.searchsorted(forecast.grid_days, WITHIN_DAYS)]
    days[rows] = quantiles(forecast.grid_days, cumulative, np.array(QUANTILES))
    return replace(forecast, cumulative=whole, within=within, quantile_days=days)
