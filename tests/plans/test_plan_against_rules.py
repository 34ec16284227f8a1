"""The plans against naive rules in invented rooms: counted by the same rules, blind to the truth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest

from benchmarks import trial_plans
from benchmarks.plan_against_rules import PLAN, ROWS, RULES, Result, gap_words, run_room, table
from benchmarks.trial_judge import FitJudge
from benchmarks.trial_plans import planned
from nightround.plans.rules_table import RULES as TRADE
from nightround.simulate.policies import VESSELS, Feeding, MoveWanted, Shape, TrialRoom, View, lives_of
from nightround.simulate.policies.goods import PILE_OF, PILE_OF_HABIT
from nightround.simulate.policies.naive import filled_mm

SMALL = Shape(animals=6, warm_up_weeks=30, weeks=12)


@pytest.fixture(scope="module")
def judge() -> FitJudge:
    """The program's rules without any overrule."""
    return FitJudge()


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short searches: small rooms need no more."""
    monkeypatch.setattr(trial_plans, "HOMES_SECONDS", 1.0)
    monkeypatch.setattr(trial_plans, "LARDER_SECONDS", 0.5)
    monkeypatch.setattr(trial_plans, "HOMES_MONTHS", 6)


def test_the_judge_is_the_rules_of_fit(judge: FitJudge) -> None:
    """A floor of two leg spans fits and less does not; a deep fall is no home for a heavy ground dweller."""
    heavy, climber = "Grammostola pulchripes", "Caribena versicolor"
    box = VESSELS["low 200"]
    limits = judge.limits(heavy, box, 70.0)
    assert limits.high_mm == pytest.approx(min(150.0 / 2, 70.0))
    assert limits.fits(60.0, 10.0)
    assert not limits.fits(80.0, 13.0)
    assert not judge.limits(heavy, VESSELS["tall 400"], 60.0).fits(60.0, 10.0)
    assert judge.limits(climber, VESSELS["tall 400"], 60.0).fits(60.0, 10.0)
    assert not limits.fits(60.0, 2.0)


def test_every_taxon_of_the_trial_has_a_home_for_every_size(judge: FitJudge) -> None:
    """Misfit is never for want of a home: at each span some vessel of the pile fits as a keeper fills it."""
    for taxon, habit in judge.habits.items():
        pile = PILE_OF[PILE_OF_HABIT[habit]]
        for span in (12.0, 20.0, 30.0, 45.0, 60.0, 75.0, 95.0):
            depths = [(vessel, filled_mm(judge, taxon, habit, vessel, span)) for vessel in pile]
            fitting = [
                vessel
                for vessel, depth in depths
                if judge.limits(taxon, vessel, depth).fits(span, span / 6.0)
            ]
            assert fitting, (taxon, span)


def test_feeding_is_by_the_rules_of_the_table(judge: FitJudge) -> None:
    """The trial keeper's defaults are the defaults of the trade's rules, so that tests of either agree."""
    assert judge.feeding() == Feeding()
    assert TRADE["prey_of_body"].default == "0.5"


class Asks:
    """Asks the plans once, with eyes shut, and does nothing."""

    def __init__(self, judge: FitJudge) -> None:
        self.plans = planned(judge)
        self.answers: list[object] = []

    def moves(self, view: View) -> Sequence[MoveWanted]:
        """The plan's moves are kept, nobody is moved."""

        def shut(code: str) -> float:
            raise AssertionError(f"the plan looked at {code}")

        blind = replace(view, seems_mm=shut, lives_in={}, since={}, used={}, stock={})
        self.answers.append(self.plans.homes.moves(blind))
        self.answers.append(self.plans.homes.buys(blind))
        return []

    def buys(self, view: View) -> Mapping[str, int]:
        """None."""
        return {}

    def orders(self, view: View) -> Mapping[str, int]:
        """The plan's orders are kept, none is sent."""
        self.answers.append(dict(self.plans.orders.orders(replace(view, used={}, stock={}))))
        return {}


def test_plans_are_blind_to_the_truth(judge: FitJudge, quick: None) -> None:
    """Two rooms with the same book and other lives to come get the same plans; nothing else is looked at."""
    seed, warm_up = 3, 7 * SMALL.warm_up_weeks
    lives = lives_of(seed, SMALL)
    later = lives.carapace_mm.copy()
    later[:, warm_up + 7 :] *= 1.5
    answers = []
    for truth in (lives, replace(lives, carapace_mm=later)):
        room = TrialRoom(seed, truth, judge, warm_up=warm_up)
        room.warm()
        asks = Asks(judge)
        room.run(warm_up + 7, asks, asks)
        answers.append(asks.answers)
    assert answers[0] == answers[1]
    assert len(answers[0]) == 3


def _better(results: Sequence[Result], key: str) -> float:
    """By how much less the plans have of something, over all rooms."""
    return sum(result.tallies[RULES][key] - result.tallies[PLAN][key] for result in results)


def test_two_small_rooms_are_planned_better_than_by_rules(judge: FitJudge, quick: None) -> None:
    """Fewer weeks in homes that do not fit; feeders balance; a gap of every plan is told."""
    results = [run_room(seed, SMALL, judge, planned(judge)) for seed in (1, 2)]
    assert _better(results, "misfit_weeks") > 0
    for result in results:
        for tally in result.tallies.values():
            assert tally["start"] + tally["bought"] == tally["fed"] + tally["wasted"]
        same = {result.tallies[name]["animal_weeks"] for name in (PLAN, RULES)}
        assert len(same) == 1
        assert len(result.gaps["homes"]) == SMALL.weeks // 4
        assert len(result.gaps["orders"]) == SMALL.weeks // 2
        assert all(gap >= 0.0 for gaps in result.gaps.values() for gap in gaps)
    told = table(results)
    assert f"| {ROWS[0].words} |" in told
    assert len(told.splitlines()) == len(ROWS) + 2
    assert "homes: 6 plans" in gap_words(results)


@pytest.mark.long
def test_eight_rooms_are_planned_better_than_by_rules(judge: FitJudge) -> None:
    """Over half a year of eight rooms: less misfit, less waste and less money for feeders than by rules."""
    shape = Shape(animals=12, weeks=26)
    results = [run_room(seed, shape, judge, planned(judge)) for seed in range(101, 109)]
    for key in ("misfit_weeks", "wasted", "feeders_cost"):
        assert _better(results, key) > 0, key
