"""What each kind of entry does to an animal: one handler per kind, found through `ANIMAL_HANDLERS`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from nightround.foundation.when import UNKNOWN
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.animal import (
    Arrived,
    Died,
    Escaped,
    FoundAgain,
    Hatched,
    Injured,
    Left,
    Matured,
    Measured,
    Moulted,
    Moved,
    Quarantine,
    Sac,
    Seen,
    Sexed,
    Wintering,
)
from nightround.journal.kinds.surroundings import Dish, Misted, Watered
from nightround.record.builders import DAY, AnimalBuilder, BatchBuilder, Builder, RoomBuilder
from nightround.record.looks import shed_skin
from nightround.record.model import Look, Measurement, Moult
from nightround.record.offers import offered_to_animal, outcome_for_animal

Handler = Callable[[RoomBuilder, Any, Entry, Any], None]
"""Takes the room, the builder of what the entry is about, the entry and its body."""


def settle(
    room: RoomBuilder, animal: AnimalBuilder, place: str, home: str, day: date | None, since: date | None
) -> None:
    """Let the animal stand in `home` on `place` from `since`; a home carries its place to its occupants."""
    where = room.place(place, day)
    house = room.home(home, day) if home else None
    if animal.home and (house is None or house.identity != animal.home):
        room.homes[animal.home].occupants.pop(animal.identity, None)
    if house is None:
        animal.stands(where or animal.place, "", since)
        return
    house.occupants[animal.identity] = animal
    where = where or house.place or animal.place  # a home that stands nowhere yet takes the animal's place
    if where and where != house.place:
        house.place = where
        for other in house.occupants.values():
            if other is not animal:
                other.stands(where, house.identity, since)
    animal.stands(house.place, house.identity, since)


def come_in(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Arrived | Hatched) -> None:
    """The state at arrival or promotion: what later entries said already is not taken back."""
    animal.taxon = body.taxon or animal.taxon
    hatched = room.when_of(body.hatched, entry) if body.hatched else UNKNOWN
    animal.hatched = hatched if hatched.known else animal.hatched
    if body.sex is not None:
        set_sex(animal, entry, body.sex, "")
    if animal.status in ("left", "escaped"):
        animal.status, animal.ended, animal.ended_by, animal.ended_how = "alive", None, None, ""
    if body.place or body.home or not animal.stays:
        settle(room, animal, body.place, body.home, entry.when.last, entry.when.first)


def arrived(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Arrived) -> None:
    """The state at arrival; a later arrival is a return."""
    come_in(room, animal, entry, body)
    animal.origin = body.origin or animal.origin
    animal.arrived = entry.when if entry.when.known else animal.arrived
    animal.arrivals.append(entry)


def promoted(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Hatched) -> None:
    """It inherits from its batch what the entry does not say."""
    come_in(room, animal, entry, body)
    animal.promoted, animal.batch = entry.when, body.batch
    animal.promotions.append(entry)
    if not animal.batch:
        return
    batch = room.of(Ref("batch", animal.batch), entry.when.last)
    animal.taxon = animal.taxon or batch.taxon
    animal.hatched = animal.hatched if animal.hatched.known else batch.hatched
    if not (body.place or body.home) and batch.place:
        settle(room, animal, batch.place, "", entry.when.last, entry.when.first)
    batch.promoted.append(animal.identity)
    if batch.living is None:
        return
    if batch.living == 0:
        room.problem(
            "batch_used_up", f"batch {batch.identity}",
            f"{animal.identity} was promoted out of batch {batch.identity}, which had none left.",
            "Count the batch again, or strike the promotion.", entry.number, *batch.numbers[-1:],
        )  # fmt: skip
    batch.living = max(0, batch.living - 1)


def moulted(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Moulted) -> None:
    """Keep the moult with the last day it had surely not moulted."""
    when, checked = entry.when, None
    if body.last_checked:
        checked = room.when_of(body.last_checked, entry).last
    if checked is None and when.is_interval and when.first is not None:
        checked = when.first - DAY
    elif checked is None and when.first is not None:
        looks = (animal.last_look, animal.look_before)
        checked = next((look for look in looks if look is not None and look < when.first), None)
    animal.moults.append(Moult(entry.number, when, body.exuvia, checked))


def measured(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Measured) -> None:
    """Keep the reading; a note of a shed skin counts as said."""
    if body.value is None:
        return
    on = "shed_skin" if shed_skin(body) else body.on
    animal.measurements.append(
        Measurement(entry.number, entry.when, body.item, body.value, body.unit, on, body.posture)
    )


def set_sex(animal: AnimalBuilder, entry: Entry, sex: str, how: str) -> None:
    """The latest word holds; disagreements are kept for the problems."""
    animal.sex, animal.sex_how = sex, how
    animal.sex_by.append((entry.number, sex, how))


def sexed(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Sexed) -> None:
    """The latest sexing holds."""
    set_sex(animal, entry, body.sex, body.how)


def matured(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Matured) -> None:
    """The first sight of maturity holds."""
    if body.sex is not None:
        set_sex(animal, entry, body.sex, "mature")
    if animal.matured is None:
        animal.matured, animal.matured_by = entry.when, entry.number


def seen(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Seen) -> None:
    """Keep the signs that were seen."""
    animal.looks.append(Look(entry.number, entry.when, body))


def moved(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Moved) -> None:
    """Into another home; with a place alone the home it is in moves onto that place."""
    when = entry.when
    if not body.home and not body.place:
        return
    home = body.home or (room.code("home", animal.home) if animal.home else "")
    before = animal.moved_on
    if body.home and before is not None and before[0] == when and when.known and when.instant is None \
            and room.names["home"].now(before[1]) != room.names["home"].now(body.home):  # fmt: skip
        room.problem(
            "two_homes_at_once", entry.about,
            f"{entry.about.code} was moved into {before[1]} and into {body.home}, both on {when}.",
            "Strike the one that is wrong, or give both their time of day.", before[2], entry.number,
            severity="doubt",
        )  # fmt: skip
    if body.home:
        animal.moved_on = (when, body.home, entry.number)
    if animal.status != "dead":
        settle(room, animal, body.place, home, when.last, when.last)


def quarantine(room: RoomBuilder, animal: Any, entry: Entry, body: Quarantine) -> None:
    """Quarantine begins or ends by this entry."""
    begins = body.state == "begins"
    animal.quarantined = begins
    if isinstance(animal, AnimalBuilder):
        animal.quarantine_begun = entry.when.first if begins else None


def wintering(room: RoomBuilder, builder: Builder, entry: Entry, body: Wintering) -> None:
    """Wintering begins with the first possible day and ends after the last one."""
    begins = body.state == "begins"
    day = entry.when.first if begins else entry.when.last
    if day is not None:
        room.winterings.append((entry.about.kind, builder.identity, day, begins))


def sac(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Sac) -> None:
    """A sac that names the batch it gave begins that batch, unless the batch has its own beginning."""
    animal.with_sac = body.step == "laid"
    if body.step != "opened" or not body.batch:
        return
    batch = room.of(Ref("batch", body.batch), entry.when.last)
    batch.mother = animal.identity
    if batch.begun_by is None:
        batch.begun, batch.begun_by, batch.source = entry.when, entry, f"sac of {entry.about.code}"
        batch.started_with = batch.living = body.living
        batch.taxon, batch.place = batch.taxon or animal.taxon, batch.place or animal.place


def injured(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Injured) -> None:
    """Add up the legs lost, where a number is known."""
    lost = body.legs_lost
    if lost is None:
        return
    animal.legs_lost = (animal.legs_lost or 0) + lost
    if entry.when.last is not None:
        animal.injuries.append((entry.when.last, lost))


def end(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, status: str, how: str) -> None:
    """It died, left or escaped: its stay closes and its home is free."""
    animal.status, animal.ended, animal.ended_by, animal.ended_how = status, entry.when, entry, how
    animal.close_stay(entry.when.last)
    if animal.home:
        room.homes[animal.home].occupants.pop(animal.identity, None)


def died(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Died) -> None:
    """It died; a second death is a contradiction."""
    if animal.status == "dead":
        first = animal.ended_by.number if animal.ended_by else entry.number
        room.problem(
            "died_twice", entry.about, f"{entry.about.code} is recorded as having died twice, "
            f"on {animal.ended} and on {entry.when}.", "Strike the entry that is wrong.", first, entry.number,
        )  # fmt: skip
        return
    if animal.status == "left":  # what happened after it left is news, not a death in this room
        return
    if body.last_seen_alive:
        last = room.when_of(body.last_seen_alive, entry).last
        if last is not None:
            animal.lived(last)
    animal.during_moult = body.during_moult
    end(room, animal, entry, "dead", body.cause)


def left(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Left) -> None:
    """It left the room alive."""
    if animal.status != "dead":
        end(room, animal, entry, "left", body.how or "")


def escaped(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Escaped) -> None:
    """It got out of its home."""
    if animal.status == "alive":
        end(room, animal, entry, "escaped", body.opening)


def found_again(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: FoundAgain) -> None:
    """Back to where it was; a later move says otherwise."""
    if animal.status != "escaped":
        return
    animal.status, animal.ended, animal.ended_by, animal.ended_how = "alive", None, None, ""
    home = room.code("home", animal.home) if animal.home else ""
    place, animal.place, animal.home = room.code("place", animal.place), "", ""
    settle(room, animal, place, home, entry.when.last, entry.when.last)


def days(attribute: str) -> Handler:
    """Return a handler that collects the day of the entry in a list of the builder."""

    def collect(room: RoomBuilder, builder: Any, entry: Entry, body: Body) -> None:
        if entry.when.last is not None:
            getattr(builder, attribute).append(entry.when.last)

    return collect


def watered(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Watered | Misted) -> None:
    """Water for the animal is water for the home it is in."""
    day = entry.when.last
    if day is None:
        return
    animal.watered.append(day)
    in_its_home(room, animal, entry, body)


def in_its_home(room: RoomBuilder, keeper_of: AnimalBuilder | BatchBuilder, entry: Entry, body: Body) -> None:
    """What was done or felt for an animal or batch, or wrong with it, was so in the home it was in."""
    if keeper_of.home:
        room.homes[keeper_of.home].did(entry, body)


def dish(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: Dish) -> None:
    """A filled dish is something to drink."""
    if body.state == "filled" and entry.when.last is not None:
        animal.drink_given.append(entry.when.last)
    in_its_home(room, animal, entry, body)


ANIMAL_HANDLERS: dict[str, Handler] = {
    "arrived": arrived,
    "hatched": promoted,
    "offered": offered_to_animal,
    "offer_seen": outcome_for_animal,
    "leftovers_removed": days("leftovers"),
    "passed_over": days("passed_over"),
    "moulted": moulted,
    "measured": measured,
    "sexed": sexed,
    "matured": matured,
    "seen": seen,
    "not_found": days("not_found"),
    "drank": days("drank"),
    "drops_given": days("drink_given"),
    "moved": moved,
    "quarantine": quarantine,
    "wintering": wintering,
    "sac": sac,
    "injured": injured,
    "escaped": escaped,
    "found_again": found_again,
    "died": died,
    "left": left,
    "watered": watered,
    "misted": watered,
    "moisture_felt": in_its_home,
    "dish": dish,
    "trouble": in_its_home,
}
