"""Entries in plain words, the same on the page, in the terminal and on paper."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Sequence
from typing import Any

from nightround.foundation.quantities import both
from nightround.journal.entries import Entry
from nightround.journal.kinds import KINDS, Amount, Body
from nightround.journal.kinds import animal as of_animal
from nightround.journal.kinds import surroundings as of_room
from nightround.journal.kinds.knowledge import Renamed, RuleSet, Struck, TakenBack
from nightround.journal.kinds.supplies import Supply
from nightround.reports.room import HistoryLine

OUTCOME_WORDS = {
    None: "nobody has looked yet",
    "taken": "taken",
    "refused": "refused",
    "uneaten": "not eaten",
    "not_seen": "not seen",
}


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _offered(body: of_animal.Offered) -> str:
    size = f" of {both(body.prey_mm, 'mm')}" if body.prey_mm else ""
    # The prey's name is the keeper's own word, in any language: it gets no English plural.
    count = "" if body.number is None else f"{body.number} " if body.number == 1 else f"{body.number} × "
    what = count + (body.prey or "prey")
    killed = ", pre-killed" if body.prekilled else ""
    return f"offered {what}{size}{killed}: {OUTCOME_WORDS[body.outcome]}"


def _measured(body: of_animal.Measured) -> str:
    where = " of the shed skin" if body.on == "shed_skin" else ""
    posture = f", {body.posture}" if body.posture else ""
    size = both(body.value, body.unit, 3) if body.value is not None else "?"
    return f"{_plain(body.item)}{where} {size}{posture}"


def _amount(body: Amount, word: str, where: str = "") -> str:
    amount = f" {both(body.value, body.unit)}" if body.value is not None else ""
    return f"{word}{amount}{f', {where}' if where else ''}"


def _seen(body: of_animal.Seen) -> str:
    signs = [
        body.posture,
        f"abdomen {body.abdomen}" if body.abdomen else "",
        f"abdomen {body.abdomen_ratio:g} × carapace" if body.abdomen_ratio else "",
        "dark patch" if body.dark_patch else "",
        "on its back" if body.on_its_back else "",
        body.web,
        "burrow sealed" if body.burrow_sealed else "",
        "moulting mat" if body.moult_mat else "",
        f"{body.fangs} fangs" if body.fangs else "",
    ]
    return "seen" + "".join(f", {sign}" for sign in signs if sign)


def _reading(body: of_room.Reading | of_room.Expected) -> str:
    parts = []
    if body.temperature_c is not None:
        parts.append(both(body.temperature_c, "C"))
    if body.humidity_percent is not None:
        parts.append(f"{body.humidity_percent:g} %")
    return f"{', '.join(parts) or 'no value'} ({body.statistic})"


def _rule(body: RuleSet) -> str:
    from nightround.desk.rule_setting import rule_words

    return rule_words(body)


def _lot_begun(body: of_room.LotBegun) -> str:
    size = f" of {both(body.size_mm, 'mm')}" if body.size_mm else ""
    paid = f", {body.price}" if body.price else ""
    if body.how == "started":
        return f"culture started: {body.feeder or 'of what nobody said'}"
    return f"{body.how}: {body.number if body.number is not None else '?'} {body.feeder}{size}{paid}"


def _lot_changed(body: of_room.LotChanged) -> str:
    number = "" if body.what == "finished" else f": {body.number if body.number is not None else '?'}"
    size = f" of {both(body.size_mm, 'mm')}" if body.size_mm else ""
    return f"feeders {_plain(body.what)}{number}{size}"


def _supply(body: Supply) -> str:
    seller = f" from {body.from_whom}" if body.from_whom else ""
    if body.gone:
        return f"no longer to be had: {body.name}{seller}"
    pack = f", {body.pack} in a pack" if body.pack is not None else ""
    price = f", {body.price} {body.currency}".rstrip() if body.price else ", price unknown"
    return f"to be had: {body.name} ({body.item}){seller}{pack}{price}"


_WORDS: dict[type[Body], Callable[[Any], str]] = {
    of_animal.Arrived: lambda b: f"arrived: {b.taxon or 'taxon unknown'}",
    of_animal.Hatched: lambda b: f"taken out of batch {b.batch}",
    of_animal.Offered: _offered,
    of_animal.OfferSeen: lambda b: f"the offer: {OUTCOME_WORDS[b.outcome]}",
    of_animal.PassedOver: lambda b: f"passed over{f': {b.reason}' if b.reason else ''}",
    of_animal.Moulted: lambda b: f"moulted{f', exuvia {b.exuvia}' if b.exuvia else ''}",
    of_animal.Measured: _measured,
    of_animal.Sexed: lambda b: f"sexed: {b.sex}{f' ({b.how})' if b.how else ''}",
    of_animal.Seen: _seen,
    of_animal.Matured: lambda b: "seen to be mature" + (f", {b.sex}" if b.sex else ""),
    of_animal.Moved: lambda b: "moved to " + (" on ".join(filter(None, [b.home, b.place])) or "?"),
    of_animal.Quarantine: lambda b: f"quarantine {b.state}",
    of_animal.Wintering: lambda b: f"wintering {b.state}{f', {b.how}' if b.how else ''}",
    of_animal.Sac: lambda b: f"egg sac {b.step}",
    of_animal.Died: lambda b: "died" + (" during a moult" if b.during_moult else ""),
    of_animal.Escaped: lambda b: "escaped" + (f" through {b.opening}" if b.opening else ""),
    of_animal.FoundAgain: lambda b: "found again" + (f" {b.where}" if b.where else ""),
    of_animal.Left: lambda b: f"left the room{f' ({b.how})' if b.how else ''}",
    of_animal.DropsGiven: lambda b: _amount(b, "drops given", b.where),
    of_room.Watered: lambda b: _amount(b, "watered", b.where),
    of_room.Misted: lambda b: _amount(b, "misted"),
    of_room.Weighed: lambda b: _amount(b, "home weighed"),
    of_room.Dish: lambda b: _amount(b, f"dish {_plain(b.state)}"),
    of_room.Reading: _reading,
    of_room.Expected: lambda b: f"expected {_reading(b)}",
    of_room.MoistureFelt: lambda b: f"felt: surface {b.surface or '?'}, bottom {b.bottom or '?'}",
    of_room.Heat: lambda b: f"heating {b.state}",
    of_room.Trouble: lambda b: b.what,
    of_room.LotBegun: _lot_begun,
    of_room.LotChanged: _lot_changed,
    Supply: _supply,
    Renamed: lambda b: f"renamed to {b.name}",
    RuleSet: _rule,
    Struck: lambda b: f"struck out an entry{f' ({b.why})' if b.why else ''}",
    TakenBack: lambda b: f"took back {b.intention}",
}


def words_of(kind: str, body: Body) -> str:
    """Return what an entry says, in words (its note apart)."""
    say = _WORDS.get(type(body))
    if say is not None:
        return say(body)
    told = [
        f"{_plain(name)} {value}"
        for name in body.__struct_fields__
        if name != "note" and (value := getattr(body, name)) not in (None, "", ())
    ]
    return KINDS[kind].says + (": " + ", ".join(told) if told else "")


def history_lines(
    entries: Iterable[Entry], standing: Container[int], everything: Sequence[Entry]
) -> list[HistoryLine]:
    """Return entries in words, newest first; one that no longer stands says what took its place."""
    entries = list(entries)
    reasons = _reasons({entry.number for entry in entries}, everything)
    lines = [
        HistoryLine(
            number=entry.number,
            when=entry.when,
            kind=entry.kind,
            words=words_of(entry.kind, entry.body),
            note=entry.body.note,
            recorded=entry.recorded,
            device=entry.device,
            struck="" if entry.number in standing else reasons.get(entry.number, "not yet true on this day"),
        )
        for entry in entries
        if not isinstance(entry.body, Struck)
    ]
    return sorted(lines, key=_newest_first, reverse=True)


def _newest_first(line: HistoryLine) -> tuple[str, int]:
    return (line.when.last.isoformat() if line.when.last else "", line.number)


def _reasons(numbers: set[int], everything: Sequence[Entry]) -> dict[int, str]:
    reasons = {}
    for entry in everything:
        if entry.corrects in numbers and entry.corrects is not None:
            body = entry.body
            why = (
                (body.why or "struck out")
                if isinstance(body, Struck)
                else f"corrected by entry {entry.number}"
            )
            reasons[entry.corrects] = why
    return reasons
