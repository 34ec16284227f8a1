"""How big an animal is tonight, for choosing prey, days and homes: unknown stays unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from nightround.foundation.estimate import Estimate
from nightround.plans.words import count
from nightround.record.model import Animal, Measurement
from nightround.reports.size import SizeReport

Stage = Literal["sling", "juvenile", "adult", "unknown"]
SizeClass = Literal["sling", "small", "medium", "large", "unknown"]

# From memory, wide on purpose: leg span in carapace lengths, and in body lengths (low, middle, high).
SPAN_OF_CARAPACE = (3.5, 4.5, 6.0)
_SPAN_OF_BODY = (1.8, 2.4, 3.2)
_READING_ERROR = 0.1
_LARGEST_STEP = 1.6  # of one moult; published ratios reach 1.57


@dataclass(frozen=True, slots=True)
class Span:
    """A length in mm with the ends of its doubt."""

    low: float
    value: float
    high: float

    def times(self, factors: tuple[float, float, float]) -> Span:
        """Return the length scaled by a wide factor."""
        return Span(self.low * factors[0], self.value * factors[1], self.high * factors[2])


@dataclass(frozen=True, slots=True)
class Size:
    """Lengths in mm, None where nothing rests on a reading of this animal. `basis` says what they rest on."""

    leg_span: Span | None = None
    body: Span | None = None
    carapace: Span | None = None
    basis: str = "no size on record"

    @property
    def known(self) -> bool:
        """Whether anything is known."""
        return self.leg_span is not None or self.body is not None or self.carapace is not None

    @property
    def span_or_guess(self) -> Span | None:
        """The leg span, or a wide one worked out from carapace or body."""
        if self.leg_span is not None:
            return self.leg_span
        if self.carapace is not None:
            return self.carapace.times(SPAN_OF_CARAPACE)
        return self.body.times(_SPAN_OF_BODY) if self.body is not None else None


UNKNOWN_SIZE = Size()


def size_of(animal: Animal, report: SizeReport | None) -> Size:
    """Return the size from the fitted staircase, else from the animal's own readings, else unknown.

    An estimate that no reading of this animal stands behind counts as unknown.
    """
    if report is not None and report.readings:
        size = Size(
            _span(report.leg_span_now), _span(report.body_now), _span(report.carapace_now),
            f"{count(len(report.readings), 'reading')} of this animal",
        )  # fmt: skip
        if size.known:
            return _plausible(size)
    return _plausible(_from_readings(animal))


def _plausible(size: Size) -> Size:
    """Drop a body length that is not longer than the carapace: one is wrong, and the carapace is firm."""
    if size.body is None or size.carapace is None or size.body.value > size.carapace.value:
        return size
    return replace(size, body=None)


def _span(estimate: Estimate | None) -> Span | None:
    if estimate is None or estimate.unit != "mm":
        return None
    return Span(estimate.low, estimate.value, estimate.high)


def _from_readings(animal: Animal) -> Size:
    latest: dict[str, Measurement] = {}
    for reading in animal.measurements:
        if reading.unit == "mm" and reading.value > 0:
            latest[reading.item] = reading
    if not latest:
        return UNKNOWN_SIZE
    found = {item: _grown(animal, reading) for item, reading in latest.items()}
    size = Size(
        found.get("leg_span"), found.get("body_length"), found.get("carapace_length"),
        "its last reading, not a fit",
    )  # fmt: skip
    return size if size.known else UNKNOWN_SIZE


def _grown(animal: Animal, reading: Measurement) -> Span:
    """Widen a reading upward by the moults since: it may have grown, it cannot have shrunk."""
    moults = 1 if reading.on == "shed_skin" else 0
    if reading.when.last is not None:
        days = [moult.when.last for moult in animal.moults if moult.when.last is not None]
        moults += sum(1 for day in days if day > reading.when.last)
    high = reading.value * (1 + _READING_ERROR) * _LARGEST_STEP**moults
    return Span(reading.value * (1 - _READING_ERROR), reading.value, high)
