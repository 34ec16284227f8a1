"""The demo room: a keeper who does not exist, told evening by evening from one seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp
from random import Random
from types import MappingProxyType
from typing import Final

import numpy as np

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import Refusal
from nightround.foundation.when import between, on_day
from nightround.journal.kinds import animal as words
from nightround.simulate import household
from nightround.simulate.book import Book
from nightround.simulate.brood import Batch, Brood
from nightround.simulate.climate import ROOM_NAME, SHELVES, RoomClimate, day_at, make_climate, season
from nightround.simulate.keeper import Keeper
from nightround.simulate.life import Biology, Breaks, Herd, Life
from nightround.simulate.scales import live_span
from nightround.simulate.shelving import Resident
from nightround.simulate.shop import write_supplies
from nightround.simulate.stories import Stories
from nightround.simulate.taxa import TAXA, true_name
from nightround.simulate.truth import SimulatedRoom, TrueAnimal, Truth

NAME: Final = "Invented demo room"
ZONE: Final = "Europe/Paris"
KNOWN_AHEAD_DAYS: Final = 200
ENTRIES_A_YEAR: Final = 2900
ENTRIES_AN_ANIMAL_YEAR: Final = 86
PARCEL_DAYS: Final = 9
OPEN_LIVING: Final = 0.7
NEAR: Final = 0.85
FOUNDING_SHARE: Final = 0.55
LEAVING_SHARE: Final = 0.09
SMALLEST_BROOD_ROOM: Final = 40
SHORTEST_BROOD_DAYS: Final = 500
MOTHER_LETTER: Final = "T"
HOLIDAYS: Final = ((2, 10, 8), (8, 4, 11))  # month, day, length: nobody walks the shelves


@dataclass(frozen=True)
class Arrival:
    """One animal to come: when, which taxon, how far grown."""

    column: int
    taxon: int
    stage: float
    part: str = ""


def room(
    seed: int = 1,
    *,
    animals: int = 150,
    years: float = 3.0,
    entries: int | None = None,
    end: date | None = None,
    clock: RoomClock | None = None,
    breaks: Breaks | None = None,
) -> SimulatedRoom:
    """Simulate a room of `animals` over `years` up to the evening of `end` (default: yesterday).

    With `entries` the years follow from it: the room gets about so many, within 20 %. `animals` counts
    everybody who is ever recorded; about three in four are there on the last evening. The same seed, size
    and end give the same entries. Raises Refusal for less than one animal or less than 30 days.
    """
    if entries is not None:
        years = max(0.1, (entries - 20 * animals) / (ENTRIES_A_YEAR + ENTRIES_AN_ANIMAL_YEAR * animals))
    kept = round(years * 365.25)
    if animals < 1 or kept < 30:
        raise Refusal(
            "a room of at least one animal over at least 30 days", got=f"{animals} animals, {kept} days"
        )
    clock = clock or RoomClock(ZONE)
    last = end or clock.today() - timedelta(days=1)
    return _Telling(seed, animals, kept, last, clock, breaks or Breaks()).tell()


class _Telling:
    """One run of the simulator."""

    def __init__(
        self, seed: int, animals: int, kept: int, end: date, clock: RoomClock, breaks: Breaks
    ) -> None:
        self.seed, self.kept, self.end, self.clock, self.breaks = seed, kept, end, clock, breaks
        self.rng = Random(f"keeper {seed}")
        draws = np.random.default_rng([seed, 1])
        first, days = end - timedelta(days=kept - 1), kept + KNOWN_AHEAD_DAYS
        self.climate: RoomClimate = make_climate(np.random.default_rng([seed, 2]), first, days, kept)
        biology = Biology(draws, TAXA, breaks)
        self.biology = biology
        self.herd = Herd(biology, self.climate.temperature_c[:-1], season(first, days), animals + 2)
        self.book = Book(clock)
        self.keeper = Keeper(self.book, self.herd, self.climate, self.rng, breaks.unrecorded)
        self.counters: dict[str, int] = {}
        self.watched: dict[int, int] = {}
        self.wide = 3 if animals > 600 else 2
        with_brood = animals >= SMALLEST_BROOD_ROOM and kept >= SHORTEST_BROOD_DAYS
        self.promotions = animals // 15 if with_brood else 0
        self.laid = int(0.30 * kept) if with_brood else -1
        self.arrivals = self._arrivals(animals - self.promotions, with_brood)
        self.stories = Stories(self.keeper, Random(f"stories {seed}"), kept, {})
        self.brood: Brood | None = None
        self.parts: dict[str, Resident] = {}
        self.shown: Resident | None = None
        self.stale = [0] * len(SHELVES)
        self.next_round = 1

    def _arrivals(self, number: int, with_brood: bool) -> list[Arrival]:
        """Everybody who comes from outside, by day."""
        found = []
        if with_brood:
            mother = next(index for index, kind in enumerate(TAXA) if kind.letter == MOTHER_LETTER)
            found = [Arrival(0, mother, 1.08, "mother"), Arrival(self.laid - 130, mother, 1.0, "father")]
        for order, taxon in enumerate(household.taxa_by_share(self.rng, number - len(found))):
            draw = self.rng.random()
            stage = (
                self.rng.uniform(0, 0.12) if draw < 0.5 else self.rng.uniform(0.2, 0.7) if draw < 0.8
                else self.rng.uniform(0.85, 1.05)
            )  # fmt: skip
            founding = order < FOUNDING_SHARE * number
            earliest = 27
            if not TAXA[taxon].females_go_on and self.rng.random() < 0.85:
                # Short lives: most of those that are here came within the last year, and came small.
                founding, earliest, stage = False, self.kept - 330, min(stage, self.rng.uniform(0, 0.5))
            parcel = max(3, earliest // PARCEL_DAYS)
            parcel = self.rng.randint(parcel, max(parcel, (self.kept - 4) // PARCEL_DAYS))
            column = 0 if founding else PARCEL_DAYS * parcel
            found.append(Arrival(min(column, self.kept - 2), taxon, stage))
        return sorted(found, key=lambda arrival: arrival.column)

    def tell(self) -> SimulatedRoom:
        """Run all days and close the book."""
        household.set_up(self.book, self.climate, TAXA)
        household.write_claims(self.book, self.climate, self.kept, TAXA)
        household.write_climate(self.book, self.climate, self.kept)
        household.write_extremes(self.book, self.climate, self.kept, Random(f"extremes {self.seed}"))
        household.write_larder(self.book, self.climate, self.kept, Random(f"larder {self.seed}"))
        household.write_expected(self.book, self.climate, self.kept)
        write_supplies(self.book, self.climate, self.kept)
        household.rename(self.book, self.climate, int(self.kept * 0.4))
        for column in range(self.kept + KNOWN_AHEAD_DAYS):
            early, late = self.herd.day(column)
            if column == self.kept - 2 and not early:
                early = self._nearest_to_moult()
            for index in early:
                self.herd.moult(index, column)
            if column < self.kept:
                self._evening(column)
            for index in late:
                if self.herd.living[index]:
                    self.herd.moult(index, column)
        return self._close()

    def _nearest_to_moult(self) -> list[int]:
        """Who the last evening finds just moulted: the nearest of those in sight, a little early."""
        here = [r for r in self.keeper.residents if not r.gone and self.keeper.kind(r).clear >= OPEN_LIVING]
        here = [r for r in here if self.herd.living[r.index] and NEAR < self.herd.phase(r.index) < 1.0]
        if not here:
            return []
        chosen = max(here, key=lambda resident: self.herd.phase(resident.index))
        life = self.keeper.life(chosen)
        life.intervals[-1] = float(self.herd.elapsed[chosen.index])
        self.shown = chosen
        return [chosen.index]

    # -- evenings --------------------------------------------------------------------------------------------

    def _evening(self, column: int) -> None:
        day = day_at(self.climate, column)
        self.keeper.dry()
        self.keeper.start(self.book.local(day, 19, 30), column)
        while self.arrivals and self.arrivals[0].column == column:
            self._arrive(self.arrivals.pop(0))
        if self.brood is not None:
            self.keeper.start(max(self.keeper.now, self.book.local(day, 20, 15)), column)
            self.brood.evening(column)
        self.keeper.start(max(self.keeper.now, self.book.local(day, 20, 40)), column)
        self.stories.evening(column)
        if column % 14 == 6:
            self.keeper.weigh_homes()
        if self._round_tonight(day, column):
            self.keeper.start(max(self.keeper.now, self.book.local(day, 21, self.rng.randint(0, 40))), column)
            here = sum(not resident.gone for resident in self.keeper.residents)
            if (
                column == self.kept - 1
                and self.shown is not None
                and self.keeper.life(self.shown).died is None
            ):
                self.keeper.handled(self.shown)
            self.keeper.round(self._shelves(column), min(24.0, 5 * 3600 / max(1, here)))

    def _round_tonight(self, day: date, column: int) -> bool:
        for month, first, length in HOLIDAYS:
            if 0 <= (day - date(day.year, month, first)).days < length and column < self.kept - 4:
                return False
        if column < self.next_round and column < self.kept - 2:
            return False
        self.next_round = column + self.rng.choice((1, 1, 2, 2, 3))
        return True

    def _shelves(self, column: int) -> list[int]:
        """The longest unvisited shelves until about half of the animals are reached, in walking order."""
        load = [0] * len(SHELVES)
        for resident in self.keeper.residents:
            load[resident.shelf] += not resident.gone
        chosen: list[int] = []
        reached = 0
        for shelf in sorted(range(len(SHELVES)), key=lambda place: self.stale[place]):
            if reached < sum(load) / 2 and load[shelf]:
                chosen.append(shelf)
                reached += load[shelf]
        for shelf in chosen:
            self.stale[shelf] = column
        return sorted(chosen)

    # -- comings ---------------------------------------------------------------------------------------------

    def _code(self, letter: str) -> str:
        self.counters[letter] = self.counters.get(letter, 0) + 1
        return f"{letter}{self.counters[letter]:0{self.wide}d}"

    def _resident(self, life: Life, shelf: int, elapsed: float, column: int, spared: bool) -> Resident:
        index = self.herd.add(life, shelf, elapsed, column, spared=spared)
        self.watched[index] = column
        resident = Resident(
            index, self._code(TAXA[life.taxon].letter), shelf, "", 0, column, column, len(life.moults)
        )
        resident.last_offer = column - self.rng.randint(0, 6)
        resident.last_water = column - self.rng.randint(0, 9)
        resident.last_drink = column - self.rng.randint(0, 5)
        self.keeper.residents.append(resident)
        return resident

    def _arrive(self, arrival: Arrival) -> None:
        """Somebody comes: quarantine unless the room begins with it."""
        life, elapsed = self.biology.arrived(arrival.taxon, arrival.column, arrival.stage)
        if arrival.part:
            life, elapsed = self._cast(arrival)
        resident = self._resident(life, 0, elapsed, arrival.column, bool(arrival.part))
        founding = arrival.column == 0
        resident.shelf = self.keeper.choose_shelf(resident) if founding else len(SHELVES) - 1
        self.herd.place[resident.index] = resident.shelf
        when = on_day(day_at(self.climate, arrival.column))
        self.keeper.make_home(resident, when)
        self.keeper.note(resident, self._arrived(resident, life, arrival), when)
        self._told(resident, life)
        if not founding and not arrival.part:
            self.keeper.quarantine(resident, when)
        if arrival.part:
            self.parts[arrival.part] = resident
            self._cast_brood(arrival)
        elif self.rng.random() < LEAVING_SHARE:
            self.stories.leaving[resident.index] = self.rng.randint(arrival.column + 120, self.kept + 200)

    def _cast(self, arrival: Arrival) -> tuple[Life, float]:
        """Draw until sex and maturity fit the part."""
        wanted = "female" if arrival.part == "mother" else "male"
        while True:
            life, elapsed = self.biology.arrived(arrival.taxon, arrival.column, arrival.stage)
            if life.sex == wanted and life.mature_at is not None:
                return life, elapsed

    def _cast_brood(self, arrival: Arrival) -> None:
        self.stories.busy.add(self.parts[arrival.part].index)
        if "mother" in self.parts and "father" in self.parts:
            mother = self.parts["mother"]
            # A female with eggs does not moult: her running interval is long enough for the story.
            need = float(self.herd.elapsed[mother.index]) + 260.0
            if self.herd.due[mother.index] < need:
                self.herd.delay(mother.index, need / float(self.herd.due[mother.index]))
            self.brood = Brood(
                self.keeper, Random(f"brood {self.seed}"), mother, self.parts["father"],
                TAXA[arrival.taxon].name, self.laid, self.promotions, self._promote,
            )  # fmt: skip

    def _arrived(self, resident: Resident, life: Life, arrival: Arrival) -> words.Arrived:
        """What the keeper is told: hatching month of young ones, sex of some grown ones."""
        young = arrival.stage < 0.3
        hatched = day_at(self.climate, life.hatched)
        month_end = (hatched.replace(day=1) + timedelta(days=31)).replace(day=1) - timedelta(days=1)
        grown = arrival.stage > 0.6 and (self.rng.random() < 0.6 or life.stopped)
        resident.known_sex = life.sex if grown else ""
        origin: words.Origin = "long_term_captive" if arrival.column == 0 and not young else "captive_bred"
        return words.Arrived(
            taxon=self._name(life.taxon, arrival.column),
            sex=life.sex if grown else None,
            origin="unknown" if self.rng.random() < 0.1 else origin,
            hatched=between(hatched.replace(day=1), month_end).text()
            if young and self.rng.random() < 0.7
            else "",
            place=SHELVES[resident.shelf].name,
            home=resident.home,
            from_whom="a breeder (invented)" if arrival.column else "a keeper who gave up (invented)",
        )

    def _name(self, taxon: int, column: int) -> str:
        return TAXA[taxon].name if column < int(self.kept * 0.4) else true_name(TAXA[taxon])

    def _told(self, resident: Resident, life: Life) -> None:
        """A last moult the seller knows, a first span, and a male that comes mature."""
        day = on_day(day_at(self.climate, self.keeper.column))
        if life.moults and self.rng.random() < 0.3:
            when = on_day(day_at(self.climate, life.moults[-1]))
            line = self.keeper.note(resident, words.Moulted(note="told on arrival"), when)
            self.keeper.moult_lines[resident.code, len(life.moults) - 1] = line
            resident.known_moult = life.moults[-1]
        if self.rng.random() < 0.5:
            self.keeper.note(resident, live_span(self.rng, TAXA[life.taxon].span * life.carapace_mm), day)
        if life.mature_at is not None and life.stopped:
            resident.mature = True
            self.keeper.note(resident, words.Matured(sex=life.sex), day)

    def _promote(self, batch: Batch, column: int) -> None:
        """One spiderling gets its own code and home."""
        assert self.brood is not None
        born = self.brood.opened - 8
        life = self.biology.hatch(self.keeper.life(self.brood.mother).taxon, born)
        elapsed = self.herd.catch_up(life, batch.shelf, born, column)
        resident = self._resident(life, batch.shelf, elapsed, column, False)
        when = on_day(day_at(self.climate, column))
        self.keeper.make_home(resident, when)
        hatched = between(day_at(self.climate, born - 8), day_at(self.climate, born + 4))
        body = words.Hatched(
            taxon=self._name(life.taxon, column), batch=batch.code, hatched=hatched.text(),
            place=SHELVES[batch.shelf].name, home=resident.home,
        )  # fmt: skip
        self.keeper.note(resident, body, when)

    # -- the end ---------------------------------------------------------------------------------------------

    def _close(self) -> SimulatedRoom:
        final = self.clock.close_of(self.end) - timedelta(seconds=1)
        drafts, numbers = self.book.close(final, f"demo-{self.seed}")
        animals = {resident.code: self._true(resident, numbers) for resident in self.keeper.residents}
        rows = [shelf.name for shelf in SHELVES] + [ROOM_NAME]
        warmth: dict[str, Mapping[date, float]] = {
            name: MappingProxyType(
                {
                    day_at(self.climate, column): float(t)
                    for column, t in enumerate(self.climate.temperature_c[row])
                }
            )
            for row, name in enumerate(rows)
        }
        truth = Truth(
            MappingProxyType(animals),
            MappingProxyType({true_name(kind): kind for kind in TAXA}),
            MappingProxyType(warmth),
            self.breaks,
            self.end + timedelta(days=KNOWN_AHEAD_DAYS),
            tuple(self.stories.planted),
            self.keeper.true_water(),
        )
        return SimulatedRoom(NAME, self.clock, drafts, self.end, truth)

    def _true(self, resident: Resident, numbers: list[int]) -> TrueAnimal:
        life, lines = self.keeper.life(resident), self.keeper.moult_lines
        at_end = self.stories.left.get(resident.index)
        if self.brood is not None and resident is self.brood.father and resident.gone:
            at_end = self.brood.returned
        places = [lines.get((resident.code, moult)) for moult in range(len(life.moults))]
        return TrueAnimal(
            resident.code,
            true_name(TAXA[life.taxon]),
            life.sex,
            day_at(self.climate, life.hatched),
            day_at(self.climate, self.watched[resident.index]),
            tuple(day_at(self.climate, moult) for moult in life.moults),
            tuple(exp(size) for size in life.log_sizes),
            tuple(life.intervals),
            life.mature_at,
            tuple(None if place is None else numbers[place] or None for place in places),
            None if life.died is None else day_at(self.climate, life.died),
            life.died_in_moult,
            None if at_end is None else day_at(self.climate, at_end),
            life.pace,
            life.growth,
        )
