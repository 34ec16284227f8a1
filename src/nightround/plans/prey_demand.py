"""Prey that the room will ask for: how many of which length, week by week, from drawn sizes and moults.

For each drawn future of each living animal: its stage and the longest prey it may have by the room's rules,
in proportion to its drawn carapace; an offer each interval of its stage; none from the days before a drawn
moult in which the round would leave it alone until it has hardened. Offers are counted in whole numbers per
draw, so that a week's range is that of the room and not of its mean. Animals of unknown size, and batches,
are counted apart: nobody knows what length they need.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.spans import RoomSpans
from nightround.plans.feeding import LARGER_PREY_FROM_MM, prey_size
from nightround.plans.moulting import LEAST_PREMOULT_DAYS
from nightround.plans.prey_pace import Pace, Taken, pace_of, taken_of
from nightround.plans.quarantine import quarantined
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation
from nightround.plans.sizes import size_of
from nightround.record.model import Animal, Batch, Record
from nightround.reports.size import SizeReport

Floats = NDArray[np.float64]

WEEK: Final = 7
CLASS_EDGES_MM: Final = (1.0, 2.0, 2.6, 3.0, 5.0, 7.0, 10.0, 14.0, 19.0, 26.0)
"""Prey-length classes (a, b]: their upper ends are what feeders of the trade measure; chosen, no source."""

SAC_DAYS: Final = 42
"""Days without prey of an animal with a sac: opened at about six weeks (B)."""

ASSUMPTIONS: Final = (
    "no animal dies, leaves or arrives",
    "prey that was refused is taken out and not offered again",
    "an animal with a sac is offered nothing for six weeks (opened at about six weeks, B)",
    "prey grows in proportion with the carapace of the animal it is for",
)


@dataclass(frozen=True)
class PreyDemand:
    """Prey asked for: S draws, W weeks of seven days from the record's day on, C classes of prey length.

    prey          (S, W, C) whole prey animals to have in the house
    pieces        (S, W) pre-killed pieces for animals too small for any class
    unknown       (S, W) small pre-killed prey for animals of unknown size
    batches       (W,) offers for batches by number, small pre-killed prey
    alive         (C,) share of the prey of a class that is offered alive by size alone
    uncounted     batches of unknown number: in no figure
    animals       how many animals of known size stand behind `prey`; `nobody` has no size
    """

    on: date
    weeks: int
    edges_mm: tuple[float, ...]
    prey: Floats
    pieces: Floats
    unknown: Floats
    batches: Floats
    alive: Floats
    pace: Pace
    taken: Taken
    animals: int
    unsized: tuple[str, ...]
    batch_codes: tuple[str, ...]
    uncounted: tuple[str, ...]
    assumptions: tuple[str, ...] = ASSUMPTIONS

    @property
    def classes(self) -> tuple[tuple[float, float], ...]:
        """The classes of prey length in mm: over the first, up to the second."""
        return tuple(zip(self.edges_mm, self.edges_mm[1:], strict=False))

    @property
    def starts(self) -> tuple[date, ...]:
        """The first day of each week."""
        return tuple(self.on + timedelta(days=WEEK * week) for week in range(self.weeks))


def week_ends(on: date, weeks: int) -> tuple[date, ...]:
    """The last day of each week: the days that spans are asked for."""
    return tuple(on + timedelta(days=WEEK * (week + 1) - 1) for week in range(weeks))


def prey_demand(
    record: Record, spans: RoomSpans, sizes: Mapping[str, SizeReport], *, seed: int = 1
) -> PreyDemand:
    """Work out what prey the room asks for; `spans.days` are the ends of its weeks (`week_ends`).

    sizes   by animal code; a missing one counts as unknown
    The same record, spans and seed give the same numbers.
    """
    book = RuleBook(record)
    weeks, draws = len(spans.days), spans.span_mm.shape[0]
    rng = np.random.default_rng([seed, record.on.toordinal(), 5])
    situations = _situations(record, book, sizes)
    pace = pace_of(record, book, [(s.animal, s.stage, _number_tonight(s)) for s in situations])
    usual = rng.gamma(pace.shape, 1.0 / pace.rate, size=(draws, 1))
    differ = rng.gamma(pace.week_sd**-2, pace.week_sd**2, size=(draws, weeks))
    factor = np.asarray(usual * differ, dtype=np.float64)
    edges = np.asarray(CLASS_EDGES_MM)
    prey = np.zeros((draws, weeks, len(edges) - 1))
    pieces, unknown = np.zeros((draws, weeks)), np.zeros((draws, weeks))
    alive, unsized, animals = np.zeros((2, len(edges) - 1)), [], 0
    for s in situations:
        fed = _Fed(s, spans, factor, weeks, rng)
        if fed.most_mm is None:
            unknown += fed.offers(np.full((draws, weeks), s.ask("feed_unknown_days").number or np.inf))
            unsized.append(s.animal.code)
            continue
        animals += 1
        needed, classes = fed.prey(edges, pace.per_offer)
        for at in range(len(edges) - 1):
            prey[:, :, at] += np.where(classes == at, needed, 0.0)
        pieces += np.where(classes < 0, needed, 0.0)
        alive += fed.alive(needed, classes, len(edges) - 1)
    known, uncounted, of_batches = _batches(record, book, pace.factor, weeks)
    share = np.divide(alive[0], alive[1], out=np.ones(len(edges) - 1), where=alive[1] > 0)
    return PreyDemand(
        record.on, weeks, CLASS_EDGES_MM, prey, pieces, unknown, of_batches, share, pace, taken_of(record),
        animals, tuple(unsized), known, uncounted,
    )  # fmt: skip


def _situations(record: Record, book: RuleBook, sizes: Mapping[str, SizeReport]) -> list[Situation]:
    isolated = quarantined(record, book)
    return [
        Situation(
            record, book, animal, None, size_of(animal, sizes.get(animal.code)), animal.code in isolated
        )
        for animal in record.living()
    ]


class _Fed:
    """One animal's offers over the weeks, in every draw."""

    def __init__(
        self, s: Situation, spans: RoomSpans, factor: Floats, weeks: int, rng: np.random.Generator
    ) -> None:
        self.s, self.weeks, self.factor, self.rng = s, weeks, factor, rng
        self.row = spans.row(s.animal.code)
        self.spans = spans
        self.most_mm = prey_size(s).most_mm if spans.readings[self.row] > 0 else None
        self.begin = _begin(s, factor, rng)

    def prey(self, edges: Floats, per_offer: float) -> tuple[Floats, NDArray[np.int64]]:
        """Whole prey animals (S, W) asked for, and the class they belong to (-1: smaller than any)."""
        most = self._most()
        tiny, usual = (self.s.ask(key).number or 1.0 for key in ("tiny_prey_number", "prey_number"))
        number = np.where(most < LARGER_PREY_FROM_MM, np.where(most < edges[1], 1.0, tiny), usual)
        classes = np.searchsorted(edges[1:], most, side="right") - 1
        wanted = self.offers(self._interval()) * number * per_offer
        return np.floor(wanted + self.rng.random(wanted.shape)), classes

    def alive(self, needed: Floats, classes: NDArray[np.int64], n: int) -> Floats:
        """Prey offered alive by size, and all, by class."""
        share = self.s.ask("prey_of_body").number or 1.0
        living = self._most() / share >= (self.s.ask("live_prey_from_body_mm").number or 0.0)
        of_class = [(classes == at) * needed for at in range(n)]
        return np.array([[float((each * living).sum()) for each in of_class],
                         [float(each.sum()) for each in of_class]])  # fmt: skip

    def offers(self, interval: Floats) -> Floats:
        """Whole offers (S, W) at these intervals in days, none while it rests."""
        per_week = WEEK / interval * (1.0 - self._resting()) * self.factor
        upto = self.begin[:, None] + np.cumsum(per_week, axis=1)
        before = np.concatenate([np.floor(self.begin)[:, None], np.floor(upto[:, :-1])], axis=1)
        return np.asarray(np.floor(upto) - before, dtype=np.float64)

    def _most(self) -> Floats:
        """Longest prey (S, W) in mm: tonight's, grown with the drawn carapace."""
        carapace = self.spans.carapace_mm[:, self.row].astype(np.float64)
        report = self.s.size.carapace
        now = report.value if report is not None else float(np.median(carapace[:, 0]))
        assert self.most_mm is not None
        return np.asarray(self.most_mm * np.maximum(carapace / now, 1.0), dtype=np.float64)

    def _interval(self) -> Floats:
        """Days between offers (S, W) of its drawn stage; inf where the keeper never offers."""
        span = self.spans.span_mm[:, self.row].astype(np.float64)
        days = [self._days(stage) for stage in ("sling", "juvenile", "adult")]
        small, large = (
            self.s.ask(key).number or 0.0 for key in ("sling_below_span_mm", "adult_from_span_mm")
        )
        by_size = np.where(span < small, days[0], np.where(span < large, days[1], days[2]))
        ends = self.spans.ahead[None, :]
        mature = self.spans.mature_day[:, self.row][:, None] <= ends
        return np.asarray(np.where(mature | (self.s.animal.matured is not None), days[2], by_size))

    def _days(self, stage: str) -> float:
        return self.s.ask(f"feed_{stage}_days").number or np.inf

    def _resting(self) -> Floats:
        """Share (S, W) of each week in which it is offered nothing: near a moult, hardening, with a sac."""
        moults = self.spans.moult_day[:, :, self.row].astype(np.float64)
        starts = np.arange(0.0, float(WEEK * self.weeks), WEEK, dtype=np.float64)
        hardening = self.s.ask(f"hardening_{self.s.size_class}_days").number or 0.0
        since = self.s.days_since_moult
        found = np.zeros((moults.shape[1], self.weeks))
        if since is not None:
            found += _overlap(np.array([-float(since)]), np.array([hardening - since]), starts)
        previous = np.full(moults.shape[1], np.nan if since is None else -float(since))
        for moult in moults:
            comes = np.isfinite(moult)
            day = np.where(comes, moult, 0.0)
            whole = np.where(np.isnan(previous), 2.0 * day, day - previous)
            near = _overlap(day - self._premoult(whole), day + hardening, starts)
            found += np.where(comes[:, None], near, 0.0)
            previous = day
        if self.s.animal.with_sac:
            found += np.clip(SAC_DAYS - starts, 0.0, WEEK)
        return np.minimum(found / WEEK, 1.0)

    def _premoult(self, interval: Floats) -> Floats:
        """Days before a moult in which the round leaves it alone, by the length of its whole interval."""
        share, most = (self.s.ask(key).number or 0.0 for key in ("premoult_share", "premoult_days_most"))
        return np.asarray(np.minimum(np.maximum(share * interval, LEAST_PREMOULT_DAYS), most))


