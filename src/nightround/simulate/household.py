"""Entries that are not about single animals: places, taxa, claims, climate, larder."""

from __future__ import annotations

from datetime import timedelta
from random import Random
from typing import Final

from nightround.foundation.when import When, at, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds import knowledge, surroundings
from nightround.journal.kinds.knowledge import Claim, Named
from nightround.simulate.book import Book
from nightround.simulate.climate import QUARANTINE, ROOM_NAME, SHELVES, RoomClimate, day_at
from nightround.simulate.taxa import NEW_NAME, TAXA, SimulatedTaxon

INVENTED: Final = "invented for the demo room"
RULES_OVERRULED: Final = (
    (
        Ref("room"),
        knowledge.RuleSet(rule="quarantine_days", value="35", why="five weeks suit this keeper's rounds"),
    ),
    (
        Ref("taxon", "Linothele megatheloides"),
        knowledge.RuleSet(rule="feed_adult_days", value="10", why="they stay hungry all year here"),
    ),
)


def set_up(book: Book, climate: RoomClimate, taxa: tuple[SimulatedTaxon, ...]) -> None:
    """The first evening: places and taxa are written down."""
    moment, day = book.local(climate.first, 17), on_day(climate.first)
    room = surroundings.PlaceSetUp(sort="room", position=0, note="Invented: nobody keeps these animals.")
    book.write(moment, Ref("place", ROOM_NAME), room, day, device="laptop")
    for shelf in SHELVES:
        body = surroundings.PlaceSetUp(sort="shelf", position=shelf.position, inside=ROOM_NAME)
        book.write(moment, Ref("place", shelf.name), body, day, device="laptop")
    for kind in taxa:
        named = Named(
            group=kind.group, habit=kind.habit, climbs=kind.climbs, other_names=kind.other_names,
            hazard=kind.hazard, law=kind.law,
        )  # fmt: skip
        book.write(moment, Ref("taxon", kind.name), named, day, device="laptop")
    for about, rule in RULES_OVERRULED:
        book.write(moment, about, rule, day, device="laptop")


def rename(book: Book, climate: RoomClimate, column: int) -> None:
    """The keeper catches up with a genus that was split."""
    day = day_at(climate, column)
    body = knowledge.Renamed(name=NEW_NAME[1], reason="the genus was split; labels follow now")
    book.write(book.local(day, 18), Ref("taxon", NEW_NAME[0]), body, on_day(day), device="laptop")


def _claims() -> list[tuple[str, Claim]]:
    """Statements to be held against the records; those from outside name their source and grade."""
    span: Final = "adult_span"
    life: Final = "life_span"
    years: Final = "years_to_maturity"
    return [
        ("Grammostola pulchripes", Claim(
            claim=span, text="reaches 20 cm", high=200, unit="mm", sense="maximum", source=INVENTED,
            grade="D")),
        ("Grammostola pulchripes", Claim(
            claim=life, text="females 25 years and more", low=25, unit="year", sense="typical", sex="female",
            source=INVENTED, grade="C")),
        ("Brachypelma hamorii", Claim(
            claim=years, text="seven to nine years", low=7, high=9, unit="year", sense="typical",
            source=INVENTED, grade="C")),
        ("Brachypelma albopilosum", Claim(
            claim="growth_class", text="medium to fast", sense="typical", source=INVENTED, grade="D")),
        ("Caribena versicolor", Claim(
            claim="humidity", text="needs 80 % air humidity", low=80, unit="percent", sense="typical",
            source=INVENTED, grade="D")),
        ("Poecilotheria regalis", Claim(
            claim="venom", text="cramps for days are published for this subfamily; seek medical advice",
            source="Fuchs 2013; Hauke & Herzig (as named in the trade notes)", grade="A")),
        ("Poecilotheria regalis", Claim(
            claim=span, text="18 cm", high=180, unit="mm", sense="maximum", sex="female", source=INVENTED,
            grade="D")),
        ("Liphistius malayanus", Claim(
            claim="temperature", text="never above 26 degrees", high=26, unit="C", sense="maximum",
            source=INVENTED, grade="C")),
        ("Atypus affinis", Claim(
            claim=years, text="Atypus karschi took three to four years", low=3, high=4, unit="year",
            sense="typical", source="Miyashita 1992, Acta Arachnologica 41: 177-186 (abstract)", grade="A")),
        ("Aglaoctenus lagotis", Claim(
            claim="adult_carapace", text="females 8.6 mm", low=8.6, high=8.6, unit="mm", sense="typical",
            sex="female", source="Moreira & Del-Claro 2011, Zoologia 28: 565-570", grade="A")),
        ("Cupiennius salei", Claim(
            claim=life, text="hardly ever two years", high=2, unit="year", sense="maximum",
            source=INVENTED, grade="D")),
        ("Linothele megatheloides", Claim(
            claim="habit", text="covers any box with sheets of web", source=INVENTED, grade="C")),
    ]  # fmt: skip


