"""Things that happen once: an escape, lost legs, mites, corrections, and untidy facts planted on purpose.

Each planted fact is one that the record must notice as a Problem and must not mend.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from random import Random
from typing import Final, Literal

from nightround.foundation.quantities import quantity
from nightround.foundation.when import When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import animal as words
from nightround.journal.kinds import knowledge, surroundings
from nightround.simulate.climate import day_at
from nightround.simulate.keeper import Keeper
from nightround.simulate.shelving import Resident

LEGS: Final = 2


def _length(item: words.MeasuredItem, written: str, on: Literal["live", "shed_skin"]) -> words.Measured:
    read = quantity(written, "mm", "length")
    return words.Measured(
        item=item,
        on=on,
        value=read.value,
        unit=read.unit,
        written=read.written,
        written_unit=read.written_unit,
    )


class Stories:
    """Plays each story on the first evening from its day on which somebody fits the part."""

    def __init__(self, keeper: Keeper, rng: Random, kept: int, leaving: dict[int, int]) -> None:
        self.keeper = keeper
        self.rng = rng
        self.kept = kept
        self.leaving = leaving
        self.left: dict[int, int] = {}
        self.busy: set[int] = set()
        self.planted: list[str] = []
        self.out: tuple[Resident, int] | None = None
        self.typo: tuple[Resident, int] | None = None
        parts: list[tuple[float, Callable[[], bool]]] = [
            (0.10, self.written_twice), (0.22, self.mites), (0.35, self.ten_times_too_long),
            (0.47, self.legs_lost),
            (0.55, self.filmed), (0.60, self.escape), (0.72, self.halved_span), (0.80, self.sexed_both_ways),
            (0.88, self.moult_of_the_dead), (0.95, self.counted_though_left),
        ]  # fmt: skip
        self.waiting = [(int(share * kept), story) for share, story in parts]

    def evening(self, column: int) -> None:
        """Play what is due."""
        for index, day in self.leaving.items():
            if day == column:
                self.leave(index, column)
        self.return_of_the_escaped(column)
        self.mend_the_typo(column)
        self.waiting = [(day, story) for day, story in self.waiting if day > column or not story()]

    def candidates(self, *, large: bool = False) -> Iterator[Resident]:
        """Animals alive and here that no story has used, in the keeper's order."""
        for resident in self.keeper.residents:
            life = self.keeper.life(resident)
            free = not resident.gone and not resident.away and resident.index not in self.busy
            if free and life.died is None and (not large or life.carapace_mm > 5):
                yield resident

    def pick(self, habits: tuple[str, ...] = (), *, large: bool = False) -> Resident | None:
        """One that fits, or nobody tonight."""
        found = [r for r in self.candidates(large=large) if not habits or self.keeper.kind(r).habit in habits]
        if not found:
            return None
        chosen = self.rng.choice(found)
        self.busy.add(chosen.index)
        return chosen

    def leave(self, index: int, column: int) -> None:
        """Sold or given away, if it is still here."""
        for resident in self.candidates():
            if resident.index == index and not resident.quarantined:
                how: Literal["sold", "given"] = "sold" if self.rng.random() < 0.6 else "given"
                self.keeper.note(
                    resident, words.Left(how=how, to_whom="another keeper (invented)"), self.day()
                )
                resident.gone = True
                self.keeper.herd.remove(index)
                self.left[index] = column

    def day(self) -> When:
        """Tonight as a whole day."""
        return on_day(day_at(self.keeper.climate, self.keeper.column))

    # -- accidents and work ----------------------------------------------------------------------------------

    def escape(self) -> bool:
        """A wanderer gets out through a slit that was too wide."""
        resident = self.pick(("wanderer", "tree"))
        if resident is None:
            return False
        keeper = self.keeper
        slit = surroundings.Opening(
            shape="slot", number=1, width_mm=9, length_mm=60, at="lid", label="lid slit"
        )
        keeper.book.write(keeper.now, Ref("home", resident.home), slit, self.day())
        keeper.note(resident, words.Escaped(opening="lid slit"), self.day())
        resident.away = True
        self.out = (resident, keeper.column + 9)
        return True

    def return_of_the_escaped(self, column: int) -> None:
        """It is found nine days later, behind a shelf, alive (or it stays lost when it has died)."""
        if self.out is None or column < self.out[1]:
            return
        resident, self.out = self.out[0], None
        resident.away = False
        resident.last_clear = column
        resident.moults_known = len(self.keeper.life(resident).moults)
        self.keeper.note(resident, words.FoundAgain(where="behind the skirting board of shelf A"), self.day())
        closed = surroundings.Opening(shape="slot", number=0, at="lid", label="lid slit")
        self.keeper.book.write(self.keeper.now, Ref("home", resident.home), closed, self.day())

    def legs_lost(self) -> bool:
        """Two legs lost in a lid: the running interval gets longer."""
        resident = self.pick(("wanderer", "tree"))
        if resident is None or self.keeper.life(resident).stopped:
            return False
        self.keeper.note(
            resident, words.Injured(injury="two legs caught in the lid", legs_lost=LEGS), self.day()
        )
        self.keeper.herd.delay(resident.index)
        return True

    def mites(self) -> bool:
        """Mites in a damp home: cleaned, and a veterinarian asked."""
        resident = self.pick(("burrower", "ground"), large=True)
        if resident is None:
            return False
        keeper, home = self.keeper, Ref("home", resident.home)
        keeper.handled(resident)
        keeper.book.write(keeper.now, home, surroundings.Trouble(what="mites"), self.day())
        keeper.book.write(keeper.now, home, surroundings.Cleaned(), self.day())
        asked = words.Treated(treatment="home cleaned, drier substrate", note="a veterinarian was asked")
        keeper.note(resident, asked, self.day())
        return True

    def filmed(self) -> bool:
        """A clip of a web-builder."""
        resident = self.pick(("web_builder",), large=True)
        if resident is None:
            return False
        self.keeper.handled(resident)
        self.keeper.note(
            resident,
            words.Filmed(shows="building a sheet, 4 min", file="clips/sheet-building.mp4"),
            self.day(),
        )
        return True

    # -- mistakes that the keeper puts right -----------------------------------------------------------------

    def written_twice(self) -> bool:
        """An offer tapped twice: the second is struck."""
        resident = self.pick()
        if resident is None:
            return False
        offer = self.keeper.note(
            resident, words.Offered(prey="cricket", number=1, prey_mm=6.0, outcome="refused")
        )
        self.keeper.now += timedelta(seconds=30)
        self.keeper.note(resident, knowledge.Struck(why="tapped twice"), corrects=offer)
        return True

    def ten_times_too_long(self) -> bool:
        """A leg span written without its point, replaced the next day."""
        resident = self.pick(large=True)
        if resident is None:
            return False
        self.keeper.handled(resident)
        span_mm = round(self.keeper.kind(resident).span * self.keeper.life(resident).carapace_mm, 1)
        line = self.keeper.note(resident, _length("leg_span", f"{10 * span_mm:.0f}", "live"), self.day())
        self.typo = (resident, line)
        self.typo_mm = span_mm
        self.typo_day = self.day()
        return True

    def mend_the_typo(self, column: int) -> None:
        """The replacing entry."""
        if self.typo is None or self.typo_day.first == day_at(self.keeper.climate, column):
            return
        resident, line = self.typo
        self.typo = None
        body = _length("leg_span", f"{self.typo_mm:.1f}", "live")
        self.keeper.note(resident, body, self.typo_day, corrects=line)

    # -- untidy facts, left as they are ----------------------------------------------------------------------

    def halved_span(self) -> bool:
        """Two spans a week apart, the second half of the first."""
        resident = self.pick(("ground", "wanderer", "tree"), large=True)
        if resident is None:
            return False
        self.keeper.handled(resident)
        span = self.keeper.kind(resident).span * self.keeper.life(resident).carapace_mm
        column = self.keeper.column
        before = min(column, max(column - 7, resident.known_moult + 1, resident.arrived))
        earlier = on_day(day_at(self.keeper.climate, before))
        self.keeper.note(resident, _length("leg_span", f"{span:.0f}", "live"), earlier)
        self.keeper.note(resident, _length("leg_span", f"{span / 2.1:.0f}", "live"), self.day())
        self.planted.append("size_halves")
        return True

    def sexed_both_ways(self) -> bool:
        """Two readings of shed skins disagree about its sex."""
        free = [r for r in self.candidates(large=True) if not r.known_sex]
        if not free:
            return False
        resident = self.rng.choice(free)
        self.busy.add(resident.index)
        true = self.keeper.life(resident).sex
        other: Literal["female", "male"] = "male" if true == "female" else "female"
        self.keeper.note(resident, words.Sexed(sex=other, how="exuvia", note="blurred"), self.day())
        self.keeper.note(resident, words.Sexed(sex=true, how="exuvia", note="by lens"), self.day())
        resident.known_sex = true
        self.planted.append("sexes_differ")
        return True

    def moult_of_the_dead(self) -> bool:
        """A skin found in the home of one that died some weeks ago is entered as a moult of that day."""
        dead = [(self.keeper.life(r).died or 0, r.index, r) for r in self.keeper.residents if r.gone]
        column = self.keeper.column
        long_ago = [row for row in dead if row[0] and row[0] < column - 12 and not row[2].mature]
        if not long_ago:
            return False
        found = words.Moulted(exuvia="kept", note="skin found while cleaning the home")
        self.keeper.note(max(long_ago)[2], found, self.day())
        self.planted.append("moult_after_death")
        return True

    def counted_though_left(self) -> bool:
        """A stock-take finds an animal that was entered as sold."""
        gone = [r for r in self.keeper.residents if r.index in self.left]
        if not gone:
            return False
        self.keeper.note(self.rng.choice(gone), knowledge.StockTake(alive=True), self.day())
        self.planted.append("stock_take_disagrees")
        return True
