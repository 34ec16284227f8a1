"""What the keeper knows of each animal, the homes and shelves it stands on, and how a note is written."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from nightround.foundation.when import When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds import animal as words
from nightround.simulate.book import Book
from nightround.simulate.climate import SHELVES, RoomClimate, day_at
from nightround.simulate.drying import DryingHomes
from nightround.simulate.homes import PILES, home_for, made_up, openings
from nightround.simulate.life import Herd, Life
from nightround.simulate.taxa import SimulatedTaxon

# Of so many homes one is weighed now and then; of so many one has no openings on record.
WATCHED = 3
UNDESCRIBED = 17
# Of so many homes the keeper's dice are thrown at waterings and weighings: a seed's stories hang on them.
DICED = 9


@dataclass(slots=True)
class Resident:
    """What the keeper knows of one animal. Days are columns; `index` is its place in the herd."""

    index: int
    code: str
    shelf: int
    home: str
    home_size: int
    arrived: int
    last_clear: int
    moults_known: int
    known_moult: int = -1000
    open_offer: int = -1
    open_eaten: bool = False
    last_offer: int = -1000
    last_water: int = -1000
    last_drink: int = -1000
    premoult_until: int = -1000
    known_sex: str = ""
    mature: bool = False
    quarantined: bool = False
    span_due: int = -1
    last_weighed: int = -1000
    away: bool = False
    gone: bool = False
    first_home: bool = True
    unnoticed: int = 0


class Shelving:
    """Residents, their homes and shelves, and the book that notes are written into."""

    def __init__(self, book: Book, herd: Herd, climate: RoomClimate, rng: Random, unrecorded: float) -> None:
        self.book = book
        self.herd = herd
        self.climate = climate
        self.rng = rng
        self.unrecorded = unrecorded
        self.residents: list[Resident] = []
        self.homes = 0
        # Its own dice: how homes dry changes nobody's life.
        own = Random()
        own.setstate(rng.getstate())
        self.drying = DryingHomes(climate, Random(own.random()))
        self.dice: dict[str, int] = {}
        self.moult_lines: dict[tuple[str, int], int] = {}
        self.skip_unrecorded: set[tuple[str, int]] = set()
        self.column = 0
        self.now = book.local(climate.first, 21)

    def life(self, resident: Resident) -> Life:
        """The true life behind a resident."""
        return self.herd.lives[resident.index]

    def kind(self, resident: Resident) -> SimulatedTaxon:
        """Its taxon."""
        return self.herd.biology.taxa[self.life(resident).taxon]

    def tonight(self) -> When:
        """The room's day of this round, with the moment."""
        day = day_at(self.climate, self.column)
        return When(day, day, self.now.astimezone(self.book.clock.zone))

    def note(
        self,
        resident: Resident,
        body: Body,
        when: When | None = None,
        *,
        offer: int | None = None,
        corrects: int | None = None,
    ) -> int:
        """Write one entry about an animal, now."""
        if when is None:
            when = self.tonight()
        return self.book.write(
            self.now, Ref("animal", resident.code), body, when, offer=offer, corrects=corrects
        )

    # -- homes ---------------------------------------------------------------------------------------------

    def make_home(self, resident: Resident, when: When) -> None:
        """Make up the home that fits it now and give it a number."""
        life, kind = self.life(resident), self.kind(resident)
        self.homes += 1
        resident.home = f"H{self.homes:03d}"
        resident.home_size = home_for(kind.habit, kind.span * life.carapace_mm * 1.1)
        size = PILES[kind.habit][resident.home_size]
        about = Ref("home", resident.home)
        body = made_up(kind.habit, size, SHELVES[resident.shelf].name)
        holes = openings(size, life.carapace_mm)
        self.book.write(self.now, about, body, when)
        for opening in holes if self.homes % UNDESCRIBED else []:
            self.book.write(self.now, about, opening, when)
        watched = self.homes % WATCHED == 0
        if self.homes % DICED == 0 and size.length_mm >= 70:
            self.dice[resident.home] = -100
        self.drying.add(resident.home, body, holes, resident.shelf, self.column, watched)

    def rehouse(self, resident: Resident) -> None:
        """Move it into the next home that fits."""
        self.drying.drop(resident.home)
        self.dice.pop(resident.home, None)
        day = on_day(day_at(self.climate, self.column))
        self.make_home(resident, day)
        resident.first_home = False
        self.note(resident, words.Moved(home=resident.home, place=SHELVES[resident.shelf].name), day)

    def shelve(self, resident: Resident, shelf: int) -> None:
        """Move its home onto another shelf."""
        resident.shelf = shelf
        self.drying.shelve(resident.home, shelf, self.column)
        self.herd.place[resident.index] = shelf
        day = on_day(day_at(self.climate, self.column))
        self.note(resident, words.Moved(home=resident.home, place=SHELVES[shelf].name), day)

    def choose_shelf(self, resident: Resident) -> int:
        """Small ones into the drawer, the rest where their taxon stands."""
        life, kind = self.life(resident), self.kind(resident)
        if life.carapace_mm < 2.2:
            return 5
        if kind.letter in "PCK" and self.rng.random() < 0.5:
            return 4
        return (ord(kind.letter) + self.rng.randint(0, 1)) % 4
