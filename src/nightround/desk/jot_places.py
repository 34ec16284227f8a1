"""Jotted readings of a place: 'shelf B 19.5 C 60%', 'shelf B min 17 C max 22 C', 'shelf B heating failed'."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nightround.desk.jot_clauses import Line, Made, Maker, plain
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import When, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.animal import Wintering
from nightround.journal.kinds.surroundings import Heat, Reading

WINTERING_BEGINS = ("wintered from", "wintered since", "wintering begins", "wintering from", "in wintering")
WINTERING_ENDS = ("wintered until", "wintering ends", "wintering ended", "wintering over", "out of wintering",
                  "not wintered")  # fmt: skip
_STATISTICS = {
    "min": "min", "minimum": "min", "low": "min", "max": "max", "maximum": "max", "high": "max",
    "mean": "mean", "average": "mean", "now": "reading",
}  # fmt: skip
_HEAT: dict[str, Any] = {
    "heat failed": "failed", "heating failed": "failed", "heat off": "failed", "heat restored": "restored",
    "heating restored": "restored", "heat back": "restored", "heating back": "restored",
}  # fmt: skip


def place_clause(cursor: Cursor) -> Maker | None:
    """Read what is said of a place, None when no reading comes. Raises NotReadable."""
    heat = cursor.phrase(*_HEAT)
    if heat:
        state = _HEAT[heat]
        return lambda line, _, when: [Made(Heat(state=state), when or on_day(line.on))]
    if cursor.phrase(*WINTERING_BEGINS):
        return plain(Wintering(state="begins"))
    if cursor.phrase(*WINTERING_ENDS):
        return plain(Wintering(state="ends"))
    readings: list[tuple[str, str, float, str]] = []
    while True:
        at = cursor.at
        if readings:
            cursor.separator()
        found = _one(cursor)
        if found is None:
            cursor.at = at
            break
        readings.append(found)
    return _maker(readings) if readings else None


def _one(cursor: Cursor) -> tuple[str, str, float, str] | None:
    """Take one number: statistic ('' when not said), field, canonical value, as written."""
    statistic = _STATISTICS.get(cursor.phrase(*_STATISTICS), "")
    named = cursor.phrase("temperature", "temp", "humidity", "rh")
    statistic = statistic or _STATISTICS.get(cursor.phrase(*_STATISTICS), "")
    cursor.phrase("at", "is")
    coming = cursor.number_and_unit()
    if coming is None:
        if statistic or named:
            raise NotReadable(f"a number after '{named or statistic}'", got=repr(cursor.ahead()))
        return None
    humid = named in ("humidity", "rh")
    if humid and not coming[1]:
        cursor.at += 1
        return statistic, "humidity_percent", _humidity(float(coming[0])), f"{coming[0]} %"
    if cursor.measures("fraction"):
        amount = cursor.amount("fraction")
        cursor.phrase("humidity", "rh", "relative humidity")
        return statistic, "humidity_percent", _humidity(amount["value"]), _written(amount)
    amount = cursor.amount("temperature")
    return statistic, "temperature_c", amount["value"], _written(amount)


def _written(amount: dict[str, Any]) -> str:
    return f"{amount['written']} {amount['written_unit']}"


def _humidity(value: float) -> float:
    if not 0 <= value <= 100:
        raise NotReadable("a humidity from 0 to 100 %", got=f"{value:g} %")
    return value


def _maker(readings: list[tuple[str, str, float, str]]) -> Maker:
    if len({bool(statistic) for statistic, *_ in readings}) > 1:
        raise NotReadable(
            "min, max, mean or now before every number once it stands before one",
            got=", ".join(f"{statistic} {written}".strip() for statistic, _, _, written in readings),
        )
    bodies: dict[str, dict[str, Any]] = {}
    for statistic, field, value, written in readings:
        body = bodies.setdefault(statistic or "reading", {"written": ""})
        if field in body:
            raise NotReadable(
                "one temperature and one humidity",
                got=f"{body['written']} and {written}",
                todo="Say min and max, or write another part after ';'",
            )
        body[field] = value
        body["written"] = ", ".join(filter(None, [body["written"], written]))

    def make(line: Line, _: Ref, when: When | None) -> Sequence[Made]:
        made: list[Any] = [Reading(statistic=name, **body) for name, body in bodies.items()]  # type: ignore[arg-type]
        return [Made(body, when or on_day(line.on)) for body in made]

    return make
