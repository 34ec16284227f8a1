"""Air, open water and the bare-soil rule against handbook tables, CoolProp, and recorded psychrolib."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import fao56 as fao_table
from nightround.science.water import air, fao56
from nightround.science.water.open_water import quiet_water_kg_m2_h

# psychrolib 2.5.0, SetUnitSystem(SI), pressure 101325 Pa: GetSatVapPres(t).
PSYCHROLIB_SATURATION = {
    5.0: 872.4866542640299, 15.0: 1705.4477944415173, 22.0: 2644.7531859703317,
    25.0: 3169.2164701436277, 27.0: 3567.3118472007463, 35.0: 5627.81944654024,
}  # fmt: skip
# psychrolib 2.5.0: GetTWetBulbFromRelHum(t, rh, 101325).
PSYCHROLIB_WET_BULB = {
    (22.0, 0.45): 14.6722, (27.0, 0.6): 21.2056, (25.0, 0.5): 17.8894,
    (18.0, 0.3): 9.4153, (30.0, 0.8): 27.0914,
}  # fmt: skip
# psychrolib 2.5.0: GetMoistAirDensity(t, GetHumRatioFromRelHum(t, rh, 101325), 101325).
PSYCHROLIB_DENSITY = {(22.0, 0.45): 1.1906814390967146, (27.0, 0.6): 1.1666769411792826}
ROOMS = sorted(PSYCHROLIB_WET_BULB)


@pytest.mark.parametrize(
    ("celsius", "pascal", "relative"),
    [(5.0, 872.6, 3e-4), (20.0, 2338.8, 1e-4), (25.0, 3169.7, 3e-4), (50.0, 12351.3, 3e-4)],
)
def test_saturation_pressure_is_the_handbook_s(celsius: float, pascal: float, relative: float) -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 table 3, quoted in psychrolib's tests; 20 C in humidr's."""
    assert pytest.approx(pascal, rel=relative) == float(air.saturation_pressure_pa(celsius))


def test_saturation_pressure_is_psychrolib_s() -> None:
    """The same formula as psychrolib's: equal to rounding at six temperatures."""
    for celsius, pascal in PSYCHROLIB_SATURATION.items():
        assert pytest.approx(pascal, rel=1e-12) == float(air.saturation_pressure_pa(celsius))


def test_saturation_pressure_is_within_three_in_ten_thousand_of_iapws_95() -> None:
    """CoolProp's equation of state of water, asked live from 5 to 50 C; three of its values as recorded."""
    from CoolProp.CoolProp import PropsSI

    celsius = np.linspace(5.0, 50.0, 46)
    reference = np.array([PropsSI("P", "T", float(t) + 273.15, "Q", 0, "Water") for t in celsius])
    assert np.abs(air.saturation_pressure_pa(celsius) / reference - 1.0).max() < 3e-4
    recorded = {22.0: 2645.344, 25.0: 3169.929, 27.0: 3568.112}
    for at, pascal in recorded.items():
        assert pytest.approx(pascal, rel=3e-4) == float(air.saturation_pressure_pa(at))


def test_vapour_density_is_an_ideal_gas_half_a_percent_under_coolprop() -> None:
    """Against CoolProp's humid air (real gas): humidity ratio over volume of moist air, asked live."""
    from CoolProp.CoolProp import HAPropsSI

    for celsius, humidity in [*ROOMS, (22.0, 1.0), (27.0, 1.0)]:
        state = ("T", celsius + 273.15, "P", 101325.0, "R", humidity)
        reference = HAPropsSI("W", *state) / HAPropsSI("Vda", *state)
        ours = float(air.vapour_density_kg_m3(celsius, humidity))
        assert pytest.approx(reference, rel=6e-3) == ours
        assert ours < reference


def test_vapour_density_as_recorded() -> None:
    """22 and 27 C: the recorded values of the same formula, to their digits."""
    recorded = {(22.0, 1.0): 19.4155, (22.0, 0.45): 8.737, (27.0, 1.0): 25.7519, (27.0, 0.6): 15.4511}
    for (celsius, humidity), grams in recorded.items():
        assert pytest.approx(grams, abs=6e-5) == 1e3 * float(air.vapour_density_kg_m3(celsius, humidity))


def test_wet_bulb_is_psychrolib_s_and_coolprop_s() -> None:
    """Within 0.001 C of psychrolib and 0.02 C of CoolProp, which treats the gas as real."""
    from CoolProp.CoolProp import HAPropsSI

    for celsius, humidity in ROOMS:
        ours = float(air.wet_bulb_c(celsius, humidity))
        assert pytest.approx(PSYCHROLIB_WET_BULB[celsius, humidity], abs=1e-3) == ours
        real = HAPropsSI("B", "T", celsius + 273.15, "P", 101325.0, "R", humidity) - 273.15
        assert pytest.approx(real, abs=0.02) == ours


