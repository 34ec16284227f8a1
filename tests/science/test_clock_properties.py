"""What must hold of every forecast of the moult clock, whatever the room (Hypothesis)."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.clock.draw import DrawnRoom, RoomShape, draw_room
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.forecast import (
    QUANTILES,
    WITHIN_DAYS,
    ClockForecast,
    forecast,
)
from nightround.science.clock.waiting import DurationEvidence
from nightround.science.thermal import DailyClimate
from science.clock_rooms import ON, Piece, expected, room, with_intervals

THIRTY = WITHIN_DAYS.index(30)


@cache
def drawn(seed: int) -> tuple[DrawnRoom, ClockFit]:
    """A drawn room of 25 animals and its fit."""
    found = draw_room(np.random.default_rng([77, seed]), RoomShape(animals=25, taxa=3, record_days=600))
    return found, fit(found.data)


def constant(found: DrawnRoom, temperature_c: float, on: int, spread_c: float = 0.0) -> DailyClimate:
    """The same temperature at every place from the day after `on`."""
    shape = (found.data.climate.places, 800)
    return DailyClimate(on + 1, np.full(shape, temperature_c), np.full(shape, spread_c))


def ask(seed: int, temperature_c: float, later: int = 0, spread_c: float = 0.0) -> ClockForecast:
    """Forecast a drawn room as of `later` days after its last day, nothing new recorded."""
    found, fitted = drawn(seed)
    on = found.on + later
    if later:
        past = found.data.climate
        more = np.full((past.places, later), temperature_c)
        longer = replace(
            found.data, climate=DailyClimate(past.first_day, np.hstack([past.temperature_c, more]))
        )
        fitted = _with_climate(fitted, longer.climate)
    return forecast(fitted, found.asked, on, constant(found, temperature_c, on, spread_c))


def _with_climate(fitted: ClockFit, climate: DailyClimate) -> ClockFit:
    """The same fit looking at a longer record of the climate."""
    from nightround.science.thermal import prepare_warmth

    return replace(fitted, design=replace(fitted.design, warmth=prepare_warmth(climate)))


@settings(max_examples=12)
@given(seed=st.integers(0, 3), temperature=st.floats(18.0, 31.0), days=st.integers(1, 60))
def test_more_warmth_without_a_moult_never_makes_30_days_less_likely(
    seed: int, temperature: float, days: int
) -> None:
    """Up to the 50 % point of its interval, a later day without a moult never lowers the 30-day odds."""
    now, then = ask(seed, temperature), ask(seed, temperature, later=days)
    known = np.isfinite(now.elapsed_level) & (then.elapsed_level <= 0.5)
    assert np.all(then.within[known, THIRTY] >= now.within[known, THIRTY] - 1e-6)


@settings(max_examples=12)
@given(
    seed=st.integers(0, 3),
    cool=st.floats(12.0, 31.0),
    warmer=st.floats(0.1, 8.0),
    spread=st.sampled_from([0.0, 1.5]),
)
def test_a_warmer_expectation_never_delays(seed: int, cool: float, warmer: float, spread: float) -> None:
    """Below the upper turn every horizon's odds rise and every quantile falls when warmth is expected."""
    warm = min(cool + warmer, 32.0)
    at_cool, at_warm = ask(seed, cool, spread_c=spread), ask(seed, warm, spread_c=spread)
    slack = 1e-6 if spread == 0.0 else 5e-3
    assert np.all(at_warm.within >= at_cool.within - slack)
    if spread == 0.0:
        both = np.isfinite(at_warm.quantile_days) & np.isfinite(at_cool.quantile_days)
        assert np.all(at_warm.quantile_days[both] <= at_cool.quantile_days[both] * (1.0 + 1e-6) + 1e-3)


@settings(max_examples=12)
@given(seed=st.integers(0, 3), temperature=st.floats(15.0, 31.0))
def test_odds_are_odds(seed: int, temperature: float) -> None:
    """Odds lie in 0..1, rise with the horizon, and quantiles rise with the level and fit the odds."""
    result = ask(seed, temperature, spread_c=1.0)
    assert np.all((result.within >= 0.0) & (result.within <= 1.0))
    assert np.all(np.diff(result.within, axis=1) >= 0.0)
    rising = np.diff(np.nan_to_num(result.quantile_days, nan=np.inf), axis=1)
    assert np.all((rising >= 0.0) | np.isnan(rising))
    median = result.quantile_days[:, QUANTILES.index(0.5)]
    reached = [np.interp(m, result.grid_days, c) for m, c in zip(median, result.cumulative, strict=True)]
    np.testing.assert_allclose(np.array(reached)[np.isfinite(median)], 0.5, atol=1e-6)


