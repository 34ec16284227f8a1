"""What was done to a home, as the evidence that `science.water.calibrate` weighs."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Final, NamedTuple

from nightround.findings.water.describe import Filling, filling_of, ventilation_of
from nightround.foundation.clock import RoomClock
from nightround.foundation.quantities import UNITS, convert
from nightround.foundation.when import When
from nightround.journal.kinds.surroundings import (
    LidCover,
    MadeUp,
    Misted,
    MoistureFelt,
    Opening,
    Trouble,
    Watered,
    Weighed,
)
from nightround.record.about_surroundings import opening_key
from nightround.record.model import Home, HomeAct
from nightround.science.water.calibrate import Felt, Given, HomeEvidence, Spell, Weighing
from nightround.science.water.ventilation import Ventilation

# Hour of the day of what is dated by a day alone: the evening round.
EVENING: Final = 21
# Poured, nobody noted how much (common practice, no source): a tenth of a millilitre a square centimetre.
UNKNOWN_POUR_ML_PER_CM2: Final = 0.1
# A flood: as much as half of the substrate's volume holds, with as much doubt.
FLOOD_ML_PER_CM3: Final = 0.2
LEAST_SCALE_SD_G: Final = 0.2
# Words of where water was poured: a dish; down into the substrate, whatever else they say; on top of it; and
# what holds none for it.
DISH: Final = re.compile(r"\b(dish|bowl)\b")
DOWN: Final = re.compile(r"\b(sides?|corners?|below|bottom|down|deep|shallow)\b")
ON_TOP: Final = re.compile(r"\b(all over|surface|on top|spray(ed)?|substrate)\b")
ELSEWHERE: Final = re.compile(r"\b(webs?|walls?|glass|tube|leaf|leaves|plants?)\b")


@dataclass(frozen=True)
class Described:
    """A home as it stands now, with the evidence of its spells.

    entries    (entry number, day, grams) of the weighings, in the order of the evidence
    openings   as on record by their key; None: never recorded
    """

    home: Home
    filling: Filling
    air: Ventilation | None
    openings: dict[tuple[str, ...], Opening] | None
    assumed: tuple[str, ...]
    missing: tuple[str, ...]
    evidence: HomeEvidence | None
    since_day: int
    entries: tuple[tuple[int, date, float], ...]


def hour_of(when: When, clock: RoomClock, first: int) -> int | None:
    """Hours from midnight of day `first` to when it happened, by the room's own clock."""
    if when.last is None:
        return None
    if when.instant is not None:
        local = when.instant.astimezone(clock.zone)
        return (local.toordinal() - first) * 24 + local.hour
    return (when.last.toordinal() - first) * 24 + EVENING