def test_wet_bulb_takes_arrays_and_is_dry_bulb_at_saturation() -> None:
    """A table of rooms at once gives the single answers; saturated air has no wet-bulb depression."""
    celsius, humidity = np.array(ROOMS).T
    together = air.wet_bulb_c(celsius, humidity)
    assert [float(air.wet_bulb_c(*room)) for room in ROOMS] == together.tolist()
    assert pytest.approx(22.0, abs=1e-6) == float(air.wet_bulb_c(22.0, 1.0))


def test_dew_point_is_psychrolib_s() -> None:
    """25 C and 80 %: 21.309 C, the example in psychrolib's documentation."""
    assert pytest.approx(21.309, abs=0.01) == float(air.dew_point_c(25.0, 0.8))


@pytest.mark.parametrize(("celsius", "ratio"), [(5.0, 0.005425), (20.0, 0.014758), (25.0, 0.020173)])
def test_saturated_humidity_ratio_is_the_handbook_s(celsius: float, ratio: float) -> None:
    """ASHRAE 2017 ch. 1 table 2 (real gas) as quoted in psychrolib's and humidr's tests; ours is ideal."""
    assert pytest.approx(ratio, rel=5e-3) == float(air.humidity_ratio(celsius, 1.0))


def test_humidity_ratio_from_wet_bulb_is_the_handbook_s_example() -> None:
    """ASHRAE 2017 ch. 1 example 1: 40 C dry, 20 C wet, standard pressure: 0.0065 kg/kg."""
    assert pytest.approx(0.0065, abs=1e-4) == float(air.humidity_ratio_from_wet_bulb(40.0, 20.0))


def test_standard_atmosphere() -> None:
    """ASHRAE 2017 ch. 1 table 1: 89875 Pa at 1000 m."""
    assert pytest.approx(89875.0, abs=1.0) == float(air.standard_pressure_pa(1000.0))


def test_air_density_is_psychrolib_s() -> None:
    """Moist air at 22 C / 45 % and 27 C / 60 % within 1e-6; moist air is lighter than dry."""
    for (celsius, humidity), density in PSYCHROLIB_DENSITY.items():
        ours = float(air.air_density_kg_m3(celsius, humidity))
        assert pytest.approx(density, rel=1e-6) == ours
        assert ours < float(air.air_density_kg_m3(celsius))


def test_diffusivity_of_vapour() -> None:
    """Massman 1998 in cm2/s; other tables within 3 %: Engineering ToolBox, PMC9486918 table 2."""
    massman = {0.0: 0.2178, 20.0: 0.2475, 22.0: 0.2506, 25.0: 0.2552, 27.0: 0.2583}
    for celsius, value in massman.items():
        assert pytest.approx(value, abs=1e-4) == 1e4 * float(air.diffusivity_m2_s(celsius))
    assert pytest.approx(0.2178, rel=1e-12) == 1e4 * float(air.diffusivity_m2_s(0.0))
    for celsius, value, relative in ((0.0, 0.219, 0.01), (20.0, 0.242, 0.03), (25.0, 0.25, 0.03)):
        assert pytest.approx(value, rel=relative) == 1e4 * float(air.diffusivity_m2_s(celsius))


def test_diffusivity_agrees_with_a_tube_of_water() -> None:
    """A textbook Stefan tube (Cengel & Ghajar 14-101): inputs seen, D solved here, within 10 % of Massman.

    1 in wide, 10 in of air, 80 F, 13.8 psia, 0.0025 lb in 10 days, dry at the top.
    """
    celsius, pressure = (80.0 - 32.0) / 1.8, 13.8 * 6894.757
    flux = 0.0025 * 0.45359237 / (10 * 86400.0) / (math.pi / 4.0 * 0.0254**2)
    vapour = float(air.saturation_pressure_pa(celsius))
    drive = pressure * air.WATER_KG_MOL / (air.GAS_CONSTANT * (celsius + air.ZERO_C_K))
    solved = flux * 0.254 / (drive * -math.log1p(-vapour / pressure))
    assert pytest.approx(0.2554, abs=2e-3) == 1e4 * solved
    assert pytest.approx(solved, rel=0.10) == float(air.diffusivity_m2_s(celsius, pressure))


def test_diffusivity_agrees_with_the_pores_of_eggs() -> None:
    """Ar & Rahn 1985, abstract: 1.5 ug a day and Torr at 0.67 um2/um is 2.24 mg/(d Torr mm) at 25 C."""
    per_torr = 133.322368 * air.WATER_KG_MOL / (air.GAS_CONSTANT * 298.15)
    ours = float(air.diffusivity_m2_s(25.0)) * per_torr * 86400.0 * 1e6 * 1e-3
    assert pytest.approx(1.5e-3 / 0.67e-3, rel=0.07) == ours


