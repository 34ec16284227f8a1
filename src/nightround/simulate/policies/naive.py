"""The naive rules that plans are held against, and the keeper of the warm-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from nightround.simulate.homes import DEPTH_SHARE
from nightround.simulate.policies.goods import PACKS, PILE_OF, PILE_OF_HABIT, Vessel
from nightround.simulate.policies.protocol import Judge, MoveWanted, View
from nightround.simulate.taxa import Habit

SMALL_SPANS: Final = 2.0
EVERY_WEEKS: Final = 4
SETTLE_DAYS: Final = 14


def filled_mm(judge: Judge, taxon: str, habit: Habit, vessel: Vessel, span_mm: float) -> float:
    """How deep a keeper fills a vessel for an animal of that span: by the rules of fit where they can be met.

    Room to grow first: for twice, then for one and a half times the span, then for tonight's.
    """
    for growth in (2.0, 1.5, 1.2, 1.0):
        depth = judge.depth_mm(taxon, vessel, span_mm, growth * span_mm)
        if depth is not None:
            return depth
    return DEPTH_SHARE[habit] * vessel.size.height_mm


class WhenItLooksSmall:
    """Every four weeks: a home that looks under two leg spans gives way to the next size up of its pile."""

    def __init__(self, judge: Judge) -> None:
        self.judge = judge

    def moves(self, view: View) -> Sequence[MoveWanted]:
        """The next size up for each that looks cramped, seen through the wall with an error."""
        if view.week % EVERY_WEEKS:
            return []
        found = []
        for code, (taxon, habit) in view.living.items():
            vessel, seems = view.lives_in[code], view.seems_mm(code)
            pile = PILE_OF[PILE_OF_HABIT[habit]]
            larger = [each for each in pile if each.floor_mm > vessel.floor_mm]
            settled = view.since[code] >= SETTLE_DAYS and code not in view.pending
            if vessel.floor_mm < SMALL_SPANS * seems and larger and settled:
                depth = filled_mm(self.judge, taxon, habit, larger[0], seems)
                found.append(MoveWanted(code, larger[0].name, depth))
        return found

    def buys(self, view: View) -> Mapping[str, int]:
        """Nothing ahead: a home is bought when it is wanted, and is there at once."""
        return {}


def first_home(judge: Judge, taxon: str, habit: Habit, span_mm: float) -> MoveWanted:
    """The home of a newcomer: the smallest of its pile of two and a half spans, as the keeper fills it."""
    pile = PILE_OF[PILE_OF_HABIT[habit]]
    vessel = next((each for each in pile if each.floor_mm >= 2.5 * span_mm), pile[-1])
    return MoveWanted("", vessel.name, filled_mm(judge, taxon, habit, vessel, span_mm))


class Restock:
    """The keeper of the warm-up: a pack of whatever is down to half a pack."""

    def orders(self, view: View) -> Mapping[str, int]:
        """One pack of each that runs low."""
        return {name: 1 for name, pack in PACKS.items() if 2 * view.stock.get(name, 0) < pack.number}


class SameEveryWeek:
    """A standing order: each week what the first eight weeks used up a week, carried over to whole packs.

    A pack is ordered whenever the mean use since the last one has added up to a pack.
    """

    def __init__(self, mean_use: Mapping[str, float]) -> None:
        self.mean_use = dict(mean_use)
        # Half a pack: the first of each is not a whole rhythm late.
        self.owed = {name: 0.5 * PACKS[name].number for name in self.mean_use}

    def orders(self, view: View) -> Mapping[str, int]:
        """Whole packs that the rhythm asks for tonight."""
        found = {}
        for name, mean in self.mean_use.items():
            self.owed[name] += mean
            packs = int(self.owed[name] // PACKS[name].number)
            self.owed[name] -= packs * PACKS[name].number
            if packs:
                found[name] = packs
        return found