def history(**changes: object) -> list[Piece]:
    """Two animals with known intervals, the third running."""
    known = [Piece(a, start=(300 + 60 * k,) * 2, end=(360 + 60 * k,) * 2) for a in range(2) for k in range(6)]
    return [*known, Piece(2, start=(970, 970), looked=999)]


def spread_of(result: ClockForecast) -> float:
    """Log ratio of the 90 % to the 10 % point of the waiting time."""
    return float(np.log(result.quantile_days[0, 17] / result.quantile_days[0, 1]))


def test_an_unknown_size_is_not_size_zero() -> None:
    """An animal of unknown size gets wider odds than one of the usual size, not those of a tiny one."""
    data = room(history())
    sizes = data.intervals.log_size.copy()
    sizes[-1] = np.nan
    unknown = forecast(fit(with_intervals(data, log_size=sizes)), np.array([2]), ON, expected())
    usual = forecast(fit(data), np.array([2]), ON, expected())
    sizes[-1] = data.intervals.log_size[0] - 2.0
    tiny = forecast(fit(with_intervals(data, log_size=sizes)), np.array([2]), ON, expected())
    assert spread_of(unknown) > spread_of(usual)
    middle = QUANTILES.index(0.5)
    assert tiny.quantile_days[0, middle] < 0.8 * unknown.quantile_days[0, middle]


def test_an_unknown_covariate_is_not_zero() -> None:
    """Where others' rations are known, an unknown one widens the odds instead of reading as the mean."""
    data = room(history())
    covariates = data.intervals.covariates.copy()
    covariates[:-1, 0] = np.tile([-1.0, 1.0], 6)
    known = forecast(fit(with_intervals(data, covariates=covariates)), np.array([2]), ON, expected())
    covariates = covariates.copy()
    covariates[-1, 0] = np.nan
    unknown = forecast(fit(with_intervals(data, covariates=covariates)), np.array([2]), ON, expected())
    assert spread_of(unknown) > spread_of(known)


def test_evidence_that_says_nothing_changes_nothing() -> None:
    """A flat likelihood over lengths leaves the odds alone; one for short lengths brings them nearer."""
    fitted = fit(room(history()))
    grid = np.linspace(0.0, 8.0, 161)
    plain = forecast(fitted, np.array([2]), ON, expected())
    flat = DurationEvidence(grid, np.zeros((1, grid.size)))
    same = forecast(fitted, np.array([2]), ON, expected(), evidence=flat)
    np.testing.assert_allclose(same.within, plain.within, atol=1e-6)
    short = DurationEvidence(grid, -2.0 * (grid[None, :] - np.log(45.0)) ** 2 / 0.1)
    nearer = forecast(fitted, np.array([2]), ON, expected(), evidence=short)
    assert nearer.within[0, THIRTY] > plain.within[0, THIRTY]


def test_a_forecast_needs_a_running_interval_and_the_next_day() -> None:
    """Asking about an animal that is not running, or with climate of another day, is refused."""
    fitted = fit(room(history()))
    with pytest.raises(Refusal, match="running interval"):
        forecast(fitted, np.array([0]), ON, expected())
    with pytest.raises(Refusal, match="the day after"):
        forecast(fitted, np.array([2]), ON, expected(on=ON + 3))


def test_calibration_of_a_few_rooms() -> None:
    """80 % windows of 14 drawn rooms hold 72 to 88 % (benchmarks/coverage_moults.py runs hundreds)."""
    inside = []
    for seed in range(14):
        found = draw_room(np.random.default_rng([5, seed]), RoomShape(animals=30, taxa=3, record_days=600))
        result = forecast(fit(found.data), found.asked, found.on, found.expected)
        quantiles = np.nan_to_num(result.quantile_days, nan=np.inf)
        held = (quantiles[:, 1] <= found.truth_days) & (found.truth_days <= quantiles[:, 17])
        inside.append(held[found.truth_days >= 0.0])
    assert 0.80 == pytest.approx(float(np.concatenate(inside).mean()), abs=0.08)