def test_slope_of_the_vapour_density_is_its_derivative() -> None:
    """Against a central difference over 0.002 C."""
    celsius = np.array([10.0, 22.0, 35.0])
    central = (air.vapour_density_kg_m3(celsius + 1e-3) - air.vapour_density_kg_m3(celsius - 1e-3)) / 2e-3
    np.testing.assert_allclose(air.vapour_density_slope_kg_m3_k(celsius), central, rtol=1e-6)


def test_humidity_of_pores() -> None:
    """Kelvin's equation at pF 4.2 (wilting point) and 22 C: 0.9887."""
    assert pytest.approx(0.9887, abs=5e-4) == float(air.pore_humidity(10.0**4.2 * 10.0, 22.0))


def test_percentages_are_refused() -> None:
    """45 is no fraction: the refusal says to divide; unknown humidity stays unknown."""
    with pytest.raises(Refusal, match="Divide percentages by 100"):
        air.checked_humidity([0.4, 45.0])
    assert np.isnan(air.checked_humidity([np.nan, 0.5])[0])


@pytest.mark.parametrize(
    ("water", "room", "published"),
    [(28, 28, 0.136), (28, 30, 0.0968), (29, 29, 0.1463), (30, 28, 0.1959), (30, 30, 0.1575)],
)
def test_open_water_is_shah_s_table(water: float, room: float, published: float) -> None:
    """Shah's table of undisturbed indoor pools at 50 % humidity [kg/(m2 h)], within 0.3 %."""
    assert pytest.approx(published, rel=3e-3) == float(quiet_water_kg_m2_h(water, room, 0.5))


def test_open_water_is_well_under_the_carrier_equation() -> None:
    """Smith, Löf & Jones 1998 measured 0.74 of Carrier's figure on an undisturbed pool; ours 0.5 to 0.8.

    Carrier (from memory): 0.089 kW/(m2 kPa) times the difference of pressure over the latent heat.
    """
    for water, room in ((28, 28), (29, 29), (30, 28), (30, 30)):
        difference = 1e-3 * (air.saturation_pressure_pa(water) - 0.5 * air.saturation_pressure_pa(room))
        carrier = 0.089 * difference / (1e-3 * air.latent_heat_j_kg(water)) * 3600.0
        assert 0.5 < float(quiet_water_kg_m2_h(water, room, 0.5) / carrier) < 0.8


def test_open_water_in_a_quiet_room() -> None:
    """22 C and 45 %: 2.34 mm a day, as recorded; cooler water than the room's air, far less."""
    assert pytest.approx(2.34, rel=0.01) == 24.0 * float(quiet_water_kg_m2_h(22.0, 22.0, 0.45))
    assert 0.0 == float(quiet_water_kg_m2_h(10.0, 30.0, 0.2))


def test_fao_vapour_pressure() -> None:
    """FAO-56 example 3 (NCL's page): 1.705, 3.075 kPa; CRAN package FAO56's tests: mean and slope."""
    assert pytest.approx(1.705, abs=5e-4) == float(fao56.saturation_pressure_kpa(15.0))
    assert pytest.approx(3.075, abs=5e-4) == float(fao56.saturation_pressure_kpa(24.5))
    assert pytest.approx(2.615883, abs=5e-4) == float(fao56.mean_saturation_pressure_kpa(25.0, 18.0))
    assert pytest.approx(0.14474, abs=1e-5) == float(fao56.saturation_slope_kpa_k(20.0))


def test_fao_evaporable_water() -> None:
    """FAO-56 equations 73 and 74 as in airSpring's benchmark: TEW 18 mm; Kr 0.5 half-way down."""
    assert pytest.approx(18.0, abs=1e-6) == fao56.total_evaporable_mm(0.23, 0.10, 100.0)
    assert pytest.approx(0.5, abs=1e-6) == float(fao56.reduction(15.75, 22.5, 9.0))
    assert (6.0, 10.0) == fao_table.READILY_EVAPORABLE_MM["sandy loam"]
    assert (8.0, 10.0) == fao_table.READILY_EVAPORABLE_MM["loam"]
    with pytest.raises(Refusal, match="wilting point"):
        fao56.total_evaporable_mm(0.1, 0.2, 100.0)
    with pytest.raises(Refusal, match="under the total"):
        fao56.reduction(1.0, 8.0, 8.0)


def test_fao_drydown() -> None:
    """Seven days of bare soil in airSpring's benchmark (a computed scenario): Kr each day within 5e-4."""
    published = [1, 1, 0.6975, 0.3313, 0.1643, 0.0746, 0.0394]
    depletion, found = 0.0, []
    for demand in (5, 5.5, 5, 4.8, 5.2, 4.5, 5):
        kr = float(fao56.reduction(depletion, 18.0, 8.0))
        found.append(kr)
        depletion += min(kr * (1.2 - 0.15), 1.2) * demand
    np.testing.assert_allclose(found, published, atol=5e-4)
