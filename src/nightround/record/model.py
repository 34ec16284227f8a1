"""What is true of the room as of a day: frozen views that the fold makes from the entries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Literal

import msgspec

from nightround.foundation.clock import RoomClock
from nightround.foundation.problem import Problem
from nightround.foundation.when import UNKNOWN, When
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.animal import MeasuredItem, Origin, Outcome, Seen, Sex
from nightround.journal.kinds.knowledge import Claim, Named
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.record.larder import Lot, Supplied

Status = Literal["alive", "escaped", "dead", "left"]


@dataclass(frozen=True, slots=True)
class Moult:
    """One moult of one animal. `when` holds both ends; `not_before` is the last day it had not moulted."""

    number: int
    when: When
    exuvia: str | None = None
    not_before: date | None = None


@dataclass(frozen=True, slots=True)
class Measurement:
    """One reading, canonical unit (mm or g). A shed skin measures the instar before that moult."""

    number: int
    when: When
    item: MeasuredItem
    value: float
    unit: str
    on: Literal["live", "shed_skin"] | None
    posture: Literal["bent", "stretched"] | None


class Offer(msgspec.Struct, frozen=True, gc=False):
    """One offer of prey with its outcome as far as known on this day (None: open, nobody has looked).

    A struct, because a room holds hundreds of thousands of them and of climate readings.
    """

    number: int
    when: When
    prey: str
    count: int | None
    prey_mm: float | None
    prekilled: bool | None
    outcome: Outcome | None
    seen_on: date | None
    seen_by: int | None


@dataclass(frozen=True, slots=True)
class Look:
    """A sighting with its signs."""

    number: int
    when: When
    signs: Seen


@dataclass(frozen=True, slots=True)
class Stay:
    """Where it stood from the first day to the last (None: still). '' means unknown."""

    place: str
    home: str
    first: date | None
    last: date | None


@dataclass(frozen=True, slots=True)
class Animal:
    """One animal as of the record's day. Tuples are in order of time, then of entry number.

    arrived      when it came into the room (UNKNOWN when not known); the latest time if it came back
    promoted     when it got its own code out of a batch of this room
    hatched      when it hatched, as far as known
    sex_how      '' at arrival, else exuvia/ventral/mature
    matured      when it was seen to be mature, None when not
    last_look    last day on which somebody would have noticed a moult (None: never looked at)
    last_life    last day with a sign of life
    quarantined  in quarantine by an entry (plans add the arrival rule)
    drink_given  days on which drops were given or the dish was filled
    injuries     (day, legs lost) where both are known
    ended        when it died, left or escaped; None while alive here
    entries      numbers of all standing entries about it, ascending
    """

    code: str
    taxon: str
    sex: Sex | None = None
    sex_how: str = ""
    origin: Origin | None = None
    arrived: When = UNKNOWN
    hatched: When = UNKNOWN
    batch: str = ""
    promoted: When = UNKNOWN
    status: Status = "alive"
    ended: When | None = None
    ended_how: str = ""
    during_moult: bool | None = None
    matured: When | None = None
    place: str = ""
    home: str = ""
    quarantined: bool = False
    quarantine_begun: date | None = None
    legs_lost: int | None = None
    injuries: tuple[tuple[date, int], ...] = ()
    with_sac: bool = False
    last_look: date | None = None
    last_life: date | None = None
    moults: tuple[Moult, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    offers: tuple[Offer, ...] = ()
    passed_over: tuple[date, ...] = ()
    looks: tuple[Look, ...] = ()
    stays: tuple[Stay, ...] = ()
    watered: tuple[date, ...] = ()
    drank: tuple[date, ...] = ()
    drink_given: tuple[date, ...] = ()
    leftovers_removed: tuple[date, ...] = ()
    not_found: tuple[date, ...] = ()
    codes: tuple[str, ...] = ()
    entries: tuple[int, ...] = ()

    @property
    def here(self) -> bool:
        """Whether it is alive and in the room."""
        return self.status == "alive"

    @property
    def mature_male(self) -> bool:
        """Whether it is a male after its ultimate moult: it will not moult again."""
        return self.sex == "male" and self.matured is not None

    @property
    def last_moult(self) -> Moult | None:
        """Its latest moult known."""
        return self.moults[-1] if self.moults else None

    @property
    def open_offers(self) -> tuple[Offer, ...]:
        """Offers whose outcome nobody has seen yet."""
        return tuple(offer for offer in self.offers if offer.outcome is None)


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch of n: never individuals until promoted. Numbers are None when unknown."""

    code: str
    taxon: str
    begun: When = UNKNOWN
    hatched: When = UNKNOWN
    source: str = ""
    started_with: int | None = None
    living: int | None = None
    promoted: tuple[str, ...] = ()
    place: str = ""
    home: str = ""
    counts: tuple[tuple[date, int | None, int | None], ...] = ()  # (day, living, dead)
    offers: tuple[Offer, ...] = ()
    passed_over: tuple[date, ...] = ()
    watered: tuple[date, ...] = ()
    quarantined: bool = False
    entries: tuple[int, ...] = ()


