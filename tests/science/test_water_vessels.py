"""Vessels: volumes by geometry and official units, slopes, and the generic catalogue."""

from __future__ import annotations

import re

import numpy as np
import pytest

from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.science.parameters import handbook44
from nightround.science.water import vessels
from nightround.science.water.vessels import Fill, Vessel, catalogue, ends_mm, substrate_litres

TUB = Vessel("tapered", 170.0, 120.0, 100.0, 150.0, 100.0)


def test_units_of_volume() -> None:
    """NIST Handbook 44 appendix C: a gallon is 231 cubic inches, a bushel 2150.42; 3.785411784 L a gallon."""
    assert 231.0 == handbook44.GALLON_CUBIC_INCHES
    assert 2150.42 == handbook44.BUSHEL_CUBIC_INCHES
    assert pytest.approx(3.785411784, rel=1e-12) == vessels.GALLON_L


def test_a_box_in_inches() -> None:
    """16 x 8 x 10 inches are 1280/231 = 5.541126 gallons."""
    inches = Vessel("box", *(25.4 * side for side in (16.0, 8.0, 10.0)))
    assert pytest.approx(5.541126, abs=1e-6) == inches.litres / vessels.GALLON_L


def test_a_sloped_fill() -> None:
    """40 x 25 cm filled from 3 to 9 cm: area times mean depth, 6.0 L."""
    assert 6.0 == substrate_litres(Vessel("box", 400.0, 250.0, 250.0), Fill(30.0, 90.0))


def test_a_tapered_tub() -> None:
    """15 x 10 cm at the floor, 17 x 12 at 10 cm, filled 4 cm: 0.6409 L by the prismatoid rule."""
    assert pytest.approx(0.6409, abs=1e-4) == substrate_litres(TUB, Fill(40.0, 40.0))
    assert pytest.approx(0.6409, abs=1e-3) == substrate_litres(TUB, Fill(39.9, 40.1))


def test_a_slope_in_a_tapered_tub_is_counted_from_many_points() -> None:
    """20 to 60 mm, against half a million points drawn in the tub's bounding box."""
    rng = np.random.default_rng(5)
    x, z = rng.uniform(size=500_000), rng.uniform(0.0, 60.0, 500_000)
    length, width = 150.0 + 0.2 * z, 100.0 + 0.2 * z
    inside = z < 20.0 + 40.0 * x
    counted = float(np.mean(np.where(inside, length * width, 0.0)) * 60.0 / 1e6)
    assert pytest.approx(counted, rel=5e-3) == substrate_litres(TUB, Fill(20.0, 60.0))


def test_vials_and_cups_hold_what_they_are_sold_as() -> None:
    """Drams of 3.6967 mL and US fluid ounces: the millilitres of the trade's own list (common practice)."""
    for drams, millilitres in ((5, 18.5), (10, 37.0), (20, 73.9), (40, 147.9)):
        assert pytest.approx(millilitres, abs=0.06) == 1000.0 * vessels.vial(drams).litres
    for ounces, millilitres in ((2.0, 59.0), (5.5, 163.0), (8.0, 237.0), (16.0, 473.0), (32.0, 946.0)):
        assert pytest.approx(millilitres, abs=0.6) == 1000.0 * vessels.cup(ounces).litres


def test_tanks_hold_less_than_their_outside() -> None:
    """Glass off: each tank truly holds 80-107 % of its nominal gallons, and less than its outside."""
    for name in ("2.5", "5.5", "10", "15", "20 high", "20 long", "29", "40"):
        gallons = vessels.tank(name).litres / vessels.GALLON_L
        assert 0.80 < gallons / float(name.split()[0]) < 1.07
    assert vessels.tank("5.5").litres / vessels.GALLON_L < 5.541126


def test_the_catalogue_is_generic() -> None:
    """Every entry has a plain name of shape and size, and a volume."""
    found = catalogue()
    assert len(found) >= 25
    assert all(re.fullmatch(r"(vial|cup|glass tank|clear box), [\w .×]+", name) for name in found), list(
        found
    )
    assert all(vessel.litres > 0.0 for vessel in found.values())


def test_the_ends_of_a_slope_keep_its_water() -> None:
    """Shallow and deep end stand at a quarter and three quarters: their mean depth is the slope's."""
    ends = ends_mm(Fill(30.0, 90.0))
    assert ((0.5, 45.0), (0.5, 75.0)) == ends
    assert Fill(30.0, 90.0).mean_mm == sum(share * depth for share, depth in ends)
    assert ((1.0, 50.0),) == ends_mm(Fill(50.0, 50.0))


def test_the_outside_of_a_cylinder_and_a_box() -> None:
    """Walls and floor, without the lid; and the rim where the lid closes."""
    box, round_one = Vessel("box", 300.0, 200.0, 100.0), Vessel("cylinder", 100.0, 100.0, 50.0)
    assert 300.0 * 200.0 + 2 * 500.0 * 100.0 == box.outside_area_mm2
    assert pytest.approx(np.pi * (50.0**2 + 100.0 * 50.0)) == round_one.outside_area_mm2
    assert (1000.0, pytest.approx(np.pi * 100.0)) == (box.rim_mm, round_one.rim_mm)


def test_impossible_vessels_are_refused() -> None:
    """Missing sizes, a fill over the lid, ends the wrong way round, a size nobody sells."""
    with pytest.raises(Refusal, match="inner sizes above 0"):
        Vessel("tapered", 170.0, 120.0, 100.0)
    with pytest.raises(Refusal, match="inner height"):
        substrate_litres(TUB, Fill(50.0, 120.0))
    with pytest.raises(Refusal, match="shallow end first"):
        Fill(60.0, 20.0)
    with pytest.raises(NoSuchThing, match="a vial of 5, 10, 20, 40 drams"):
        vessels.vial(7)
