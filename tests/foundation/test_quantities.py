"""Units against NIST SP 811 (2008 edition), appendix B.8, and NIST Handbook 44, appendix C."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightround.foundation.quantities import UNITS, both, convert, number, quantity, significant, unit_named
from nightround.foundation.refusal import NotReadable

# SP 811 B.8 gives these factors; digits as printed there (exact ones are bold in the table).
SP_811 = [
    ("inch", "length", 25.4, 0),
    ("foot", "length", 304.8, 0),
    ("ounce", "mass", 28.34952, 5e-6),
    ("pound", "mass", 453.5924, 5e-5),
    ("fl oz", "volume", 29.57353, 5e-6),
    ("gallon", "volume", 3785.412, 5e-4),
    ("cup", "volume", 236.5882, 5e-5),
    ("teaspoon", "volume", 4.928922, 5e-7),
    ("tablespoon", "volume", 14.78676, 5e-6),
]


@pytest.mark.parametrize(("name", "dimension", "factor", "tolerance"), SP_811)
def test_factors_of_sp_811(name, dimension, factor, tolerance):
    """One of each unit is as many mm, g or ml as NIST SP 811, appendix B.8, prints."""
    assert quantity("1", name, dimension).value == pytest.approx(factor, abs=tolerance or 1e-12)


def test_fluid_dram_of_handbook_44():
    """HB 44 appendix C: 1 US fluid dram = 3.696 691 mL; a 20-dram vial holds 73.9 mL."""
    assert quantity("1", "dram", "volume").value == pytest.approx(3.696691, abs=5e-7)
    assert quantity("20", "dram", "volume").value == pytest.approx(73.9, abs=0.05)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [("32", 0.0), ("212", 100.0), ("-40", -40.0), ("80", 26.667)]
)
def test_fahrenheit(fahrenheit, celsius):
    """SP 811 B.8: t/°C = (t/°F − 32)/1.8."""
    assert quantity(fahrenheit, "°F", "temperature").value == pytest.approx(celsius, abs=5e-4)


def test_the_original_is_kept():
    """A span written as 5.7 inches stays 5.7 in in the record, next to its millimetres."""
    span = quantity("5.7", "in", "length")
    assert ("5.7", "in", "mm") == (span.written, span.written_unit, span.unit)
    assert span.value == pytest.approx(144.78)


@pytest.mark.parametrize("text", ["about 10", "10-12", "1,5", "", "1_000", "nan", "inf", "ten"])
def test_words_are_not_numbers(text):
    """Anything but a plain number is refused: 'about 10' is never 10."""
    with pytest.raises(NotReadable):
        number(text)


def test_a_unit_of_another_dimension_is_refused():
    """A leg span in grams is refused with the units that would do."""
    with pytest.raises(NotReadable, match="mm"):
        unit_named("g", "length")


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (145.0, "mm", "14 cm (5.7 in)"),
        (6.0, "mm", "6.0 mm (0.24 in)"),
        (25.0, "C", "25.0 °C (77.0 °F)"),
        (2.0, "ml", "2.0 ml (0.41 tsp)"),
        (5.2, "ml", "5.2 ml (1.1 tsp)"),
        (30.0, "ml", "30 ml (1.0 fl oz)"),
        (20000.0, "ml", "20 l (5.3 gal)"),
    ],
)
def test_both_systems_are_rounded_alike(value, unit, words):
    """Metric and US values stand side by side with equally many significant digits."""
    assert words == both(value, unit)


@given(st.floats(0.001, 1e6), st.sampled_from(["mm", "cm", "in", "ft", "m"]))
def test_there_and_back(value, unit):
    """Converting to a unit and back is the identity."""
    assert convert(convert(value, "mm", unit), unit, "mm") == pytest.approx(value, rel=1e-12)


@given(st.floats(1e-3, 1e5))
def test_significant_digits(value):
    """Three significant digits are never further than half a unit of the third away."""
    assert float(significant(value)) == pytest.approx(value, rel=5.0e-3)


def test_every_spelling_leads_to_a_unit():
    """The table of units is closed: each unit is found under its own name."""
    assert all(UNITS[unit.name.lower()] is unit for unit in UNITS.values())
