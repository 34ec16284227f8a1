"""Shelf offsets: the two-way layout against exact least squares, the level's doubt, coverage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.science.climate.levels import GRID_NOISE, GRID_PHI, fit_levels, year_terms
from nightround.science.climate.offsets import LEAST_DAYS, offsets, two_way, unread
from nightround.science.thermal import FloatArray

FIRST = 739_000


def memory(rng: np.random.Generator, days: int, phi: float, noise: float) -> FloatArray:
    """A series of sd 1 whose errors remember with phi, a share `noise` of the variance being new each day."""
    state = rng.standard_normal()
    out = np.empty(days)
    for day in range(days):
        state = phi * state + np.sqrt(1.0 - phi**2) * rng.standard_normal()
        out[day] = state
    return np.sqrt(1.0 - noise) * out + np.sqrt(noise) * rng.standard_normal(days)


def room(
    rng: np.random.Generator, days: int, places: tuple[float, ...], *, swing: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Readings of places with these offsets and a reference in the last row, with gaps; and the true ones."""
    air = 22.0 + 3.0 * np.cos(2 * np.pi * (FIRST + np.arange(days)) / 365.25) + memory(rng, days, 0.75, 0.1)
    wave = swing * np.cos(2 * np.pi * (FIRST + np.arange(days)) / 365.25)
    rows = []
    for warmer in places:
        phi, noise = rng.uniform(0.0, 0.92), rng.uniform(0.0, 0.8)
        rows.append(air + warmer + wave + rng.uniform(0.1, 0.5) * memory(rng, days, phi, noise))
    table = np.round(np.array([*rows, air]), 1)
    table[rng.random(table.shape) < 0.03] = np.nan
    gap = rng.integers(0, days - days // 6)
    table[:, gap : gap + days // 8] = np.nan
    return table, np.array(places)


def test_balanced_layout_is_means_of_rows_and_columns() -> None:
    """Without missing cells: place effect = row mean - grand mean, day effect = column mean (closed form)."""
    table = np.array([[21.0, 23.0, 25.0], [20.0, 21.5, 24.5], [24.0, 25.5, 28.5]])
    found = two_way(table)
    np.testing.assert_allclose(table.mean(axis=1) - table.mean(), found.place, atol=1e-12)
    np.testing.assert_allclose(table.mean(axis=0), found.day, atol=1e-12)


def test_one_missing_cell_is_as_yates_gives_it() -> None:
    """The layout's value of a missing cell is (r R + c C - G) / ((r - 1)(c - 1)).

    Yates F. 1933, The analysis of replicated experiments when the field results are incomplete, Empire J.
    Exp. Agric. 1:129 (the formula as every handbook of field trials prints it; from memory).
    """
    rng = np.random.default_rng(3)
    table = rng.normal(22.0, 2.0, (4, 6))
    table[1, 2] = np.nan
    r, c = table.shape
    expected = (r * np.nansum(table[1]) + c * np.nansum(table[:, 2]) - np.nansum(table)) / ((r - 1) * (c - 1))
    found = two_way(table)
    assert expected == pytest.approx(found.place[1] + found.day[2], abs=1e-10)


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(3, 25))
def test_missing_cells_as_exact_least_squares(seed: int, places: int, days: int) -> None:
    """Any pattern of missing cells: fitted values equal numpy.linalg.lstsq on the dummy regression."""
    rng = np.random.default_rng(seed)
    table = rng.normal(20.0, 3.0, (places, days))
    table[rng.random(table.shape) < 0.35] = np.nan
    found = two_way(table)
    for group in set(found.group) - {-1}:
        inside = np.array([one == group for one in found.group])
        row, column = np.nonzero(np.isfinite(table) & inside[:, None])
        design = np.zeros((row.size, places + days))
        design[np.arange(row.size), row] = 1.0
        design[np.arange(row.size), places + column] = 1.0
        fitted = design @ np.linalg.lstsq(design, table[row, column], rcond=None)[0]
        left = table[row, column] - found.place[row]
        for day in set(column):
            at = column == day
            assert fitted[at] - found.place[row][at] == pytest.approx(np.full(at.sum(), left[at].mean()))
        assert 0.0 == pytest.approx(found.place[inside].sum(), abs=1e-9)


def test_the_recursion_is_generalised_least_squares() -> None:
    """At each grid point coefficients and their scale equal the dense formula with the full covariance."""
    rng = np.random.default_rng(8)
    series = 2.0 + memory(rng, 90, 0.7, 0.3)
    series[[3, 4, 5, 40, 66]] = np.nan
    (level,) = fit_levels(FIRST, series[None, :], with_year=True)
    assert level is not None
    at = np.flatnonzero(np.isfinite(series))
    x, y = year_terms(FIRST + at), series[at]
    apart = np.abs(at[:, None] - at[None, :])
    for point in (0, 7, 23, GRID_PHI.size - 1):
        phi, noise = GRID_PHI[point], GRID_NOISE[point]
        covariance = (1 - noise) * phi**apart + noise * np.eye(at.size)
        inverse = np.linalg.inv(covariance)
        normal = np.linalg.inv(x.T @ inverse @ x)
        beta = normal @ x.T @ inverse @ y
        rest = (y - x @ beta) @ inverse @ (y - x @ beta)
        np.testing.assert_allclose(beta, level.beta[point], rtol=1e-5, atol=1e-7)
        np.testing.assert_allclose(
            rest / (at.size - 3) * normal, level.covariance[point], rtol=1e-4, atol=1e-8
        )


def test_intervals_hold_the_true_offset() -> None:
    """95 % intervals hold the truth in 93 to 97 of 100 rooms of 60 days to 3 years with gaps and memory."""
    rng = np.random.default_rng(41)
    hits = []
    for _ in range(300):
        table, truth = room(rng, int(rng.integers(60, 1100)), (1.1, 0.4, -1.0))
        for found, value in zip(offsets(FIRST, table, 3)[:3], truth, strict=True):
            assert found is not None
            hits.append(found.low <= value <= found.high)
    share = float(np.mean(hits))
    assert 0.93 <= share <= 0.97, share


@pytest.mark.long
def test_intervals_hold_the_true_offset_at_length() -> None:
    """The same on 1,500 rooms; winter's and summer's offsets too, where the difference swings."""
    rng = np.random.default_rng(42)
    hits, seasons = [], []
    for _ in range(1500):
        table, truth = room(rng, int(rng.integers(60, 1100)), (1.1, 0.4, -1.0), swing=0.5)
        for found, value in zip(offsets(FIRST, table, 3)[:3], truth, strict=True):
            assert found is not None
            if found.winter is not None and found.summer is not None:
                hits.append(found.low <= value <= found.high)
                crest = 0.5 * 0.9003
                seasons.append(found.summer[1] <= value + crest <= found.summer[2])
                seasons.append(found.winter[1] <= value - crest <= found.winter[2])
    assert 0.93 <= float(np.mean(hits)) <= 0.97, np.mean(hits)
    assert 0.93 <= float(np.mean(seasons)) <= 0.97, np.mean(seasons)


def test_a_swinging_offset_is_told_by_season() -> None:
    """A shelf 2.6 warmer in winter and 1.4 in summer: the season is named, and the mean is of the year."""
    rng = np.random.default_rng(5)
    days = 800
    wave = np.cos(2 * np.pi * (FIRST + np.arange(days)) / 365.25)
    air = 22.0 + 3.0 * wave + memory(rng, days, 0.75, 0.0)
    top = air + 2.0 - 0.6 * wave + 0.2 * memory(rng, days, 0.5, 0.3)
    found = offsets(FIRST, np.array([top, air]), 1)[0]
    assert found is not None and found.winter is not None and found.summer is not None
    assert found.swings
    assert 2.0 == pytest.approx(found.value, abs=0.1)
    assert 2.0 + 0.6 * 0.9003 == pytest.approx(found.winter[0], abs=0.1)
    assert 2.0 - 0.6 * 0.9003 == pytest.approx(found.summer[0], abs=0.1)


def test_less_than_a_year_says_nothing_of_seasons_and_few_days_say_nothing() -> None:
    """200 days give an offset without seasons; 13 common days give none."""
    rng = np.random.default_rng(6)
    table, _ = room(rng, 200, (1.0,))
    found = offsets(FIRST, table, 1)[0]
    assert found is not None
    assert (None, None, False) == (found.winter, found.summer, found.swings)
    short = table.copy()
    common = np.flatnonzero(np.isfinite(short).all(axis=0))
    short[0, common[LEAST_DAYS - 1] :] = np.nan
    assert offsets(FIRST, short, 1)[0] is None
    assert (None, None) == offsets(FIRST, np.full((2, 40), np.nan), 1)


def test_places_that_never_meet_the_reference_go_by_way_of_others() -> None:
    """A shelf read in the first half only and a room in the second are compared through a third place."""
    rng = np.random.default_rng(7)
    days = 400
    air = 21.0 + memory(rng, days, 0.75, 0.0)
    table = np.array([air + 1.5, air - 0.5, air]) + 0.1 * rng.standard_normal((3, days))
    table[0, 200:] = np.nan
    table[2, :200] = np.nan
    found = offsets(FIRST, table, 2)[0]
    assert found is not None
    assert not found.direct
    assert found.low <= 1.5 <= found.high
    assert 1.5 == pytest.approx(found.value, abs=0.1)


def test_without_a_reference_offsets_are_against_the_mean_of_all_places() -> None:
    """Two shelves 2 degrees apart are 1 degree over and 1 degree under their mean."""
    rng = np.random.default_rng(9)
    air = 21.0 + memory(rng, 120, 0.75, 0.0)
    table = np.array([air + 2.0, air]) + 0.1 * rng.standard_normal((2, 120))
    top, bottom = offsets(FIRST, table, None)
    assert top is not None and bottom is not None
    assert 1.0 == pytest.approx(top.value, abs=0.1)
    assert -1.0 == pytest.approx(bottom.value, abs=0.1)


def test_an_unread_day_is_estimated_with_its_doubt_and_never_elsewhere() -> None:
    """Days a shelf was not read but the room was: the truth lies within 2 sd about 19 times in 20."""
    rng = np.random.default_rng(10)
    inside = []
    for _ in range(60):
        air = 21.0 + memory(rng, 300, 0.75, 0.0)
        shelf = air + 1.2 + 0.3 * memory(rng, 300, 0.6, 0.3)
        table = np.array([shelf, air])
        table[0, 100:130] = np.nan
        table[1, 140:150] = np.nan
        mean, sd = unread(FIRST, table, offsets(FIRST, table, 1), 1)
        assert np.isnan(mean[0, 140:150]).all() and np.isnan(mean[0, :100]).all()
        inside += list(np.abs(mean[0, 100:130] - shelf[100:130]) <= 1.96 * sd[0, 100:130])
    assert 0.92 <= float(np.mean(inside)) <= 0.98


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.floats(-5.0, 5.0))
def test_what_the_whole_room_does_changes_no_offset(seed: int, warmer: float) -> None:
    """Any day effect that all places share leaves offsets and doubts; a shelf's own shift moves its alone."""
    rng = np.random.default_rng(seed)
    table, _ = room(rng, 90, (1.0, -0.5))
    before = offsets(FIRST, table, 2)
    shaken = table + rng.normal(0.0, 4.0, 90)
    shaken[0] += warmer
    after = offsets(FIRST, shaken, 2)
    for place, shift in ((0, warmer), (1, 0.0)):
        one, other = before[place], after[place]
        assert one is not None and other is not None
        assert one.value + shift == pytest.approx(other.value, abs=1e-8)
        assert one.high - one.low == pytest.approx(other.high - other.low, rel=1e-8)
