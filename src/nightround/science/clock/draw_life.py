"""One animal's history in a drawn room, by the rules that the likelihood goes by.

What a keeper does (how late a moult is found, how far an arrival is into its interval) follows what is on
record so far, never what is true: otherwise the keeping itself would tell of the hyperparameters.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from nightround.science.clock import sites
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.propagate import Hyper
from nightround.science.thermal import FloatArray

# How an animal comes: watched from a moult on, its last moult known, or nothing known.
WATCHED, KNOWN, UNKNOWN = 0, 1, 2
_SHARES: Final = (0.4, 0.3, 0.3)
# What a keeper takes an interval to last, in days, before the taxon has any on record.
_FIRST_USUAL_DAYS: Final = 16.0
_MOST_MOULTS: Final = 1000

Window = tuple[int, int]
NO_WINDOW: Final[Window] = (NO_DAY, NO_DAY)


class TooFast(Exception):
    """Moults closer than the shape allows, or one before the last was found: drawn again."""


@dataclass(frozen=True)
class RoomShape:
    """How large a drawn room is and how it is kept.

    new_taxa        taxa more, each with one animal that came in the last `new_days` days
    late_share      share of moults found late, by up to `late_days` days
    missing_share   share of each place's days without a reading: a gap's doubt is modest by design
    growth          log size gained at each moult. Fast taxa are then recorded at larger sizes, while the
                    likelihood takes the mean size of a taxon as given; 0 keeps to that exactly
    least_days      rooms with intervals on record shorter than this are drawn again
    true_q10        overrides the drawn Q10 when positive (to break the model on purpose)
    season          multiplies lengths by 1 +- season over the year (a break)
    unrecorded      extra share of moults that nobody wrote down (a break)
    heavy_tails     residuals from a t with 3 degrees of freedom (a break)
    """

    groups: int = 2
    taxa: int = 5
    animals: int = 40
    new_taxa: int = 0
    new_days: int = 10
    places: int = 3
    record_days: int = 900
    unread_share: float = 0.15
    late_share: float = 0.15
    late_days: int = 14
    missing_share: float = 0.05
    expectation_spread_c: float = 0.7
    growth: float = 0.2
    least_days: int = 2
    true_q10: float = 0.0
    season: float = 0.0
    unrecorded: float = 0.0
    heavy_tails: bool = False


@dataclass(frozen=True)
class World:
    """What is true in one drawn room.

    clock [P, T + 1]   warmth by place before each day of the record
    recorded           lengths in days on record so far, by taxon (grows while the room is drawn)
    """

    shape: RoomShape
    hyper: Hyper
    fixed: FloatArray
    covariate: FloatArray
    taxon_effect: FloatArray
    taxon_slope: FloatArray
    taxon_size: FloatArray
    clock: FloatArray
    begin: int
    on: int
    recorded: dict[int, list[int]] = field(default_factory=dict)

    def usual_days(self, taxon: int) -> float:
        """The median length on record, of this taxon."""
        seen = self.recorded.get(taxon)
        return float(np.median(seen)) if seen else _FIRST_USUAL_DAYS


@dataclass(frozen=True)
class Row:
    """One interval: windows of its moults in day numbers, last look, first day of watch, size, covariates."""

    start: Window
    end: Window
    looked: int
    watched: int
    size: float
    covariates: FloatArray


@dataclass(frozen=True)
class Life:
    """One animal's rows, the last one running; its next moult in days from the record's begin."""

    rows: list[Row]
    next_moult: float
    closed: int


@dataclass(frozen=True)
class _Opening:
    """Where a history begins: the last moult's window, first day of watch, from when, length still to go."""

    start: Window
    watched: int
    moment: float
    length: float


def noise_draw(rng: np.random.Generator, noise: sites.Noise, heavy: bool = False) -> float:
    """A residual of log D."""
    kind = rng.choice(noise.weight.size, p=noise.weight)
    unit = rng.standard_t(3) / np.sqrt(3.0) if heavy else rng.normal()
    return float(noise.shift[kind] + np.sqrt(noise.variance[kind]) * unit)


def length_biased(rng: np.random.Generator, noise: sites.Noise) -> float:
    """A residual drawn with density proportional to exp(e) f(e): the interval an arrival falls into."""
    weight = noise.weight * np.exp(noise.shift + noise.variance / 2.0)
    kind = rng.choice(weight.size, p=weight / weight.sum())
    return float(noise.shift[kind] + noise.variance[kind] + np.sqrt(noise.variance[kind]) * rng.normal())


def above(rng: np.random.Generator, noise: sites.Noise, least: float) -> float:
    """A residual given that it is above `least`."""
    from scipy.special import ndtri

    spread = np.sqrt(noise.variance)
    tail = sites.ndtr((noise.shift - least) / spread)
    weight = np.maximum(noise.weight * tail, 1e-300)
    kind = rng.choice(weight.size, p=weight / weight.sum())
    chance = max(float(rng.uniform()) * float(tail[kind]), 1e-300)
    return max(float(noise.shift[kind] - spread[kind] * ndtri(chance)), least)


