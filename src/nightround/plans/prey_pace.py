"""How often this room really offers prey, against its rules, and how much of it is taken.

The pace is a factor on the offers that the rules ask for. What was observed over the last eight weeks is
weighed against the rules as if the rules had been kept for so many offers (a gamma prior round 1): a room
without records keeps its rules.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from nightround.plans.rules import RuleBook
from nightround.plans.sizes import Stage
from nightround.record.model import Animal, Offer, Record

LOOK_BACK_DAYS: Final = 56
TAKEN_DAYS: Final = 182
PRIOR_OFFERS: Final = 8.0
"""Offers that the rules count for against the record; chosen for this program, no source."""

USUAL_WEEK_SD: Final = 0.25
_WEEKS_OF_USUAL = 3.0
"""How much weeks differ where nothing is written, and for how many weeks that counts; chosen, no source."""

_PRIOR_TAKEN = (4.0, 1.0)
"""Offers taken and not taken that stand for no record; chosen for this program, no source."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Offers by the rules and on record over the last weeks; `factor` is what plans multiply by.

    animals          animals with an offer on record in these weeks
    prey, by_rules   prey animals in those offers whose number was written, and what the rules put into them
    week_sd          how much whole weeks differ, as a share: evenings left out, a week away
    """

    offers: int
    expected: float
    animals: int
    prey: int = 0
    by_rules: float = 0.0
    week_sd: float = USUAL_WEEK_SD

    @property
    def shape(self) -> float:
        """Shape of the gamma distribution of the factor; its rate is `rate`."""
        return self.offers + PRIOR_OFFERS

    @property
    def rate(self) -> float:
        """Rate of the gamma distribution of the factor."""
        return self.expected + PRIOR_OFFERS

    @property
    def factor(self) -> float:
        """Mean of the factor on the offers of the rules."""
        return self.shape / self.rate

    @property
    def per_offer(self) -> float:
        """Factor on the number of prey that the rules put into an offer."""
        return (self.prey + PRIOR_OFFERS) / (self.by_rules + PRIOR_OFFERS)


@dataclass(frozen=True, slots=True)
class Taken:
    """Offers of the last half year whose end was seen, and how many of them were taken."""

    taken: int
    seen: int

    @property
    def share(self) -> float:
        """Expected share taken."""
        return (self.taken + _PRIOR_TAKEN[0]) / (self.seen + sum(_PRIOR_TAKEN))


def pace_of(record: Record, book: RuleBook, fed: Iterable[tuple[Animal, Stage, float]]) -> Pace:
    """Count offers of the last eight weeks against what the rules ask of the same animals and days.

    fed   animals with the stage they are fed by and the number of prey in an offer by the rules
    Nothing written is nothing known: animals without an offer in these weeks, and days before the first
    offer of the room, are not counted.
    """
    first = max(record.on - timedelta(days=LOOK_BACK_DAYS - 1), _first_offer(record))
    offers, expected, animals, prey, by_rules = 0, 0.0, 0, 0, 0.0
    weeks: Counter[int] = Counter()
    for animal, stage, number in fed:
        interval = book.ask(f"feed_{stage}_days", animal).number
        since = max(first, animal.arrived.last or first)
        days = (record.on - since).days + 1
        days_of = {offer.when.last for offer in animal.offers if offer.when.last}
        made = sum(since <= day <= record.on for day in days_of)
        if interval is None or days <= 0 or not made:
            continue
        rest = _resting_days(animal, since, record.on, book)
        animals += 1
        expected += max(days - rest, 0.0) / interval
        offers += made
        weeks.update((record.on - day).days // 7 for day in days_of if since <= day <= record.on)
        counts = [offer.count for offer in animal.offers if offer.count and _within(offer, since, record.on)]
        prey += sum(counts)
        by_rules += number * len(counts)
    whole = ((record.on - first).days + 1) // 7
    return Pace(offers, expected, animals, prey, by_rules, _week_sd([weeks[at] for at in range(whole)]))


def _week_sd(offers: list[int]) -> float:
    """How much weeks differ beyond chance, as a share of the mean, near the usual where few are known."""
    mean = sum(offers) / len(offers) if offers else 0.0
    if mean <= 0.0 or len(offers) < 2:
        return USUAL_WEEK_SD
    spread = sum((each - mean) ** 2 for each in offers) / (len(offers) - 1)
    beyond = max(spread - mean, 0.0) / mean**2
    n = len(offers) - 1
    return math.sqrt((n * beyond + _WEEKS_OF_USUAL * USUAL_WEEK_SD**2) / (n + _WEEKS_OF_USUAL))


def _first_offer(record: Record) -> date:
    days = [o.when.last for animal in record.animals.values() for o in animal.offers[:1] if o.when.last]
    return min(days, default=record.on)


def _resting_days(animal: Animal, since: date, on: date, book: RuleBook) -> float:
    """Days after moults on record without prey, and as many before them: about what the round leaves out."""
    hardening = book.ask("hardening_medium_days", animal).number or 0.0
    near = [moult for moult in animal.moults if moult.when.last and since <= moult.when.last <= on]
    return min(2.0 * hardening * len(near), float((on - since).days + 1))


def taken_of(record: Record) -> Taken:
    """Count the offers of the last half year whose end was seen."""
    first = record.on - timedelta(days=TAKEN_DAYS - 1)
    seen = [
        offer.outcome
        for animal in record.animals.values()
        for offer in animal.offers
        if offer.outcome not in (None, "not_seen") and _within(offer, first, record.on)
    ]
    return Taken(sum(outcome == "taken" for outcome in seen), len(seen))


def _within(offer: Offer, first: date, last: date) -> bool:
    return offer.when.last is not None and first <= offer.when.last <= last
