"""Which coefficients a fit has, and where each stands: built from the channels that have readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.size.data import Floats, Packed, SizeData
from nightround.science.size.priors import REFERENCE_LOG_MM, CoefficientPrior

CONSTANT, ANIMAL, FIRST_COEFFICIENT = 0, 1, 2


@dataclass(frozen=True, slots=True)
class ChannelLayout:
    """Columns of one channel in the extended vector (constant, animal, coefficients…); None: not there."""

    index: int
    part: str
    offset: int | None
    slope: int | None
    bias: int | None
    male_legs: int | None


@dataclass(frozen=True, slots=True)
class Layout:
    """Coefficients of the taxa in order, and the columns of start, step, decline and last steps."""

    coefficients: tuple[CoefficientPrior, ...]
    channels: tuple[ChannelLayout, ...]

    @property
    def width(self) -> int:
        """Length of the extended vector."""
        return FIRST_COEFFICIENT + len(self.coefficients)

    def column(self, name: str) -> int | None:
        """Return the column of a coefficient, None when the fit has none of that name."""
        for index, coefficient in enumerate(self.coefficients):
            if coefficient.name == name:
                return FIRST_COEFFICIENT + index
        return None

    def must(self, name: str) -> int:
        """Return the column of a coefficient that every fit has."""
        column = self.column(name)
        if column is None:
            raise KeyError(name)
        return column

    def array(self, field: str) -> Floats:
        """Return one number of every coefficient's prior, (p,)."""
        return np.array([getattr(coefficient, field) for coefficient in self.coefficients])


def lay_out(data: SizeData, packed: Packed) -> Layout:
    """List the coefficients needed: the staircase's own, then offset, slope and bias of what was measured."""
    priors = data.priors
    chosen: dict[str, CoefficientPrior] = {c.name: c for c in priors.coefficients if c.name != "male_legs"}
    rows: list[tuple[int, str, str | None, str | None, str | None, str | None]] = []
    for position, index in enumerate(packed.channels):
        channel = priors.channels[index]
        part = priors.part(channel.part)
        legs = None
        if part.name == "leg_span" and np.any(packed.mature_male & (packed.weight[position] > 0)):
            legs = "male_legs"
            chosen[legs] = next(c for c in priors.coefficients if c.name == legs)
        for prior in (part.offset, part.slope, channel.bias):
            if prior is not None:
                chosen[prior.name] = prior
        rows.append((index, part.name, _name(part.offset), _name(part.slope), _name(channel.bias), legs))
    layout = Layout(tuple(chosen.values()), ())
    channels = tuple(
        ChannelLayout(index, part, *(None if name is None else layout.must(name) for name in names))
        for index, part, *names in rows
    )
    return Layout(layout.coefficients, channels)


def _name(prior: CoefficientPrior | None) -> str | None:
    return None if prior is None else prior.name


__all__ = [
    "ANIMAL",
    "CONSTANT",
    "FIRST_COEFFICIENT",
    "REFERENCE_LOG_MM",
    "ChannelLayout",
    "Layout",
    "lay_out",
]