class _Animal:
    """An animal while its history is drawn; moments are days from the record's begin."""

    def __init__(self, rng: np.random.Generator, world: World, taxon: int, place: int, pace: float) -> None:
        self.rng, self.world, self.taxon, self.pace = rng, world, taxon, pace
        self.clock = world.clock[place]
        self.days = np.arange(self.clock.size)
        self.size, self.ration, self.newcomer = float(rng.normal(-world.shape.growth, 0.4)), rng.normal(), 1.0

    def covariates(self) -> FloatArray:
        return np.array([self.ration, 0.0, 0.0, self.newcomer])

    def eta(self) -> float:
        world, taxon = self.world, self.taxon
        level = world.fixed[0] + world.taxon_effect[taxon] + world.fixed[2] * world.taxon_size[taxon]
        slope = world.fixed[1] + world.taxon_slope[taxon]
        return float(level + slope * self.size + self.covariates() @ world.covariate + self.pace)

    def length(self) -> float:
        """A whole interval, in days at 25 C."""
        world = self.world
        return float(np.exp(self.eta() + noise_draw(self.rng, world.hyper.noise, world.shape.heavy_tails)))

    def warmth(self, moment: float) -> float:
        return float(np.interp(moment, self.days, self.clock))

    def after(self, moment: float, length: float) -> float:
        """The moment at which `length` of warmth has passed since `moment`."""
        season = self.world.shape.season
        if season > 0.0:
            length *= float(1.0 + season * np.sin(2.0 * np.pi * moment / 365.25))
        return float(np.interp(self.warmth(moment) + length, self.clock, self.days))

    def grow(self) -> None:
        self.size += float(self.rng.normal(self.world.shape.growth, 0.05))
        self.ration = float(self.rng.normal())

    def opening(self, how: int, arrival: int) -> _Opening:
        """How the record of this animal begins."""
        day = self.world.begin + arrival
        if how == WATCHED:
            return _Opening((day, day), NO_DAY, arrival + float(self.rng.uniform()), self.length())
        if how == KNOWN:
            return self._known(arrival)
        # Somewhere inside an interval of unknown age.
        whole = np.exp(self.eta() + length_biased(self.rng, self.world.hyper.noise))
        return _Opening(NO_WINDOW, day, float(arrival), float(self.rng.uniform() * whole))

    def _known(self, arrival: int) -> _Opening:
        """Arrived up to nine tenths of a usual interval after a known moult; not moulted till arrival."""
        earlier = float(self.rng.uniform(0.0, 0.9)) * self.world.usual_days(self.taxon)
        moment = max(arrival - earlier, 0.0)
        passed = max(self.warmth(arrival) - self.warmth(moment), 1e-9)
        eta = self.eta()
        length = float(np.exp(eta + above(self.rng, self.world.hyper.noise, float(np.log(passed)) - eta)))
        day = int(np.floor(moment)) + self.world.begin
        return _Opening((day, day), self.world.begin + arrival, moment, length)

    def found(self, moment: float, after: Window, watched: int, look: int) -> Window:
        """First and last day of a moult as known: after the one before, by the last look at the latest."""
        world, shape = self.world, self.world.shape
        day = int(np.floor(moment))
        first = last = day
        if self.rng.uniform() < shape.late_share:
            widest = max(min(shape.late_days, int(world.usual_days(self.taxon) / 4.0)), 2)
            width = int(self.rng.integers(2, widest + 1))
            first = day - int(self.rng.integers(0, width))
            last = first + width - 1
        first, last = first + world.begin, min(last, look) + world.begin
        if after != NO_WINDOW:
            first = max(first, after[1] + 1)
        first = max(first, watched)
        if first > day + world.begin or (after != NO_WINDOW and last - after[0] < shape.least_days):
            raise TooFast
        return first, last


def draw_life(
    rng: np.random.Generator, world: World, taxon: int, place: int, pace: float, *, late: bool = False
) -> Life:
    """Draw one animal's history; a `late` one came in the last days of the record."""
    shape = world.shape
    animal = _Animal(rng, world, taxon, place, pace)
    earliest = shape.record_days - shape.new_days if late else 0
    until = shape.record_days if late else int(shape.record_days * 0.9)
    arrival = int(rng.integers(earliest, until))
    how = int(rng.choice(3, p=_SHARES))
    opening = animal.opening(how, arrival)
    look = max(shape.record_days - 1 - int(rng.integers(0, 4)), arrival)
    return _live(animal, opening, how, look)


def _live(animal: _Animal, opening: _Opening, how: int, look: int) -> Life:
    """Moult after moult until one comes after the last look."""
    world, rows, closed = animal.world, list[Row](), 0
    start, watched, moment, length = opening.start, opening.watched, opening.moment, opening.length
    for count in range(_MOST_MOULTS):
        moult = animal.after(moment, length)
        known = animal.size, animal.covariates()
        if moult >= look + 1:
            rows.append(Row(start, NO_WINDOW, look + world.begin, watched, *known))
            return Life(rows, moult, closed)
        if animal.rng.uniform() >= world.shape.unrecorded:
            end = animal.found(moult, start, watched, look)
            rows.append(Row(start, end, NO_DAY, watched, *known))
            if start != NO_WINDOW:
                closed += 1
                world.recorded.setdefault(animal.taxon, []).append(end[1] - start[1])
            start, watched = end, NO_DAY
            animal.newcomer = 1.0 if count == 0 and how != WATCHED else 0.0
        animal.grow()
        moment, length = moult, animal.length()
    raise TooFast