class HomeAct(msgspec.Struct, frozen=True, gc=False):
    """One thing done to a home or found in it: the entry's body as it stands.

    MadeUp, Opening, LidCover, Watered, Misted, Weighed, MoistureFelt, Dish, Trouble or Cleaned.
    """

    number: int
    when: When
    body: Body


@dataclass(frozen=True, slots=True)
class Home:
    """An enclosure: how it was made up last, its openings by label, what was done to it.

    acts   everything of known day that was done to it or found in it, in order of time, also what was written
           about the animal or batch in it; `watered`, `weighed`, `felt` and `troubles` are read off them
    """

    code: str
    made_up: When = UNKNOWN
    body: MadeUp | None = None
    openings: tuple[Opening, ...] = ()
    lid_cover_fraction: float | None = None
    place: str = ""
    occupants: tuple[str, ...] = ()
    watered: tuple[tuple[date, float | None], ...] = ()  # (day, ml)
    weighed: tuple[tuple[date, float], ...] = ()  # (day, g)
    felt: tuple[tuple[date, str | None, str | None], ...] = ()  # (day, surface, bottom)
    troubles: tuple[tuple[date, str], ...] = ()  # (day, mould | mites | flooded)
    acts: tuple[HomeAct, ...] = ()
    codes: tuple[str, ...] = ()
    entries: tuple[int, ...] = ()


class ClimateReading(msgspec.Struct, frozen=True, gc=False):
    """One reading of a place: °C and % where known."""

    number: int
    when: When
    temperature_c: float | None
    humidity_percent: float | None
    statistic: Literal["mean", "min", "max", "reading"]


class LoggedDay(msgspec.Struct, frozen=True, gc=False):
    """A room day of a logger's file: means of its hours from the turn of the day on, None where not read.

    low_c, high_c   lowest and highest single reading
    left_out        readings of the day that no room has
    """

    number: int
    day: date
    file: str
    hours_c: tuple[float | None, ...]
    hours_percent: tuple[float | None, ...]
    low_c: float | None
    high_c: float | None
    recorded: date
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class Place:
    """A room or shelf with its readings; `position` orders the walk (None: by name, last)."""

    name: str
    sort: Literal["room", "shelf"] | None = None
    position: int | None = None
    inside: str = ""
    readings: tuple[ClimateReading, ...] = ()
    expected: tuple[ClimateReading, ...] = ()
    logged: tuple[LoggedDay, ...] = ()
    heat_failed: date | None = None
    names: tuple[str, ...] = ()
    entries: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Taxon:
    """A taxon under its present name, with every name ever used."""

    name: str
    names: tuple[str, ...] = ()
    described: Named | None = None
    claims: tuple[tuple[int, Claim], ...] = ()
    entries: tuple[int, ...] = ()

    @property
    def group(self) -> str:
        """The group it is pooled in ('' unknown)."""
        return self.described.group if self.described else ""


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of the trade as the keeper overruled it for the room, a taxon, an animal or a place."""

    number: int
    about: Ref
    rule: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class Wintering:
    """Wintering of an animal, of whoever lives at a place, or of the room, began or ended on a day."""

    about: Ref
    day: date
    begins: bool


@dataclass(frozen=True)
class Record:
    """Everything known of the room at the close of the room-local day `on`.

    supplies                    what can be bought, by item, name and seller
    winterings                  in order of time
    entries                     the standing entries that are known on this day, by number
    last_number, last_recorded  the highest number among them, and the latest instant one was written
    """

    on: date
    clock: RoomClock
    animals: Mapping[str, Animal] = field(default_factory=lambda: MappingProxyType({}))
    batches: Mapping[str, Batch] = field(default_factory=lambda: MappingProxyType({}))
    homes: Mapping[str, Home] = field(default_factory=lambda: MappingProxyType({}))
    places: Mapping[str, Place] = field(default_factory=lambda: MappingProxyType({}))
    lots: Mapping[str, Lot] = field(default_factory=lambda: MappingProxyType({}))
    taxa: Mapping[str, Taxon] = field(default_factory=lambda: MappingProxyType({}))
    supplies: tuple[Supplied, ...] = ()
    rules: tuple[Rule, ...] = ()
    winterings: tuple[Wintering, ...] = ()
    problems: tuple[Problem, ...] = ()
    entries: Mapping[int, Entry] = field(default_factory=lambda: MappingProxyType({}))
    last_number: int = 0
    last_recorded: datetime | None = None

    def animal(self, code: str) -> Animal | None:
        """Return the animal of that code, its present one before any it was called by earlier."""
        found = self.animals.get(code)
        if found is not None:
            return found
        return next((animal for animal in self.animals.values() if code in animal.codes), None)

    def taxon(self, name: str) -> Taxon | None:
        """Return the taxon of that name, its present one before any it was called by earlier."""
        found = self.taxa.get(name)
        if found is not None:
            return found
        return next((taxon for taxon in self.taxa.values() if name in taxon.names), None)

    def living(self) -> list[Animal]:
        """Return the animals that are alive and here, by code."""
        return [animal for _, animal in sorted(self.animals.items()) if animal.here]
