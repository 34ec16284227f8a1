"""Shapes of homes: areas, volumes, and litres of substrate, level or sloped.

Inner sizes in millimetres, areas in mm2, volumes in litres. A box and a cylinder have straight walls; a
tapered tub is a box whose base is smaller than its top, walls straight between (a prismatoid). The
catalogue is generic: vials by fluid drams, cups by fluid ounces, glass tanks by the nominal gallons they
are sold under. Nominal tank sizes are outside sizes, and round up: the true inner volume stands beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypeVar

import numpy as np

from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.science.parameters import handbook44, vessel_sizes

Shape = Literal["box", "cylinder", "tapered"]
BOX, CYLINDER, TAPERED = "box", "cylinder", "tapered"

INCH_MM: Final = handbook44.INCH_MM
GALLON_L: Final = handbook44.GALLON_CUBIC_INCHES * (INCH_MM / 10.0) ** 3 / 1000.0
FLUID_OUNCE_L: Final = GALLON_L / handbook44.FLUID_OUNCES_PER_GALLON
DRAM_L: Final = FLUID_OUNCE_L / handbook44.DRAMS_PER_FLUID_OUNCE
MM3_PER_L: Final = 1e6
Key = TypeVar("Key")
Value = TypeVar("Value")


@dataclass(frozen=True)
class Vessel:
    """Inner size of a home.

    shape                        box · cylinder (standing) · tapered (rectangular, base smaller or larger
                                 than top)
    length_mm, width_mm          at the top; a cylinder has its diameter as length, and width is not used
    height_mm                    inner, floor to lid
    base_length_mm, base_width_mm   at the floor, for a tapered tub
    """

    shape: Shape
    length_mm: float
    width_mm: float
    height_mm: float
    base_length_mm: float = 0.0
    base_width_mm: float = 0.0

    def __post_init__(self) -> None:
        sizes = [self.length_mm, self.height_mm]
        if self.shape != CYLINDER:
            sizes.append(self.width_mm)
        if self.shape == TAPERED:
            sizes += [self.base_length_mm, self.base_width_mm]
        if not all(np.isfinite(size) and size > 0.0 for size in sizes):
            raise Refusal(
                f"a {self.shape} needs all its inner sizes above 0 mm",
                got=" × ".join(f"{size:g}" for size in sizes),
            )

    def sides_at(self, height_mm: float) -> tuple[float, float]:
        """Length and width at a height [mm]; for a cylinder, twice its diameter."""
        if self.shape == CYLINDER:
            return self.length_mm, self.length_mm
        if self.shape == BOX:
            return self.length_mm, self.width_mm
        share = height_mm / self.height_mm
        return (
            self.base_length_mm + share * (self.length_mm - self.base_length_mm),
            self.base_width_mm + share * (self.width_mm - self.base_width_mm),
        )

    def area_at(self, height_mm: float) -> float:
        """Horizontal area at a height [mm2]."""
        length, width = self.sides_at(height_mm)
        return length * width * (np.pi / 4.0 if self.shape == CYLINDER else 1.0)

    def litres_to(self, height_mm: float) -> float:
        """Volume up to a level height [L], by the prismatoid rule H (A0 + 4 Am + A1) / 6, exact for all
        shapes.
        """
        self._inside(height_mm)
        areas = self.area_at(0.0) + 4.0 * self.area_at(height_mm / 2.0) + self.area_at(height_mm)
        return height_mm * areas / 6.0 / MM3_PER_L

    @property
    def litres(self) -> float:
        """Volume up to the lid [L]."""
        return self.litres_to(self.height_mm)

    @property
    def rim_mm(self) -> float:
        """Length of the closing edge [mm]."""
        if self.shape == CYLINDER:
            return float(np.pi * self.length_mm)
        return 2.0 * (self.length_mm + self.width_mm)

    @property
    def outside_area_mm2(self) -> float:
        """Floor and walls, through which a home takes up heat [mm2]; the lid is left out."""
        middle = self.sides_at(self.height_mm / 2.0)
        round_it = np.pi * self.length_mm if self.shape == CYLINDER else 2.0 * sum(middle)
        return float(round_it * self.height_mm + self.area_at(0.0))

    def _inside(self, depth_mm: float) -> None:
        if not 0.0 <= depth_mm <= self.height_mm:
            raise Refusal(
                f"a depth between 0 and the inner height of {self.height_mm:g} mm was wanted",
                got=f"{depth_mm:g} mm",
            )


@dataclass(frozen=True)
class Fill:
    """Substrate in a vessel: how deep at the shallow and at the deep end [mm], sloping along the length."""

    low_mm: float
    high_mm: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.low_mm <= self.high_mm:
            raise Refusal(
                "depths of 0 mm or more, the shallow end first, were wanted",
                got=f"{self.low_mm:g} and {self.high_mm:g} mm",
            )

    @property
    def mean_mm(self) -> float:
        """Mean depth of a straight slope."""
        return 0.5 * (self.low_mm + self.high_mm)


def substrate_litres(vessel: Vessel, fill: Fill) -> float:
    """Litres that fill the vessel from `low_mm` to `high_mm`.

    Exact for box and cylinder: area times mean depth. In a tapered tub the slope is cut into 400 strips
    across the length, each as wide as the walls are at its own heights.
    """
    vessel._inside(fill.high_mm)
    if vessel.shape != TAPERED:
        return vessel.area_at(0.0) * fill.mean_mm / MM3_PER_L
    if fill.low_mm == fill.high_mm:
        return vessel.litres_to(fill.low_mm)
    return _tapered_litres(vessel, fill)


def _tapered_litres(vessel: Vessel, fill: Fill) -> float:
    """A slope in a tapered tub: layers of 1/400 of the depth, each as long as the slope lets it be."""
    heights = (np.arange(400) + 0.5) / 400.0 * fill.high_mm
    share = heights / vessel.height_mm
    length = vessel.base_length_mm + share * (vessel.length_mm - vessel.base_length_mm)
    width = vessel.base_width_mm + share * (vessel.width_mm - vessel.base_width_mm)
    covered = np.clip((fill.high_mm - heights) / (fill.high_mm - fill.low_mm), 0.0, 1.0)
    return float(np.sum(length * width * covered) * fill.high_mm / 400.0 / MM3_PER_L)


def ends_mm(fill: Fill) -> tuple[tuple[float, float], ...]:
    """Columns that stand for a fill, as (share of the area, depth [mm]): one if level, else shallow and
    deep end.

    The ends are the means of the two halves of a straight slope, at a quarter and three quarters.
    """
    if fill.high_mm == fill.low_mm:
        return ((1.0, fill.low_mm),)
    quarter = 0.25 * (fill.high_mm - fill.low_mm)
    return ((0.5, fill.low_mm + quarter), (0.5, fill.high_mm - quarter))


def vial(drams: int) -> Vessel:
    """A straight vial by its volume in US fluid drams; diameter common practice, height from the volume."""
    diameter = _sized(vessel_sizes.VIAL_DIAMETER_MM, drams, "vial", "drams")
    return _cylinder(diameter, drams * DRAM_L)


def cup(ounces: float) -> Vessel:
    """A round cup by its volume in US fluid ounces, as a cylinder of its mean diameter."""
    diameter = _sized(vessel_sizes.CUP_DIAMETER_MM, ounces, "cup", "fluid ounces")
    return _cylinder(diameter, ounces * FLUID_OUNCE_L)


def tank(nominal_gallons: str) -> Vessel:
    """A glass tank by the gallons it is sold under: inner sizes, outside sizes less the glass (common
    practice).
    """
    length, width, height, glass = _sized(vessel_sizes.TANK_INCHES, nominal_gallons, "glass tank", "gallons")
    inner = (length * INCH_MM - 2.0 * glass, width * INCH_MM - 2.0 * glass, height * INCH_MM - glass)
    return Vessel("box", *inner)


def _sized(table: dict[Key, Value], key: Key, what: str, unit: str) -> Value:
    if key not in table:
        known = ", ".join(str(name) for name in table)
        raise NoSuchThing(
            f"a {what} of {known} {unit} was wanted", got=str(key), todo="Give its inner sizes instead"
        )
    return table[key]


def _cylinder(diameter_mm: float, litres: float) -> Vessel:
    height = litres * MM3_PER_L / (np.pi * diameter_mm**2 / 4.0)
    return Vessel("cylinder", diameter_mm, diameter_mm, float(height))


def catalogue() -> dict[str, Vessel]:
    """Every generic vessel by a plain name: no maker's names."""
    found = {f"vial, {drams} dram": vial(drams) for drams in vessel_sizes.VIAL_DIAMETER_MM}
    found |= {f"cup, {ounces:g} fl oz": cup(ounces) for ounces in vessel_sizes.CUP_DIAMETER_MM}
    found |= {f"glass tank, {name} gal": tank(name) for name in vessel_sizes.TANK_INCHES}
    for length, width, height in vessel_sizes.CLEAR_BOX_MM:
        name = f"clear box, {length / 10:g} × {width / 10:g} × {height / 10:g} cm"
        found[name] = Vessel("box", length, width, height)
    return found
