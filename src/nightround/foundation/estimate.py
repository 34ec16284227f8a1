"""An estimate: the only form in which a computed number reaches a page."""

from __future__ import annotations

from dataclasses import dataclass

from nightround.foundation.sources import Source


@dataclass(frozen=True)
class Estimate:
    """A value with its doubt and what it rests on.

    value, low, high   in `unit`; low..high holds the truth with probability `level`
    n_animals, n_observations   what it rests on (0 means: published prior only)
    """

    value: float
    low: float
    high: float
    unit: str
    n_animals: int
    n_observations: int
    method: str
    level: float = 0.8
    sources: tuple[Source, ...] = ()
    assumptions: tuple[str, ...] = ()
