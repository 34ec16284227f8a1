"""Substrates: published numbers as typed, what drained pots hold, mixes, and recipes."""

from __future__ import annotations

import numpy as np
import pytest

from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.foundation.sources import Grade
from nightround.science.parameters import (
    abad2005,
    carsel1988,
    coir_bricks,
    drying_soil,
    evans1996,
    noguera2003,
    peat_classes,
    peat_pots,
    peat_uark,
    pilling2012,
    vermiculite_page,
)
from nightround.science.water.substrate import SUBSTRATES, curves, gravity_length_mm, recipe

PEAT, COIR, SAND = (("peat", 1.0),), (("coir", 1.0),), (("sand", 1.0),)


def test_mineral_sets_are_the_published_ones() -> None:
    """HYDRUS set (Carsel & Parrish 1988) as in pedon 0.1.0: residual, saturated, alpha, n, Ks [cm/d]."""
    published = {
        "sand": (0.045, 0.43, 0.145, 2.68, 712.8),
        "loamy sand": (0.057, 0.41, 0.125, 2.28, 350.2),
        "sandy loam": (0.065, 0.41, 0.075, 1.89, 106.1),
        "loam": (0.078, 0.43, 0.036, 1.56, 24.96),
    }
    assert published == carsel1988.SETS
    assert pytest.approx(712.8 / 24.0) == SUBSTRATES["sand"].conductivity_cm_h.value


def test_the_peat_class_is_the_published_one() -> None:
    """Sphagnum class III of peat_ptf table 5: 0.92; 0.184; 1.34; 4.13; -0.89."""
    peat = SUBSTRATES["peat"]
    found = (peat.saturated, peat.alpha_per_cm, peat.n, peat.conductivity_cm_h, peat.tortuosity)
    assert (0.92, 0.184, 1.34, 4.13, -0.89) == tuple(number.value for number in found)
    assert peat_classes.SOURCE == peat.n.source


def test_every_number_is_graded() -> None:
    """Each substrate has seven numbers with a source; coir's and vermiculite's curves are assumed."""
    for substrate in SUBSTRATES.values():
        numbers = dict(substrate.numbers())
        assert 7 == len(numbers)
        assumed = substrate.name in ("coir", "vermiculite")
        assert assumed == (Grade.CP == numbers["n"].source.grade)


def test_a_drained_pot_of_peat_holds_what_was_measured() -> None:
    """Within the sources: 0.60 (Arkansas, growers) to 0.87 (porometer, 7.6 cm); dry weight 0.1-0.11 g/cm3."""
    held = curves(PEAT).drained_content(peat_pots.POROMETER_MM)
    assert min(peat_uark.WATER) <= held <= peat_pots.CONTAINER_CAPACITY
    assert peat_uark.BULK_DENSITY_G_CM3 <= curves(PEAT).bulk_density_g_cm3 <= peat_pots.BULK_DENSITY_G_CM3
    assert peat_uark.TOTAL_POROSITY[0] <= curves(PEAT).saturated <= peat_pots.TOTAL_POROSITY
    assert (0.11, 0.10, 0.15) == (peat_pots.AIR_SPACE, *peat_uark.AIR_SPACE)


def test_a_drained_pot_of_coir_holds_what_was_measured() -> None:
    """Evans 1996: water 73-80 %, air 9.5-12.6 %, pores 85.5-89.5 %; inside Abad's and Noguera's."""
    tables = curves(COIR)
    held = tables.drained_content(100.0)
    assert evans1996.WATER[0] <= held <= evans1996.WATER[1]
    assert evans1996.AIR_SPACE[0] - 0.01 <= tables.saturated - held <= evans1996.AIR_SPACE[1] + 0.01
    assert evans1996.TOTAL_POROSITY[0] <= tables.saturated <= evans1996.TOTAL_POROSITY[1]
    assert evans1996.BULK_DENSITY_G_CM3[0] < tables.bulk_density_g_cm3 < evans1996.BULK_DENSITY_G_CM3[1]
    assert abad2005.WATER_ML_L[0] < 1000.0 * held < abad2005.WATER_ML_L[1]
    assert noguera2003.WATER_ML_L[1] < 1000.0 * held < noguera2003.WATER_ML_L[0]
    assert noguera2003.BULK_DENSITY_G_CM3[1] < tables.bulk_density_g_cm3 < noguera2003.BULK_DENSITY_G_CM3[0]
    by_weight = held / tables.bulk_density_g_cm3
    assert evans1996.WATER_PER_DRY_WEIGHT[0] < by_weight < 1.2 * evans1996.WATER_PER_DRY_WEIGHT[1]


