"""Lives and their faults, what is said of a few, and losses of batches."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.survival.counts import exact_interval, losses, together
from nightround.science.survival.data import ALIVE, DIED, LEFT, LOST, Lives, tally
from science.survival_data import lives_of

NAN = float("nan")


@pytest.mark.parametrize(
    ("entry", "left", "right", "told"),
    [
        (5.0, 4.0, np.inf, "not before the entry"),
        (0.0, 9.0, 8.0, "death not before"),
        (-1.0, 4.0, np.inf, "day 0 or later"),
        (0.0, NAN, np.inf, "numbers"),
        (0.0, 4.0, NAN, "numbers"),
        (np.inf, np.inf, np.inf, "numbers"),
    ],
)
def test_days_that_cannot_be_are_refused(entry: float, left: float, right: float, told: str) -> None:
    """The life at fault is named by its number and its days."""
    with pytest.raises(Refusal, match=told) as refused:
        Lives(np.array([0.0, entry]), np.array([1.0, left]), np.array([np.inf, right]))
    assert "life 1" in str(refused.value)


def test_fates_must_fit() -> None:
    """Alive with a day of death, died without one, unknown numbers, columns of other lengths: refused."""
    for right, fate in ((3.0, ALIVE), (np.inf, DIED), (np.inf, 7)):
        with pytest.raises(Refusal, match="fate"):
            Lives(np.zeros(1), np.array([2.0]), np.array([right]), np.array([fate]))
    with pytest.raises(Refusal, match="one length"):
        Lives(np.zeros(2), np.zeros(1), np.zeros(2))


def test_few_are_told_not_drawn() -> None:
    """Two animals: no curve, but how many are alive and how old the oldest of them is."""
    lives = Lives(
        np.array([0.0, 30.0]), np.array([400.0, 990.0]), np.full(2, np.inf), np.array([LEFT, ALIVE])
    )
    told = tally(lives)
    assert (2, 0, 1, 1, 0) == (told.n, told.deaths, told.alive, told.gone, told.lost)
    assert (990.0, 990.0, False) == (told.oldest_days, told.longest_days, told.enough)


def test_the_oldest_alive_is_not_the_longest_life() -> None:
    """One that died at 900 days and one lost at 700 are not alive: the oldest alive is 500 days old."""
    fate = np.array([DIED, LOST, ALIVE])
    lives = Lives(np.zeros(3), np.array([900.0, 700.0, 500.0]), np.array([900.0, np.inf, np.inf]), fate)
    told = tally(lives)
    assert (1, 1, 500.0, 900.0, True) == (
        told.alive,
        told.lost,
        told.oldest_days,
        told.longest_days,
        told.enough,
    )


def test_untold_fates_stay_untold() -> None:
    """Without fates nobody is said to be alive, and nobody to be gone."""
    told = tally(lives_of("0-10 0-20+ 0-30+"))
    assert (None, None, None, None) == (told.alive, told.gone, told.lost, told.oldest_days)
    nobody = tally(Lives(np.zeros(0), np.zeros(0), np.zeros(0)))
    assert (0, None, False) == (nobody.n, nobody.longest_days, nobody.enough)


def test_whole_days_spread_dated_deaths() -> None:
    """A death dated to day 5 lies in (5, 6]; others stay as they are."""
    lives = Lives(np.zeros(3), np.array([5.0, 3.0, 9.0]), np.array([5.0, 8.0, np.inf])).whole_days()
    assert [6.0, 8.0, np.inf] == lives.right_days.tolist()


# R 4.2.2: binom.test(k, n)$conf.int
@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (3, 17, 0.0379850680706, 0.4343178728443),
        (0, 12, 0.0, 0.264648469397),
        (41, 300, 0.0998912337164, 0.1808049248865),
    ],
)
def test_exact_intervals_are_rs(k: int, n: int, low: float, high: float) -> None:
    """Clopper and Pearson's limits as R gives them, to 1e-10."""
    told = exact_interval(np.array([float(k)]), np.array([float(n)]))
    assert (low, high) == pytest.approx((told[0][0], told[1][0]), abs=1e-10)


@settings(max_examples=60)
@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.01, 0.99))
def test_exact_intervals_hold_at_least_what_they_say(counts: tuple[int, int], share: float) -> None:
    """Of all counts that may come, those whose interval misses a true share weigh at most 5 %."""
    from scipy.stats import binom

    _, n = counts
    every = np.arange(n + 1, dtype=float)
    low, high = exact_interval(every, np.full(n + 1, float(n)))
    missed = (share < low) | (share > high)
    assert float(binom.pmf(every[missed], n, share).sum()) <= 0.05 + 1e-9


def test_a_batch_without_a_count_has_no_share() -> None:
    """Five found dead of an uncounted sac: no share, no interval; never five of five, never none."""
    told = losses(np.array([5.0, 5.0]), np.array([NAN, 50.0]))
    assert np.isnan([told.share_low[0], told.share_high[0], told.low[0], told.high[0]]).all()
    assert (0.1, 0.1) == (told.share_low[1], told.share_high[1])


def test_unknown_fates_make_a_range() -> None:
    """10 dead and 5 vanished of 40: 25 to 37.5 %, the interval from 10's lower to 15's upper end."""
    told = losses(np.array([10.0]), np.array([40.0]), np.array([5.0]))
    assert (0.25, 0.375) == (told.share_low[0], told.share_high[0])
    assert exact_interval(10.0, 40.0)[0] == told.low[0]
    assert exact_interval(15.0, 40.0)[1] == told.high[0]


def test_more_lost_than_there_were_is_refused() -> None:
    """The batch is named with its counts."""
    with pytest.raises(Refusal, match="batch 1: 3 lost and 2 unknown of 4"):
        losses(np.array([0.0, 3.0]), np.array([4.0, 4.0]), np.array([0.0, 2.0]))
    with pytest.raises(Refusal, match="0 or more"):
        losses(np.array([-1.0]), np.array([4.0]))


def test_batches_that_agree_are_as_one() -> None:
    """Four batches of 25 with 5 lost each: no spread, so the exact interval of 20 of 100."""
    told = together(losses(np.full(4, 5.0), np.full(4, 25.0)))
    assert (4, 100, 20, 1.0) == (told.batches, told.started, told.lost, told.design)
    assert (exact_interval(20.0, 100.0)[0], exact_interval(20.0, 100.0)[1]) == (told.low, told.high)


def test_batches_that_differ_widen_the_interval() -> None:
    """Batches of 25 losing 0, 20, 1 and 3 tell less than 100 independent animals: design effect by hand.

    p = 0.24; spread 4/3 · (36 + 196 + 25 + 9) = 354.67 over 100 · 0.24 · 0.76 = 18.24: 19.44.
    """
    told = together(losses(np.array([0.0, 20.0, 1.0, 3.0]), np.full(4, 25.0)))
    assert told.design is not None and told.low is not None and told.high is not None
    assert 4 / 3 * 266 / 18.24 == pytest.approx(told.design)
    assert told.low < exact_interval(24.0, 100.0)[0] and told.high > exact_interval(24.0, 100.0)[1]


def test_two_batches_have_no_common_interval() -> None:
    """Two batches, one of them uncounted beside: shares are told, the spread between batches cannot be."""
    told = together(losses(np.array([2.0, 4.0, 1.0]), np.array([20.0, 20.0, NAN])))
    assert (2, 1, 0.15, None, None) == (told.batches, told.uncounted, told.share_low, told.low, told.design)
    empty = together(losses(np.array([1.0]), np.array([NAN])))
    assert (0, 1, None, None) == (empty.batches, empty.uncounted, empty.share_low, empty.low)
