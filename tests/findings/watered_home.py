"""A home that really dries: the hourly balance at a known multiplier, written down as a keeper's entries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from nightround.findings.water.report import RoomWater, home_water, room_water
from nightround.record.model import Record
from nightround.reports.water import HomeWater
from nightround.science.water.balance import Course, Watering, run
from nightround.science.water.columns import balanced_water_mm, make_columns
from nightround.science.water.demand import Climate, Demand, homes_air
from nightround.science.water.openings import Opening
from nightround.science.water.predicted import drained_mm
from nightround.science.water.substrate import curves
from nightround.science.water.ventilation import Ventilation
from nightround.science.water.vessels import Vessel
from record.notebook import told

FIRST = date(2026, 3, 1)
DEPTH_MM, HOLES, EVENING = 50.0, 60, 21
PARTS = (("coir", 0.7), ("sand", 0.3))
EMPTY_G = 900.0
VESSEL = Vessel("box", 200.0, 150.0, 120.0)
MADE_UP = (
    "home H1  made_up  shape=box; inner_length_mm=200; inner_width_mm=150; inner_height_mm=120; "
    "substrate=coir 70, sand 30; depth_low_mm=50; depth_high_mm=50"
)
OPENING = f"home H1  opening  shape=hole; number={HOLES}; width_mm=4; thickness_mm=2; at=lid"


@dataclass(frozen=True)
class Dried:
    """The truth: hourly water of top and rest [mm] from midnight of the first day."""

    course: Course
    start_mm: np.ndarray
    multiplier: float

    def water_mm(self, day: int) -> np.ndarray:
        """Top and rest on a day's evening."""
        return self.start_mm if day == 0 else self.course.water[day * 24 - 1, :, 0]

    def grams(self, day: int) -> float:
        """What a perfect scale reads in the evening of a day."""
        return EMPTY_G + float(self.water_mm(day).sum()) * VESSEL.area_at(DEPTH_MM) * 1e-3

    def wetness(self, day: int) -> tuple[float, float]:
        """Surface and bottom over what stays after draining."""
        top, rest = self.water_mm(day) / np.array(drained_mm(PARTS, DEPTH_MM))
        return float(top), float(rest)


def dried(
    multiplier: float, days: int, wetness: float = 0.8, given: tuple[tuple[int, float], ...] = ()
) -> Dried:
    """Follow the home for some days at 22 C and 50 %, from the evening it was made up on.

    given   (day, ml) poured over it in the evening
    """
    columns = make_columns([PARTS], [DEPTH_MM])
    air = Ventilation(
        openings=(Opening("hole", HOLES, 4.0, thickness_mm=2.0),),
        lid_area_mm2=VESSEL.area_at(120.0), floor_area_mm2=VESSEL.area_at(DEPTH_MM),
        headspace_mm=70.0, outside_area_mm2=VESSEL.outside_area_mm2, rim_mm=VESSEL.rim_mm,
    )  # fmt: skip
    homes = homes_air([air], [0])
    hours = days * 24
    still = Climate(np.full((1, hours), 22.0), np.full((1, hours), 0.5))
    demand = Demand(homes, still)(0, hours) * multiplier
    kept = sum(drained_mm(PARTS, DEPTH_MM)) / DEPTH_MM
    start = np.array(balanced_water_mm(PARTS, DEPTH_MM, curves(PARTS).air_dry + wetness * kept))
    pours = tuple(
        Watering(day * 24, 0, ml / (VESSEL.area_at(DEPTH_MM) * 1e-3), deep=True) for day, ml in given
    )
    crust = homes.crust_per_mm(columns.crust_mm)
    course = run(columns, start[:, None], demand, crust, hours, pours, keep_every=1)
    return Dried(course, start, multiplier)


def day(number: int) -> str:
    """A day of the tale in ISO text."""
    return (FIRST + timedelta(days=number)).isoformat()


def journal(lines: list[tuple[int, str]], days: int, *, read: bool = True) -> str:
    """A notebook of a home with an animal in it, made up on the first day; daily readings."""
    page = [
        (0, "home H1  moved  place=shelf A"), (0, MADE_UP), (0, OPENING),
        (0, "animal K1  arrived  taxon=T; home=H1"), *lines,
    ]  # fmt: skip
    if read:
        page += [
            (n, "place shelf A  reading  temperature_c=22; humidity_percent=50") for n in range(days + 1)
        ]
    return "\n".join(f"{day(number)}  {words}" for number, words in page)


def weighed(number: int, grams: float) -> tuple[int, str]:
    """A weighing on a scale that shows tenths of a gram."""
    return number, f"home H1  weighed  value={grams:.1f}; written={grams:.1f}; written_unit=g"


def water_of(page: str, number: int, earlier: RoomWater | None = None) -> tuple[HomeWater, RoomWater, Record]:
    """H1's report on a day of the tale."""
    record = told(page, day(number))
    water = room_water(record, earlier)
    return home_water(record, water, "H1"), water, record
