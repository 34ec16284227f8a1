"""From the record's daily climate to the arrays of the moult clock: what was, and what is to be expected.

What was is never filled here. What is to come is a stated guess with its own spread: the keeper's
`expected_climate` where given, else the same season of earlier years, else the last two weeks going on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.record.histories import DailyClimate as PlaceClimate
from nightround.science.thermal import DailyClimate, FloatArray

AHEAD_DAYS: Final = 730
# Sd of a planned mean temperature [C]: a thermostat's own doubt (common practice, no source).
PLANNED_SPREAD_C: Final = 0.3
# Doubt of any guess about a room that nobody changes [C] (working value): a logger moved, a window left open.
LEAST_SPREAD_C: Final = 0.35
# Half of what a place swings between its warmest and coldest weeks, before its own year has shown it [C].
UNSEEN_SWING_C: Final = 4.0
_RECENT_DAYS: Final = 14
_STALE_DAYS: Final = 60
_SEASON_HALF_WIDTH: Final = 7
_SWING_DAYS: Final = 45


def past_climate(
    places: Sequence[str], climate: Mapping[str, PlaceClimate], first: int, on: int
) -> DailyClimate:
    """Daily means by place from day `first` to `on`; NaN where nothing was read."""
    table = np.full((len(places), on - first + 1), np.nan)
    for row, name in enumerate(places):
        for day, value in climate[name].temperature_c.items() if name in climate else ():
            column = day.toordinal() - first
            if 0 <= column < table.shape[1]:
                table[row, column] = value
    return DailyClimate(first, table)


def expected_climate(
    places: Sequence[str], climate: Mapping[str, PlaceClimate], on: int, past: DailyClimate
) -> DailyClimate:
    """Expected daily means for two years from the day after `on`, with the sd of their shared error."""
    mean = np.full((len(places), AHEAD_DAYS), np.nan)
    spread = np.zeros_like(mean)
    for row, name in enumerate(places):
        known = past.temperature_c[row]
        if np.isfinite(known).any():
            mean[row], spread[row] = _guess(known)
        for day, value in climate[name].expected_c.items() if name in climate else ():
            column = day.toordinal() - on - 1
            if 0 <= column < AHEAD_DAYS:
                mean[row, column], spread[row, column] = value, PLANNED_SPREAD_C
    return DailyClimate(on + 1, mean, spread)


def _guess(known: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Earlier years' same season, going over from the last two weeks; without earlier years, those alone.

    The spread of a mean over days to come is the mean of the days' spreads. It goes with the place's own
    swing; its course was settled on long records, `docs/moult-clock.md` says which and how well it does.
    """
    ahead = np.arange(1, AHEAD_DAYS + 1)
    recent = _recent_mean(known)
    season = _season(known)
    fading = np.exp(-ahead / 10.0)
    seasonal = np.isfinite(season)
    mean = np.where(seasonal, fading * recent + (1.0 - fading) * np.nan_to_num(season), recent)
    swing, unseen = _swing(known)
    with_season = swing * (0.05 + 0.17 * np.exp(-ahead / 60.0))
    without = unseen * (0.18 + 0.85 * np.sin(np.pi * np.minimum(ahead, 240) / 240.0))
    return mean, np.hypot(LEAST_SPREAD_C, np.where(seasonal, with_season, without))


def _swing(known: FloatArray) -> tuple[float, float]:
    """Half the range of a place's six-week means: as seen, and as it must be feared before a year is seen."""
    value, finite = np.where(np.isfinite(known), known, 0.0), np.isfinite(known)
    window = np.ones(min(_SWING_DAYS, known.size))
    count = np.convolve(finite, window, "valid")
    means = np.convolve(value, window, "valid")[count >= 15] / count[count >= 15]
    seen = float(np.ptp(means)) / 2.0 if means.size else 0.0
    return seen, float(np.hypot(seen, UNSEEN_SWING_C * max(0.0, 1.0 - float(finite.sum()) / 365.0)))


def _recent_mean(known: FloatArray) -> float:
    """Mean of the last fourteen known days if they are not stale, else of all known days."""
    days = np.flatnonzero(np.isfinite(known))
    fresh = days[days >= known.size - _STALE_DAYS][-_RECENT_DAYS:]
    return float(known[fresh].mean() if fresh.size else known[days].mean())


def _season(known: FloatArray) -> FloatArray:
    """Mean of the days around the same date in earlier years [AHEAD_DAYS]; NaN where there are none."""
    value = np.where(np.isfinite(known), known, 0.0)
    total = np.concatenate([[0.0], np.cumsum(value)])
    count = np.concatenate([[0], np.cumsum(np.isfinite(known))])
    column = known.size + np.arange(AHEAD_DAYS)
    sums, counts = np.zeros(AHEAD_DAYS), np.zeros(AHEAD_DAYS)
    for years in range(1, 1 + (known.size + AHEAD_DAYS) // 365):
        middle = np.round(column - years * 365.25).astype(np.int64)
        low = np.clip(middle - _SEASON_HALF_WIDTH, 0, known.size)
        high = np.clip(middle + _SEASON_HALF_WIDTH + 1, 0, known.size)
        sums += total[high] - total[low]
        counts += count[high] - count[low]
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def spans(days: Sequence[int], limit: int = 3) -> str:
    """Day numbers as words: '2026-02-01 to 2026-02-07, 2026-03-02 and 4 more'."""
    runs: list[list[int]] = []
    for day in days:
        if runs and day == runs[-1][1] + 1:
            runs[-1][1] = day
        else:
            runs.append([day, day])
    words = [_span(first, last) for first, last in runs[:limit]]
    rest = f" and {len(runs) - limit} more gaps" if len(runs) > limit else ""
    return ", ".join(words) + rest


def _span(first: int, last: int) -> str:
    one = (date.min + timedelta(days=first - 1)).isoformat()
    return one if first == last else f"{one} to {(date.min + timedelta(days=last - 1)).isoformat()}"
