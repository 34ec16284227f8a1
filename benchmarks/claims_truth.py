"""Verdicts on claims against the simulator's truth: `python benchmarks/claims_truth.py [rooms] [seed]`.

Lives come from the invented room's own biology (`simulate.life`): moults, maturity, deaths, sizes. One room
has twelve animals of one taxon, come at different ages over three years; one in ten is sold. Each claim is
held against what was seen by the end of each season (ages) or year (sizes), and must not be contradicted on
any of these days when it is true:

- life span, true: the exact central 90 % of 4,000 lives. A life counts from half a year on, as claims of
  life spans leave spiderlings out; of taxa whose females go on moulting only males count: their females die
  of mishaps rather than of age here, so that half of their central range holds nearly as many;
- life span, false: both ends halved;
- largest leg span, true: the largest true span that any animal of this very room ever has, the hardest true
  claim there is;
- largest leg span, false: 30 % less.

A false claim should be found once the evidence that the page asks for is in: for ages, when as many animals
as the page asked for at the end of the second year have passed the upper end (told too: with animals that
came meanwhile, and when all lives of the room are over); for sizes, when the largest animal was measured
three times with stretched legs after its last moult. That an animal is mature is noted, as keepers do.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np

from nightround.findings.claims_sizes import shared_doubt
from nightround.findings.size import fit_histories
from nightround.record.histories import SizeHistory, SizeReading
from nightround.science.claims.bets import CONTRADICTED, SURE
from nightround.science.claims.settle import needed
from nightround.science.claims.sizes import chance_any_beyond
from nightround.science.claims.waits import Waits, against_range
from nightround.science.size.forecast import size_at
from nightround.simulate.life import FIRST_WEEKS_DAYS, Biology, Breaks, Life
from nightround.simulate.taxa import TAXA

YEAR = 365.25
ANIMALS = 12
YOUNGEST_DAYS = 182.0
SOLD = 0.1
POPULATION = 4000
LAWS = ("Cupiennius salei", "Aglaoctenus lagotis", "Linothele megatheloides", "Brachypelma albopilosum")
SEASON = YEAR / 4


@dataclass(frozen=True)
class Lived:
    """One whole life: age at death in days, age at each moult, true carapace [mm] and first mature instar."""

    died: float
    moults: tuple[float, ...]
    carapace_mm: tuple[float, ...]
    sex: str
    mature_instar: int | None


def live(biology: Biology, taxon: int) -> Lived:
    """Draw one life at 25 C from hatching to death."""
    kind, rng = biology.taxa[taxon], biology.rng
    life: Life = biology.hatch(taxon, 0)
    clock = 0.0
    ends = FIRST_WEEKS_DAYS * rng.random() if rng.random() < kind.first_weeks_risk else np.inf
    ends = min(ends, float(rng.exponential(YEAR / kind.yearly_risk)))
    while life.died is None and not life.stopped:
        clock += life.intervals[-1]
        if clock >= ends or clock > 60 * YEAR:
            break
        biology.moult(life, int(clock))
    if life.stopped:
        ends = min(ends, clock + biology.adult_life(life))
    died = float(life.died) if life.died is not None else min(ends, 60 * YEAR)
    sizes = tuple(float(np.exp(size)) for size in life.log_sizes)
    mature = None if life.mature_at is None else life.mature_at + 1
    moults = tuple(float(day) for day in life.moults[: len(sizes) - 1])
    return Lived(max(1.0, died), moults, sizes, life.sex, mature)


def grown(biology: Biology, taxon: int, least: float = YOUNGEST_DAYS) -> Lived:
    """Draw a life of the kind that claims are about: past an age, of the sex whose lives end by age."""
    while True:
        life = live(biology, taxon)
        if life.died > least and (life.sex == "male" or not biology.taxa[taxon].females_go_on):
            return life


@dataclass(frozen=True)
class Ages:
    """A room's lives as days since the room began: when each came, was born, died, was sold (inf: never)."""

    came: np.ndarray
    born: np.ndarray
    died: np.ndarray
    sold: np.ndarray

    def known_on(self, day: float) -> Ages:
        """The animals that had come by a day."""
        here = self.came <= day
        return Ages(self.came[here], self.born[here], self.died[here], self.sold[here])

    def seen(self, day: float) -> tuple[Waits, np.ndarray]:
        """What is known on a day, and who is still watched."""
        here = self.came <= day
        until = np.minimum(np.minimum(self.died, self.sold), day)
        dead = (self.died <= day) & (self.died < self.sold)
        waits = Waits(
            (self.came - self.born)[here],
            np.maximum(until - self.born, self.came - self.born)[here],
            np.where(dead, self.died - self.born, np.inf)[here],
        )
        return waits, (~dead & (self.sold > day))[here]


