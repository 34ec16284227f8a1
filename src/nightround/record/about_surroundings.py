"""What each kind of entry does to batches, homes, places, taxa and the room: one handler per kind."""

from __future__ import annotations

from typing import Any

import msgspec

from nightround.journal.entries import Entry
from nightround.journal.kinds import Body, SubjectKind
from nightround.journal.kinds.animal import Moved
from nightround.journal.kinds.knowledge import Claim, Named, RuleSet
from nightround.journal.kinds.surroundings import (
    BatchBegun,
    BatchCounted,
    Cleaned,
    Dish,
    Expected,
    Heat,
    LidCover,
    Logged,
    MadeUp,
    Misted,
    Opening,
    PlaceSetUp,
    Reading,
    Watered,
    hours_of,
)
from nightround.record.about_animals import (
    ANIMAL_HANDLERS,
    Handler,
    days,
    in_its_home,
    quarantine,
    wintering,
)
from nightround.record.about_larder import lot_begun, lot_changed, supply
from nightround.record.builders import (
    BatchBuilder,
    HomeBuilder,
    PlaceBuilder,
    RoomBuilder,
    TaxonBuilder,
)
from nightround.record.model import ClimateReading, LoggedDay, Rule
from nightround.record.offers import offered_to_batch, outcome_for_batch
from nightround.record.stock import STOCK_TAKES, rise_in_batch


def batch_begun(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: BatchBegun) -> None:
    """The state at the beginning."""
    batch.taxon, batch.source = body.taxon or batch.taxon, body.source or batch.source
    batch.begun, batch.begun_by = entry.when, entry
    if body.hatched:
        batch.hatched = room.when_of(body.hatched, entry)
    if body.number is not None:
        batch.started_with = batch.living = body.number
    if body.home:
        batch.home = room.home(body.home, entry.when.last).identity
    batch.place = room.place(body.place, entry.when.last) or batch.place


def batch_counted(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: BatchCounted) -> None:
    """A count of the living holds; the dead and those that left only lessen it when they were not."""
    if entry.when.last is not None:
        batch.counts.append((entry.when.last, body.living, body.dead))
    if body.living is not None:
        rise_in_batch(room, batch, entry, body.living)
        batch.living = body.living
    elif batch.living is not None:
        batch.living = max(0, batch.living - (body.dead or 0) - (body.left or 0))


def batch_moved(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: Moved) -> None:
    """Into another home, or onto another place."""
    if body.home:
        home = room.home(body.home, entry.when.last)
        batch.home, batch.place = home.identity, home.place or batch.place
    batch.place = room.place(body.place, entry.when.last) or batch.place


def batch_watered(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: Watered | Misted) -> None:
    """Water for the batch is water for the home it is in."""
    if entry.when.last is not None:
        batch.watered.append(entry.when.last)
    in_its_home(room, batch, entry, body)


def made_up(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: MadeUp) -> None:
    """How the home is made up from now on."""
    home.did(entry, body)
    home.made_up, home.body = entry.when, body
    if body.lid_cover_fraction is not None:
        home.lid_cover = body.lid_cover_fraction
    if body.place:
        stand_home(room, home, entry, body.place)


def stand_home(room: RoomBuilder, home: HomeBuilder, entry: Entry, name: str) -> None:
    """Stand the home on a place, with everything in it."""
    home.place = room.place(name, entry.when.last)
    for animal in home.occupants.values():
        animal.stands(home.place, home.identity, entry.when.last)


def home_moved(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Moved) -> None:
    """Onto another place, with everything in it."""
    if body.place:
        stand_home(room, home, entry, body.place)


def opening_key(body: Opening) -> tuple[str, ...]:
    """Which opening of its home it is."""
    return (body.label,) if body.label else ("", body.shape, body.at or "")


def opening(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Opening) -> None:
    """An opening replaces the one of its label; without labels, the one of its shape at that side."""
    home.did(entry, body)
    key = opening_key(body)
    if body.number == 0:
        home.openings.pop(key, None)
    else:
        home.openings[key] = body


def lid_cover(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: LidCover) -> None:
    """How much of the lid is covered from now on."""
    home.did(entry, body)
    home.lid_cover = body.fraction


def home_watered(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Watered | Misted) -> None:
    """Water for a home is water for whoever is in it."""
    home.did(entry, body)
    if entry.when.last is not None:
        for animal in home.occupants.values():
            animal.watered.append(entry.when.last)


def done_to_home(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Body) -> None:
    """Keep the mass of the whole home, how the substrate felt, what was wrong."""
    home.did(entry, body)


def home_dish(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Dish) -> None:
    """A filled dish is something to drink for whoever is in it."""
    home.did(entry, body)
    if body.state == "filled" and entry.when.last is not None:
        for animal in home.occupants.values():
            animal.drink_given.append(entry.when.last)


def home_cleaned(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: Cleaned) -> None:
    """Whoever is in it was looked at, as in an entry about the animal."""
    home.did(entry, body)
    if entry.when.first is not None:
        for animal in home.occupants.values():
            animal.looked(entry.when.first)


