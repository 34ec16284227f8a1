"""Units: read what the keeper wrote, keep it, compute in one unit, show metric and US alike.

Factors: NIST SP 811 (2008) appendix B and NIST Handbook 44 appendix C (US customary units, exact).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Literal

from nightround.foundation.refusal import NotReadable

Dimension = Literal["length", "mass", "volume", "temperature", "fraction", "count", "days"]


@dataclass(frozen=True)
class Unit:
    """A unit as `canonical = (written + shift) * factor`."""

    name: str
    dimension: Dimension
    factor: Decimal
    shift: Decimal = Decimal(0)


CANONICAL: dict[Dimension, str] = {
    "length": "mm", "mass": "g", "volume": "ml", "temperature": "C",
    "fraction": "percent", "count": "count", "days": "day",
}  # fmt: skip

_US_GALLON_ML = Decimal("3785.411784")  # 231 cubic inches, HB 44 appendix C


def _units() -> dict[str, Unit]:
    rows: list[tuple[Dimension, str, Decimal, Decimal, str]] = [
        ("length", "mm", Decimal(1), Decimal(0), "millimetre millimetres millimeter millimeters"),
        ("length", "cm", Decimal(10), Decimal(0), "centimetre centimetres centimeter centimeters"),
        ("length", "m", Decimal(1000), Decimal(0), "metre metres meter meters"),
        ("length", "in", Decimal("25.4"), Decimal(0), 'inch inches "'),
        ("length", "ft", Decimal("304.8"), Decimal(0), "foot feet"),
        ("mass", "mg", Decimal("0.001"), Decimal(0), "milligram milligrams"),
        ("mass", "g", Decimal(1), Decimal(0), "gram grams gramme grammes"),
        ("mass", "kg", Decimal(1000), Decimal(0), "kilogram kilograms"),
        ("mass", "oz", Decimal("28.349523125"), Decimal(0), "ounce ounces"),
        ("mass", "lb", Decimal("453.59237"), Decimal(0), "pound pounds lbs"),
        ("volume", "ml", Decimal(1), Decimal(0), "millilitre millilitres milliliter milliliters cc"),
        ("volume", "l", Decimal(1000), Decimal(0), "litre litres liter liters"),
        ("volume", "fl oz", _US_GALLON_ML / 128, Decimal(0), "floz fl.oz fluid-ounce"),
        ("volume", "dram", _US_GALLON_ML / 1024, Decimal(0), "drams fl-dram"),
        ("volume", "tsp", _US_GALLON_ML / 768, Decimal(0), "teaspoon teaspoons"),
        ("volume", "tbsp", _US_GALLON_ML / 256, Decimal(0), "tablespoon tablespoons"),
        ("volume", "cup", _US_GALLON_ML / 16, Decimal(0), "cups"),
        ("volume", "gal", _US_GALLON_ML, Decimal(0), "gallon gallons"),
        ("temperature", "C", Decimal(1), Decimal(0), "c °c degc celsius"),
        ("temperature", "F", Decimal(5) / Decimal(9), Decimal(-32), "f °f degf fahrenheit"),
        ("temperature", "K", Decimal(1), Decimal("-273.15"), "k kelvin"),
        ("fraction", "percent", Decimal(1), Decimal(0), "% pct %rh rh"),
        ("days", "day", Decimal(1), Decimal(0), "d days"),
        ("days", "week", Decimal(7), Decimal(0), "weeks wk"),
        ("count", "count", Decimal(1), Decimal(0), "piece pieces"),
    ]
    table: dict[str, Unit] = {}
    for dimension, name, factor, shift, spellings in rows:
        unit = Unit(name, dimension, factor, shift)
        for spelling in [name.lower(), *spellings.split()]:
            table[spelling] = unit
    return table


UNITS: dict[str, Unit] = _units()


def unit_named(text: str, dimension: Dimension) -> Unit:
    """Return the unit that `text` spells, which must measure `dimension`. Raises NotReadable."""
    unit = UNITS.get(" ".join(text.strip().lower().split()))
    if unit is None or unit.dimension != dimension:
        known = ", ".join(sorted({u.name for u in UNITS.values() if u.dimension == dimension}))
        raise NotReadable(f"a unit of {dimension}: {known}", got=repr(text))
    return unit


def number(text: str) -> float:
    """Read a plain decimal number with a point; anything else (words, ranges, commas) is refused."""
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or "_" in text:
        raise NotReadable(
            "a plain number such as 14.5",
            got=repr(text),
            todo="Write only the number here and put words such as 'about' into the note",
        )
    return float(value)


@dataclass(frozen=True)
class Quantity:
    """A measured value in its canonical unit, with the number and unit as they were written."""

    value: float
    unit: str
    written: str
    written_unit: str


def quantity(written: str, written_unit: str, dimension: Dimension) -> Quantity:
    """Read a number and its unit and convert exactly; the original is kept. Raises NotReadable."""
    number(written)
    unit = unit_named(written_unit, dimension)
    value = (Decimal(written.strip()) + unit.shift) * unit.factor
    return Quantity(float(value), CANONICAL[dimension], written.strip(), written_unit.strip())


def convert(value: float, source: str, target: str) -> float:
    """Convert a number between two units of one dimension."""
    start = UNITS[source.lower()]
    end = unit_named(target, start.dimension)
    canonical = (value + float(start.shift)) * float(start.factor)
    return canonical / float(end.factor) - float(end.shift)


def significant(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, without exponent ('0' stays '0')."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "unknown"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


_PAIRS: dict[str, list[tuple[float, str, float, str]]] = {
    # canonical unit: rows of (from this canonical value up, metric unit, -, US unit)
    "mm": [(0, "mm", 0, "in"), (10, "cm", 0, "in"), (1000, "m", 0, "ft")],
    "g": [(0, "mg", 0, "oz"), (0.1, "g", 0, "oz"), (1000, "kg", 0, "lb")],
    "ml": [(0, "ml", 0, "tsp"), (15, "ml", 0, "fl oz"), (1000, "l", 0, "gal")],
    "C": [(-300, "C", 0, "F")],
}


def both(value: float, unit: str, digits: int = 2) -> str:
    """Write a canonical value in metric and US units, rounded alike: '14 cm (5.7 in)'.

    Temperatures are rounded to one decimal in both; other units to `digits` significant digits.
    """
    rows = _PAIRS.get(unit)
    if rows is None:
        return f"{significant(value, digits)} {unit}"
    _, metric, _, us = [row for row in rows if value >= row[0] or row is rows[0]][-1]
    if unit == "C":
        return f"{value:.1f} °C ({convert(value, 'C', 'F'):.1f} °F)"
    metric_text = significant(convert(value, unit, metric), digits)
    return f"{metric_text} {metric} ({significant(convert(value, unit, us), digits)} {us})"


def both_degrees(difference_c: float, digits: int = 1) -> str:
    """Write a difference between temperatures in both units: '2.1 °C (3.8 °F)'."""
    return f"{difference_c:.{digits}f} °C ({difference_c * 1.8:.{digits}f} °F)"
