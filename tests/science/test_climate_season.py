"""Months, the year's wave, runs of cold and heat, and thermal days lost, against closed forms."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.science.climate.events import cold_days, gaps, runs
from nightround.science.climate.levels import YEAR_DAYS
from nightround.science.climate.lost import Q10Law, Winters, warm_days, winter_spans
from nightround.science.climate.season import (
    DailyRange,
    NotEnough,
    Wave,
    fit_wave,
    months_of,
    next_day_of_phase,
    stretches,
    weeks_of,
)
from nightround.science.thermal import FloatArray

FIRST = date(2025, 1, 1).toordinal()
LOG_Q10 = float(np.log(2.5))
JANUARY_20 = (FIRST + 19) % YEAR_DAYS


def only_means(mean: FloatArray) -> DailyRange:
    """Days of which only the mean is known."""
    nothing = np.full(mean.size, np.nan)
    return DailyRange(FIRST, nothing, mean, nothing)


def test_months_say_what_their_known_days_say() -> None:
    """January and February by hand: lowest, mean, highest, how many days, how many under and over."""
    mean = np.full(59, np.nan)
    mean[[0, 1, 2, 31]] = 20.0, 22.0, 24.0, 30.5
    low, high = np.full(59, np.nan), np.full(59, np.nan)
    low[1], high[1] = 15.5, 26.0
    january, february = stretches(
        DailyRange(FIRST, low, mean, high), months_of(FIRST, 59), cold_c=17.0, heat_c=30.0, log_q10=LOG_Q10
    )
    assert (31, 3, 15.5, 22.0, 26.0) == (
        january.days, january.known, january.low, january.mean, january.high,
    )  # fmt: skip
    assert (FIRST + 1, FIRST + 1, 1, 0) == (january.coldest, january.hottest, january.under, january.over)
    assert 2.5 ** (-0.5) + 2.5 ** (-0.3) + 2.5 ** (-0.1) == pytest.approx(january.thermal_days)
    assert (28, 1, 1) == (february.days, february.known, february.over)


def test_an_unread_month_is_unknown_not_zero() -> None:
    """A month without a reading has no lowest, mean or highest, and no known day."""
    (month,) = stretches(
        only_means(np.full(31, np.nan)), months_of(FIRST, 31), cold_c=17.0, heat_c=30.0, log_q10=LOG_Q10
    )
    assert (0, None, None, None, None) == (month.known, month.low, month.mean, month.high, month.coldest)


def test_weeks_begin_on_monday() -> None:
    """1 January 2025 was a Wednesday: the first week has five days."""
    weeks = stretches(
        only_means(np.full(12, 20.0)), weeks_of(FIRST, 12), cold_c=17.0, heat_c=30.0, log_q10=LOG_Q10
    )
    assert [5, 7] == [week.days for week in weeks]


@settings(max_examples=20)
@given(st.floats(12.0, 27.0), st.floats(1.0, 6.0), st.floats(0.0, 364.0))
def test_a_pure_wave_is_found(mean: float, swing: float, coldest: float) -> None:
    """Mean, swing and coldest day of a cosine come back."""
    days = FIRST + np.arange(500)
    wave = fit_wave(FIRST, mean - swing * np.cos(2 * np.pi * (days - coldest) / YEAR_DAYS))
    assert isinstance(wave, Wave)
    assert mean == pytest.approx(wave.mean[0], abs=0.02)
    assert swing == pytest.approx(wave.swing[0], abs=0.02)
    apart = (wave.coldest[0] - coldest + YEAR_DAYS / 2) % YEAR_DAYS - YEAR_DAYS / 2
    assert 0.0 == pytest.approx(apart, abs=1.0)
    assert not wave.flat
    assert wave.fits_share > 0.99


def test_wave_intervals_hold_the_truth() -> None:
    """80 % intervals of mean and swing and the coldest day's doubt hold it in about 80 of 100 years."""
    rng = np.random.default_rng(12)
    hits = np.zeros(3)
    tries = 250
    for _ in range(tries):
        days = int(rng.integers(380, 1100))
        weather = np.empty(days)
        state = rng.standard_normal()
        for at in range(days):
            state = 0.75 * state + np.sqrt(1 - 0.75**2) * rng.standard_normal()
            weather[at] = 0.8 * state
        truth = 22.0 - 3.0 * np.cos(2 * np.pi * (FIRST + np.arange(days) - 20.0) / YEAR_DAYS)
        wave = fit_wave(FIRST, truth + weather)
        assert isinstance(wave, Wave)
        apart = (wave.coldest[0] - 20.0 + YEAR_DAYS / 2) % YEAR_DAYS - YEAR_DAYS / 2
        hits += [
            wave.mean[1] <= 22.0 <= wave.mean[2],
            wave.swing[1] <= 3.0 <= wave.swing[2],
            abs(apart) <= wave.coldest[1],
        ]
    assert (np.abs(hits / tries - 0.8) < 0.075).all(), hits / tries


