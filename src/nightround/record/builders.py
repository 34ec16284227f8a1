"""Mutable halves of the record's views: the fold fills them entry by entry and freezes them once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.problem import Problem, Severity
from nightround.foundation.refusal import Refusal
from nightround.foundation.when import UNKNOWN, When, parse
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import Body, SubjectKind
from nightround.journal.kinds.knowledge import Claim, Named
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.record.corrections import Standing
from nightround.record.larder import LotAct, Supplied
from nightround.record.model import ClimateReading, HomeAct, LoggedDay, Look, Measurement, Moult, Offer, Rule
from nightround.record.names import Names

DAY = timedelta(days=1)


class Builder:
    """Something entries are about."""

    __slots__ = ("identity", "numbers")

    def __init__(self, identity: str) -> None:
        self.identity = identity
        self.numbers: list[int] = []


class OfferBook:
    """Offers of one subject with their outcomes; outcomes that name a later offer wait for it."""

    __slots__ = ("offers", "open_at", "waiting")

    def __init__(self) -> None:
        self.offers: list[Offer] = []
        self.open_at: list[int] = []
        self.waiting: list[Entry] = []


class AnimalBuilder(Builder):
    """One animal while the fold runs."""

    __slots__ = (
        "after_end", "arrivals", "arrived", "batch", "book", "drank", "drink_given",
        "during_moult", "ended", "ended_by", "ended_how", "hatched", "home", "injuries",
        "last_life", "last_look", "legs_lost", "leftovers", "look_before", "looks", "matured", "matured_by",
        "measurements", "moults", "moved_on", "not_found", "origin", "passed_over", "place", "promoted",
        "promotions", "quarantine_begun", "quarantined", "sex", "sex_by", "sex_how", "status", "stays",
        "taxon", "watered", "with_sac",
    )  # fmt: skip

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.taxon = self.batch = self.sex_how = self.ended_how = self.place = self.home = ""
        self.sex: Any = None
        self.sex_by: list[tuple[int, str, str]] = []  # (entry, sex, how)
        self.origin: Any = None
        self.arrived = self.hatched = self.promoted = UNKNOWN
        self.arrivals: list[Entry] = []
        self.promotions: list[Entry] = []
        self.status: Any = "alive"
        self.ended: When | None = None
        self.ended_by: Entry | None = None
        self.after_end: list[tuple[str, When, Entry]] = []  # (status, when it ended, what came later)
        self.during_moult: bool | None = None
        self.matured: When | None = None
        self.matured_by = 0
        self.quarantined = self.with_sac = False
        self.quarantine_begun: date | None = None
        self.legs_lost: int | None = None
        self.injuries: list[tuple[date, int]] = []
        self.last_look: date | None = None
        self.look_before: date | None = None
        self.last_life: date | None = None
        self.moults: list[Moult] = []
        self.measurements: list[Measurement] = []
        self.book = OfferBook()
        self.passed_over: list[date] = []
        self.looks: list[Look] = []
        self.stays: list[tuple[str, str, date | None, date | None]] = []
        self.moved_on: tuple[When, str, int] | None = None
        self.watered: list[date] = []
        self.drank: list[date] = []
        self.drink_given: list[date] = []
        self.leftovers: list[date] = []
        self.not_found: list[date] = []

    def looked(self, day: date) -> None:
        """Note a look on `day`."""
        last = self.last_look
        if last is None or day > last:
            self.look_before, self.last_look = last, day

    def lived(self, day: date) -> None:
        """Note a sign of life on `day`."""
        if self.last_life is None or day > self.last_life:
            self.last_life = day

    def stands(self, place: str, home: str, day: date | None) -> None:
        """Begin a stay on `day` and close the one before on the day before it."""
        if self.stays and (place, home) == (self.place, self.home) and self.stays[-1][3] is None:
            return
        self.place, self.home = place, home
        self.close_stay(day - DAY if day is not None else None)
        self.stays.append((place, home, day, None))

    def close_stay(self, last: date | None) -> None:
        """Close the running stay; one that would end before it began is dropped."""
        if not self.stays or self.stays[-1][3] is not None:
            return
        place, home, first, _ = self.stays.pop()
        if last is not None and (first is None or first <= last):
            self.stays.append((place, home, first, last))


class BatchBuilder(Builder):
    """One batch while the fold runs."""

    __slots__ = (
        "begun", "begun_by", "book", "counts", "hatched", "home", "living", "mother", "passed_over",
        "place", "promoted", "quarantined", "source", "started_with", "taxon", "watered",
    )  # fmt: skip

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.taxon = self.source = self.place = self.home = self.mother = ""
        self.begun = self.hatched = UNKNOWN
        self.begun_by: Entry | None = None
        self.started_with: int | None = None
        self.living: int | None = None
        self.promoted: list[str] = []
        self.counts: list[tuple[date, int | None, int | None]] = []
        self.book = OfferBook()
        self.passed_over: list[date] = []
        self.watered: list[date] = []
        self.quarantined = False


class HomeBuilder(Builder):
    """One home while the fold runs, with the animals and batches that are in it at the moment."""

    __slots__ = (
        "acts", "body", "lid_cover", "made_up", "occupants", "openings", "place",
    )  # fmt: skip

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.made_up = UNKNOWN
        self.body: MadeUp | None = None
        self.openings: dict[tuple[str, ...], Opening] = {}
        self.lid_cover: float | None = None
        self.place = ""
        self.occupants: dict[str, AnimalBuilder] = {}
        self.acts: list[HomeAct] = []

    def did(self, entry: Entry, body: Body) -> None:
        """Keep what was done or found, if its day is known."""
        if entry.when.last is not None:
            self.acts.append(HomeAct(entry.number, entry.when, body))


class PlaceBuilder(Builder):
    """One room or shelf while the fold runs."""

    __slots__ = ("expected", "heat_failed", "inside", "logged", "position", "readings", "sort")

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.sort: Any = None
        self.position: int | None = None
        self.inside = ""
        self.readings: list[ClimateReading] = []
        self.expected: list[ClimateReading] = []
        self.logged: list[LoggedDay] = []
        self.heat_failed: date | None = None


class LotBuilder(Builder):
    """One lot of feeders while the fold runs."""

    __slots__ = ("acts", "begun", "feeder", "finished", "from_whom", "how", "number", "price", "size_mm")

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.feeder = self.price = self.from_whom = ""
        self.how: Any = None
        self.begun = UNKNOWN
        self.acts: list[LotAct] = []
        self.size_mm: float | None = None
        self.number: int | None = None
        self.finished = False


class TaxonBuilder(Builder):
    """One taxon while the fold runs."""

    __slots__ = ("claims", "described")

    def __init__(self, identity: str) -> None:
        super().__init__(identity)
        self.described: Named | None = None
        self.claims: list[tuple[int, Claim]] = []


class RoomBuilder:
    """Everything the fold has gathered so far.

    names    per sort of thing, which code means which identity
    standing which entries stand for which
    """

    def __init__(
        self, on: date, clock: RoomClock, names: dict[SubjectKind, Names], standing: Standing
    ) -> None:
        self.on, self.clock, self.names, self.standing = on, clock, names, standing
        self.animals: dict[str, AnimalBuilder] = {}
        self.batches: dict[str, BatchBuilder] = {}
        self.homes: dict[str, HomeBuilder] = {}
        self.places: dict[str, PlaceBuilder] = {}
        self.lots: dict[str, LotBuilder] = {}
        self.taxa: dict[str, TaxonBuilder] = {}
        self.room = Builder("")
        self.rules: dict[tuple[str, str, str], Rule] = {}
        self.supplies: dict[tuple[str, str, str], Supplied] = {}
        self.winterings: list[tuple[SubjectKind, str, date, bool]] = []  # (kind, identity, day, begins)
        self.problems: list[Problem] = []
        self._shelves: dict[SubjectKind, tuple[dict[str, Any], Callable[[str], Builder]]] = {
            "animal": (self.animals, AnimalBuilder),
            "batch": (self.batches, BatchBuilder),
            "home": (self.homes, HomeBuilder),
            "place": (self.places, PlaceBuilder),
            "lot": (self.lots, LotBuilder),
            "taxon": (self.taxa, TaxonBuilder),
        }

    def of(self, about: Ref, day: date | None) -> Any:
        """Return the builder of what `about` meant on that day, made on first mention."""
        if about.kind == "room":
            return self.room
        shelf, make = self._shelves[about.kind]
        names = self.names.get(about.kind)
        identity = names.resolve(about.code, day) if names is not None else about.code
        found = shelf.get(identity)
        if found is None:
            found = shelf[identity] = make(identity)
        return found

    def home(self, code: str, day: date | None) -> HomeBuilder:
        """Return the home of that code."""
        found: HomeBuilder = self.of(Ref("home", code), day)
        return found

    def place(self, name: str, day: date | None) -> str:
        """Return the identity of the place of that name ('' stays ''), made on first mention."""
        if not name:
            return ""
        found: PlaceBuilder = self.of(Ref("place", name), day)
        return found.identity

    def code(self, subject: SubjectKind, identity: str) -> str:
        """Return the present code of an identity."""
        names = self.names.get(subject)
        return names.code_of(identity) if names is not None else identity

    def when_of(self, text: str, entry: Entry) -> When:
        """Read a date that stands inside a body; one that cannot be read is unknown, with a problem."""
        try:
            return parse(text, self.clock)
        except Refusal:
            self.problem(
                "date_not_readable", entry.about, f"Entry {entry.number} holds the date '{text}', "
                "which cannot be read.", "Correct the entry with a date such as 2026-03-01.", entry.number,
                severity="doubt",
            )  # fmt: skip
            return UNKNOWN

    def problem(
        self, kind: str, about: Ref | str, message: str, todo: str, *numbers: int,
        severity: Severity = "contradiction",
    ) -> None:  # fmt: skip
        """Put down a problem."""
        self.problems.append(Problem(kind, str(about), message, todo, tuple(sorted(set(numbers))), severity))
