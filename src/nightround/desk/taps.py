"""What one tap of the round writes, and what a filled-in form writes: drafts, never evidence nobody gave."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote, unquote

import msgspec

from nightround.foundation.clock import RoomClock
from nightround.foundation.quantities import quantity
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.foundation.when import UNKNOWN, When, between, on_day, parse
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import Body, SubjectKind, kind_named
from nightround.journal.kinds.animal import (
    DropsGiven,
    LeftoversRemoved,
    Moulted,
    NotFound,
    Offered,
    OfferSeen,
    PassedOver,
    Seen,
)
from nightround.journal.kinds.base import Amount
from nightround.journal.kinds.surroundings import MoistureFelt, Watered
from nightround.reports.tonight import Job

NOTHING = "-"


@dataclass(frozen=True)
class Tap:
    """One tap: what was done (`do`), to which animal, with the words of the advice that was on the button.

    It carries all it needs: what the keeper saw is what is written, even when the advice has changed since.
    """

    do: str
    code: str
    said: tuple[str, ...] = ()

    def text(self) -> str:
        """Return the text of a button's value; `parse_tap` reads it back."""
        return "~".join([self.do, *(quote(part, safe="") or NOTHING for part in self.said), self.code])


def parse_tap(text: str) -> Tap:
    """Read a button's value. Raises NotReadable."""
    do, _, rest = text.partition("~")
    if do not in TAPS:
        raise NotReadable("a tap of the round: " + ", ".join(TAPS), got=repr(do), todo="Open the page again")
    parts = rest.split("~", _SAID[do])
    if len(parts) != _SAID[do] + 1 or not parts[-1]:
        raise NotReadable(f"what and whom '{do}' is about", got=repr(text), todo="Open the page again")
    said = tuple("" if part == NOTHING else unquote(part) for part in parts[:-1])
    return Tap(do, parts[-1], said)


def offer_tap(job: Job, code: str) -> Tap:
    """Return the tap that writes the advised offer, its outcome open."""
    advice = job.offer
    if advice is None:
        raise NotReadable("a job with an offer", got=job.action)
    # The advice's size is the longest allowed; nobody measured what went in, so the size stays unknown.
    return Tap("offered", code, (str(advice.number), advice.prey, "", "killed" if advice.prekilled else ""))


def water_tap(job: Job, code: str) -> Tap:
    """Return the tap that writes the advised water; an amount nobody advised stays unknown."""
    amount = "" if job.water_ml is None else f"{job.water_ml:g}"
    return Tap("drops" if job.action == "drink" else "watered", code, (amount, job.water_where))


def felt_tap(bottom: str, code: str) -> Tap:
    """Return the tap that says how the bottom of its home felt: dry, damp or wet."""
    return Tap("felt", code, (bottom,))


def outcome_tap(do: str, code: str, offers: tuple[int, ...]) -> Tap:
    """Return the tap that says what became of these offers: gone, still, refused or unseen."""
    return Tap(do, code, ("+".join(str(number) for number in offers),))


def moult_tap(code: str, last_look: date) -> Tap:
    """Return the tap for a moult found tonight: it happened between the last look and tonight."""
    return Tap("moulted", code, (last_look.isoformat(),))


def drafts_of(tap: Tap, on: date) -> list[Draft]:
    """Return what a tap on the evening `on` writes. Raises NotReadable for one that no page of ours makes."""
    about, when = Ref("animal", tap.code), on_day(on)
    if tap.do == "moulted":
        when = between(min(_day(tap.said[0]), on), on)
    return [Draft(about, when, body) for body in TAPS[tap.do](tap.said)]


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise NotReadable("the day of the last look", got=repr(text), todo="Open the page again") from fault


def _offered(said: tuple[str, ...]) -> list[Body]:
    number, prey, size, killed = said
    return [
        Offered(
            prey=prey,
            number=_whole(number, "how many"),
            prey_mm=_amount(size, "the prey's size in mm"),
            prekilled=True if killed else None,
        )
    ]


def _seen_outcome(outcome: str) -> Callable[[tuple[str, ...]], list[Body]]:
    def bodies(said: tuple[str, ...]) -> list[Body]:
        numbers = [_whole(part, "the entry of an offer") for part in said[0].split("+")]
        return [msgspec.convert({"outcome": outcome, "offer": number}, OfferSeen) for number in numbers]

    return bodies


def _watered(said: tuple[str, ...]) -> list[Body]:
    return [Watered(where=said[1], **_volume(said[0]))]


def _drops(said: tuple[str, ...]) -> list[Body]:
    return [DropsGiven(where=said[1], **_volume(said[0]))]


def _felt(said: tuple[str, ...]) -> list[Body]:
    return [msgspec.convert({"bottom": said[0]}, MoistureFelt)]


def _volume(text: str) -> dict[str, Any]:
    return _amount_fields(text, "ml", "volume") if text else {}


def _amount_fields(text: str, unit: str, dimension: Any) -> dict[str, Any]:
    read = quantity(text, unit, dimension)
    if read.value < 0:
        raise NotReadable(
            f"a {dimension} of nothing or more", got=repr(text), todo="Leave it empty if it is unknown"
        )
    return {
        "value": read.value,
        "unit": read.unit,
        "written": read.written,
        "written_unit": read.written_unit,
    }


def _whole(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < _DIGITS):
        raise NotReadable(f"{what} as a whole number", got=repr(text), todo="Write a number such as 2")
    return int(text)