def _overlap(first: Floats, last: Floats, starts: Floats) -> Floats:
    """Days (S, W) of each week between two moments of each draw."""
    low = np.maximum(first[:, None], starts)
    return np.asarray(np.clip(np.minimum(last[:, None], starts + WEEK) - low, 0.0, WEEK))


def _number_tonight(s: Situation) -> float:
    """Prey animals in one offer by the rules."""
    most = prey_size(s).most_mm
    if most is None or most < CLASS_EDGES_MM[1]:
        return 1.0
    return s.ask("tiny_prey_number" if most < LARGER_PREY_FROM_MM else "prey_number").number or 1.0


def _begin(s: Situation, factor: Floats, rng: np.random.Generator) -> Floats:
    """How far (0 to 1) the way to the next offer is gone in each draw; unknown: anywhere."""
    interval = s.ask(f"feed_{s.stage}_days").number
    if interval is None or s.days_since_offer is None:
        return rng.random(len(factor))
    gone = min(s.days_since_offer / interval, 1.0)
    return np.asarray(np.clip(gone + 0.1 * (rng.random(len(factor)) - 0.5), 0.0, 0.999))


def _batches(
    record: Record, book: RuleBook, factor: float, weeks: int
) -> tuple[tuple[str, ...], tuple[str, ...], Floats]:
    """Offers a week for batches of known number, and the batches whose number nobody knows."""
    found, uncounted, total = [], [], 0.0
    for code, batch in sorted(record.batches.items()):
        if batch.living is None:
            uncounted.append(code)
        elif batch.living > 0:
            found.append(code)
            total += _batch_offers(code, batch, book)
    return tuple(found), tuple(uncounted), np.full(weeks, total * factor)


def _batch_offers(code: str, batch: Batch, book: RuleBook) -> float:
    interval = book.ask("feed_sling_days", Animal(code, batch.taxon, place=batch.place)).number
    return 0.0 if interval is None else WEEK / interval * (batch.living or 0)


def quantiles(draws: Floats, levels: Sequence[float] = (0.1, 0.5, 0.9)) -> Floats:
    """Quantiles over the draws, one row a level."""
    return np.asarray(np.quantile(draws, levels, axis=0), dtype=np.float64)