def test_a_brick_of_coir_takes_what_the_page_says() -> None:
    """650 g of coir, loosened to 8-11 L, takes 3.25-4.5 L of water: moist, not dripping (grade D)."""
    litres = coir_bricks.BRICK_G / 1000.0 / curves(COIR).bulk_density_g_cm3
    assert coir_bricks.YIELD_L[0] < litres < coir_bricks.YIELD_L[1]
    low, high = (water / litres for water in coir_bricks.WATER_L)
    assert 0.25 < low < high < curves(COIR).drained_content(100.0)


def test_other_drained_media_are_near_a_keeper_s_measurement() -> None:
    """Pilling 2012 (a hobby measurement): sand 0.28, vermiculite 0.48, peat 0.58, +-0.17."""
    for name in ("sand", "vermiculite", "peat"):
        held = curves(((name, 1.0),)).drained_content(150.0)
        assert pytest.approx(pilling2012.HELD[name], abs=0.17) == held
    dry = curves((("vermiculite", 1.0),)).bulk_density_g_cm3
    assert vermiculite_page.BULK_DENSITY_G_CM3[0] <= dry <= vermiculite_page.BULK_DENSITY_G_CM3[1]


def test_gravity_length_of_sand() -> None:
    """121 mm for the HYDRUS sand (derived); Lehmann 2008 measured 90 in coarse and 140 mm in fine sand."""
    length = gravity_length_mm(0.145, 2.68)
    assert pytest.approx(121.0, abs=1.0) == length
    assert drying_soil.GRAVITY_LENGTH_MM["coarse"] < length < drying_soil.GRAVITY_LENGTH_MM["fine"]


def test_vapour_through_a_crust_is_of_the_order_of_a_second_stage() -> None:
    """Shahraeeni & Or 2010: 0.5-2.5 mm a day where vapour takes over; here 3 mm of dry sand."""
    from nightround.science.water import air

    drier = float(air.vapour_density_kg_m3(22.0)) * 0.5
    flow = float(air.diffusivity_m2_s(22.0)) * curves(SAND).crust * drier / 3e-3 * 86400.0
    low, high = drying_soil.SECOND_STAGE_MM_DAY
    assert low < flow < high


@pytest.mark.parametrize("name", list(SUBSTRATES))
def test_curves_fall_and_turn_back(name: str) -> None:
    """Content, conductivity and potential fall with suction to 0 at oven-dry; suction is found again."""
    tables = curves(((name, 1.0),))
    for curve in (tables.content, tables.conductivity_mm_h, tables.potential_mm2_h):
        assert (np.diff(curve) <= 0.0).all()
    assert tables.content[-1] < 0.01
    suction = np.array([50.0, 1e3, 1e5])
    np.testing.assert_allclose(tables.suction_mm_at(tables.content_at(suction)), suction, rtol=0.02)


def test_a_mix_lies_between_its_parts() -> None:
    """Half peat, half sand: contents and dry weight are the means; shares may be given in any unit."""
    mix, peat, sand = curves((("peat", 2.0), ("sand", 2.0))), curves(PEAT), curves(SAND)
    np.testing.assert_allclose(mix.content, 0.5 * (peat.content + sand.content), rtol=1e-12)
    assert pytest.approx(0.5 * (peat.bulk_density_g_cm3 + sand.bulk_density_g_cm3)) == mix.bulk_density_g_cm3
    assert (mix.conductivity_mm_h <= np.maximum(peat.conductivity_mm_h, sand.conductivity_mm_h) * 1.001).all()


def test_water_for_a_new_home() -> None:
    """6.0 L of peat from 0.03 to 0.45: 2.52 L of water; the mass to expect is all parts together."""
    made = recipe(PEAT, 6.0, 0.45, 0.03)
    assert pytest.approx(2520.0) == made.water_to_add_g
    assert pytest.approx(660.0 + 2700.0) == made.full_g
    assert (("peat", 6.0),) == made.litres
    assert 0.0 == recipe(PEAT, 6.0, 0.2, 0.5).water_to_add_g


def test_impossible_substrates_are_refused() -> None:
    """An unknown name, a negative share, nothing at all, more water than pores."""
    with pytest.raises(NoSuchThing, match="one of peat, coir"):
        curves((("gravel", 1.0),))
    with pytest.raises(Refusal, match="shares of 0 or more"):
        curves((("peat", -1.0), ("sand", 2.0)))
    with pytest.raises(Refusal, match="at least one"):
        curves(())
    with pytest.raises(Refusal, match="content between 0"):
        recipe(PEAT, 6.0, 0.95)