def place_set_up(room: RoomBuilder, place: PlaceBuilder, entry: Entry, body: PlaceSetUp) -> None:
    """Where it stands in the walk; unknown takes nothing back."""
    place.sort = body.sort or place.sort
    place.position = body.position if body.position is not None else place.position
    place.inside = room.place(body.inside, entry.when.last) or place.inside


def reading(room: RoomBuilder, place: PlaceBuilder, entry: Entry, body: Reading) -> None:
    """Keep the reading."""
    place.readings.append(
        ClimateReading(entry.number, entry.when, body.temperature_c, body.humidity_percent, body.statistic)
    )


def logged(room: RoomBuilder, place: PlaceBuilder, entry: Entry, body: Logged) -> None:
    """A logger's day: its hours, and its mean as a reading where enough of the day was read."""
    day = entry.when.last
    if day is None:
        return
    warm, moist = (tuple(hours_of(text)) for text in (body.hours_c, body.hours_percent))
    recorded = entry.recorded.astimezone(room.clock.zone).date()
    place.logged.append(
        LoggedDay(
            entry.number, day, body.file, warm, moist, body.low_c, body.high_c, recorded, body.left_out or 0
        )
    )
    means = day_mean(warm), day_mean(moist)
    if means != (None, None):
        place.readings.append(ClimateReading(entry.number, entry.when, *means, "mean"))


def day_mean(hours: tuple[float | None, ...]) -> float | None:
    """The day's mean, if half of the hours of every quarter of it are known: a night is no day."""
    quarters = [hours[at : at + 6] for at in (0, 6, 12, len(hours) - 6)]
    if len(hours) < 20 or any(sum(each is not None for each in quarter) < 3 for quarter in quarters):
        return None
    known = [each for each in hours if each is not None]
    return sum(known) / len(known)


def expected(room: RoomBuilder, place: PlaceBuilder, entry: Entry, body: Expected) -> None:
    """Keep the expectation."""
    place.expected.append(
        ClimateReading(entry.number, entry.when, body.temperature_c, body.humidity_percent, body.statistic)
    )


def heat(room: RoomBuilder, place: PlaceBuilder, entry: Entry, body: Heat) -> None:
    """Heat failed, or is back."""
    place.heat_failed = entry.when.last if body.state == "failed" else None


def named(room: RoomBuilder, taxon: TaxonBuilder, entry: Entry, body: Named) -> None:
    """A later description adds to an earlier one: empty means unknown and takes nothing back."""
    before = taxon.described
    if before is not None:
        kept = {
            field: getattr(before, field)
            for field in Named.__struct_fields__
            if getattr(body, field) in ("", None, ()) and getattr(before, field) not in ("", None, ())
        }
        body = msgspec.structs.replace(body, **kept)
    taxon.described = body


def claim(room: RoomBuilder, taxon: TaxonBuilder, entry: Entry, body: Claim) -> None:
    """Keep the claim with its number."""
    taxon.claims.append((entry.number, body))


def rule_set(room: RoomBuilder, builder: Any, entry: Entry, body: RuleSet) -> None:
    """The latest word on a rule holds; an empty value returns to the default."""
    about = entry.about
    key = (about.kind, builder.identity, body.rule)
    if body.value:
        room.rules[key] = Rule(entry.number, about, body.rule, body.value, body.why)
    else:
        room.rules.pop(key, None)


_BATCH: dict[str, Handler] = {
    "batch_begun": batch_begun,
    "batch_counted": batch_counted,
    "moved": batch_moved,
    "offered": offered_to_batch,
    "offer_seen": outcome_for_batch,
    "passed_over": days("passed_over"),
    "watered": batch_watered,
    "misted": batch_watered,
    "moisture_felt": in_its_home,
    "dish": in_its_home,
    "quarantine": quarantine,
}
_HOME: dict[str, Handler] = {
    "made_up": made_up,
    "moved": home_moved,
    "opening": opening,
    "lid_cover": lid_cover,
    "watered": home_watered,
    "misted": home_watered,
    "weighed": done_to_home,
    "moisture_felt": done_to_home,
    "dish": home_dish,
    "trouble": done_to_home,
    "cleaned": home_cleaned,
}
_PLACE: dict[str, Handler] = {
    "place_set_up": place_set_up,
    "reading": reading,
    "logged": logged,
    "expected": expected,
    "heat": heat,
}

HANDLERS: dict[SubjectKind, dict[str, Handler]] = {
    "animal": {**ANIMAL_HANDLERS, "rule_set": rule_set, "stock_take": STOCK_TAKES["animal"]},
    "batch": {**_BATCH, "stock_take": STOCK_TAKES["batch"]},
    "home": {**_HOME, "stock_take": STOCK_TAKES["home"]},
    "place": {**_PLACE, "rule_set": rule_set, "wintering": wintering},
    "lot": {"lot_begun": lot_begun, "lot_changed": lot_changed, "stock_take": STOCK_TAKES["lot"]},
    "taxon": {"named": named, "claim": claim, "rule_set": rule_set},
    "room": {
        "rule_set": rule_set,
        "wintering": wintering,
        "stock_take": STOCK_TAKES["room"],
        "supply": supply,
    },
}
"""Subject → kind → what it does. A kind that is absent is only listed among the subject's entries."""
