"""What is so with one animal tonight: the facts that every job asks for, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import NamedTuple

from nightround.plans.fit import Build, build_of, verdict
from nightround.plans.rules import RuleBook, RuleValue
from nightround.plans.signs import Signs, signs_of
from nightround.plans.sizes import Size, SizeClass, Stage
from nightround.record.model import Animal, Home, Offer, Record, Taxon
from nightround.reports.fit import FitVerdict
from nightround.reports.forecast import AnimalForecast, NextMoult
from nightround.reports.water import HomeWater


class Refusals(NamedTuple):
    """Offers in a row that were not taken: how many, the days of the first and of the last."""

    run: int
    since: date
    last: date


def sound(forecast: AnimalForecast) -> bool:
    """Whether every chance of a forecast is a chance: one that is not is no forecast, never a small risk."""
    ahead = forecast.next_moult
    chances = [forecast.may_have_moulted_unseen, *(ahead.within_days.values() if ahead else ())]
    days = [day for day in (ahead.quantiles_days.values() if ahead else ()) if day is not None]
    return all(0.0 <= chance <= 1.0 + 1e-9 for chance in chances) and all(day >= 0.0 for day in days)


@dataclass(frozen=True)
class Situation:
    """One living animal as of the record's day, with what the findings say of it."""

    record: Record
    book: RuleBook
    animal: Animal
    forecast: AnimalForecast | None
    size: Size
    quarantined: bool
    water: HomeWater | None = None

    def ask(self, key: str) -> RuleValue:
        """Return a rule as it counts for this animal."""
        return self.book.ask(key, self.animal)

    @cached_property
    def on(self) -> date:
        """The evening's room-local day."""
        return self.record.on

    @cached_property
    def taxon(self) -> Taxon | None:
        """Its taxon, when described or known by name."""
        return self.record.taxa.get(self.animal.taxon)

    @cached_property
    def habit(self) -> str:
        """How it lives, 'unknown' when nobody has said."""
        described = self.taxon.described if self.taxon else None
        return (described.habit if described else None) or "unknown"

    @cached_property
    def home(self) -> Home | None:
        """Its home, when it has one."""
        return self.record.homes.get(self.animal.home) if self.animal.home else None

    @cached_property
    def build(self) -> Build:
        """How it is built, lives and climbs."""
        return build_of(self.record, self.animal, self.book)

    @cached_property
    def fit(self) -> FitVerdict:
        """Whether its home fits it."""
        return verdict(self.record, self.animal, self.home, self.size, self.book)

    @cached_property
    def moulted_on(self) -> date | None:
        """The last day on which its latest moult of known date may have been."""
        days = [moult.when.last for moult in self.animal.moults if moult.when.last is not None]
        return max(days, default=None)

    @cached_property
    def days_since_moult(self) -> int | None:
        """Days since then."""
        return (self.on - self.moulted_on).days if self.moulted_on else None

    @cached_property
    def last_offer(self) -> Offer | None:
        """Its latest offer of known date."""
        return next((offer for offer in reversed(self.animal.offers) if offer.when.last is not None), None)

    @cached_property
    def open_offers(self) -> tuple[Offer, ...]:
        """Its offers whose outcome nobody has seen."""
        return self.animal.open_offers

    @cached_property
    def offered_on(self) -> date | None:
        """The day of that offer."""
        return self.last_offer.when.last if self.last_offer else None

    @cached_property
    def days_since_offer(self) -> int | None:
        """Days since that offer, whatever came of it."""
        return (self.on - self.offered_on).days if self.offered_on else None

    @cached_property
    def signs(self) -> Signs:
        """What looks since the last moult have shown."""
        return signs_of(self.animal, self.moulted_on)

    @cached_property
    def next_moult(self) -> NextMoult | None:
        """The forecast of its next moult, if it can have one."""
        return self.forecast.next_moult if self.forecast else None

    @cached_property
    def unseen(self) -> float:
        """Chance that it has moulted since the last look (0 when no forecast says otherwise)."""
        return self.forecast.may_have_moulted_unseen if self.forecast else 0.0

    @cached_property
    def _odds_points(self) -> list[tuple[int, float]]:
        return sorted(self.next_moult.within_days.items()) if self.next_moult else []

    def moult_within(self, days: float) -> float | None:
        """Chance of a moult within so many days if it has not moulted yet, between the forecast's points."""
        if not self._odds_points:
            return None
        before, chance_before = 0.0, 0.0
        for point, chance in self._odds_points:
            if point >= days:
                share = (days - before) / (point - before)
                return chance_before + share * (chance - chance_before)
            before, chance_before = float(point), chance
        return chance_before

    @cached_property
    def median_days(self) -> float | None:
        """Days until the even chance of a moult, None when not reachable."""
        return self.next_moult.quantiles_days.get("0.50") if self.next_moult else None

    @cached_property
    def interval_days(self) -> float | None:
        """The whole interval as expected now: elapsed and to come (twice what is to come when unknown)."""
        if self.median_days is None:
            return None
        elapsed = self.days_since_moult
        return self.median_days * 2 if elapsed is None else elapsed + self.median_days

    @cached_property
    def elapsed_share(self) -> float | None:
        """Share of that interval already past."""
        if self.interval_days is None or self.days_since_moult is None or self.interval_days <= 0:
            return None
        return self.days_since_moult / self.interval_days

    @cached_property
    def stage(self) -> Stage:
        """Spiderling, juvenile or adult, by maturity seen or by size; unknown without either."""
        if self.animal.matured is not None:
            return "adult"
        span = self.size.span_or_guess
        if span is None:
            return "unknown"
        if span.value < (self.ask("sling_below_span_mm").number or 0):
            return "sling"
        return "adult" if span.value >= (self.ask("adult_from_span_mm").number or 0) else "juvenile"

    @cached_property
    def size_class(self) -> SizeClass:
        """Class for hardening, by the upper end of the size: the larger hardens longer."""
        span = self.size.span_or_guess
        if span is None:
            return "unknown"
        classes: tuple[SizeClass, ...] = ("sling", "small", "medium")
        for name in classes:
            if span.high < (self.ask(f"{name}_below_span_mm").number or 0):
                return name
        return "large"

    @cached_property
    def refusals(self) -> Refusals | None:
        """Offers in a row refused or left uneaten since the moult, None when the latest was taken."""
        run, last, since = 0, None, None
        for offer in reversed(self.animal.offers):
            day = offer.when.last
            if offer.outcome is None or offer.outcome == "not_seen" or day is None:
                continue
            if offer.outcome == "taken" or (self.moulted_on and day <= self.moulted_on):
                break
            run, last, since = run + 1, last or day, day
        return Refusals(run, since, last) if last and since else None

    @cached_property
    def looked_on(self) -> date | None:
        """The day of the last look that found it."""
        return next((look.when.last for look in reversed(self.animal.looks) if look.when.last), None)

    def day_after(self, day: date, days: float) -> date:
        """Return the day so many days later, rounded up."""
        return day + timedelta(days=-(-int(days * 1000) // 1000))