def _amount(text: str, what: str) -> float | None:
    if not text:
        return None
    value = quantity(text, "mm", "length").value
    if value <= 0:
        raise NotReadable(f"{what}, above nothing", got=repr(text), todo="Leave it empty if it is unknown")
    return value


TAPS: dict[str, Callable[[tuple[str, ...]], list[Body]]] = {
    "offered": _offered,
    "gone": _seen_outcome("taken"),
    "still": _seen_outcome("uneaten"),
    "refused": _seen_outcome("refused"),
    "unseen": _seen_outcome("not_seen"),
    "out": lambda _: [LeftoversRemoved()],
    "passed": lambda _: [PassedOver()],
    "watered": _watered,
    "drops": _drops,
    "felt": _felt,
    "moulted": lambda _: [Moulted()],
    "seen": lambda _: [Seen()],
    "notseen": lambda _: [NotFound()],
}
"""Every tap by name, with what it writes."""

_SAID = {"offered": 4, "gone": 1, "still": 1, "refused": 1, "unseen": 1, "out": 0, "passed": 0, "watered": 2,
         "drops": 2, "felt": 1, "moulted": 1, "seen": 0, "notseen": 0}  # fmt: skip


_AMOUNT = ("value", "unit", "written", "written_unit")
_BEYOND = 1e9
_DIGITS = 10
"""No count or size of a keeper reaches a milliard; more digits are a slip or a trick."""


class FormRefusal(Refusal):
    """A form with fields that cannot be read; `fields` says for each what to write instead."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self.fields = dict(fields)
        super().__init__("a form whose fields can all be read", got=" ".join(fields.values()))


def draft_of_form(
    kind: str, code: str, fields: Mapping[str, str], clock: RoomClock, about: SubjectKind = "animal"
) -> Draft:
    """Return the draft of a filled-in form about an animal, or a home; an empty field is unknown.

    fields   the body's own field names, and `from`, `until` for the days
    Raises FormRefusal with every fault.
    """
    faults: dict[str, str] = {}
    when = _when(fields, clock, faults)
    body_type = kind_named(kind).body
    values: dict[str, Any] = {}
    for name, field in _fields(body_type).items():
        text = fields.get(name, "").strip()
        if text and not (issubclass(body_type, Amount) and name in _AMOUNT):
            _convert(name, text, field.type, values, faults)
    if issubclass(body_type, Amount):
        _read_amount(kind, fields, values, faults)
    _check_sense(kind, values, faults)
    if faults:
        raise FormRefusal(faults)
    if when.last is not None and when.last > clock.today():
        raise FormRefusal({"until": "That day has not come."})
    try:
        return Draft(Ref(about, code), when, msgspec.convert(values, body_type))
    except msgspec.ValidationError as fault:
        raise FormRefusal({"note": f"{fault}."}) from fault


def _check_sense(kind: str, values: dict[str, Any], faults: dict[str, str]) -> None:
    """Add the faults of a form whose fields can be read one by one and yet say nothing."""
    if kind == "moved" and not values.get("home") and not values.get("place"):
        faults.setdefault("home", "Write the home it is in now, the shelf, or both.")
    elif kind == "injured" and not values.get("injury") and values.get("legs_lost") is None:
        faults.setdefault("injury", "Write what is hurt, or how many legs are lost.")
    elif kind == "rule_set":
        from nightround.desk.rule_setting import rule_set

        try:
            values["value"] = rule_set(values.get("rule", ""), values.get("value", "")).value
        except NotReadable as fault:
            faults["value"] = str(fault)


def _fields(body_type: type[Body]) -> dict[str, Any]:
    return {field.name: field for field in msgspec.structs.fields(body_type)}


def _when(fields: Mapping[str, str], clock: RoomClock, faults: dict[str, str]) -> When:
    first, last = fields.get("from", "").strip(), fields.get("until", "").strip()
    try:
        if first and last and first != last:
            return parse(f"{first}/{last}", clock)
        return parse(last or first, clock) if (first or last) else UNKNOWN
    except NotReadable as fault:
        faults["until"] = str(fault)
        return UNKNOWN


def _convert(name: str, text: str, kind: Any, values: dict[str, Any], faults: dict[str, str]) -> None:
    answer = text if kind is str else {"yes": True, "no": False}.get(text, text)
    try:
        values[name] = msgspec.convert(answer, kind, strict=False)
    except msgspec.ValidationError:
        faults[name] = f"{text!r} cannot be read here. Write a plain number, or leave it empty if unknown."
        return
    value = values[name]
    if isinstance(value, int | float) and not isinstance(value, bool) and not 0 <= value < _BEYOND:
        faults[name] = f"{text!r} is no number from nothing up that can be."


def _read_amount(
    kind: str, fields: Mapping[str, str], values: dict[str, Any], faults: dict[str, str]
) -> None:
    text, unit = fields.get("value", "").strip(), fields.get("unit", "").strip()
    if not text:
        if kind == "measured":
            faults["value"] = "Write the number that was measured."
        return
    mass = values.get("item") == "mass"
    dimension = kind_named(kind).dimension or ("mass" if mass else "length")
    try:
        values.update(_amount_fields(text, unit, dimension))
    except NotReadable as fault:
        faults["value"] = str(fault)
    if kind == "measured" and values.get("value") == 0:
        faults["value"] = "A size of nothing cannot be; leave it out if it is unknown."