def test_less_than_a_year_is_not_enough_and_says_how_much_there_is() -> None:
    """200 days in a row, with one missing."""
    mean = np.full(365, np.nan)
    mean[10:210] = 22.0
    mean[50] = np.nan
    assert NotEnough(199, 200) == fit_wave(FIRST, mean)
    assert NotEnough(0, 0) == fit_wave(FIRST, np.full(3, np.nan))


def test_the_next_coldest_day() -> None:
    """The next day that stands at a phase of the year cycle comes within a year."""
    assert FIRST + 5 == next_day_of_phase((FIRST + 5) % YEAR_DAYS, FIRST)
    assert FIRST + 365 == pytest.approx(next_day_of_phase((FIRST - 1) % YEAR_DAYS, FIRST), abs=1)


def test_cold_days_by_threshold_and_by_fall() -> None:
    """One night under 17 C, and three days that fell 3.5 C and more under the week before; nothing else."""
    mean = np.full(30, 24.0)
    mean[20:23] = 20.4, 18.5, 20.9
    coldest = mean.copy()
    coldest[5] = 16.5
    assert [5, 20, 21, 22] == list(np.flatnonzero(cold_days(coldest, mean, 17.0, 3.0)))


def test_a_slow_autumn_is_no_fall() -> None:
    """A room that cools by a tenth of a degree a day for a month never falls suddenly."""
    mean = 26.0 - 0.1 * np.arange(40)
    assert not cold_days(mean, mean, 17.0, 3.0).any()


def test_the_end_of_a_heat_wave_is_no_cold() -> None:
    """A week at 31 C in a summer of 26 C: the day it ends lies 5 C under the week before, and is no cold."""
    mean = np.full(60, 26.0)
    mean[30:37] = 31.0
    assert not cold_days(mean, mean, 17.0, 3.0).any()


def test_runs_go_over_short_gaps_only() -> None:
    """A run bridges two unread days and counts them apart, a third ends it; a known mild day ends it too."""
    value = np.array([15, np.nan, np.nan, 14, 20, 15, np.nan, np.nan, np.nan, 15], dtype=np.float64)
    found = runs(value < 17.0, np.isfinite(value), value, lowest=True)
    assert [(0, 3), (5, 5), (9, 9)] == [(run.first, run.last) for run in found]
    assert (2, 2, 3, 14.0) == (found[0].unread, found[0].days, found[0].worst, found[0].value)


def test_gaps_are_between_readings_and_after_the_last() -> None:
    """Days before the first reading are no gap; after the last they are."""
    known = np.array([0, 0, 1, 0, 0, 1, 1, 0], dtype=bool)
    assert ((3, 4), (7, 7)) == gaps(known)
    assert ((3, 4),) == gaps(known, least=2)
    assert () == gaps(np.zeros(4, dtype=bool))


def constant(cold: float, warm: float, log_sd: float) -> Winters:
    """Two years that are `cold` in the cold half and `warm` in the other."""
    days = 730
    is_warm = warm_days(JANUARY_20, FIRST, days, YEAR_DAYS)
    return Winters(FIRST, np.where(is_warm, warm, cold), is_warm, Q10Law(LOG_Q10, log_sd))


def test_lost_days_in_closed_form() -> None:
    """A winter 5 C cooler than 25 C for n days loses n (1 - 2.5 ** -0.5) days at 25 C, exactly."""
    winters = constant(20.0, 25.0, 1e-9)
    first, last = winter_spans(JANUARY_20, FIRST, FIRST + 729, YEAR_DAYS)[1]
    lost = winters.lost(first + 1, last - 1)
    assert lost is not None
    number = last - first - 1
    assert number * (1.0 - 2.5**-0.5) == pytest.approx(lost.value, rel=1e-6)
    assert lost.value == pytest.approx(lost.later_days[0], rel=1e-6)


