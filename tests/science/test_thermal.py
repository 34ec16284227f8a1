"""Thermal time against published development times, and sums over moves against plain loops."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.clock.priors import HYPER
from nightround.science.parameters import lierig
from nightround.science.thermal import (
    DailyClimate,
    Stays,
    clock_at,
    locate,
    make_paths,
    missing_days,
    prepare_warmth,
    relative_rate,
    thermal_table,
)

Q10 = math.log(2.5)


def test_rate_is_one_at_25_whatever_the_q10() -> None:
    """The unit of thermal time is a day at 25 C."""
    for q10 in (1.6, 2.5, 4.0):
        assert 1.0 == relative_rate(np.array([25.0]), math.log(q10))[0]


@pytest.mark.parametrize(
    ("what", "days_cool", "cool_c", "days_warm", "warm_c"),
    [
        # TRADE.md, grade A: Acheta domesticus egg to adult 200 d at 18 C, 66 d at 30 C.
        ("Acheta domesticus", 200.0, 18.0, 66.0, 30.0),
        # TRADE.md, textbook: Drosophila melanogaster 19 d at 18 C, 8.5 d at 25 C.
        ("Drosophila melanogaster", 19.0, 18.0, 8.5, 25.0),
        # LIERIG: Erigonidium graminicolum 94.4 d at 15 C, 23.8 d at 32 C.
        ("Erigonidium graminicolum", 94.4, 15.0, 23.8, 32.0),
    ],
)
def test_published_q10_lie_inside_the_prior(
    what: str, days_cool: float, cool_c: float, days_warm: float, warm_c: float
) -> None:
    """Development times at two temperatures imply a Q10 inside the prior's central 80 %."""
    log_q10 = math.log(days_cool / days_warm) * 10.0 / (warm_c - cool_c)
    prior = HYPER["log_q10"]
    assert abs(log_q10 - prior.mean) < 1.2816 * prior.sd, what


def test_the_prior_q10_predicts_crickets_at_18_from_30() -> None:
    """Acheta domesticus (TRADE.md, grade A): 66 d at 30 C; 200 d at 18 C is predicted within 3 %."""
    rate = relative_rate(np.array([18.0, 30.0]), Q10)
    assert 200.0 == pytest.approx(66.0 * rate[1] / rate[0], rel=0.03)


def test_development_is_slower_again_above_the_upper_turn() -> None:
    """LIERIG: fastest at 32 C of the temperatures tried, slower at 35 C."""
    tried = relative_rate(
        np.array([15.0, 20.0, 25.0, 28.0, 30.0, 32.0, 35.0]), math.log(lierig.Q10_15_TO_32_C)
    )
    assert 5 == int(np.argmax(tried))
    assert tried[6] < tried[5]
    assert 0.0 == relative_rate(np.array([45.0]), Q10)[0]


def test_missing_days_are_named_and_doubtful() -> None:
    """A gap takes the mean of the days around it, is named, and its share of warmth is in doubt."""
    temperature = np.full((1, 60), 24.0)
    temperature[0, 20:26] = np.nan
    warmth = prepare_warmth(DailyClimate(1000, temperature))
    table = thermal_table(warmth, Q10)
    assert [1020, 1021, 1022, 1023, 1024, 1025] == missing_days(warmth, 0, 1000, 1059)
    assert 60.0 * 2.5**-0.1 == pytest.approx(float(table.elapsed[0, -1]))
    assert 0.0 == table.doubtful[0, 20]
    assert table.doubtful[0, 26] > 0.0


def test_a_gap_is_never_read_as_zero_degrees() -> None:
    """Warmth with a gap lies between what the coldest and the warmest known day would give."""
    temperature = np.array([[20.0, np.nan, np.nan, 26.0]])
    elapsed = float(thermal_table(prepare_warmth(DailyClimate(0, temperature)), Q10).elapsed[0, -1])
    cold, warm = relative_rate(np.array([20.0, 26.0]), Q10)
    assert 4.0 * cold < elapsed < 4.0 * warm


def test_a_place_without_readings_stands_at_23() -> None:
    """An unread place is marked, runs at 23 C, and has no missing days of its own doubt."""
    warmth = prepare_warmth(DailyClimate(0, np.full((1, 10), np.nan)))
    assert bool(warmth.unread[0])
    assert 10.0 * 2.5**-0.2 == pytest.approx(float(thermal_table(warmth, Q10).elapsed[0, -1]))
    assert list(range(3, 6)) == missing_days(warmth, 0, 3, 5)


def test_fahrenheit_is_refused() -> None:
    """A table that can only be in another unit is refused with what came."""
    with pytest.raises(Refusal, match="86"):
        DailyClimate(0, np.array([[86.0]]))


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    moves=st.lists(st.integers(1, 39), min_size=0, max_size=4, unique=True),
    begin=st.floats(0.0, 39.0),
    length=st.floats(0.0, 39.0),
)
def test_warmth_of_a_moving_animal_is_the_sum_over_its_stays(
    seed: int, moves: list[int], begin: float, length: float
) -> None:
    """Elapsed thermal time equals the hourly sum at whichever place the animal was."""
    rng = np.random.default_rng(seed)
    temperature = rng.uniform(15.0, 30.0, (3, 40))
    days = [0, *sorted(moves)]
    places = rng.integers(0, 3, len(days))
    animal = np.concatenate([np.zeros(len(days), dtype=np.int64), np.ones(1, dtype=np.int64)])
    stays = Stays(animal, np.append(places, 1), np.append(days, 0))
    paths = make_paths(stays, 2)
    table = thermal_table(prepare_warmth(DailyClimate(0, temperature)), Q10)
    end = min(begin + length, 40.0)
    at = locate(paths, np.zeros(2, dtype=np.int64), np.array([begin, end]), 0, 41)
    elapsed = np.diff(clock_at(paths, table.elapsed, 0, at))[0]
    rate = relative_rate(temperature, Q10)
    expected = 0.0
    for day in range(40):
        here = places[np.searchsorted(days, day, side="right") - 1]
        expected += rate[here, day] * max(0.0, min(end, day + 1.0) - max(begin, float(day)))
    assert expected == pytest.approx(float(elapsed), abs=1e-9)


def test_an_animal_without_a_stay_is_refused() -> None:
    """Every animal lives somewhere, if only at an unknown place."""
    with pytest.raises(Refusal, match="animal 1"):
        make_paths(Stays(np.array([0]), np.array([0]), np.array([0])), 2)
