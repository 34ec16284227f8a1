"""The water page of a room: each home's figures and what they come to tonight, with doubt and reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.water.air import RoomAir, room_air
from nightround.findings.water.course import (
    AHEAD_DAYS,
    Course,
    after_dose,
    calibrated,
    courses,
)
from nightround.findings.water.describe import openings_words, substrate_words, vessel_words
from nightround.findings.water.dish import dry_by
from nightround.findings.water.doubt import questioned
from nightround.findings.water.evidence import EVENING, Described, describe
from nightround.findings.water.figures import (
    METHOD,
    calibration_of,
    course_days,
    loss_estimate,
    loss_months,
    quantile,
    until_dry,
)
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted, day_words
from nightround.journal.kinds.surroundings import Dish as DishEntry
from nightround.record.hourly import hourly_climate
from nightround.record.make_histories import daily_climate
from nightround.record.model import Home, Record
from nightround.reports.water import (
    Calibration,
    Dish,
    Dose,
    HomeWater,
    UntilDry,
    WaterReport,
)
from nightround.science.water import evidence as water_evidence
from nightround.science.water import ventilation

FloatArray = NDArray[np.float64]

# How wet the bottom is brought, over what stays after draining, by habit: wet below and dry on top is the
# rule of the trade (named experts, B), the numbers are common practice without a source.
TARGETS: Final = {
    "ground": 0.50, "wanderer": 0.45, "web_builder": 0.45, "tree": 0.40,
    "burrower": 0.60, "trapdoor": 0.65, "tube": 0.60, "unknown": 0.50,
}  # fmt: skip
# Water when the bottom may be dry this soon with this chance (common practice, no source).
SOON_DAYS: Final = 2.0
DUE_CHANCE: Final = 0.3
POURED: Final = (1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
# No more than this share of the substrate's volume in one evening (choice): a burrow must not be flooded.
MOST_SHARE: Final = 0.05
# From this chance on that the bottom is dry already, nobody is told to wait (choice).
MAYBE_DRY: Final = 0.1
MAYBE: Final = "Feel the substrate: it may be dry already"
NO_WATER: Final = f"No water for the substrate within {AHEAD_DAYS} days"


@dataclass(frozen=True)
class RoomWater:
    """All that the room's water rests on: kept, so that one entry re-runs its own home alone.

    keys   what each home's figures were worked out from
    """

    air: RoomAir
    now_hour: int
    courses: Mapping[str, Course]
    described: Mapping[str, Described]
    keys: Mapping[str, tuple[object, ...]]


DAYS_BACK: Final = 180
# The expected climate is wanted for a year: loss by month.
DAYS_AHEAD: Final = 365
# The rule of the trade (named experts, B): wet below, dry on top.
WHERE: Final = "down a side or corner"


def room_water(
    record: Record, earlier: RoomWater | None = None, *, also: frozenset[str] = frozenset()
) -> RoomWater:
    """Describe, calibrate and follow every home in use; homes that stand as they did are taken over."""
    climate = daily_climate(record)
    homes = in_use(record, also)
    places = [home.place for home in homes]
    hours = hourly_climate(record, record.on - timedelta(days=DAYS_BACK + 1))
    air = room_air(climate, places, record.on, DAYS_BACK, DAYS_AHEAD, hours)
    now_hour = DAYS_BACK * 24 + EVENING
    same_air = earlier is not None and _same(earlier.air, air)
    described, found, keys, fresh = {}, {}, {}, []
    for home in homes:
        key = (record.on, home.acts, home.place, home.openings, home.lid_cover_fraction, home.body)
        keys[home.code] = key
        if same_air and earlier is not None and earlier.keys.get(home.code) == key:
            described[home.code] = earlier.described[home.code]
            if home.code in earlier.courses:
                found[home.code] = earlier.courses[home.code]
            continue
        described[home.code] = describe(home, record.clock, air.row(home.place), air.first, now_hour)
        if described[home.code].evidence is not None:
            fresh.append(described[home.code])
    answers = calibrated(fresh, air, now_hour)
    doubts = questioned(fresh, answers, air, now_hour)
    for course, asked in zip(courses(fresh, answers, air), doubts, strict=True):
        found[course.described.home.code] = replace(course, questioned=asked)
    return RoomWater(air, now_hour, found, described, keys)


def in_use(record: Record, also: frozenset[str] = frozenset()) -> list[Home]:
    """Homes with somebody in them, and others asked for, by code."""
    batches = {batch.home for batch in record.batches.values() if batch.home and batch.living != 0}
    living = {animal.home for animal in record.living() if animal.home}
    return [home for code, home in sorted(record.homes.items()) if code in living | batches | also]


def _same(one: RoomAir, other: RoomAir) -> bool:
    return (
        one.places == other.places
        and one.first == other.first
        and np.array_equal(one.temperature_c, other.temperature_c)
        and np.array_equal(one.humidity, other.humidity)
        and one.logged.keys() == other.logged.keys()
        and all(np.array_equal(one.logged[row], other.logged[row], equal_nan=True) for row in one.logged)
    )


def water_report(record: Record, water: RoomWater, *, room: str, invented: bool = False) -> WaterReport:
    """The report of all homes in use, by place and code."""
    used = {home.code for home in in_use(record)}
    homes = sorted(water.described.values(), key=lambda each: _walk_key(record, each.home))
    rows = tuple(home_water(record, water, each.home.code) for each in homes if each.home.code in used)
    unknown = sum(bool(row.missing) for row in rows)
    notices = (
        [f"{counted(unknown, 'home')} without figures: what is missing stands beside each"] if unknown else []
    )
    return WaterReport(record.on, room, invented, rows, tuple(notices))


def _walk_key(record: Record, home: Home) -> tuple[bool, float, str, str]:
    """By the place's position in the walk, then by name; a home that stands nowhere comes last."""
    place = record.places.get(home.place)
    position = math.inf if place is None or place.position is None else float(place.position)
    return home.place == "", position, home.place.casefold(), home.code