def write_claims(book: Book, climate: RoomClimate, kept: int, taxa: tuple[SimulatedTaxon, ...]) -> None:
    """Claims come in over the years, on laptop evenings."""
    present = {kind.name for kind in taxa}
    for order, (taxon, claim) in enumerate(_claims()):
        if taxon in present:
            day = day_at(climate, min(kept - 1, 12 + order * kept // 40))
            book.write(book.local(day, 18, 30), Ref("taxon", taxon), claim, on_day(day), device="laptop")


def write_climate(book: Book, climate: RoomClimate, kept: int) -> None:
    """Logger files are read in on Sundays; a heat failure is noted by hand."""
    for column in range(kept):
        day = day_at(climate, column)
        sunday = min(column + 6 - day.weekday(), kept - 1)
        written = book.local(day_at(climate, sunday), 11)
        for row in range(len(SHELVES) + 1):
            if climate.logged[row, column]:
                name = SHELVES[row].name if row < len(SHELVES) else ROOM_NAME
                warm = round(float(climate.temperature_c[row, column]), 1)
                damp = round(float(climate.humidity[column])) if row == len(SHELVES) else None
                body = surroundings.Reading(temperature_c=warm, humidity_percent=damp)
                book.write(written, Ref("place", name), body, on_day(day), device="logger")
    for column, state in ((climate.failure[0], "failed"), (climate.failure[1] + 1, "restored")):
        day = day_at(climate, min(column, kept - 1))
        moment = book.local(day, 7, 20)
        heat = surroundings.Heat(state="failed" if state == "failed" else "restored", note="boiler")
        book.write(moment, Ref("place", ROOM_NAME), heat, at(moment, book.clock))


def write_extremes(book: Book, climate: RoomClimate, kept: int, rng: Random) -> None:
    """Now and then the keeper reads the minimum and maximum of a thermometer without a logger's file."""
    for column in range(9, kept, 41):
        day = day_at(climate, column)
        mean = float(climate.temperature_c[QUARANTINE - 3, column])
        for statistic, shift in (("min", -rng.uniform(1, 2.2)), ("max", rng.uniform(1, 2.2))):
            body = surroundings.Reading(
                temperature_c=round(mean + shift, 1), statistic="min" if statistic == "min" else "max"
            )
            book.write(book.local(day, 21, 5), Ref("place", SHELVES[QUARANTINE - 3].name), body, on_day(day))


def write_expected(book: Book, climate: RoomClimate, kept: int) -> None:
    """The last evening: a week's weather forecast for the room's air."""
    moment = book.local(day_at(climate, kept - 1), 18)
    for ahead in range(1, 8):
        column = min(kept - 1 + ahead, climate.temperature_c.shape[1] - 1)
        warm = round(float(climate.temperature_c[-1, column]) + 0.3, 1)
        day = day_at(climate, kept - 1) + timedelta(days=ahead)
        body = surroundings.Expected(temperature_c=warm)
        book.write(moment, Ref("place", ROOM_NAME), body, on_day(day), device="laptop")


def write_larder(book: Book, climate: RoomClimate, kept: int, rng: Random) -> None:
    """Crickets bought every other week, a fly culture every week, a roach colony that goes on."""
    day = day_at(climate, 0)
    colony = surroundings.LotBegun(
        how="bought", feeder="lateralis roach", number=200, price="18.00", from_whom="a shop"
    )
    book.write(book.local(day, 17, 30), Ref("lot", "roaches"), colony, on_day(day), device="laptop")
    for column in range(60, kept, 61):
        count = surroundings.LotChanged(what="counted", number=10 * rng.randint(12, 60))
        _lot(book, climate, column, "roaches", count)
    for order, column in enumerate(range(3, kept, 14)):
        size = (6.0, 13.0, 20.0)[order % 3]
        code, number = f"crickets {order + 1}", 10 * rng.randint(8, 20)
        body = surroundings.LotBegun(
            how="bought",
            feeder="cricket",
            size_mm=size,
            number=number,
            price=f"{rng.randint(5, 12)}.50",
            from_whom="a shop",
        )
        _lot(book, climate, column, code, body)
        if rng.random() < 0.12:
            dead = surroundings.LotChanged(what="died_off", number=rng.randint(10, number // 2))
            _lot(book, climate, column + 5, code, dead)
        _lot(
            book, climate, column + rng.randint(14, 24), code, surroundings.LotChanged(what="finished"), kept
        )
    for order, column in enumerate(range(5, kept, 14)):
        code = f"flies {order + 1}"
        body = surroundings.LotBegun(
            how="hatched", feeder="fruit fly", size_mm=2.6, note="culture set up 19 days before"
        )
        _lot(book, climate, column, code, body)
        _lot(
            book, climate, column + rng.randint(20, 30), code, surroundings.LotChanged(what="finished"), kept
        )


def _lot(
    book: Book,
    climate: RoomClimate,
    column: int,
    code: str,
    body: surroundings.LotBegun | surroundings.LotChanged,
    kept: int | None = None,
) -> None:
    if kept is not None and column >= kept:
        return
    day = day_at(climate, column)
    book.write(book.local(day, 18, 10), Ref("lot", code), body, on_day(day))


def taxa_by_share(rng: Random, animals: int) -> list[int]:
    """Return one index into TAXA for each animal, close to the shares, in random order."""
    total = sum(kind.share for kind in TAXA)
    exact = [animals * kind.share / total for kind in TAXA]
    counts = [int(share) for share in exact]
    by_rest = sorted(range(len(TAXA)), key=lambda index: counts[index] - exact[index])
    for index in by_rest[: animals - sum(counts)]:
        counts[index] += 1
    chosen = [index for index, count in enumerate(counts) for _ in range(count)]
    rng.shuffle(chosen)
    return chosen


def when_of(column: int, climate: RoomClimate) -> When:
    """The When of a column's whole day."""
    return on_day(day_at(climate, column))
