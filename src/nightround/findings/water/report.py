"""The water page of a room: each home's figures and what they come to tonight, with doubt and reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.water.air import RoomAir, room_air
from nightround.findings.water.course import (
    AHEAD_DAYS,
    DRY,
    Course,
    after_dose,
    calibrated,
    courses,
)
from nightround.findings.water.describe import openings_words, substrate_words, vessel_words
from nightround.findings.water.evidence import EVENING, Described, describe
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import COMMON_PRACTICE, OWN_RECORDS
from nightround.foundation.wording import counted, day_words
from nightround.journal.kinds.surroundings import Dish as DishEntry
from nightround.record.make_histories import daily_climate
from nightround.record.model import Home, Record
from nightround.reports.water import Calibrated as HowCalibrated
from nightround.reports.water import (
    Calibration,
    Dish,
    Dose,
    HomeWater,
    MoistureDay,
    UntilDry,
    WaterReport,
)
from nightround.science.water import evidence as water_evidence
from nightround.science.water import ventilation
from nightround.science.water.calibrate import Calibrated

FloatArray = NDArray[np.float64]

LEVEL: Final = 0.8
# How wet the bottom is brought, over what stays after draining, by habit: wet below and dry on top is the
# rule of the trade (named experts, B), the numbers are common practice without a source.
TARGETS: Final = {
    "ground": 0.50, "wanderer": 0.45, "web_builder": 0.45, "tree": 0.40,
    "burrower": 0.60, "trapdoor": 0.65, "tube": 0.60, "unknown": 0.50,
}  # fmt: skip
# Water when the bottom may be dry this soon with this chance (common practice, no source).
SOON_DAYS: Final = 2.0
# From when on a home's figures are its own (choices): sd of log m, days since it was felt.
KNOWN_SD_LOG: Final = 0.35
FELT_LATELY_DAYS: Final = 14
DUE_CHANCE: Final = 0.3
POURED: Final = (1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
NO_WATER: Final = f"No water for the substrate within {AHEAD_DAYS} days"
METHOD: Final = (
    "water leaves through openings, air films and dry substrate; the home's own multiplier from its weighings"
    " and felt moisture; 25 members of what is likely, followed ahead under the expected climate"
)


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


def room_water(
    record: Record, earlier: RoomWater | None = None, *, also: frozenset[str] = frozenset()
) -> RoomWater:
    """Describe, calibrate and follow every home in use; homes that stand as they did are taken over."""
    climate = daily_climate(record)
    homes = in_use(record, also)
    air = room_air(climate, [home.place for home in homes], record.on, DAYS_BACK, AHEAD_DAYS)
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
    found |= {course.described.home.code: course for course in courses(fresh, answers, air)}
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
    calibration = calibration_of(course.calibrated, each, record.on)
    surface, bottom = until_dry(course, 0), until_dry(course, 1)
    return replace(
        plain,
        dose=dose_of(record, course, calibration, bottom),
        calibration=calibration,
        loss_now=loss_estimate(course.lost_ml[0], course.calibrated),
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


def quantile(values: FloatArray, level: float) -> float | None:
    """Quantile of equally likely members (inverted distribution function); None where it is not reached."""
    found = float(np.sort(values)[min(values.size - 1, math.ceil(level * values.size) - 1)])
    return found if math.isfinite(found) else None


def until_dry(course: Course, layer: int) -> UntilDry:
    """When surface (0) or bottom (1) is dry."""
    days = course.days_until_dry(layer)
    levels = {f"{level:g}": _days(quantile(days, level)) for level in (0.1, 0.5, 0.9)}
    now = float((course.wetness[layer, 0] < DRY).mean())
    return UntilDry("surface" if layer == 0 else "bottom", levels, now)


def _days(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def course_days(on: date, course: Course) -> tuple[MoistureDay, ...]:
    """The days to come, 10, 50 and 90 % of wetness."""
    levels = np.quantile(np.minimum(course.wetness, 1.0), [0.1, 0.5, 0.9], axis=2).round(3)
    return tuple(
        MoistureDay(
            on + timedelta(days=day),
            (float(levels[0, 0, day]), float(levels[1, 0, day]), float(levels[2, 0, day])),
            (float(levels[0, 1, day]), float(levels[1, 1, day]), float(levels[2, 1, day])),
        )
        for day in range(levels.shape[2])
    )


def calibration_of(found: Calibrated, each: Described, on: date) -> Calibration:
    """How far the home's own figures go, in numbers and words."""
    low, middle, high = (found.quantile(level) for level in (0.1, 0.5, 0.9))
    how = how_calibrated(found, each, on)
    method = "before any weighing" if how == "not" else "its weighings and felt moisture against the physics"
    source = COMMON_PRACTICE if how == "not" else OWN_RECORDS
    n = found.n_weighings + found.n_felt
    multiplier = Estimate(middle, low, high, "× the physics", 1, n, method, LEVEL, (source,))
    within = max(high / middle, middle / low) - 1.0
    if how == "not":
        words = f"not weighed yet: the loss may be {low:.1f} to {high:.1f} times the physics"
    else:
        words = f"its loss is known to ±{within:.0%}, from {_evidence_words(found)}"
    return Calibration(how, multiplier, found.n_weighings, found.n_felt, None, words, ())


