"""Turn the fold's builders into the frozen views of the record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from nightround.foundation.when import When
from nightround.journal.entries import Ref
from nightround.journal.kinds.surroundings import Misted, MoistureFelt, Trouble, Watered, Weighed
from nightround.record.builders import (
    AnimalBuilder,
    BatchBuilder,
    HomeBuilder,
    LotBuilder,
    PlaceBuilder,
    RoomBuilder,
    TaxonBuilder,
)
from nightround.record.larder import Lot, Supplied
from nightround.record.model import Animal, Batch, Home, Place, Rule, Stay, Taxon, Wintering
from nightround.record.moults import in_order

Views = tuple[
    dict[str, Animal], dict[str, Batch], dict[str, Home], dict[str, Place], dict[str, Lot], dict[str, Taxon]
]


def freeze_views(room: RoomBuilder) -> Views:
    """Return animals, batches, homes, places, lots and taxa by their present code, in order of code."""
    taxa = _used_taxa(room)
    return (
        _by_code(room, "animal", room.animals, _animal),
        _by_code(room, "batch", room.batches, _batch),
        _by_code(room, "home", room.homes, _home),
        _by_code(room, "place", room.places, _place),
        _by_code(room, "lot", room.lots, _lot),
        _by_code(room, "taxon", taxa, _taxon),
    )


def freeze_rules(room: RoomBuilder) -> tuple[Rule, ...]:
    """Return the rules that are overruled, each about the present code of its subject."""
    rules = [
        replace(rule, about=Ref(rule.about.kind, room.code(rule.about.kind, identity)))
        for (_, identity, _), rule in room.rules.items()
    ]
    return tuple(sorted(rules, key=lambda rule: rule.number))


def freeze_supplies(room: RoomBuilder) -> tuple[Supplied, ...]:
    """Return what can be bought, by item, name and seller."""
    return tuple(room.supplies[key] for key in sorted(room.supplies))


def freeze_winterings(room: RoomBuilder) -> tuple[Wintering, ...]:
    """Return what was said of wintering, each about the present code of its subject, in order of time."""
    told = [
        Wintering(Ref(kind, room.code(kind, identity) if identity else ""), day, begins)
        for kind, identity, day, begins in room.winterings
    ]
    return tuple(sorted(told, key=lambda each: each.day))


def _by_code(room: RoomBuilder, subject: Any, shelf: dict[str, Any], freeze: Any) -> dict[str, Any]:
    coded = {room.code(subject, identity): builder for identity, builder in shelf.items()}
    return {code: freeze(room, code, coded[code]) for code in sorted(coded)}


def _used_taxa(room: RoomBuilder) -> dict[str, TaxonBuilder]:
    """Return every taxon that is described or borne by an animal or batch."""
    taxa = dict(room.taxa)
    bearers: list[AnimalBuilder | BatchBuilder] = [*room.animals.values(), *room.batches.values()]
    for builder in bearers:
        identity = room.names["taxon"].resolve(builder.taxon, None) if builder.taxon else ""
        if identity and identity not in taxa:
            taxa[identity] = TaxonBuilder(identity)
    return taxa


def _numbers(numbers: list[int]) -> tuple[int, ...]:
    return tuple(sorted(numbers))


def _taxon_of(room: RoomBuilder, name: str) -> str:
    return room.names["taxon"].now(name) if name else ""


def _animal(room: RoomBuilder, code: str, b: AnimalBuilder) -> Animal:
    return Animal(
        code=code,
        taxon=_taxon_of(room, b.taxon),
        sex=b.sex,
        sex_how=b.sex_how,
        origin=b.origin,
        arrived=b.arrived,
        hatched=b.hatched,
        batch=b.batch,
        promoted=b.promoted,
        status=b.status,
        ended=b.ended,
        ended_how=b.ended_how,
        during_moult=b.during_moult,
        matured=b.matured,
        place=room.code("place", b.place),
        home=room.code("home", b.home),
        quarantined=b.quarantined,
        quarantine_begun=b.quarantine_begun,
        legs_lost=b.legs_lost,
        injuries=tuple(b.injuries),
        with_sac=b.with_sac,
        last_look=_not_after_end(b.last_look, b.ended),
        last_life=_not_after_end(b.last_life, b.ended),
        moults=in_order(b.moults),
        measurements=tuple(b.measurements),
        offers=tuple(b.book.offers),
        passed_over=tuple(b.passed_over),
        looks=tuple(b.looks),
        stays=tuple(_stay(room, stay) for stay in b.stays),
        watered=tuple(b.watered),
        drank=tuple(b.drank),
        drink_given=tuple(b.drink_given),
        leftovers_removed=tuple(b.leftovers),
        not_found=tuple(b.not_found),
        codes=room.names["animal"].codes_of(b.identity),
        entries=_numbers(b.numbers),
    )


def _not_after_end(day: Any, ended: When | None) -> Any:
    if day is None or ended is None or ended.last is None:
        return day
    return min(day, ended.last)


def _stay(room: RoomBuilder, stay: tuple[str, str, Any, Any]) -> Stay:
    place, home, first, last = stay
    return Stay(room.code("place", place), room.code("home", home), first, last)


def _batch(room: RoomBuilder, code: str, b: BatchBuilder) -> Batch:
    return Batch(
        code=code,
        taxon=_taxon_of(room, b.taxon),
        begun=b.begun,
        hatched=b.hatched,
        source=b.source,
        started_with=b.started_with,
        living=b.living,
        promoted=tuple(room.code("animal", identity) for identity in b.promoted),
        place=room.code("place", b.place),
        home=room.code("home", b.home),
        counts=tuple(b.counts),
        offers=tuple(b.book.offers),
        passed_over=tuple(b.passed_over),
        watered=tuple(b.watered),
        quarantined=b.quarantined,
        entries=_numbers(b.numbers),
    )


def _home(room: RoomBuilder, code: str, b: HomeBuilder) -> Home:
    acts = [(act.when.last, act.body) for act in b.acts if act.when.last is not None]
    return Home(
        code=code,
        made_up=b.made_up,
        body=b.body,
        openings=tuple(b.openings.values()),
        lid_cover_fraction=b.lid_cover,
        place=room.code("place", b.place),
        occupants=tuple(sorted(room.code("animal", identity) for identity in b.occupants)),
        watered=tuple((d, body.value) for d, body in acts if isinstance(body, Watered | Misted)),
        weighed=tuple(
            (d, body.value) for d, body in acts if isinstance(body, Weighed) and body.value is not None
        ),
        felt=tuple((d, body.surface, body.bottom) for d, body in acts if isinstance(body, MoistureFelt)),
        troubles=tuple((d, body.what) for d, body in acts if isinstance(body, Trouble)),
        acts=tuple(b.acts),
        codes=room.names["home"].codes_of(b.identity),
        entries=_numbers(b.numbers),
    )


def _place(room: RoomBuilder, name: str, b: PlaceBuilder) -> Place:
    return Place(
        name=name,
        sort=b.sort,
        position=b.position,
        inside=room.code("place", b.inside),
        readings=tuple(b.readings),
        expected=tuple(b.expected),
        logged=tuple(b.logged),
        heat_failed=b.heat_failed,
        names=room.names["place"].codes_of(b.identity),
        entries=_numbers(b.numbers),
    )


def _lot(room: RoomBuilder, code: str, b: LotBuilder) -> Lot:
    return Lot(
        code, b.feeder, b.begun, b.size_mm, b.number, b.finished, b.how, b.price, b.from_whom,
        tuple(b.acts), _numbers(b.numbers),
    )  # fmt: skip


def _taxon(room: RoomBuilder, name: str, b: TaxonBuilder) -> Taxon:
    names = room.names["taxon"].codes_of(b.identity)
    return Taxon(name, names, b.described, tuple(b.claims), _numbers(b.numbers))