def describe(home: Home, clock: RoomClock, place_row: int, first: int, now_hour: int) -> Described:
    """Return a home's physics and evidence from hour 0 (midnight of day `first`) until `now_hour`."""
    filling = filling_of(home.body)
    spells, openings, cover = _spells(home)
    air, assumed, lacking = ventilation_of(filling, openings, cover)
    missing = (*filling.missing, *lacking)
    evidence: HomeEvidence | None = None
    entries: tuple[tuple[int, date, float], ...] = ()
    since = max(0, now_hour // 24 - 1)
    if air is not None and filling.parts is not None and not missing:
        made = [_spell(acts, filled, clock, place_row, first, now_hour) for acts, filled in spells[-2:]]
        kept = [each for each in made if each is not None]
        if kept and spells[-1][1] == filling:
            evidence = HomeEvidence(_joined([spell for spell, _ in kept]))
            entries = tuple(entry for _, weighed in kept for entry in weighed)
            since = min(spell.start for spell, _ in kept) // 24
    return Described(
        home, filling, air, openings, (*filling.assumed, *assumed), missing, evidence, since, entries
    )  # fmt: skip


class _Act(NamedTuple):
    """An act with the openings and the lid's cover as they were after it."""

    act: HomeAct
    openings: dict[tuple[str, ...], Opening] | None
    cover: float | None


def _spells(
    home: Home,
) -> tuple[list[tuple[list[_Act], Filling]], dict[tuple[str, ...], Opening] | None, float | None]:
    """Acts by spell; and the openings and the lid's cover as they are."""
    openings: dict[tuple[str, ...], Opening] | None = None
    cover: float | None = None
    spells: list[tuple[list[_Act], Filling]] = [([], filling_of(None))]
    for act in home.acts:
        if isinstance(act.body, MadeUp):
            cover = act.body.lid_cover_fraction if act.body.lid_cover_fraction is not None else cover
            spells.append(([], filling_of(act.body)))
        elif isinstance(act.body, Opening):
            openings = dict(openings or {})
            if act.body.number == 0:
                openings.pop(opening_key(act.body), None)
            else:
                openings[opening_key(act.body)] = act.body
        elif isinstance(act.body, LidCover):
            cover = act.body.fraction
        spells[-1][0].append(_Act(act, openings, cover))
    if openings is None and home.openings:
        openings = {opening_key(body): body for body in home.openings}
    if home.body is not None and spells[-1][1].vessel is None and len(spells) == 1:
        spells[-1] = (spells[-1][0], filling_of(home.body))
    return spells, openings, cover


def _spell(
    acts: list[_Act], filling: Filling, clock: RoomClock, place_row: int, first: int, now_hour: int
) -> tuple[Spell, tuple[tuple[int, date, float], ...]] | None:
    """One spell within the hours looked at, with its weighings' entries; None: it cannot be followed."""
    hours = [(hour, each) for each in acts if (hour := hour_of(each.act.when, clock, first)) is not None]
    air = _airs(filling, hours)
    if not air or filling.parts is None or not filling.ends:
        return None
    began = [hour for hour, each in hours if isinstance(each.act.body, MadeUp)]
    start = max(0, began[0] if began else min((hour for hour, _ in hours), default=0))
    inside = [(hour, each.act) for hour, each in hours if start <= hour <= now_hour]
    if start >= now_hour:
        return None
    given = [one for hour, act in inside if (one := _given(hour, act, filling)) is not None]
    weighed = [
        (hour, act) for hour, act in inside if isinstance(act.body, Weighed) and (act.body.value or 0.0) > 0.0
    ]
    poured_before = {act.number: _after_water(hour, act, inside) for hour, act in weighed}
    spell = Spell(
        parts=filling.parts,
        ends=filling.ends,
        area_mm2=filling.area_mm2,
        air=air,
        start=start,
        place=place_row,
        given=tuple(given),
        weighings=tuple(
            Weighing(hour, float(act.body.value or 0.0), _scale_sd_g(act.body), poured_before[act.number])
            for hour, act in weighed
            if isinstance(act.body, Weighed)
        ),
        felt=tuple(
            Felt(_felt_hour(hour, act, inside, start), act.body.surface, act.body.bottom)
            for hour, act in inside
            if isinstance(act.body, MoistureFelt)
        ),
    )
    entries = [
        (act.number, act.when.last, float(act.body.value or 0.0))
        for _, act in weighed
        if isinstance(act.body, Weighed) and act.when.last is not None
    ]
    return spell, tuple(entries)


def _airs(filling: Filling, hours: list[tuple[int, _Act]]) -> tuple[tuple[int, Ventilation], ...]:
    """The home as vapour sees it, from each hour on at which that changed; none while it is not described."""
    found: list[tuple[int, Ventilation]] = []
    before: _Act | None = None
    for hour, each in hours:
        if before is not None and each.openings is before.openings and each.cover == before.cover:
            continue
        before = each
        air, _, missing = ventilation_of(filling, each.openings, each.cover)
        if air is not None and not missing and (not found or found[-1][1] != air):
            found = [one for one in found if one[0] != hour]
            found.append((hour, air))
    return tuple(found)


def _joined(spells: list[Spell]) -> tuple[Spell, ...]:
    """Spells one behind the other, each ending where the next begins."""
    return tuple(
        replace(spell, end=later.start) if later is not None else spell
        for spell, later in zip(spells, [*spells[1:], None], strict=True)
    )


def known_ml(value: float | None) -> float | None:
    """An amount that can be; one under zero is a slip of the pen and unknown."""
    return None if value is None or value < 0.0 else value


def _given(hour: int, act: HomeAct, filling: Filling) -> Given | None:
    body = act.body
    square_cm = filling.area_mm2 / 100.0
    if isinstance(body, Misted):
        return Given(hour, known_ml(body.value))
    if isinstance(body, Trouble) and body.what == "flooded" and filling.fill is not None:
        flood = FLOOD_ML_PER_CM3 * square_cm * filling.fill.mean_mm / 10.0
        return Given(hour, flood, deep=True, sd_ml=flood)
    if not isinstance(body, Watered):
        return None
    where = body.where.lower()
    down = DOWN.search(where) is not None
    on_top = not down and ON_TOP.search(where) is not None
    if DISH.search(where) or (ELSEWHERE.search(where) and not down and not on_top):
        return None
    column = _column(where, len(filling.ends))
    if known_ml(body.value) is None:
        usual = UNKNOWN_POUR_ML_PER_CM2 * square_cm
        return Given(hour, usual, column, not on_top, usual)
    return Given(hour, body.value, column, not on_top)


def _column(where: str, ends: int) -> int | None:
    if ends == 1:
        return None
    if "deep" in where:
        return ends - 1
    return 0 if "shallow" in where else None


def _after_water(hour: int, act: HomeAct, inside: list[tuple[int, HomeAct]]) -> bool:
    """Whether an act comes after water given in its own hour: by the order of the entries."""
    numbers = [
        other.number for at, other in inside if at == hour and isinstance(other.body, Watered | Misted)
    ]
    places = {other.number: place for place, (_, other) in enumerate(inside)}
    return any(places[number] < places[act.number] for number in numbers)


def _felt_hour(hour: int, act: HomeAct, inside: list[tuple[int, HomeAct]], start: int) -> int:
    """An hour earlier if that hour's water came after it: fingers count as after the water of their hour."""
    return hour if _after_water(hour, act, inside) else max(hour - 1, start)


def _scale_sd_g(body: Weighed) -> float:
    """The scale's error: the last digit that was written, at least 0.2 g."""
    unit = body.written_unit.lower()
    try:
        exponent = Decimal(body.written).as_tuple().exponent
    except InvalidOperation:
        exponent = 0
    digit = 10.0 ** (exponent if isinstance(exponent, int) else 0)
    return max(convert(digit, unit, "g") if unit in UNITS else digit, LEAST_SCALE_SD_G)