def test_q10s_doubt_is_the_doubt_of_lost_days() -> None:
    """Without missing days the 80 % interval ends where Q10's own interval puts it."""
    winters = constant(20.0, 25.0, 0.2)
    lost = winters.lost(FIRST + 300, FIRST + 340)
    assert lost is not None
    for end, z in ((lost.low, -1.2816), (lost.high, 1.2816)):
        assert 41 * (1.0 - np.exp(-0.5 * (LOG_Q10 + 0.2 * z))) == pytest.approx(end, rel=0.02)


def test_missing_days_widen_it() -> None:
    """A month without readings makes the interval wider and hardly moves the value."""
    days = 730
    is_warm = warm_days(JANUARY_20, FIRST, days, YEAR_DAYS)
    mean = np.where(is_warm, 25.0, 20.0) + 0.3 * np.random.default_rng(2).standard_normal(days)
    gappy = mean.copy()
    gappy[320:350] = np.nan
    whole, part = (
        Winters(FIRST, each, is_warm, Q10Law(LOG_Q10, 0.1)).lost(FIRST + 300, FIRST + 380)
        for each in (mean, gappy)
    )
    assert whole is not None and part is not None
    assert whole.value == pytest.approx(part.value, rel=0.05)
    assert part.high - part.low > 1.1 * (whole.high - whole.low)


def test_a_target_stands_in_for_the_warm_half_year() -> None:
    """Against a keeper's target of 25 C, whatever the warm half was."""
    mean = np.full(400, 22.0)
    winters = Winters(FIRST, mean, np.zeros(400, dtype=bool), Q10Law(LOG_Q10, 1e-9), target_c=25.0)
    lost = winters.lost(FIRST, FIRST + 99)
    assert lost is not None
    assert 100 * (1.0 - 2.5**-0.3) == pytest.approx(lost.value, rel=1e-6)


def test_no_warm_day_no_answer() -> None:
    """A place without a known day of its warm half-year has no reference of its own."""
    assert None is Winters(FIRST, np.full(60, 20.0), np.zeros(60, dtype=bool), Q10Law(LOG_Q10, 0.1)).lost(
        FIRST, FIRST + 9
    )


def test_winters_are_half_years_around_the_coldest_day() -> None:
    """Three years from January: four winters, the first and the last cut at the ends."""
    spans = winter_spans(JANUARY_20, FIRST, FIRST + 1095, YEAR_DAYS)
    assert 4 == len(spans)
    assert FIRST == spans[0][0]
    assert FIRST + 1095 == spans[-1][1]
    assert all(181 <= last - first <= 183 for first, last in spans[1:-1])


def test_lost_days_hold_the_truth_where_days_are_missing() -> None:
    """With Q10 drawn from its own law and a sixth of the winter unread, 80 % intervals hold 74 to 92 of 100.

    Above 80 is right: the doubt of missing days is taken to be one common error.
    """
    rng = np.random.default_rng(77)
    days = 730
    law = Q10Law(LOG_Q10, 0.1)
    is_warm = warm_days(JANUARY_20, FIRST, days, YEAR_DAYS)
    first, last = winter_spans(JANUARY_20, FIRST, FIRST + days - 1, YEAR_DAYS)[1]
    hits = []
    for _ in range(200):
        weather = np.convolve(rng.standard_normal(days + 6), np.ones(7) / 7**0.5, "valid")
        wave = 23.0 - 3.0 * np.cos(2 * np.pi * (FIRST + np.arange(days) - JANUARY_20) / YEAR_DAYS)
        air = wave + 0.7 * weather
        true_q10 = law.log_mean + law.log_sd * rng.standard_normal()
        rate = np.exp(true_q10 * (air - 25.0) / 10.0)
        part = slice(first - FIRST, last - FIRST + 1)
        truth = float((last - first + 1) * rate[is_warm].mean() - rate[part].sum())
        read = air.copy()
        gap = int(rng.integers(part.start, part.stop - 30))
        read[gap : gap + 30] = np.nan
        lost = Winters(FIRST, read, is_warm, law).lost(first, last)
        assert lost is not None
        hits.append(lost.low <= truth <= lost.high)
    assert 0.74 <= float(np.mean(hits)) <= 0.92, np.mean(hits)
