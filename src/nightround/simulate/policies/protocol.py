"""What a policy sees and says. Nothing true comes in here but what a keeper's eye shows, with its error."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from nightround.record.model import Record
from nightround.simulate.policies.goods import Vessel
from nightround.simulate.taxa import Habit


@dataclass(frozen=True)
class Limits:
    """Leg spans [mm] that a home fits, and the carapace length [mm] up to which an animal may leave it."""

    low_mm: float
    high_mm: float
    escape_carapace_mm: float = 0.0

    def fits(self, span_mm: float, carapace_mm: float) -> bool:
        """Whether an animal of that size fits and stays."""
        return self.low_mm <= span_mm <= self.high_mm and carapace_mm > self.escape_carapace_mm


class Judge(Protocol):
    """The rules of fit, handed in: the same for every policy and for the counting."""

    def limits(self, taxon: str, vessel: Vessel, depth_mm: float) -> Limits:
        """Which animals of a taxon a vessel fits when it is filled so deep."""

    def depth_mm(self, taxon: str, vessel: Vessel, low_span_mm: float, high_span_mm: float) -> float | None:
        """The least depth at which the height fits those spans, None when none does."""


@dataclass(frozen=True)
class MoveWanted:
    """Move an animal into a free vessel of that name, or a new one, filled so deep."""

    animal: str
    vessel: str
    depth_mm: float


@dataclass(frozen=True)
class View:
    """What is known on the evening that a policy is asked.

    record     folds what was written up to tonight, once
    living     codes of the animals here, with their habit and taxon
    lives_in   vessel of each living animal; since: days since it was moved into it or came
    pending    moves wanted earlier that have waited for a moult
    seems_mm   the leg span as it seems to the keeper's eye, wrong by chance
    used       feeders that left the tubs in the last seven days, fed or found dead, by pack name
    stock      feeders in the house by pack name, as the keeper would count them
    """

    on: date
    week: int
    record: Callable[[], Record]
    living: Mapping[str, tuple[str, Habit]]
    lives_in: Mapping[str, Vessel]
    since: Mapping[str, int]
    homes: Mapping[str, str]
    pending: frozenset[str]
    seems_mm: Callable[[str], float]
    used: Mapping[str, float]
    stock: Mapping[str, int]


class HomePolicy(Protocol):
    """Asked every two weeks which animals to move."""

    def moves(self, view: View) -> Sequence[MoveWanted]:
        """The moves to do from tonight on, each when the animal is calm."""

    def buys(self, view: View) -> Mapping[str, int]:
        """Homes to buy ahead by name, asked after the moves; what a move lacks is bought for it anyway."""


class OrderPolicy(Protocol):
    """Asked every Sunday what to order."""

    def orders(self, view: View) -> Mapping[str, int]:
        """Packs by name."""
