"""The keeper who does not exist: the evening round, what it shows and what gets written down.

Each visit settles the last offer, looks, and then feeds, waters, measures or rehouses. The keeper sees only
what a look from outside shows: a moult is found on the first clear look after it (or by the skin thrown out),
so its date is an interval from the last clear look to this one.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from math import exp, log
from types import MappingProxyType
from typing import Final, Literal

from nightround.foundation.when import When, between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import animal as words
from nightround.journal.kinds import surroundings
from nightround.simulate.book import later
from nightround.simulate.climate import QUARANTINE, day_at
from nightround.simulate.drying import SCALE_SD_G
from nightround.simulate.homes import grams, home_for, millilitres
from nightround.simulate.life import Life
from nightround.simulate.prey import choose_prey
from nightround.simulate.scales import live_mass, live_span, shed_carapace
from nightround.simulate.shelving import Resident, Shelving
from nightround.simulate.taxa import SimulatedTaxon
from nightround.simulate.truth import TrueWater

HIDDEN: Final = ("burrower", "trapdoor", "tube")
TREE_LIKE: Final = ("tree", "web_builder", "tube")
WATER_DAYS: Final = {
    "ground": 12, "wanderer": 7, "web_builder": 7, "tree": 8, "burrower": 14, "trapdoor": 14, "tube": 14,
}  # fmt: skip
DRINK_DAYS: Final = 5
# Share of what the bottom keeps: from where on the keeper does not pour, and up to where when pouring,
# at most so much of the substrate's volume in one evening.
ENOUGH: Final = 0.45
WATERED_TO: Final = 0.75
MOST_POURED: Final = 0.04
FELT_NOTED: Final = 0.4
LID_LEFT_DAYS: Final = 12
QUARANTINE_DAYS: Final = 35
# A burrow that shows nobody seldom shows what became of the prey either.
UNTOLD: Final = 0.75


class Keeper(Shelving):
    """Walks the shelves and writes into the book.

    lid_left    home whose lid lay open for two weeks; forgotten   home once watered without a line about it
    """

    lid_left = ""
    lid_left_on = -1
    forgotten = ""
    forgotten_on = -1

    # -- the round -----------------------------------------------------------------------------------------

    def visit(self, resident: Resident) -> None:
        """One animal's turn on the round."""
        life, kind = self.life(resident), self.kind(resident)
        clear = self.rng.random() < kind.clear
        if life.died is not None:
            self.visit_dead(resident, clear)
            return
        settled = self.settle_offer(resident, clear)
        skin_out = kind.habit in HIDDEN and self.rng.random() < 0.3
        if len(life.moults) > resident.moults_known and (clear or skin_out):
            self.find_moult(resident)
        if clear:
            self.look(resident, settled)
            self.handled(resident)
        elif not settled and self.rng.random() < 0.05:
            self.note(resident, words.NotFound())
        self.feed(resident)
        self.water(resident)
        self.handle(resident, clear)

    def settle_offer(self, resident: Resident, clear: bool) -> bool:
        """Ask what became of the last offer; returns whether anything was written."""
        if resident.open_offer < 0:
            return False
        offer, resident.open_offer = resident.open_offer, -1
        hidden = self.kind(resident).habit in HIDDEN and not clear
        if resident.open_eaten:
            outcome: words.Outcome = "not_seen" if hidden and self.rng.random() < UNTOLD else "taken"
        else:
            outcome = "not_seen" if hidden and self.rng.random() < UNTOLD else "uneaten"
            if outcome == "uneaten" and self.rng.random() < 0.4:
                outcome = "refused"
        self.note(resident, words.OfferSeen(outcome=outcome), offer=offer)
        if outcome == "uneaten" and self.rng.random() < 0.7:
            self.note(resident, words.LeftoversRemoved())
        return True

    def look(self, resident: Resident, settled: bool) -> None:
        """A clear look: signs when there are some, else a plain sighting now and then."""
        kind = self.kind(resident)
        if self.column - resident.known_moult <= 3 and self.rng.random() < 0.6:
            fangs: Literal["white", "red"] = "white" if self.column - resident.known_moult < 2 else "red"
            self.note(resident, words.Seen(fangs=fangs, abdomen="small"))
        elif self.herd.phase(resident.index) > 0.86 and self.rng.random() < 0.35:
            self.note(resident, self.premoult_signs(kind))
            resident.premoult_until = self.column + max(4, int(0.12 * float(self.herd.due[resident.index])))
        elif not settled and self.rng.random() < 0.25:
            abdomen: Literal["normal", "fat", "small"] = self.rng.choice(("normal", "normal", "fat", "small"))
            self.note(resident, words.Seen(abdomen=abdomen))

    def handled(self, resident: Resident) -> None:
        """It was looked at closely outside the round: a moult would be noticed now."""
        if len(self.life(resident).moults) > resident.moults_known:
            self.find_moult(resident)
        resident.last_clear = self.column

    def premoult_signs(self, kind: SimulatedTaxon) -> words.Seen:
        """What premoult looks like from outside in this habit."""
        sealed = True if kind.habit in HIDDEN else None
        ratio = round(self.rng.uniform(1.3, 1.7), 1) if not sealed and self.rng.random() < 0.4 else None
        patch = True if kind.group == "tarantulas" and self.rng.random() < 0.4 else None
        mat = True if kind.habit == "ground" and self.rng.random() < 0.15 else None
        return words.Seen(
            abdomen=None if sealed else "fat",
            abdomen_ratio=ratio,
            dark_patch=patch,
            burrow_sealed=sealed,
            moult_mat=mat,
        )

    def find_moult(self, resident: Resident) -> None:
        """The skin is found: only the latest moult since the last clear look can be told."""
        life, kind = self.life(resident), self.kind(resident)
        latest, before = len(life.moults) - 1, resident.last_clear
        resident.moults_known, resident.last_clear = latest + 1, self.column
        resident.premoult_until = -1000
        if self.rng.random() < self.unrecorded:
            self.skip_unrecorded.add((resident.code, latest))
            return
        resident.known_moult = life.moults[latest]
        exact = self.column - life.moults[latest] <= 1 and self.rng.random() < 0.6
        first = life.moults[latest] if exact else before
        last = life.moults[latest] if exact else self.column
        when = between(day_at(self.climate, first), day_at(self.climate, last))
        kept = self.rng.random()
        exuvia: Literal["kept", "lost", "eaten"] = "kept" if kept < 0.6 else "lost"
        line = self.note(resident, words.Moulted(exuvia=exuvia), when)
        self.moult_lines[resident.code, latest] = line
        if exuvia == "kept":
            self.read_skin(resident, life, kind, when)
        if life.mature_at == latest and not resident.mature and life.stopped:
            resident.mature = True
            resident.known_sex = life.sex
            self.note(resident, words.Matured(sex=life.sex), on_day(day_at(self.climate, self.column)))
        if self.rng.random() < 0.35:
            resident.span_due = self.column + self.rng.randint(14, 40)

    def read_skin(self, resident: Resident, life: Life, kind: SimulatedTaxon, when: When) -> None:
        """Measure and sex by the shed skin, which has the size of the instar before."""
        carapace = exp(life.log_sizes[-2])
        if self.rng.random() < (0.75 if carapace > 2.5 else 0.3):
            self.note(resident, shed_carapace(self.rng, carapace), when)
        span = kind.span * carapace
        if not resident.known_sex and span > 35 and self.rng.random() < min(0.85, (span - 35) / 60):
            resident.known_sex = life.sex
            self.note(
                resident, words.Sexed(sex=life.sex, how="exuvia"), on_day(day_at(self.climate, self.column))
            )

    def visit_dead(self, resident: Resident, clear: bool) -> None:
        """It is dead; hidden ones are found when nothing has moved for long."""
        resident.unnoticed += 1
        if not clear and resident.unnoticed < 9:
            return
        self.settle_offer(resident, clear)
        life = self.life(resident)
        seen = day_at(self.climate, resident.last_clear)
        body = words.Died(
            last_seen_alive=seen.isoformat(),
            during_moult=True if life.died_in_moult and self.rng.random() < 0.8 else None,
            cause="old age" if resident.mature and not life.died_in_moult else "",
        )
        self.note(resident, body, between(seen, day_at(self.climate, self.column)))
        resident.gone = True

    # -- feeding and water -----------------------------------------------------------------------------------

    def feed_days(self, resident: Resident) -> float:
        """Days between offers at its size and tonight's warmth."""
        life, kind = self.life(resident), self.kind(resident)
        share = (life.log_sizes[-1] - kind.first_log_size) / (log(kind.female_mm) - kind.first_log_size)
        small, large = kind.feed_days
        warmth = float(self.climate.temperature_c[resident.shelf, self.column])
        cold = 1.0 + max(0.0, min(0.6, (21.0 - warmth) * 0.12))
        return (small + min(1.0, max(0.0, share)) * (large - small)) * cold

    def hardening_days(self, carapace_mm: float) -> int:
        """How long this keeper waits after a moult."""
        return 4 if carapace_mm < 3 else 7 if carapace_mm < 7 else 11 if carapace_mm < 14 else 17

    def appetite(self, resident: Resident) -> float:
        """True chance that an offer tonight is taken."""
        life, index = self.life(resident), resident.index
        phase = self.herd.phase(index)
        hardening = self.hardening_days(life.carapace_mm)
        if life.moults and self.column - life.moults[-1] < hardening - 1:
            return 0.03
        chance = 0.95 / (1 + exp((phase - 0.86) / 0.05))
        warmth = float(self.climate.temperature_c[resident.shelf, self.column])
        chance *= 1 / (1 + exp(-(warmth - 17.0) / 1.3))
        if life.mature_at is not None and life.sex == "male":
            chance *= 0.4
        return chance * (0.12 if self.herd.fasting[index] else 1.0)

    def feed(self, resident: Resident) -> None:
        """Offer when due; pass over by choice after a moult or when premoult shows."""
        life, kind = self.life(resident), self.kind(resident)
        due = self.feed_days(resident) * self.rng.uniform(0.75, 1.25)
        if self.column - resident.last_offer < due or resident.away:
            return
        waiting = self.column - resident.known_moult < self.hardening_days(life.carapace_mm)
        if waiting or self.column < resident.premoult_until:
            if self.rng.random() < 0.3:
                self.note(resident, words.PassedOver(reason="just moulted" if waiting else "premoult"))
                resident.last_offer = self.column - int(self.feed_days(resident) / 2)
            return
        prey = choose_prey(self.rng, kind.body * life.carapace_mm)
        eaten = self.rng.random() < self.appetite(resident)
        watched = self.rng.random() < 0.12
        outcome: words.Outcome | None = None
        if watched:
            outcome = "taken" if eaten else "refused"
        offer = self.note(
            resident,
            words.Offered(
                prey=prey.name,
                number=prey.number,
                prey_mm=prey.size_mm,
                prekilled=prey.prekilled or None,
                outcome=outcome,
            ),
        )
        resident.last_offer = self.column
        if not watched:
            resident.open_offer, resident.open_eaten = offer, eaten
        if eaten:
            self.herd.meals[resident.index] += 1

    def water(self, resident: Resident) -> None:
        """Water by habit into the substrate; a chance to drink from a dish, or drops on web or wall."""
        kind, small = self.kind(resident), resident.home_size <= 1
        if self.column - resident.last_drink >= DRINK_DAYS and self.rng.random() < 0.8:
            resident.last_drink = self.column
            if small or kind.habit in TREE_LIKE:
                self.note(resident, words.DropsGiven(where="web" if kind.habit != "tree" else "wall"))
            else:
                self.note(resident, surroundings.Dish(state="filled"))
        if self.column - resident.last_water < WATER_DAYS[kind.habit] or self.rng.random() < 0.25:
            return
        home = self.drying.homes[resident.home]
        about = Ref("home", resident.home)
        where = "down one side" if small else self.rng.choice(("down a corner", "down one side"))
        if resident.home in self.dice:
            self.rng.gauss(1.0, 0.03)
        if home.wetness[1] > ENOUGH:
            # Damp enough: look again an interval on; now and then the keeper writes down how it felt.
            resident.last_water = self.column
            if self.homes_noted(resident.home) and self.drying.rng.random() < FELT_NOTED:
                surface, bottom = self.drying.felt(home)
                felt = surroundings.MoistureFelt(surface=surface, bottom=bottom)
                self.book.write(self.now, about, felt, self.tonight())
            return
        resident.last_water = self.column
        lacking = min(home.lacking_ml(WATERED_TO), MOST_POURED * home.substrate_ml)
        lacking *= self.drying.rng.uniform(0.8, 1.0)
        poured = max(1.0, round(lacking) if lacking < 20.0 else 5.0 * round(lacking / 5.0))
        home.pour(poured * self.drying.rng.gauss(1.0, 0.03))
        if resident.home == self.forgotten and self.forgotten_on < 0:
            self.forgotten_on = self.column
            return
        self.book.write(self.now, about, millilitres(poured, where), self.tonight())

    def homes_noted(self, code: str) -> bool:
        """Of which homes the keeper writes down how the substrate felt: every second one."""
        return int(code[1:]) % 2 == 0

    # -- handling --------------------------------------------------------------------------------------------

    def handle(self, resident: Resident, clear: bool) -> None:
        """End quarantine; measure when planned, weigh a few, rehouse when outgrown."""
        life, kind = self.life(resident), self.kind(resident)
        if resident.quarantined and self.column - resident.arrived >= QUARANTINE_DAYS:
            resident.quarantined = False
            self.note(resident, words.Quarantine(state="ends"), on_day(day_at(self.climate, self.column)))
            self.shelve(resident, self.choose_shelf(resident))
        elif clear:
            self.handle_clear(resident, life, kind)

    def handle_clear(self, resident: Resident, life: Life, kind: SimulatedTaxon) -> None:
        """The part that needs the animal in sight."""
        day = on_day(day_at(self.climate, self.column))
        if 0 <= resident.span_due <= self.column and kind.habit not in ("trapdoor", "tube"):
            resident.span_due = -1
            self.note(resident, live_span(self.rng, kind.span * life.carapace_mm), day)
        heavy = life.carapace_mm > 9 and kind.habit in ("ground", "burrower")
        if heavy and self.column - resident.last_weighed > 150 and self.rng.random() < 0.02:
            resident.last_weighed = self.column
            self.note(
                resident,
                live_mass(self.rng, kind.mass_g, life.carapace_mm, self.herd.phase(resident.index)),
                day,
            )
        settled = self.column - resident.known_moult > 2 * self.hardening_days(life.carapace_mm)
        fits = home_for(kind.habit, kind.span * life.carapace_mm)
        calm = self.column > resident.premoult_until and not resident.quarantined and settled
        if fits > resident.home_size and calm and self.rng.random() < 0.12:
            self.rehouse(resident)

    def round(self, shelves: list[int], pace_seconds: float) -> None:
        """Walk the shelves in order; each visit takes some seconds of screen time."""
        for shelf in shelves:
            for resident in self.residents:
                if resident.shelf == shelf and not resident.gone and not resident.away:
                    self.visit(resident)
                    self.now = later(self.now, pace_seconds)

    def weigh_homes(self) -> None:
        """Every second week on a laptop evening: the homes that are watched, more often at first."""
        day = on_day(day_at(self.climate, self.column))
        for code in sorted(self.dice):
            if self.column - self.dice[code] >= 13:
                self.dice[code] = self.column
                self.rng.gauss(0, 1.0)
        for code, home in sorted(self.drying.homes.items()):
            wait = 13 if home.weighings < 5 else 55
            if not home.watched or self.column - home.last_weighed < wait:
                continue
            home.last_weighed, home.weighings = self.column, home.weighings + 1
            mass = home.mass_g() + self.drying.rng.gauss(0, SCALE_SD_G)
            self.book.write(self.now, Ref("home", code), grams(mass), day)
            if home.weighings == 4 and not self.lid_left and home.area_mm2 > 1e4:
                self.lid_left, self.lid_left_on = code, self.column
                home.open_until = self.column + LID_LEFT_DAYS
            elif home.weighings == 4 and not self.forgotten and code != self.lid_left:
                self.forgotten = code
            self.now += timedelta(seconds=40)

    def true_water(self) -> TrueWater:
        """What only the simulator knows of the homes."""
        day = partial(day_at, self.climate)
        left, at = self.lid_left, self.lid_left_on
        return TrueWater(
            MappingProxyType(dict(self.drying.true_multiplier)),
            MappingProxyType({code: home.wetness for code, home in self.drying.homes.items()}),
            (left, day(at), day(at + LID_LEFT_DAYS)) if left else ("", None, None),
            (self.forgotten, day(self.forgotten_on)) if self.forgotten_on >= 0 else ("", None),
        )

    def dry(self) -> None:
        """A day's evaporation."""
        self.drying.day(self.column)

    def start(self, moment: datetime, column: int) -> None:
        """Begin an evening."""
        self.now, self.column = moment, column

    def quarantine(self, resident: Resident, when: When) -> None:
        """Put a newcomer on the bench."""
        resident.quarantined, resident.shelf = True, QUARANTINE
        self.herd.place[resident.index] = QUARANTINE
        self.note(resident, words.Quarantine(state="begins", reason="new arrival"), when)
