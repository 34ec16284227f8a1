"""True lives: moults in thermal time, sizes by a staircase, maturity, appetite and death. No keeper in here.

One interval, in days at 25 C, of an animal of log size x:

    log D = log(days) + exponent * (x - x0) + pace + c * log(ration) + e

longer by 15 % when legs are lost in it (AUTOT), with the animal's own pace and a normal error (Student t with
3 degrees of freedom when the model is to be broken). One step:

    x' = x + log(ratio) - decline * (x - x0) + own growth + e

At each moult an animal matures with a chance logistic in its new size, by sex. Deaths come at moults, in the
first weeks, by a small constant hazard, and at the end of an adult life of log-normal length.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, log
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from nightround.science.parameters import autot
from nightround.science.thermal import relative_rate
from nightround.simulate.taxa import SimulatedTaxon

FloatArray = NDArray[np.float64]

RATION_EFFECT: Final = -0.12
SMALLEST_STEP: Final = 0.05
# Mature females go on growing by little: tube width 13.7 to 15.9 mm over three moults or more (MIYA1992).
ADULT_STEP_SHARE: Final = 0.3
MATURITY_WIDTH: Final = 0.07
FIRST_WEEKS_DAYS: Final = 60
BREEDER_C: Final = 24.0
ADULT_LIFE_SD: Final = 0.35
FAST_BEGINS, FAST_ENDS = 1 / 220.0, 1 / 22.0
NEVER: Final = 10**9


@dataclass(frozen=True)
class Breaks:
    """How the truth departs from the model that the findings assume; the defaults keep to it.

    season      share by which development is slower in mid winter and faster in mid summer beyond warmth
    t_errors    errors of log intervals from Student's t with 3 degrees of freedom, same spread
    unrecorded  share of the moults that the keeper never writes down
    q10         one Q10 for all taxa
    """

    season: float = 0.0
    t_errors: bool = False
    unrecorded: float = 0.0
    q10: float | None = None


@dataclass(slots=True)
class Life:
    """One animal's true life. Days are columns of the climate (negative: before the record).

    log_sizes   log carapace length of each instar since leaving the sac
    moults      day of each moult: between instar k and k + 1
    intervals   true length of each interval begun, in days at 25 C, the running one last
    mature_at   number of the moult (index in `moults`) that matured it
    """

    taxon: int
    sex: Literal["female", "male"]
    pace: float
    growth: float
    hatched: int
    log_sizes: list[float]
    moults: list[int] = field(default_factory=list)
    intervals: list[float] = field(default_factory=list)
    mature_at: int | None = None
    died: int | None = None
    died_in_moult: bool = False

    @property
    def carapace_mm(self) -> float:
        """True carapace length now [mm]."""
        return exp(self.log_sizes[-1])

    @property
    def stopped(self) -> bool:
        """Whether it will not moult again."""
        return self.intervals[-1] == float("inf")


class Biology:
    """Draws of one life's events for a list of taxa."""

    def __init__(self, rng: np.random.Generator, taxa: tuple[SimulatedTaxon, ...], breaks: Breaks) -> None:
        self.rng = rng
        self.taxa = taxa
        self.breaks = breaks

    def q10(self, taxon: SimulatedTaxon) -> float:
        """The true Q10 of a taxon."""
        return self.breaks.q10 or taxon.q10

    def hatch(self, taxon: int, day: int) -> Life:
        """A spiderling that leaves its sac on `day`, at the start of its first interval."""
        kind = self.taxa[taxon]
        life = Life(
            taxon,
            "female" if self.rng.random() < 0.5 else "male",
            float(self.rng.normal(0, kind.pace_sd)),
            float(self.rng.normal(0, kind.growth_sd)),
            day,
            [kind.first_log_size + float(self.rng.normal(0, 0.03))],
        )
        life.intervals.append(self.interval(life, 1.0))
        return life

    def interval(self, life: Life, ration: float) -> float:
        """Draw the days at 25 C to the next moult; infinite when it has stopped."""
        kind = self.taxa[life.taxon]
        if life.mature_at is not None and (life.sex == "male" or not kind.females_go_on):
            return float("inf")
        error = float(self.rng.standard_t(3)) / 3**0.5 if self.breaks.t_errors else float(self.rng.normal())
        size = kind.exponent * (life.log_sizes[-1] - kind.first_log_size)
        fed = RATION_EFFECT * log(min(max(ration, 0.3), 2.0))
        return kind.days * exp(size + life.pace + fed + kind.interval_sd * error)

    def moult(self, life: Life, day: int, ration: float = 1.0) -> None:
        """Let it moult on `day`: it may die of it, grows, may mature, and a new interval begins."""
        kind = self.taxa[life.taxon]
        frail = 2.0 if len(life.moults) < 2 else 1.0
        if self.rng.random() < kind.moult_risk * frail:
            life.died, life.died_in_moult = day, True
            return
        self.grow(life, day)
        life.intervals.append(self.interval(life, ration))

    def grow(self, life: Life, day: int) -> None:
        """Add one moult and the next instar, with its chance of being the maturing one."""
        kind = self.taxa[life.taxon]
        here = life.log_sizes[-1]
        step = log(kind.ratio) - kind.decline * (here - kind.first_log_size) + life.growth
        step = max(SMALLEST_STEP, step + float(self.rng.normal(0, kind.step_sd)))
        size = here + step * (ADULT_STEP_SHARE if life.mature_at is not None else 1.0)
        life.moults.append(day)
        if life.mature_at is None:
            half = log(kind.male_mm if life.sex == "male" else kind.female_mm)
            if self.rng.random() < 1 / (1 + exp(-(size - half) / MATURITY_WIDTH)):
                life.mature_at = len(life.moults) - 1
                size += kind.last_step[0 if life.sex == "male" else 1]
        life.log_sizes.append(size)

    def adult_life(self, life: Life) -> int:
        """Draw the days from the maturing moult to death of old age."""
        kind = self.taxa[life.taxon]
        median = kind.adult_days[0 if life.sex == "male" else 1]
        return max(20, int(median * exp(ADULT_LIFE_SD * float(self.rng.normal()))))

    def arrived(self, taxon: int, day: int, stage: float) -> tuple[Life, float]:
        """A life that reaches `day` at about `stage` (0 sac, 1 a female's mature size, in log size).

        Before the record it lived at a breeder's 24 C and, having reached the day, did not die. The interval
        in which it arrives is size-biased and the day falls evenly into it (renewal). Returns life and
        elapsed time.
        """
        life = self.hatch(taxon, 0)
        kind = self.taxa[taxon]
        rate = float(relative_rate(np.array(BREEDER_C), log(self.q10(kind))))
        target = kind.first_log_size + stage * (log(kind.female_mm) - kind.first_log_size)
        clock = 0.0
        while life.log_sizes[-1] < target - 0.1 and not life.stopped:
            clock += life.intervals[-1] / rate
            self.grow(life, int(clock))
            life.intervals.append(self.interval(life, 1.0))
        if life.stopped:
            elapsed = 0.0
            clock += float(self.rng.uniform(5, 60))
        else:
            life.intervals[-1] *= exp(kind.interval_sd**2)
            elapsed = float(self.rng.uniform(0.0, 0.95)) * life.intervals[-1]
            clock += elapsed / rate
        shift = day - int(clock)
        life.hatched = shift
        life.moults = [moult + shift for moult in life.moults]
        return life, elapsed


