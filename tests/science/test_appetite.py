"""Appetite as evidence about the next moult: what it is worth, what it costs, and what it must never do."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.appetite_brier import GRID, SCENES, after_refusals, change_percent, room_odds, run
from nightround.science.appetite.chain import chances, fasting, inputs_of, not_begun, outcome_likelihood
from nightround.science.appetite.data import NO_OFFER, NOT_TAKEN, TAKEN, AppetiteData
from nightround.science.appetite.evidence import evidence
from nightround.science.appetite.fit import fit_appetite, prior_fit
from nightround.science.appetite.likelihood import likelihood, ready
from nightround.science.appetite.priors import PARAMETER_NAMES, parameter_mean, parameter_sd
from nightround.science.appetite.simulate import Scene, appetite_room
from nightround.science.appetite.tilt import middles, quantiles, tilted


@pytest.fixture(scope="module")
def room():
    """One invented room with premoult fasting, fasts of another cause, and signs."""
    return appetite_room(np.random.default_rng(7), Scene(animals=80, fast_share=0.15, signs=0.3))


def after(room, now):
    """The tilted distribution of remaining days, and what the evidence says."""
    lengths = now.elapsed_now[:, None] + middles(GRID)
    says = evidence(prior_fit(room.scene.taxa), now, lengths)
    return tilted(room.cumulative(GRID), says.log_likelihood), says


def test_premoult_fasting_sharpens_the_odds():
    """Weekly offers and premoult fasting: the 14-day Brier score improves by at least 10 %."""
    _, _, change, _ = change_percent(run(SCENES["premoult fasting, no other"], 10, seed=1))
    assert change <= -10.0


def some_setting(rng, taxa):
    """Parameters and taxon effects half a prior sd from the prior's middle."""
    values = parameter_mean() + 0.5 * parameter_sd() * rng.normal(size=len(PARAMETER_NAMES))
    return values, 0.3 * rng.normal(size=taxa)


def test_the_slope_is_that_of_the_likelihood(room):
    """The gradient from one pass each way equals central differences of the log likelihood."""
    given = ready(room.past)
    values, effect = some_setting(np.random.default_rng(3), room.scene.taxa)
    _, by_value, by_taxon = likelihood(given, values, effect)
    step = 1e-5
    for place, slope in enumerate(by_value):
        moved = step * np.eye(values.size)[place]
        ends = [likelihood(given, values + sign * moved, effect)[0] for sign in (1, -1)]
        assert (ends[0] - ends[1]) / (2 * step) == pytest.approx(slope, rel=1e-4, abs=1e-3)
    for place, slope in enumerate(by_taxon):
        moved = step * np.eye(effect.size)[place]
        ends = [likelihood(given, values, effect + sign * moved)[0] for sign in (1, -1)]
        assert (ends[0] - ends[1]) / (2 * step) == pytest.approx(slope, rel=1e-4, abs=1e-3)


def test_the_likelihood_is_the_sum_over_every_hidden_course(room):
    """Four moments of one interval: the forward pass equals the sum over all 16 fasts and all 5 onsets."""
    courses = room.past.courses
    row = int(np.flatnonzero(np.bincount(courses.row) == 4)[0])
    one = AppetiteData(courses.only(np.arange(courses.count) == row), room.past.length[[row]], room.past.taxa)
    values, effect = some_setting(np.random.default_rng(4), room.scene.taxa)
    seen = outcome_likelihood(
        chances(values, effect, one.courses, inputs_of(one.courses)), one.courses.outcome
    )
    alive = np.concatenate([[1.0], not_begun(values, one.courses.elapsed / one.length[0])])
    chain = fasting(values)
    turns = chain.step(np.diff(one.courses.day))
    total = 0.0
    for fasts in itertools.product((0, 1), repeat=4):
        path = (1.0 - chain.share, chain.share)[fasts[0]]
        path *= np.prod([turn[a, b] for turn, a, b in zip(turns, fasts, fasts[1:], strict=False)])
        for onset in range(5):
            begins = alive[onset] - alive[onset + 1] if onset < 4 else alive[4]
            total += path * begins * np.prod([seen[k, int(k >= onset), fasts[k]] for k in range(4)])
    assert np.log(total) == pytest.approx(likelihood(ready(one), values, effect)[0], abs=1e-9)


