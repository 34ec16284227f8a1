"""One room under several policies: the same seed, lives and warm-up, one tally each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from nightround.simulate.policies.lives import TrueLives, draw_lives
from nightround.simulate.policies.naive import SameEveryWeek, WhenItLooksSmall
from nightround.simulate.policies.protocol import HomePolicy, Judge, OrderPolicy
from nightround.simulate.policies.room import WEEK, TrialRoom
from nightround.simulate.policies.shelves import Tally, mean_by_name
from nightround.simulate.policies.tubs import Feeding

FIRST: Final = date(2023, 9, 4)
"""A Monday."""
WARM_UP_WEEKS: Final = 52
TRIAL_WEEKS: Final = 78

MakePolicies = Callable[[TrialRoom, Mapping[str, float]], tuple[HomePolicy, OrderPolicy]]
"""Makes the two policies of a run from the room after its warm-up and the mean weekly use by pack."""


@dataclass(frozen=True)
class Shape:
    """How large a trial is."""

    animals: int = 20
    warm_up_weeks: int = WARM_UP_WEEKS
    weeks: int = TRIAL_WEEKS

    @property
    def days(self) -> int:
        """All days of a run."""
        return WEEK * (self.warm_up_weeks + self.weeks)


def lives_of(seed: int, shape: Shape) -> TrueLives:
    """The true lives of a seed."""
    return draw_lives(seed, shape.animals, FIRST, shape.days, WEEK * shape.warm_up_weeks)


def naive(room: TrialRoom, mean_use: Mapping[str, float]) -> tuple[HomePolicy, OrderPolicy]:
    """Rehouse when it looks small, and the same order every week."""
    return WhenItLooksSmall(room.judge), SameEveryWeek(mean_use)


def naive_fed(room: TrialRoom, mean_use: Mapping[str, float]) -> tuple[HomePolicy, OrderPolicy]:
    """The same, but the standing order makes up for what was fed only, not for what died in the tubs."""
    return WhenItLooksSmall(room.judge), SameEveryWeek(mean_by_name(room.early_fed))


def run_trial(
    seed: int,
    lives: TrueLives,
    judge: Judge,
    make: MakePolicies,
    shape: Shape,
    feeding: Feeding | None = None,
) -> Tally:
    """Run one room under one pair of policies and return what was counted from the trial's first day on."""
    room = TrialRoom(seed, lives, judge, warm_up=WEEK * shape.warm_up_weeks, feeding=feeding)
    mean_use = room.warm()
    homes, orders = make(room, mean_use)
    room.run(shape.days, homes, orders)
    return room.close()