class Herd:
    """All living animals day by day, as arrays over animals; `lives` holds their histories."""

    def __init__(self, biology: Biology, warmth_c: FloatArray, turn: FloatArray, size: int) -> None:
        self.biology = biology
        self.rng = biology.rng
        self.lives: list[Life] = []
        log_q10 = [log(biology.q10(taxon)) for taxon in biology.taxa]
        self.rate = np.array([relative_rate(warmth_c, value) for value in log_q10])
        self.rate *= 1.0 + biology.breaks.season * turn
        self.taxon = np.zeros(size, dtype=np.int64)
        self.place = np.zeros(size, dtype=np.int64)
        self.elapsed = np.zeros(size)
        self.due = np.full(size, np.inf)
        self.hazard = np.zeros(size)
        self.hatched = np.full(size, -NEVER, dtype=np.int64)
        self.first_weeks = np.zeros(size)
        self.dies = np.full(size, NEVER, dtype=np.int64)
        self.living = np.zeros(size, dtype=np.bool_)
        self.fasting = np.zeros(size, dtype=np.bool_)
        self.meals = np.zeros(size)
        self.fragile = np.ones(size, dtype=np.bool_)

    def add(self, life: Life, place: int, elapsed: float, day: int, *, spared: bool = False) -> int:
        """Take an animal in and return its index. `spared`: it dies of nothing (it has a part to play)."""
        index = len(self.lives)
        kind = self.biology.taxa[life.taxon]
        self.lives.append(life)
        self.taxon[index], self.place[index] = life.taxon, place
        self.elapsed[index], self.due[index] = elapsed, life.intervals[-1]
        self.hatched[index] = life.hatched
        self.fragile[index] = not spared
        self.hazard[index] = 0.0 if spared else kind.yearly_risk / 365.25
        self.first_weeks[index] = 0.0 if spared else kind.first_weeks_risk / FIRST_WEEKS_DAYS
        self.living[index] = True
        if life.mature_at is not None and life.stopped:
            self.dies[index] = max(day + 15, life.moults[-1] + self.biology.adult_life(life))
        return index

    def remove(self, index: int) -> None:
        """It left the room: nothing more is simulated."""
        self.living[index] = False

    def day(self, column: int) -> tuple[list[int], list[int]]:
        """Advance everybody by one day; returns who moults before the evening, and who in the night after.

        Deaths other than at moults happen at once; `moult` settles the moults at their time of day.
        """
        n = len(self.lives)
        self.elapsed[:n] += self.rate[self.taxon[:n], self.place[:n], column] * self.living[:n]
        chance = self.rng.random((3, n))
        young = column - self.hatched[:n] < FIRST_WEEKS_DAYS
        hazard = self.hazard[:n] + np.where(young, self.first_weeks[:n], 0.0)
        old = (self.dies[:n] <= column) & self.fragile[:n]
        for index in np.flatnonzero(self.living[:n] & (old | (chance[0] < hazard))):
            self.lives[index].died = column
            self.living[index] = False
        fast = np.where(self.fasting[:n], chance[1] >= FAST_ENDS, chance[1] < FAST_BEGINS)
        self.fasting[:n] = fast
        due = np.flatnonzero(self.living[:n] & (self.elapsed[:n] >= self.due[:n]))
        early = chance[2][due] < 0.5
        return [int(i) for i in due[early]], [int(i) for i in due[~early]]

    def moult(self, index: int, column: int) -> None:
        """Let one animal moult today."""
        life = self.lives[index]
        kind = self.biology.taxa[life.taxon]
        # A full ration is one meal in two feeding intervals of the smallest animals.
        ration = self.meals[index] / max(1.0, self.elapsed[index] / (1.6 * kind.feed_days[0]))
        self.biology.moult(life, column, float(ration) if self.meals[index] else 1.0)
        if life.died is not None and not self.fragile[index]:
            life.died, life.died_in_moult = None, False
            self.biology.grow(life, column)
            life.intervals.append(self.biology.interval(life, 1.0))
        if life.died is not None:
            self.living[index] = False
            return
        self.elapsed[index], self.due[index], self.meals[index] = 0.0, life.intervals[-1], 0.0
        self.fasting[index] = False
        if life.mature_at == len(life.moults) - 1 and life.stopped:
            self.dies[index] = column + self.biology.adult_life(life)

    def delay(self, index: int, factor: float = autot.INTERVAL_RATIO_AFTER_LEG_LOSS) -> None:
        """Make the running interval longer by a factor (legs lost: 1.15, AUTOT)."""
        self.due[index] *= factor
        self.lives[index].intervals[-1] *= factor

    def catch_up(self, life: Life, place: int, first: int, last: int) -> float:
        """Let a life outside the herd run from `first` to `last` at a place; returns what has elapsed."""
        elapsed = 0.0
        for column in range(first, last):
            elapsed += float(self.rate[life.taxon, place, column])
            if elapsed >= life.intervals[-1]:
                self.biology.grow(life, column)
                life.intervals.append(self.biology.interval(life, 1.0))
                elapsed = 0.0
        return elapsed

    def phase(self, index: int) -> float:
        """Elapsed share of the running interval (0.4 for one that has stopped)."""
        due = float(self.due[index])
        return 0.4 if due == float("inf") else float(self.elapsed[index]) / due