def home_water(record: Record, water: RoomWater, code: str) -> HomeWater:
    """The report of one home."""
    each = water.described[code]
    home, course = each.home, water.courses.get(code)
    plain = HomeWater(
        home=code,
        place=home.place,
        occupants=_occupants(record, home),
        made_up=home.made_up.last,
        vessel=vessel_words(home.body),
        openings=openings_words(each.openings, home.lid_cover_fraction),
        substrate=substrate_words(home.body),
        missing=each.missing,
        dose=_undescribed(each),
        dish=_dish(home),
        last_watered=max((day for day, _ in home.watered), default=None),
        last_weighed=home.weighed[-1] if home.weighed else None,
    )
    if course is None:
        return plain
    calibration = calibration_of(course, record.on)
    surface, bottom = until_dry(course, 0), until_dry(course, 1)
    loss, dish = loss_estimate(course.lost_ml[0], course.calibrated), plain.dish
    if dish is not None:
        dish = replace(dish, dry_by=dry_by(dish.ml, dish.filled, home.place, water.air, loss))
    return replace(
        plain,
        dose=dose_of(record, course, calibration, bottom),
        calibration=calibration,
        loss_now=loss,
        dish=dish,
        loss_months=loss_months(water.air, record.on, course),
        surface=surface,
        bottom=bottom,
        course=course_days(record.on, course),
        assumed=assumed_of(each, water.air),
        method=METHOD,
    )


def _occupants(record: Record, home: Home) -> tuple[str, ...]:
    batches = [
        code for code, batch in record.batches.items() if batch.home == home.code and batch.living != 0
    ]
    living = [code for code in home.occupants if code in record.animals and record.animals[code].here]
    return tuple(sorted([*living, *batches]))


def _undescribed(each: Described) -> Dose:
    lacking = each.missing or ("when it was made up, or an entry since",)
    return Dose(
        advised="describe",
        title="Feel the substrate",
        reason=f"No figures for this home: on record is not {', nor '.join(lacking)}",
        sureness="nothing is known of this home's water",
    )


def assumed_of(each: Described, air: RoomAir) -> tuple[str, ...]:
    """Everything that is taken for granted in a home's figures."""
    told = [*each.assumed, *air.words(each.home.place, each.since_day)]
    substrates = {name for name, _ in each.filling.parts or ()}
    guessed = sorted(substrates & {"coir", "vermiculite"})
    if guessed:
        told.append(f"the curve of {' and '.join(guessed)} (nobody published one)")
    return tuple(dict.fromkeys((*told, *ventilation.ASSUMED, *water_evidence.ASSUMED)))


