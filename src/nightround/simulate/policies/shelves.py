"""What stands on the shelves of a trial room, and what is counted of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from nightround.simulate.policies.goods import VESSELS, Vessel


@dataclass
class Tally:
    """What is counted from the first day of the trial on."""

    animal_days: int = 0
    moves: int = 0
    waited_days: int = 0
    animal_weeks: int = 0
    misfit_weeks: int = 0
    small_weeks: int = 0
    large_weeks: int = 0
    gap_weeks: int = 0
    due_days: int = 0
    shortage_days: int = 0
    meals: int = 0
    cut_meals: int = 0
    homes_bought: int = 0
    homes_cost: float = 0.0
    packs: int = 0
    feeders_cost: float = 0.0
    start: int = 0
    bought: int = 0
    fed: int = 0
    wasted: int = 0
    left: int = 0


@dataclass
class Dweller:
    """What stands of one animal on the shelves. Days are columns."""

    code: str
    home: str = ""
    moved: int = 0
    next_meal: int = 0
    last_look: int = 0
    last_span: int = -(10**6)
    moults_found: int = 0
    mature_noted: bool = False


@dataclass
class Homes:
    """Physical vessels: which home code is which vessel, filled how deep, and which are free."""

    vessel: dict[str, Vessel] = field(default_factory=dict)
    depth_mm: dict[str, float] = field(default_factory=dict)
    free: dict[str, list[str]] = field(default_factory=dict)

    def take(self, name: str) -> tuple[str, bool]:
        """A home of that vessel: a free one, else a new one (True)."""
        waiting = self.free.get(name, [])
        if waiting:
            return waiting.pop(0), False
        return self.buy(name), True

    def buy(self, name: str) -> str:
        """One more, empty."""
        code = f"H{len(self.vessel) + 1:03d}"
        self.vessel[code] = VESSELS[name]
        return code

    def leave(self, code: str) -> None:
        """It is empty and washed."""
        if code:
            self.free.setdefault(self.vessel[code].name, []).append(code)


def mean_by_name(weeks: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Mean a week of each name; a week without it counts as none."""
    names = sorted({name for week in weeks for name in week})
    return {name: sum(week.get(name, 0.0) for week in weeks) / len(weeks) for name in names}
