"""One egg sac of the invented room: a pairing, two batches, and spiderlings promoted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from nightround.foundation.when import between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import animal as words
from nightround.journal.kinds import surroundings
from nightround.simulate.climate import SHELVES, day_at
from nightround.simulate.keeper import Keeper
from nightround.simulate.shelving import Resident

PAIRED_BEFORE_SAC = 95
OPENED_AFTER_LAID = 45
SPLIT_AFTER_OPENED = 12
MALE_STAYS = 6


@dataclass(slots=True)
class Batch:
    """A cup of spiderlings."""

    code: str
    shelf: int
    living: int
    to_promote: int
    open_offer: int = -1


@dataclass
class Brood:
    """Plays the sac's story by the day. `laid` is the column of laying."""

    keeper: Keeper
    rng: Random
    mother: Resident
    father: Resident
    taxon_name: str
    laid: int
    promotions: int
    promote: Callable[[Batch, int], None]
    batches: list[Batch] = field(default_factory=list)

    @property
    def returned(self) -> int:
        """Column on which the borrowed male went back."""
        return self.laid - PAIRED_BEFORE_SAC + MALE_STAYS

    @property
    def opened(self) -> int:
        """Column on which the sac was opened."""
        return self.laid + OPENED_AFTER_LAID

    def evening(self, column: int) -> None:
        """Write what belongs to this day of the story."""
        keeper = self.keeper
        day = on_day(day_at(keeper.climate, column))
        mother, father = self.mother, self.father
        if column == self.laid - PAIRED_BEFORE_SAC:
            keeper.note(mother, words.Paired(mate=father.code))
            keeper.note(father, words.Paired(mate=mother.code))
        elif column == self.returned:
            keeper.note(father, words.Left(how="returned", to_whom="the invented lender"), day)
            father.gone = True
            keeper.herd.remove(father.index)
        elif column == self.laid:
            mother.away = True
            keeper.note(mother, words.Sac(step="laid"), day)
        elif column == self.opened:
            self.open(column)
        elif column > self.opened and (column - self.opened) % 7 == 3:
            for batch in self.batches:
                self.week(batch, column)

    def open(self, column: int) -> None:
        """The sac is pulled, opened and split into a warm and a cool cup."""
        keeper, mother = self.keeper, self.mother
        mother.away = False
        day = on_day(day_at(keeper.climate, column))
        keeper.note(mother, words.Sac(step="pulled"), day)
        living, dead = 64 + self.rng.randint(0, 30), self.rng.randint(3, 9)
        keeper.note(
            mother,
            words.Sac(step="opened", eggs=self.rng.randint(0, 6), living=living, dead=dead, batch="batch 1"),
            day,
        )
        half = self.promotions // 2
        self.batches = [
            Batch("batch 1", 5, living // 2, half),
            Batch("batch 2", 2, living - living // 2, self.promotions - half),
        ]
        hatched = between(day_at(keeper.climate, column - 16), day_at(keeper.climate, column - 4)).text()
        for batch in self.batches:
            begun = surroundings.BatchBegun(
                taxon=self.taxon_name, number=batch.living, source=f"sac of {mother.code}", hatched=hatched,
                place=SHELVES[batch.shelf].name,
            )  # fmt: skip
            keeper.book.write(keeper.now, Ref("batch", batch.code), begun, day)

    def week(self, batch: Batch, column: int) -> None:
        """Flies, a count now and then, deaths, some that get their own code, the rest given away."""
        keeper, about = self.keeper, Ref("batch", batch.code)
        age = column - self.opened
        day = on_day(day_at(keeper.climate, column))
        if batch.living <= 0:
            return
        if batch.open_offer >= 0:
            seen = words.OfferSeen(outcome="taken")
            keeper.book.write(keeper.now, about, seen, keeper.tonight(), offer=batch.open_offer)
        flies = words.Offered(prey="fruit fly", number=max(4, batch.living // 2), prey_mm=2.6, prekilled=True)
        batch.open_offer = keeper.book.write(keeper.now, about, flies, keeper.tonight())
        dead = sum(self.rng.random() < (0.02 if age < 60 else 0.008) for _ in range(batch.living))
        batch.living -= dead
        if age >= SPLIT_AFTER_OPENED + 28:
            for _ in range(min(2, batch.to_promote, batch.living)):
                self.promote(batch, column)
                batch.living -= 1
                batch.to_promote -= 1
        if age % 28 == 3 or dead > 2:
            counted = surroundings.BatchCounted(living=batch.living, dead=dead)
            keeper.book.write(keeper.now, about, counted, day)
        if not batch.to_promote and age > 110:
            given = surroundings.BatchCounted(
                living=0, left=batch.living, note="given to three invented beginners"
            )
            seen = words.OfferSeen(outcome="taken")
            keeper.book.write(keeper.now, about, seen, keeper.tonight(), offer=batch.open_offer)
            keeper.book.write(keeper.now, about, given, day)
            batch.living = 0