def how_calibrated(found: Calibrated, each: Described, on: date) -> HowCalibrated:
    """Whether weighings or fingers have told enough of this home to name days and millilitres."""
    if found.n_weighings > 1 and found.sd_log < KNOWN_SD_LOG:
        return "weighed"
    felt = max((day for day, _, _ in each.home.felt), default=None)
    lately = felt is not None and (on - felt).days <= FELT_LATELY_DAYS
    return "felt" if found.n_felt and (lately or found.sd_log < KNOWN_SD_LOG) else "not"


def _evidence_words(found: Calibrated) -> str:
    told = []
    if found.n_weighings:
        told.append(counted(found.n_weighings, "weighing"))
    if found.n_felt:
        told.append(f"felt {counted(found.n_felt, 'time')}")
    return " and ".join(told)


def loss_estimate(values: FloatArray, found: Calibrated) -> Estimate:
    low, middle, high = (float(np.quantile(values, level)) for level in (0.1, 0.5, 0.9))
    return Estimate(
        middle, low, high, "ml a day", 1, found.n_weighings + found.n_felt, METHOD, LEVEL, (OWN_RECORDS,)
    )


def loss_months(air: RoomAir, on: date, course: Course) -> tuple[tuple[date, Estimate], ...]:
    """Loss of the kept-moist home by month for the months that the expected climate reaches."""
    home, row = course.described.air, air.row(course.described.home.place)
    if home is None:
        return ()
    days = [on + timedelta(days=ahead + 1) for ahead in range(air.temperature_c.shape[1] - air.now - 1)]
    months = sorted({day.replace(day=1) for day in days})
    found = []
    for month in months:
        columns = [air.now + 1 + at for at, day in enumerate(days) if day.replace(day=1) == month]
        warm, moist = (float(rows[row, columns].mean()) for rows in (air.temperature_c, air.humidity))
        plain = float(ventilation.loss_g_day(home, warm, moist))
        found.append(
            (
                month,
                loss_estimate(plain * course.calibrated.members.multiplier, course.calibrated),
            )
        )
    return tuple(found)


def target_of(record: Record, course: Course) -> float:
    """How wet the bottom of this home is brought: the wettest of what its occupants' habits ask."""
    habits = []
    for code in course.described.home.occupants:
        taxon = record.taxa.get(record.animals[code].taxon) if code in record.animals else None
        habits.append((taxon.described.habit if taxon and taxon.described else None) or "unknown")
    return max((TARGETS.get(habit, TARGETS["unknown"]) for habit in habits), default=TARGETS["unknown"])


def dose_of(record: Record, course: Course, calibration: Calibration, bottom: UntilDry) -> Dose:
    """Water tonight, or not before a day, or feel first where nothing of this home was measured."""
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
    if until is None or until > record.on:
        title = f"Substrate not before {day_words(until, record.on)}" if until else NO_WATER
        return Dose("not_before", title, f"{when}; {known}", None, "", until, known)
    millilitres = poured(after_dose(course, target_of(record, course)))
    if millilitres is None:
        return Dose("not_before", NO_WATER, f"{when}; {known}", None, "", None, known)
    return Dose(
        "water", f"Water {both(millilitres, 'ml')}", f"{when}; {known}", millilitres, "", record.on, known
    )  # fmt: skip


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
        early = f", {low:.0f} days at the earliest" if low is not None else ""
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


def chance_dry(course: Course, layer: int, days: int) -> float:
    """Chance that a layer is dry within so many days."""
    return float((course.days_until_dry(layer) <= days).mean())


def driest_first(water: RoomWater, days: int) -> Sequence[tuple[str, float, float]]:
    """(home, chance that the bottom, the surface is dry within so many days), driest first."""
    rows = [
        (code, chance_dry(each, 1, days), chance_dry(each, 0, days)) for code, each in water.courses.items()
    ]
    return sorted(rows, key=lambda row: (-row[1], -row[2], row[0]))
