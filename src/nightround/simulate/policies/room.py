"""A trial room: true lives, homes and tubs, day by day under a policy that sees only the keeper's book."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from random import Random
from typing import Final

import numpy as np

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import animal as words
from nightround.journal.kinds import surroundings
from nightround.journal.kinds.knowledge import Named
from nightround.record.model import Record
from nightround.simulate.climate import ROOM_NAME, SHELVES, day_at
from nightround.simulate.policies.goods import LEAD_DAYS, PACKS, VESSELS
from nightround.simulate.policies.lives import TrueLives
from nightround.simulate.policies.naive import Restock, WhenItLooksSmall, first_home
from nightround.simulate.policies.notebook import Notebook
from nightround.simulate.policies.protocol import HomePolicy, Judge, MoveWanted, OrderPolicy, View
from nightround.simulate.policies.shelves import Dweller, Homes, Tally, mean_by_name
from nightround.simulate.policies.tubs import Feeding, Larder, Tub
from nightround.simulate.scales import live_span, shed_carapace
from nightround.simulate.taxa import true_name

WEEK: Final = 7
HOMES_EVERY: Final = 2
LARDER_FROM_WEEK: Final = -8
COUNT_DAYS: Final = 14
SPAN_DAYS: Final = 120
EYE_SD: Final = 0.15
APPETITE: Final = 0.9


class TrialRoom:
    """One run. `weeks` counts from the trial's first Monday; the warm-up is before it, the same for all."""

    def __init__(
        self, seed: int, lives: TrueLives, judge: Judge, *, warm_up: int, feeding: Feeding | None = None
    ) -> None:
        self.seed, self.lives, self.judge, self.warm_up = seed, lives, judge, warm_up
        self.feeding = feeding or Feeding()
        self.clock = RoomClock("Europe/Paris")
        self.book = Notebook(self.clock)
        self.larder = Larder(seed)
        self.homes = Homes()
        self.dwellers: dict[int, Dweller] = {}
        self.pending: dict[int, tuple[MoveWanted, str, int]] = {}
        self.coming: list[tuple[int, str]] = []
        self.tally = Tally()
        self.column = 0
        self.early_use: list[Mapping[str, float]] = []
        self.early_fed: list[Mapping[str, float]] = []
        self.eyes = np.random.default_rng([seed, 51]).normal(0.0, 1.0, (lives.animals, lives.days))
        self.hunger = np.random.default_rng([seed, 53]).random((lives.animals, lives.days))
        self._set_up()

    @property
    def day(self) -> date:
        """Tonight's date."""
        return day_at(self.lives.climate, self.column)

    @property
    def week(self) -> int:
        """Weeks since the trial began, negative before."""
        return (self.column - self.warm_up) // WEEK

    @property
    def counting(self) -> bool:
        """Whether the trial has begun."""
        return self.column >= self.warm_up

    # -- running -------------------------------------------------------------------------------------------

    def run(self, until: int, homes: HomePolicy, orders: OrderPolicy) -> None:
        """Run the days up to a column, not including it."""
        while self.column < until:
            self._one_day(homes, orders)
            self.column += 1

    def warm(self) -> dict[str, float]:
        """Run the warm-up and return the mean weekly use of its last eight weeks, by pack."""
        self.run(self.warm_up, WhenItLooksSmall(self.judge), Restock())
        self.larder.count.start, self.larder.count.bought = self.larder.left, 0
        self.larder.count.fed = self.larder.count.died = self.larder.count.outgrown = 0
        return mean_by_name(self.early_use)

    def close(self) -> Tally:
        """Settle the count of feeders and return the tally."""
        count, tally = self.larder.count, self.tally
        tally.left = self.larder.left
        tally.start, tally.bought, tally.fed = count.start, count.bought, count.fed
        tally.wasted = count.wasted(tally.left)
        return tally

    def _one_day(self, homes: HomePolicy, orders: OrderPolicy) -> None:
        self._climate()
        self._deliver()
        self._grow()
        for index in self.lives.here(self.column):
            if index not in self.dwellers:
                self._arrive(index)
            self._look(index)
            self._dine(index)
        self._bury()
        if self.column % WEEK == WEEK - 1:
            self._sunday(homes, orders)
        self._do_pending()
        if self.counting:
            self._count_day()

    def _sunday(self, homes: HomePolicy, orders: OrderPolicy) -> None:
        used, fed = self.larder.week_used()
        view = self._view(used)
        if self.week >= LARDER_FROM_WEEK:
            if not self.counting:
                self.early_use.append(used)
                self.early_fed.append(fed)
            for name, packs in orders.orders(view).items():
                self.coming += [(self.column + LEAD_DAYS, name)] * packs
        if self.week % HOMES_EVERY == 0:
            for move in homes.moves(view):
                self._want(move)
            for name, number in homes.buys(view).items():
                for _ in range(number):
                    self._stock_up(name)

    def _view(self, used: Mapping[str, float]) -> View:
        folded: list[Record] = []

        def record() -> Record:
            if not folded:
                folded.append(self.book.record(self.day))
            return folded[0]

        here = {self.dwellers[index].code: index for index in self.lives.here(self.column)}
        return View(
            self.day,
            self.week,
            record,
            {code: (self._taxon(index), self.lives.kinds[index].habit) for code, index in here.items()},
            {code: self.homes.vessel[self.dwellers[index].home] for code, index in here.items()},
            {code: self.column - self.dwellers[index].moved for code, index in here.items()},
            {code: vessel.name for code, vessel in self.homes.vessel.items()},
            frozenset(self.dwellers[index].code for index in self.pending),
            lambda code: self._seems_mm(here[code]),
            used,
            self.larder.stock(),
        )

    def _seems_mm(self, index: int) -> float:
        error = EYE_SD * float(self.eyes[index, self.column])
        return self.lives.span_mm(index, self.column) * float(np.exp(error))

    def _taxon(self, index: int) -> str:
        return true_name(self.lives.kinds[index])

    # -- homes ---------------------------------------------------------------------------------------------

    def _want(self, move: MoveWanted) -> None:
        index = next(i for i, dweller in self.dwellers.items() if dweller.code == move.animal)
        earlier = self.pending.pop(index, None)
        if earlier is not None:
            self.homes.leave(earlier[1])
        self.pending[index] = (move, self._take(move.vessel), self.column)

    def _take(self, name: str) -> str:
        code, new = self.homes.take(name)
        if new:
            self._pay(name)
        return code

    def _pay(self, name: str) -> None:
        if self.counting:
            self.tally.homes_bought += 1
            self.tally.homes_cost += VESSELS[name].price

    def _stock_up(self, name: str) -> None:
        """A home bought ahead stands empty on the shelf and on record."""
        code = self.homes.buy(name)
        self._pay(name)
        self.homes.leave(code)
        vessel = self.homes.vessel[code]
        self.book.write(self.day, Ref("home", code), vessel.empty())
        self.book.write(self.day, Ref("home", code), vessel.opening())

    def _do_pending(self) -> None:
        """Do each move wanted once the animal is neither before nor just after a moult."""
        for index in sorted(self.pending):
            move, home, since = self.pending[index]
            if self.lives.calm[index, self.column]:
                del self.pending[index]
                self._move(index, home, move.depth_mm)
                if self.counting:
                    self.tally.moves += 1
                    self.tally.waited_days += self.column - since

    def _move(self, index: int, home: str, depth_mm: float) -> None:
        dweller = self.dwellers[index]
        old, dweller.home, dweller.moved = dweller.home, home, self.column
        self._make_up(index, home, depth_mm)
        if old:
            self.book.write(self.day, Ref("animal", dweller.code), words.Moved(home=home))
            self.homes.leave(old)

    def _make_up(self, index: int, home: str, depth_mm: float) -> None:
        vessel, habit = self.homes.vessel[home], self.lives.kinds[index].habit
        self.homes.depth_mm[home] = depth_mm
        about, place = Ref("home", home), SHELVES[int(self.lives.place[index])].name
        self.book.write(self.day, about, vessel.made_up(habit, depth_mm, place))
        self.book.write(self.day, about, vessel.opening())

    # -- lives ---------------------------------------------------------------------------------------------

    def _arrive(self, index: int) -> None:
        kind, column = self.lives.kinds[index], self.column
        dweller = Dweller(f"{kind.letter}{index + 1:02d}", last_look=column)
        self.dwellers[index] = dweller
        span = self.lives.span_mm(index, column)
        move = first_home(self.judge, self._taxon(index), kind.habit, span)
        self._move(index, self._take(move.vessel), move.depth_mm)
        dweller.next_meal = column + 3 + index % 5
        body = words.Arrived(
            taxon=self._taxon(index), origin="captive_bred", home=dweller.home,
            place=SHELVES[int(self.lives.place[index])].name, from_whom="a breeder (invented)",
        )  # fmt: skip
        self.book.write(self.day, Ref("animal", dweller.code), body)

    def _look(self, index: int) -> None:
        """Once a week everybody is looked at closely: moults are found, skins and now and then legs read."""
        dweller = self.dwellers[index]
        if (self.column + index) % WEEK:
            return
        rng, about = Random(f"look {self.seed} {index} {self.column}"), Ref("animal", dweller.code)
        moults = [moult for moult in self.lives.moults[index] if moult <= self.column]
        for moult in moults[dweller.moults_found :]:
            self._found(index, moult, rng)
        dweller.moults_found = len(moults)
        self.book.write(self.day, about, words.Seen(abdomen="normal"))
        if self.column - dweller.last_span >= SPAN_DAYS and self.lives.calm[index, self.column]:
            dweller.last_span = self.column
            self.book.write(self.day, about, live_span(rng, self.lives.span_mm(index, self.column)))
        dweller.last_look = self.column

    def _found(self, index: int, moult: int, rng: Random) -> None:
        dweller, lives = self.dwellers[index], self.lives
        about = Ref("animal", dweller.code)
        when = between(day_at(lives.climate, min(dweller.last_look, moult)), self.day)
        before_mm = float(lives.carapace_mm[index, moult - 1])
        kept = rng.random() < (0.8 if before_mm > 2.0 else 0.35)
        self.book.write(self.day, about, words.Moulted(exuvia="kept" if kept else "lost"), when)
        if kept:
            self.book.write(self.day, about, shed_carapace(rng, before_mm), when)
        stops = lives.sexes[index] == "male" or not lives.kinds[index].females_go_on
        if stops and lives.mature[index, moult] and not dweller.mature_noted:
            dweller.mature_noted = True
            sex = lives.sexes[index]
            self.book.write(self.day, about, words.Matured(sex="male" if sex == "male" else "female"))

    def _bury(self) -> None:
        for index in np.flatnonzero(self.lives.dies == self.column):
            dweller = self.dwellers.get(int(index))
            if dweller is None:
                continue
            self.book.write(self.day, Ref("animal", dweller.code), words.Died())
            self.homes.leave(dweller.home)
            waiting = self.pending.pop(int(index), None)
            if waiting is not None:
                self.homes.leave(waiting[1])

    # -- feeding -------------------------------------------------------------------------------------------

    def _dine(self, index: int) -> None:
        """Feed who is due and calm, out of the tubs; nothing that will do is a day of shortage."""
        dweller, lives, column = self.dwellers[index], self.lives, self.column
        if column < dweller.next_meal or not lives.calm[index, column]:
            return
        body, span = lives.body_mm(index, column), lives.span_mm(index, column)
        self.tally.due_days += self.counting
        meal = self._meal(body)
        if meal is None:
            self.tally.shortage_days += self.counting
            return
        prey, length_mm, number = meal
        eaten = float(self.hunger[index, column]) < APPETITE
        offered = words.Offered(
            prey=prey, number=number, prey_mm=round(length_mm, 1),
            prekilled=True if length_mm > self.feeding.most_of_body * body else None,
            outcome="taken" if eaten else "refused",
        )  # fmt: skip
        self.book.write(self.day, Ref("animal", dweller.code), offered)
        if self.counting:
            self.tally.meals += 1
            self.tally.cut_meals += not self.feeding.number(body, length_mm)
        interval = self.feeding.interval_days(span, bool(lives.mature[index, column]))
        dweller.next_meal = column + interval

    def _meal(self, body_mm: float) -> tuple[str, float, int] | None:
        if self.week >= LARDER_FROM_WEEK:
            taken = self.larder.feed(self.feeding, body_mm)
            return None if taken is None else (taken[0].pack.feeder, taken[0].length_mm, taken[1])
        doing = [pack for pack in PACKS.values() if self.feeding.number(body_mm, pack.length_mm)]
        if not doing:
            return None
        small = body_mm < self.feeding.scavenges_below_body_mm
        pack = (min if small else max)(doing, key=lambda each: each.length_mm)
        return pack.feeder, pack.length_mm, self.feeding.number(body_mm, pack.length_mm)

    def _deliver(self) -> None:
        today = sorted(name for column, name in self.coming if column <= self.column)
        self.coming = [(column, name) for column, name in self.coming if column > self.column]
        for order, name in enumerate(today):
            pack = PACKS[name]
            tub = self.larder.arrive(pack, self.column, order - today.index(name))
            if self.counting:
                self.tally.packs += 1
                self.tally.feeders_cost += pack.price
            body = surroundings.LotBegun(
                how="bought", feeder=pack.feeder, size_mm=pack.length_mm, number=pack.number,
                price=f"{pack.price:.2f}", from_whom="a shop (invented)",
            )  # fmt: skip
            self.book.write(self.day, Ref("lot", tub.code), body, hour=12)

    def _grow(self) -> None:
        for tub in self.larder.day(self.column, float(self.lives.climate.temperature_c[0, self.column])):
            self._lot(tub, surroundings.LotChanged(what="finished"))
        for tub in self.larder.tubs:
            if (self.column + int(tub.code[1:])) % COUNT_DAYS == 0:
                rng = Random(f"count {self.seed} {tub.code} {self.column}")
                number = max(1, round(tub.number * rng.gauss(1.0, 0.08)))
                size = round(tub.length_mm * rng.gauss(1.0, 0.06), 1)
                self._lot(tub, surroundings.LotChanged(what="counted", number=number, size_mm=size))

    def _lot(self, tub: Tub, body: surroundings.LotChanged) -> None:
        self.book.write(self.day, Ref("lot", tub.code), body, hour=12)

    # -- the room ------------------------------------------------------------------------------------------

    def _set_up(self) -> None:
        """Places, taxa and what the shop offers."""
        day, lives = self.day, self.lives
        self.book.write(
            day, Ref("place", ROOM_NAME), surroundings.PlaceSetUp(sort="room", position=0), hour=8
        )
        for row in sorted({int(place) for place in lives.place}):
            shelf = SHELVES[row]
            body = surroundings.PlaceSetUp(sort="shelf", position=shelf.position, inside=ROOM_NAME)
            self.book.write(day, Ref("place", shelf.name), body, hour=8)
        for kind in sorted(set(lives.kinds), key=lambda each: each.name):
            named = Named(
                group=kind.group, habit=kind.habit, climbs=kind.climbs, hazard=kind.hazard, law=kind.law
            )
            self.book.write(day, Ref("taxon", true_name(kind)), named, hour=8)
        offers = [vessel.supply() for vessel in VESSELS.values()] + [pack.supply() for pack in PACKS.values()]
        for offer in offers:
            self.book.write(day, Ref("room"), offer, hour=8)

    def _climate(self) -> None:
        """Yesterday's means of the shelves in use and of the room."""
        climate, column = self.lives.climate, self.column - 1
        if column < 0:
            return
        for row in (*sorted({int(place) for place in self.lives.place}), len(SHELVES)):
            if climate.logged[row, column]:
                name = SHELVES[row].name if row < len(SHELVES) else ROOM_NAME
                warm = round(float(climate.temperature_c[row, column]), 1)
                body = surroundings.Reading(temperature_c=warm)
                self.book.write(
                    self.day, Ref("place", name), body, on_day(self.day - timedelta(days=1)), hour=7
                )

    def _count_day(self) -> None:
        here = self.lives.here(self.column)
        self.tally.animal_days += len(here)
        if self.column % WEEK != WEEK - 1:
            return
        for index in here:
            self._count_fit(index)

    def _count_fit(self, index: int) -> None:
        home = self.dwellers[index].home
        limits = self.judge.limits(self._taxon(index), self.homes.vessel[home], self.homes.depth_mm[home])
        span = self.lives.span_mm(index, self.column)
        carapace = float(self.lives.carapace_mm[index, self.column])
        tally = self.tally
        tally.animal_weeks += 1
        tally.misfit_weeks += not limits.fits(span, carapace)
        tally.small_weeks += span > limits.high_mm
        tally.large_weeks += span < limits.low_mm
        tally.gap_weeks += carapace <= limits.escape_carapace_mm
