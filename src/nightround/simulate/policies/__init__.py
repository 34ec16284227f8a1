"""Policies for homes and orders against each other: rooms of the same true lives, counted by the same rules.

Nothing of the plans is imported here: a policy is handed in, and sees only the keeper's book.
"""

from nightround.simulate.policies.goods import PACKS, VESSELS, Pack, Vessel
from nightround.simulate.policies.naive import SameEveryWeek, WhenItLooksSmall
from nightround.simulate.policies.protocol import HomePolicy, Judge, Limits, MoveWanted, OrderPolicy, View
from nightround.simulate.policies.room import TrialRoom
from nightround.simulate.policies.shelves import Tally
from nightround.simulate.policies.trial import Shape, lives_of, naive, naive_fed, run_trial
from nightround.simulate.policies.tubs import Feeding

__all__ = [
    "PACKS", "VESSELS", "Feeding", "HomePolicy", "Judge", "Limits", "MoveWanted", "OrderPolicy", "Pack",
    "SameEveryWeek", "Shape", "Tally", "TrialRoom", "Vessel", "View", "WhenItLooksSmall", "lives_of", "naive",
    "naive_fed",     "run_trial",
]  # fmt: skip
