"""Claims against arrays: bets that a true claim does not lose, sizes with doubt, ages with late entry.

Sources: Ville's inequality and Slepian's (from memory, named in the modules) are the facts tested; the closed
form of the bet is the incomplete beta function of scipy.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from nightround.foundation.refusal import Refusal
from nightround.science.claims.bets import evidence, mixed, more_needed
from nightround.science.claims.sizes import chance_any_beyond, chance_beyond, reading_that_settles
from nightround.science.claims.waits import Waits, against_middle, against_range

YEAR = 365.25


@pytest.mark.parametrize(("outside", "inside"), [(0, 0), (0, 5), (1, 0), (3, 4), (20, 200), (0, 600)])
def test_the_bet_is_the_incomplete_beta_function(outside, inside):
    """The integral over p has a closed form where outcomes are known, of k outside and m inside."""
    b = 0.1
    x = np.concatenate([np.ones(outside), np.zeros(inside)])
    whole = special.betaln(outside + 1, inside + 1) + np.log(special.betaincc(outside + 1, inside + 1, b))
    exact = np.exp(whole - outside * np.log(b) - (inside + 1) * np.log1p(-b))
    assert pytest.approx(exact, rel=1e-9) == evidence(x, b)


def test_a_single_animal_outside_is_hardly_strain():
    """One outside a central 90 % range: 5.5 to 1; two: 37 to 1."""
    assert pytest.approx(5.5) == evidence([1.0], 0.1)
    assert pytest.approx(37.0) == evidence([1.0, 1.0], 0.1)
    assert 1.0 == pytest.approx(evidence([], 0.1))


@given(st.lists(st.sampled_from([0.0, 1.0]), max_size=9), st.sampled_from([0.1, 0.5]))
@settings(max_examples=30, deadline=None)
def test_a_bet_is_fair_where_the_claim_just_holds(start, b):
    """With exactly the share b outside, the mean of e after one more outcome is e before it."""
    later = b * evidence([*start, 1.0], b) + (1 - b) * evidence([*start, 0.0], b)
    assert pytest.approx(evidence(start, b), rel=1e-9) == later


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=12), st.integers(0, 11))
@settings(max_examples=30, deadline=None)
def test_an_open_outcome_never_makes_evidence(chances, at):
    """Taking any outcome from inside to outside never lowers e while others stay; order does not matter."""
    x = np.array(chances)
    with_more = x.copy()
    with_more[at % len(x)] = 1.0
    assert evidence(with_more, 0.1) >= evidence(x, 0.1) - 1e-9
    assert pytest.approx(evidence(x, 0.1)) == evidence(x[::-1], 0.1)


def test_how_many_more_are_needed_is_the_least_number():
    """more_needed is the first count at which e reaches 20, and None where none does."""
    seen = [0.0] * 6
    more = more_needed(seen, 0.1)
    assert more is not None
    assert evidence([*seen, *[1.0] * more], 0.1) >= 20 > evidence([*seen, *[1.0] * (more - 1)], 0.1)
    assert more_needed([0.0] * 500, 0.5, most=3) is None


def test_chances_that_are_none_are_refused():
    """A chance of 1.2 is not one."""
    with pytest.raises(Refusal):
        evidence([1.2], 0.1)


def test_all_young_and_alive_is_no_evidence_about_old_age():
    """Forty animals alive at one year say nothing of 12 to 20 years: both e stay from 0.5 to 1."""
    n = 40
    held = against_range(Waits(np.zeros(n), np.full(n, YEAR), np.full(n, np.inf)), 12 * YEAR, 20 * YEAR)
    assert 0.5 <= held.against <= 1.0
    assert 0.5 <= held.support <= 1.0
    assert n == held.open.sum()


def test_three_that_outlive_a_range_contradict_it():
    """Claimed 3 to 5 years; three watched from their first year are alive at six: e is beyond 20."""
    held = against_range(
        Waits(np.full(3, YEAR), np.full(3, 6 * YEAR), np.full(3, np.inf)), 3 * YEAR, 5 * YEAR
    )
    assert held.against > 20
    assert 3 == held.above.sum()


def test_animals_watched_too_late_do_not_speak():
    """Bought at four years and alive at six: of 3 to 5 years it says nothing, who died before is unknown."""
    held = against_range(Waits([4 * YEAR], [6 * YEAR], [np.inf]), 3 * YEAR, 5 * YEAR)
    assert 1.0 == pytest.approx(held.against)
    assert not held.counted.any()


def test_ages_inside_support_a_range():
    """Ten deaths between 3 and 5 years support 3 to 5 years, and contradict a middle of 8."""
    ages = np.linspace(3.2, 4.8, 10) * YEAR
    waits = Waits(np.zeros(10), ages, ages)
    held = against_range(waits, 3 * YEAR, 5 * YEAR)
    assert held.support > 20 > held.against
    assert against_middle(waits, 7.5 * YEAR, 8.5 * YEAR).against > 20


@pytest.mark.parametrize("shape", [0.7, 1.5, 6.0])
def test_a_true_range_of_ages_is_contradicted_in_at_most_one_room_in_twenty(shape):
    """Ville, watched: 100 rooms looked at twice a year for 10 years; late entry, sales.

    The claim is the exact central 90 % of a Weibull law; one in five leaves, the sicker the sooner.
    """
    rng = np.random.default_rng(11)
    law = stats.weibull_min(shape, scale=4 * YEAR)
    low, high = law.ppf(0.05), law.ppf(0.95)
    wrong = sum(_ever_contradicted(rng, law, low, high) for _ in range(100))
    assert wrong <= 0.05 * 100


def _ever_contradicted(rng, law, low, high):
    n = 12
    entry = rng.uniform(0, 2 * YEAR, n)
    death = law.ppf(law.cdf(entry) + rng.random(n) * law.sf(entry))
    leaves = np.where(rng.random(n) < 0.2, death - 30 * rng.random(n), np.inf)
    joined = rng.uniform(0, 4 * YEAR, n)
    for day in np.arange(1, 21) * YEAR / 2:
        here = joined <= day
        age = entry + day - joined
        without = np.maximum(np.minimum(np.minimum(age, death), leaves), entry)
        by = np.where((death <= age) & (death < leaves), death, np.inf)
        if against_range(Waits(entry[here], without[here], by[here]), low, high).against >= 20:
            return True
    return False


def test_the_chance_that_some_size_exceeds_agrees_with_draws():
    """Three animals with shared and own doubt: the integral equals 200,000 draws to 0.005."""
    mean, sd, shared = np.log([80.0, 85.0, 88.0]), np.array([0.06, 0.07, 0.05]), np.array([0.04, 0.03, 0.05])
    limit = np.log(90.0)
    rng = np.random.default_rng(3)
    z, own = rng.standard_normal((200_000, 1)), rng.standard_normal((200_000, 3))
    drawn = mean + shared * z + np.sqrt(sd**2 - shared**2) * own
    assert pytest.approx(float((drawn > limit).any(axis=1).mean()), abs=0.005) == chance_any_beyond(
        mean, sd, shared, limit
    )
    assert pytest.approx(float((drawn < limit).any(axis=1).mean()), abs=0.005) == chance_any_beyond(
        mean, sd, shared, limit, below=True
    )


def test_more_shared_doubt_never_raises_the_chance():
    """Slepian: the more is shared, the less the chance, down to the largest single one."""
    mean, sd, limit = np.log(np.full(6, 88.0)), np.full(6, 0.05), np.log(90.0)
    chances = [chance_any_beyond(mean, sd, share * sd, limit) for share in (0.0, 0.5, 0.9, 1.0)]
    assert sorted(chances, reverse=True) == chances
    assert pytest.approx(float(chance_beyond(mean, sd, limit).max()), abs=0.01) == chances[-1]
    assert 0.0 == chance_any_beyond(np.array([]), np.array([]), np.array([]), limit)


def test_many_measured_at_the_limit_do_not_contradict_it():
    """Thirty animals that all seem as large as a true maximum: never 0.99 where doubt is shared."""
    mean, sd = np.log(np.full(30, 90.0)), np.full(30, 0.1)
    assert chance_any_beyond(mean, sd, sd, np.log(90.0)) < 0.99


def test_the_reading_that_settles_is_beyond_the_limit_by_its_error():
    """With 10 % error a reading must be 26 % above the limit (2.33 sd, the normal law's 99 %)."""
    assert pytest.approx(100 * np.exp(0.233)) == reading_that_settles(100.0, 0.1)
    assert pytest.approx(0.99, abs=0.001) == stats.norm.cdf(2.33)


def test_bets_side_by_side_are_averaged():
    """The mean of two e."""
    assert 3.0 == mixed(1.0, 5.0)