def target_of(record: Record, course: Course) -> float:
    """How wet the bottom of this home is brought: the wettest of what its occupants' habits ask."""
    habits = []
    for code in course.described.home.occupants:
        taxon = record.taxa.get(record.animals[code].taxon) if code in record.animals else None
        habits.append((taxon.described.habit if taxon and taxon.described else None) or "unknown")
    return max((TARGETS.get(habit, TARGETS["unknown"]) for habit in habits), default=TARGETS["unknown"])


def dose_of(record: Record, course: Course, calibration: Calibration, bottom: UntilDry) -> Dose:
    """Water tonight, or not before a day, or feel first: nothing of this home was measured, or too little."""
    days = course.days_until_dry(1)
    due = quantile(days, DUE_CHANCE)
    until = None if due is None else record.on + timedelta(days=max(0, math.floor(due - SOON_DAYS)))
    when = _when_words(bottom, record.on)
    if calibration.how == "not":
        return Dose(
            "feel_first", "Feel the substrate before watering",
            f"{when}; {calibration.words}", None, "", until, "not weighed or felt since it was made up",
        )  # fmt: skip
    known = calibration.words
    if (until is None or until > record.on) and bottom.dry_now >= MAYBE_DRY:
        return Dose("feel_first", MAYBE, f"{when}; {known}", None, "", until, known)
    if until is None or until > record.on:
        title = f"Substrate not before {day_words(until, record.on)}" if until else NO_WATER
        return Dose("not_before", title, f"{when}; {known}", None, "", until, known)
    lacking, most = after_dose(course, target_of(record, course)), most_poured(course)
    millilitres = poured(min(lacking, most))
    if millilitres is None:
        return Dose("feel_first", MAYBE, f"{when}; {known}", None, "", until, known)
    part = "; part of what it lacks: feel it before the rest" if lacking > most else ""
    return Dose(
        "water", f"Water {both(millilitres, 'ml')}", f"{when}; {known}{part}", millilitres, WHERE,
        record.on, known,
    )  # fmt: skip


def most_poured(course: Course) -> float:
    """The most that is poured in one evening [ml]: a share of the substrate's volume."""
    filling = course.described.filling
    depth = sum(share * depth for share, depth in filling.ends)
    return MOST_SHARE * filling.area_mm2 * depth * 1e-3


def poured(millilitres: float) -> float | None:
    """A dose as it is poured, never more than asked; None where it is under a millilitre."""
    if millilitres < POURED[0]:
        return None
    if millilitres > POURED[-1]:
        return float(50.0 * math.floor(millilitres / 50.0))
    return max(step for step in POURED if step <= millilitres)


def _when_words(bottom: UntilDry, on: date) -> str:
    low, middle, high = (bottom.days[level] for level in ("0.1", "0.5", "0.9"))
    if middle is not None and middle <= 0.5:
        return f"Bottom dry by now ({bottom.dry_now:.0%})"
    if middle is None:
        if low is not None and low < 1.0:
            return f"Bottom dry by now ({bottom.dry_now:.0%}) or moist for more than {AHEAD_DAYS} days"
        early = f", {counted(round(low), 'day')} at the earliest" if low is not None else ""
        return f"Bottom moist for more than {AHEAD_DAYS} days{early}"
    ends = f"{low or 0:.0f} to {'more than ' + str(AHEAD_DAYS) if high is None else f'{high:.0f}'}"
    return f"Bottom dry in about {counted(round(middle), 'day')} ({ends})"


def _dish(home: Home) -> Dish | None:
    acts = [
        (act.when.last, act.body) for act in home.acts if isinstance(act.body, DishEntry) and act.when.last
    ]
    if not acts:
        return None
    filled = [(day, body.value) for day, body in acts if body.state == "filled"]
    dry = [day for day, body in acts if body.state == "found_dry"]
    sizes = [value for _, value in filled if value is not None]
    return Dish(
        ml=sizes[-1] if sizes else None,
        filled=filled[-1][0] if filled else None,
        found_dry=dry[-1] if dry else None,
    )