def make_ages(rng: np.random.Generator, biology: Biology, taxon: int, low: float) -> Ages:
    """Draw a room: animals come at ages from hatching up to the claim's lower end."""
    lives = np.array([grown(biology, taxon).died for _ in range(ANIMALS)])
    entry = rng.uniform(0.0, np.minimum(low, lives))
    came = rng.uniform(0.0, 3 * YEAR, ANIMALS)
    born = came - entry
    sold = np.where(rng.random(ANIMALS) < SOLD, came + rng.exponential(2 * YEAR, ANIMALS), np.inf)
    return Ages(came, born, born + lives, sold)


def ever(room: Ages, low: float, high: float) -> bool:
    """Whether a range is contradicted at the end of any season."""
    last = float(np.minimum(room.died, 40 * YEAR).max()) + SEASON
    days = np.arange(SEASON, last + SEASON, SEASON)
    return any(against_range(room.seen(day)[0], low, high).against >= CONTRADICTED for day in days)


def found_when_asked(room: Ages, low: float, high: float, *, newcomers: bool) -> bool:
    """Whether a range is contradicted by the day on which what the page asked for at two years has come.

    newcomers   count animals that came after the page had asked, too: it asks of those it knows
    """
    first = 2 * YEAR
    known = room if newcomers else room.known_on(first)
    waits, living = known.seen(first)
    if against_range(waits, low, high).against >= CONTRADICTED:
        return True
    asked = needed(waits, living, waits.without, low, high, "above", against_range)
    passed = int((waits.without > high).sum())
    last = float(np.minimum(known.died, 40 * YEAR).max(initial=first)) + SEASON
    for day in np.arange(first, last + SEASON, SEASON):
        now, _ = known.seen(float(day))
        if against_range(now, low, high).against >= CONTRADICTED:
            return True
        if asked and int((now.without > high).sum()) - passed >= asked.number:
            return False
    return False


def size_room(rng: np.random.Generator, biology: Biology, taxon: int) -> list[Lived]:
    """Twelve whole lives of either sex, past half a year."""
    lives: list[Lived] = []
    while len(lives) < ANIMALS:
        life = live(biology, taxon)
        lives += [life] if life.died > YOUNGEST_DAYS else []
    return lives


def readings(rng: np.random.Generator, life: Lived, span: float) -> list[SizeReading]:
    """Half of the skins (2 % error) and half of the live spans (10 %), these half of the time bent."""
    found = []
    for instar, carapace in enumerate(life.carapace_mm):
        if rng.random() < 0.5 and instar < len(life.moults):
            value = carapace * rng.normal(1, 0.02)
            found.append(SizeReading(instar, "carapace_length", value, "shed_skin", None, None))
        if rng.random() < 0.5:
            bent = rng.random() < 0.5
            value = carapace * span * (0.82 if bent else 1.0) * max(0.6, rng.normal(1, 0.1))
            found.append(
                SizeReading(instar, "leg_span", value, "live", "bent" if bent else "stretched", None)
            )
    return found


def chance_on(lives: list[Lived], read: list[list[SizeReading]], day: float, limit: float) -> float:
    """The chance that some animal's true span exceeds a limit, from what was read by an age."""
    histories = []
    for at, (life, values) in enumerate(zip(lives, read, strict=True)):
        instars = 1 + sum(moult <= day for moult in life.moults)
        known = tuple(value for value in values if value.instar < instars)
        mature = life.mature_instar if (life.mature_instar or instars) < instars else None
        histories.append(SizeHistory(str(at), "taxon", "group", life.sex, instars, known, mature, None))
    room = fit_histories(tuple(histories))
    rows = [row for row in range(len(lives)) if room.n_readings[row] > 0]
    outlook = size_at(room.fit, "leg_span")
    shared = shared_doubt(room, rows, "leg_span")
    return chance_any_beyond(outlook.mean[rows], outlook.sd[rows], shared, float(np.log(limit)))


