"""Feeders of the invented larder and which of them this keeper offers to a body of a given length."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Final


@dataclass(frozen=True)
class Feeder:
    """A feeder and its length [mm]. Fruit flies as measured in CHEN2014; the rest is common practice."""

    name: str
    size_mm: float


@dataclass(frozen=True)
class Prey:
    """What goes in tonight."""

    name: str
    size_mm: float
    number: int
    prekilled: bool


FEEDERS: Final = (
    Feeder("fruit fly", 2.6),
    Feeder("lateralis roach", 4.0),
    Feeder("cricket", 6.0),
    Feeder("lateralis roach", 9.0),
    Feeder("cricket", 13.0),
    Feeder("cricket", 20.0),
    Feeder("lateralis roach", 26.0),
)
LARGEST_SHARE: Final = 0.65
LIVE_SHARE: Final = 0.85


def choose_prey(rng: Random, body_mm: float) -> Prey:
    """Return the largest feeder within 0.65 body lengths, or one below; the smallest get it killed."""
    fitting = [feeder for feeder in FEEDERS if feeder.size_mm <= LARGEST_SHARE * body_mm]
    if not fitting:
        return Prey(
            FEEDERS[0].name, FEEDERS[0].size_mm, 1, FEEDERS[0].size_mm > LIVE_SHARE * body_mm or body_mm < 4
        )
    feeder = fitting[-1] if len(fitting) == 1 or rng.random() < 0.75 else fitting[-2]
    number = 1 if rng.random() < 0.6 else 2 if rng.random() < 0.8 else 3
    return Prey(feeder.name, feeder.size_mm, number, False)