@pytest.mark.parametrize("scene", [name for name in SCENES if name.startswith("fasts") and "%" in name])
def test_fasts_of_another_cause_cost_little(scene):
    """Fasts that have nothing to do with moulting cost at most 1 %; long refusals promise no moult."""
    rooms = run(SCENES[scene], 10, seed=1)
    _, _, change, _ = change_percent(rooms)
    _, said, happened, count = after_refusals(rooms)
    assert change <= 1.0
    assert count > 10
    # With so few animals chance alone moves the share: two standard errors beside the 0.05.
    assert said - happened <= 0.05 + 2.0 * np.sqrt(said * (1.0 - said) / count)


@pytest.mark.parametrize(("premoult", "low", "high"), [("stage", 0.0, 0.02), ("none", 0.6, 1.0)])
def test_a_young_room_finds_out_whether_premoult_shows_in_its_offers(premoult, low, high):
    """Four months of 60 animals: the chance that refusals have nothing to do with moulting moves off 0.3."""
    scene = Scene(animals=60, history_days=120, premoult=premoult, fast_share=0.15)
    found = [fit_appetite(appetite_room(np.random.default_rng([5, n]), scene).past).unshown for n in range(3)]
    assert low <= np.mean(found) <= high
    assert prior_fit(3).unshown == pytest.approx(0.3)


def test_a_young_room_pays_little_for_fasts_of_another_cause():
    """Four months of 60 animals that fast without moulting: 0.1 % a worse Brier; 1 % is the most."""
    _, _, change, _ = change_percent(run(SCENES["young room: fasts 15 %, no premoult"], 30, seed=1))
    assert change <= 1.0


def test_no_offers_leave_the_forecast_exactly_alone(room):
    """Looks and offers without a known outcome and without signs leave the forecast where it was."""
    courses = room.now.courses
    silent = replace(
        courses, outcome=np.full_like(courses.outcome, NO_OFFER), signs=np.zeros_like(courses.signs)
    )
    cumulative, _ = after(room, replace(room.now, courses=silent))
    assert np.abs(room.cumulative(GRID) - cumulative).max() < 1e-12


def test_refusals_late_never_push_the_moult_away(room):
    """Turning the last taken meal of late animals into a refusal never makes a near moult less likely."""
    now = room.now
    courses = now.courses
    last = np.array([np.flatnonzero(courses.row == row)[-1] for row in np.unique(courses.row)])
    phase = courses.elapsed[last] / np.exp(room.log_middle[courses.row[last]])
    late = last[(phase > 0.9) & (courses.outcome[last] == TAKEN)]
    outcome = courses.outcome.copy()
    outcome[late] = NOT_TAKEN
    refused, _ = after(room, replace(now, courses=replace(courses, outcome=outcome)))
    taken, _ = after(room, now)
    rows = courses.row[late]
    assert rows.size
    at = int(np.searchsorted(GRID, 30))
    assert np.all(refused[rows, at] >= taken[rows, at] - 1e-9)


def test_odds_stay_odds(room):
    """Whatever the evidence, the distribution rises from 0 to at most 1 and its quantiles are in order."""
    cumulative, says = after(room, room.now)
    assert np.all(np.diff(cumulative, axis=1) >= -1e-12)
    assert np.all((cumulative >= 0.0) & (cumulative <= 1.0))
    assert np.all((says.in_premoult >= 0.0) & (says.in_premoult <= 1.0))
    days = quantiles(GRID, cumulative, np.array([0.1, 0.5, 0.9]))
    assert np.all(np.diff(days, axis=1)[~np.isnan(days).any(axis=1)] >= 0.0)


def test_one_room_is_scored_whole(room):
    """Every animal of a room has odds before and after, and what happened."""
    odds = room_odds(room, prior_fit(room.scene.taxa))
    assert room.now.elapsed_now.size == odds.without.size == odds.with_it.size == odds.happened.size