def judge_size_room(rng: np.random.Generator, biology: Biology, taxon: int) -> tuple[bool, bool, bool]:
    """Whether the true maximum was ever contradicted; the false one found at the end, and when asked for."""
    span = biology.taxa[taxon].span
    lives = size_room(rng, biology, taxon)
    read = [readings(rng, life, span) for life in lives]
    largest = max(range(ANIMALS), key=lambda at: max(lives[at].carapace_mm))
    limit = span * max(lives[largest].carapace_mm)
    end = max(max(life.moults, default=0.0) for life in lives) + 1.0
    days = [*np.arange(YEAR, end, max(YEAR, end / 6)), end]
    wrong = any(chance_on(lives, read, day, limit) >= SURE for day in days)
    found = chance_on(lives, read, end, 0.7 * limit) >= SURE
    last = len(lives[largest].carapace_mm) - 1
    for _ in range(3):
        value = limit * max(0.6, rng.normal(1, 0.1))
        read[largest].append(SizeReading(last, "leg_span", value, "live", "stretched", None))
    asked = found or chance_on(lives, read, end, 0.7 * limit) >= SURE
    wrong = wrong or chance_on(lives, read, end, limit) >= SURE
    return wrong, found, asked


def judge_ages(rooms: int, seed: int) -> dict[str, list[bool]]:
    """Life spans: a row of outcomes for each question."""
    told: dict[str, list[bool]] = {"true": [], "asked": [], "more": [], "end": []}
    for at, name in enumerate(LAWS):
        rng = np.random.default_rng([seed, at])
        taxon = next(k for k, kind in enumerate(TAXA) if kind.name == name)
        biology = Biology(rng, TAXA, Breaks())
        whole = np.array([grown(biology, taxon).died for _ in range(POPULATION)])
        low, high = (float(x) for x in np.quantile(whole, [0.05, 0.95]))
        for _ in range(rooms // len(LAWS)):
            room = make_ages(rng, biology, taxon, low)
            told["true"].append(ever(room, low, high))
            short = make_ages(rng, biology, taxon, low / 2)
            told["asked"].append(found_when_asked(short, low / 2, high / 2, newcomers=False))
            told["more"].append(found_when_asked(short, low / 2, high / 2, newcomers=True))
            told["end"].append(ever(short, low / 2, high / 2))
    return told


def judge_sizes(rooms: int, seed: int) -> dict[str, list[bool]]:
    """Largest spans: a row of outcomes for each question."""
    told: dict[str, list[bool]] = {"true": [], "end": [], "asked": []}
    for at in range(rooms):
        rng = np.random.default_rng([seed, 1000 + at])
        biology = Biology(rng, TAXA, Breaks())
        taxon = next(k for k, kind in enumerate(TAXA) if kind.name == LAWS[at % len(LAWS)])
        wrong, found, asked = judge_size_room(rng, biology, taxon)
        told["true"].append(wrong)
        told["end"].append(found)
        told["asked"].append(asked)
    return told


def share(outcomes: list[bool]) -> str:
    """A share in words."""
    return f"{sum(outcomes)} of {len(outcomes)} ({100 * np.mean(outcomes):.1f} %)"


def main() -> None:
    """Run both and print what came of it."""
    rooms = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    begun = time.perf_counter()
    ages = judge_ages(rooms, seed)
    print(f"life span, true, contradicted at any time: {share(ages['true'])}")
    print(f"life span halved, found when what was asked for came: {share(ages['asked'])}")
    print(f"the same, animals that came meanwhile counted as open: {share(ages['more'])}")
    print(f"life span halved, found by the end of all lives: {share(ages['end'])}")
    print(f"seconds: {time.perf_counter() - begun:.0f}", flush=True)
    sizes = judge_sizes(rooms, seed)
    print(f"largest span, true, contradicted at any time: {share(sizes['true'])}")
    print(f"largest span 30 % less, found from usual readings: {share(sizes['end'])}")
    print(f"largest span 30 % less, found with the readings asked for: {share(sizes['asked'])}")
    print(f"seconds: {time.perf_counter() - begun:.0f}")


if __name__ == "__main__":
    main()
