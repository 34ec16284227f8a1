"""The verbs of a jotted line, with what each writes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from nightround.desk.jot_clauses import Clause, Line, Made, Maker, plain, since_last
from nightround.desk.jot_dates import take_when
from nightround.desk.jot_food import (
    OFFER_PHRASES,
    OUTCOME_PHRASES,
    PASSED_PHRASES,
    FoodReader,
    left_clause,
    offer_clause,
    outcome_clause,
    passed_clause,
)
from nightround.desk.jot_homes import HOME_CLAUSES, SPOTS
from nightround.desk.jot_places import WINTERING_BEGINS, WINTERING_ENDS
from nightround.desk.jot_rules import rule_clause
from nightround.desk.jot_signs import SIGN_STARTS, seen_clause
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.animal import (
    Died,
    Drank,
    DropsGiven,
    Escaped,
    FoundAgain,
    Injured,
    Left,
    LeftoversRemoved,
    Matured,
    Measured,
    MeasuredItem,
    Moulted,
    Moved,
    Noted,
    NotFound,
    Quarantine,
    Sac,
    Sexed,
    Wintering,
)
from nightround.journal.kinds.surroundings import (
    BatchCounted,
    Cleaned,
    Dish,
    Misted,
    MoistureFelt,
    Trouble,
    Watered,
    Weighed,
)

ITEMS: dict[str, MeasuredItem] = {
    "leg span": "leg_span", "legspan": "leg_span", "span": "leg_span", "carapace length": "carapace_length",
    "carapace width": "carapace_width", "carapace": "carapace_length", "body length": "body_length",
    "body": "body_length", "mass": "mass", "weight": "mass",
}  # fmt: skip
WHERE = (
    "low side",
    "high side",
    "side",
    "corner",
    "dish",
    "all over",
    "edge",
    "wall",
    "web",
    "glass",
    "moss",
)


def _always(make: Callable[[], Maker]) -> Clause:
    return lambda _cursor, _line: make()


def _moulted(cursor: Cursor, line: Line) -> Maker:
    _day_first(cursor, line)
    exuvia: Any = None
    at = cursor.at
    cursor.separator()
    if cursor.phrase("exuvia", "skin", "shed skin"):
        exuvia = cursor.phrase("kept", "lost", "eaten") or None
    if exuvia is None:
        cursor.at = at
    return since_last(Moulted(exuvia=exuvia), lambda animal: animal.last_look, "moulted")


def _day_first(cursor: Cursor, line: Line) -> None:
    """Take a day that stands before more words of the clause."""
    line.own_day = take_when(cursor, line.on)


def _measured(item: MeasuredItem) -> Clause:
    def read(cursor: Cursor, _: Line) -> Maker:
        cursor.phrase("is", "of", "at")
        amount = cursor.amount("mass" if item == "mass" else "length", above_nothing=True)
        return _size(item, amount, cursor)

    return read


def _size(item: MeasuredItem, amount: dict[str, Any], cursor: Cursor) -> Maker:
    on: Any = None
    posture: Any = None
    while True:
        if cursor.phrase("shed skin", "on shed skin", "of the shed skin", "on the shed skin", "exuvia",
                         "on exuvia", "of the exuvia", "on the exuvia"):  # fmt: skip
            on = "shed_skin"
        elif cursor.phrase("live", "on the live animal"):
            on = "live"
        elif bent := cursor.phrase("bent", "stretched"):
            posture = bent
        else:
            break

    def make(line: Line, ref: Ref, when: When | None) -> Sequence[Made]:
        day = when or on_day(line.on)
        if ref.kind == "home" and item == "mass":
            return [Made(Weighed(**amount), day)]
        return [Made(Measured(item=item, on=on, posture=posture, **amount), day)]

    return make


def bare_measure(cursor: Cursor) -> Maker | None:
    """Read a size whose number comes first: '4.5 cm span', '3.2 g'."""
    for dimension in ("length", "mass"):
        if not cursor.measures(dimension):
            continue
        amount = cursor.amount(dimension, above_nothing=True)
        items = [phrase for phrase, item in ITEMS.items() if (item == "mass") == (dimension == "mass")]
        item = cursor.phrase(*items)
        if not item and dimension == "length":
            raise NotReadable(
                "what was measured: span, carapace, carapace width or body", got=repr(cursor.ahead())
            )
        return _size(ITEMS[item] if item else "mass", amount, cursor)
    return None


def _where(cursor: Cursor) -> str:
    at = cursor.at
    cursor.phrase("in", "on", "at", "into", "down", "over")
    cursor.phrase("the", "a", "its")
    found = cursor.phrase(*WHERE)
    if not found:
        cursor.at = at
    return found


def _volume(body: Callable[..., Any], *, where: bool) -> Clause:
    def read(cursor: Cursor, _: Line) -> Maker:
        cursor.phrase("given", "of", "with")
        place = _where(cursor) if where else ""
        coming = cursor.number_and_unit()
        amount = cursor.amount("volume") if coming is not None and coming[1] else {}
        if coming is not None and not coming[1] and not place:
            cursor.amount("volume")  # says that the unit is missing
        cursor.phrase("of water", "water")
        place = place or (_where(cursor) or cursor.phrase(*SPOTS) if where else "")
        return plain(body(**amount, **({"where": place} if where else {})))

    return read


def _drank(cursor: Cursor, _: Line) -> Maker:
    cursor.phrase("from", "from the")
    return plain(Drank(how=cursor.phrase("drops", "dish")))


def _moved(cursor: Cursor, line: Line) -> Maker:
    home = place = ""
    for _ in range(2):
        at = cursor.at
        if home or place:
            cursor.phrase(",")
            if not cursor.phrase("on", "at", "to", "in"):
                cursor.at = at
                break
        named = _new(cursor) or line.names.take(cursor, frozenset({"home", "place"}))
        if named is None:
            if home or place:
                cursor.at = at
                break
            near = line.names.near(cursor.ahead(2), frozenset({"home", "place"}))
            raise NotReadable(
                "a home or shelf of this room to move to",
                got=repr(cursor.ahead(2)),
                todo=f"Nearest: {near}. For one that is not there yet: moved to new home H9",
            )
        home, place = (named.code, place) if named.kind == "home" else (home, named.code)
    return plain(Moved(home=home, place=place))


def _new(cursor: Cursor) -> Ref | None:
    sort = cursor.phrase("new home", "new place", "a new home", "new shelf")
    if not sort:
        return None
    name = cursor.quoted()
    if name is None:
        name = cursor.text().strip()
        cursor.at += 1
    if not name or name == ",":
        raise NotReadable(f"the name of the {sort.removeprefix('a ')}", got=repr(name))
    return Ref("home" if sort.endswith("home") else "place", name)


def _sexed(sex: Any) -> Clause:
    def read(cursor: Cursor, _: Line) -> Maker:
        at = cursor.at
        cursor.phrase("by", "by the", "from", "from the")
        how = cursor.phrase("exuvia", "shed skin", "ventral", "ventrally")
        if not how:
            cursor.at = at
        spelt = {"shed skin": "exuvia", "ventrally": "ventral"}
        return plain(Sexed(sex=sex, how=spelt.get(how, how)))

    return read


def _matured(cursor: Cursor, _: Line) -> Maker:
    sex: Any = cursor.phrase("male", "female") or None
    return plain(Matured(sex=sex))


def _died(cursor: Cursor, line: Line) -> Maker:
    _day_first(cursor, line)
    moult = cursor.phrase("during a moult", "in a moult", "in moult", "while moulting", "during the moult")
    died = Died(during_moult=True if moult else None)
    return since_last(died, lambda animal: animal.last_life, "died")


def _escaped(cursor: Cursor, line: Line) -> Maker:
    _day_first(cursor, line)
    opening = cursor.rest() if cursor.phrase("through", "by") else ""
    return since_last(Escaped(opening=opening), lambda animal: animal.last_life, "escaped")


def _left(how: Any) -> Clause:
    def read(cursor: Cursor, line: Line) -> Maker:
        _day_first(cursor, line)
        whom = cursor.rest() if cursor.phrase("to") else ""
        return plain(
            Left(how=how, to_whom=whom),
            f"left the room, {how or 'no more said'}{f' to {whom}' if whom else ''}",
        )

    return read


def _found(cursor: Cursor, line: Line) -> Maker:
    _day_first(cursor, line)
    cursor.phrase(",")
    return plain(FoundAgain(where=cursor.rest()))


def _lost(cursor: Cursor, _: Line) -> Maker:
    number = cursor.whole()
    if number is None or number > 8 or not cursor.phrase("leg", "legs"):
        raise NotReadable(
            "'lost 2 legs', or 'escaped', 'given away', 'not seen'", got=repr(f"lost {cursor.ahead()}")
        )
    return plain(Injured(injury="legs lost", legs_lost=number))


def _note(cursor: Cursor, _: Line) -> Maker:
    words = cursor.rest().lstrip(": ").strip()
    if not words:
        raise NotReadable("the words of the note", got="nothing more")
    return plain(Noted(note=words))


def _felt(where: str) -> Clause:
    def read(cursor: Cursor, _: Line) -> Maker:
        felt: dict[str, Any] = {}
        named = where
        while named:
            felt[named] = cursor.phrase("dry", "damp", "wet")
            if not felt[named]:
                raise NotReadable(f"{named} dry, damp or wet", got=repr(cursor.ahead()))
            at = cursor.at
            cursor.separator()
            named = cursor.phrase("surface", "bottom")
            if not named:
                cursor.at = at
        return plain(MoistureFelt(**felt))

    return read


def _counted(cursor: Cursor, _: Line) -> Maker:
    living = cursor.whole()
    if living is None:
        raise NotReadable("how many were counted", got=repr(cursor.ahead()))
    cursor.phrase("alive", "living")
    at = cursor.at
    cursor.separator()
    dead = cursor.whole()
    if dead is not None and not cursor.phrase("dead"):
        dead = None
    if dead is None:
        cursor.at = at
    return plain(BatchCounted(living=living, dead=dead))


def verbs(reader: FoodReader) -> dict[str, Clause]:
    """Return every phrase that begins a clause, with what reads the words after it."""
    table: dict[str, Clause] = {phrase: outcome_clause(reader, o) for phrase, o in OUTCOME_PHRASES.items()}
    table |= dict.fromkeys(OFFER_PHRASES, offer_clause(reader))
    table |= dict.fromkeys(PASSED_PHRASES, passed_clause)
    table |= dict.fromkeys(SIGN_STARTS, seen_clause)
    for item, kind in ITEMS.items():
        table[item] = table[f"measured {item}"] = table[f"{item} measured"] = _measured(kind)
    moulted = ("moulted", "molted", "shed", "has moulted", "has shed", "shed its skin", "moult", "molt")
    table |= dict.fromkeys(moulted, _moulted)
    table |= dict.fromkeys(("weighs", "weighed"), _measured("mass"))
    gone: dict[str, Any] = {
        "sold": "sold",
        "given away": "given",
        "returned": "returned",
        "left the room": None,
    }
    table |= {phrase: _left(how) for phrase, how in gone.items()}
    leftovers = ("removed leftovers", "took out leftovers", "took leftovers out", "cleared leftovers",
                 "leftovers removed", "leftovers out", "leftovers taken out")  # fmt: skip
    table |= dict.fromkeys(leftovers, _always(lambda: plain(LeftoversRemoved())))
    for sex in ("female", "male"):
        table |= dict.fromkeys((sex, f"sexed {sex}", f"is {sex}"), _sexed(sex))
    table |= dict.fromkeys(
        ("laid a sac", "laid an egg sac", "sac laid", "egg sac laid"), _always(lambda: plain(Sac()))
    )
    table |= dict.fromkeys(("quarantined", "quarantine begins", "in quarantine"), _quarantine("begins"))
    table |= dict.fromkeys(("quarantine ends", "quarantine over", "out of quarantine"), _quarantine("ends"))
    table |= dict.fromkeys(WINTERING_BEGINS, _always(lambda: plain(Wintering(state="begins"))))
    table |= dict.fromkeys(WINTERING_ENDS, _always(lambda: plain(Wintering(state="ends"))))
    table |= dict.fromkeys(("moved to", "moved into", "rehoused to", "rehoused into", "rehoused in"), _moved)
    table |= dict.fromkeys(
        ("drops", "drops given", "gave drops", "given drops"), _volume(DropsGiven, where=True)
    )
    table |= dict.fromkeys(("not seen", "not found"), _always(lambda: plain(NotFound())))
    table |= dict.fromkeys(("dish filled", "filled dish", "filled the dish"), _volume(Dish, where=False))
    dry = ("dish dry", "dish found dry", "dish empty")
    table |= dict.fromkeys(dry, _always(lambda: plain(Dish(state="found_dry"))))
    table |= dict.fromkeys(("died", "dead", "found dead", "is dead"), _died)
    table |= dict.fromkeys(("mould", "mold", "mouldy"), _always(lambda: plain(Trouble(what="mould"))))
    return table | HOME_CLAUSES | {
        "left": left_clause(reader), "watered": _volume(Watered, where=True),
        "misted": _volume(Misted, where=False), "drank": _drank, "matured": _matured, "mature": _matured,
        "escaped": _escaped, "found again": _found, "lost": _lost, "note": _note, "counted": _counted,
        "rule": rule_clause, "surface": _felt("surface"), "bottom": _felt("bottom"),
        "mites": _always(lambda: plain(Trouble(what="mites"))),
        "flooded": _always(lambda: plain(Trouble(what="flooded"))),
        "cleaned": _always(lambda: plain(Cleaned())),
        "sac pulled": _always(lambda: plain(Sac(step="pulled"))),
    }  # fmt: skip


def _quarantine(state: Any) -> Clause:
    return _always(lambda: plain(Quarantine(state=state)))
