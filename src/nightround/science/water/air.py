"""Moist air: how much vapour it holds, and how fast vapour moves in it.

Temperatures are in degrees Celsius, relative humidity is a fraction of saturation over liquid water,
pressure is in pascal. Every function takes numbers or arrays that broadcast together and gives an array of
their shape. Vapour is an ideal gas here: CoolProp's real gas holds about half a percent more at saturation.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import ashrae2017, hyland_wexler, massman1998

FloatArray = NDArray[np.float64]

ZERO_C_K: Final = 273.15
# CODATA and IUPAC values: gas constant [J/(mol K)], molar masses [kg/mol].
GAS_CONSTANT: Final = 8.314462618
WATER_KG_MOL: Final = 18.015268e-3
DRY_AIR_KG_MOL: Final = 28.966e-3
STANDARD_PRESSURE_PA: Final = ashrae2017.STANDARD_PRESSURE_PA
# One kilogram of vapour stands where this much more dry air would be.
LIGHTER_BY: Final = DRY_AIR_KG_MOL / WATER_KG_MOL - 1.0
GRAVITY_M_S2: Final = 9.80665


def _numbers(values: ArrayLike) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def checked_humidity(humidity_fraction: ArrayLike) -> FloatArray:
    """Relative humidity as a fraction; refuses anything outside 0-1. Unknown (NaN) stays so."""
    humidity = _numbers(humidity_fraction)
    known = humidity[np.isfinite(humidity)]
    if known.size and (known.min() < 0.0 or known.max() > 1.0):
        raise Refusal(
            "relative humidity as a fraction between 0 and 1 was wanted",
            got=f"{known.min():g} to {known.max():g}",
            todo="Divide percentages by 100.",
        )
    return humidity


def saturation_pressure_pa(temperature_c: ArrayLike) -> FloatArray:
    """Vapour pressure in equilibrium with liquid water [Pa]; HYLAND-WEXLER, 0 to 200 C.

    Below 0 C it goes on over supercooled water. Within 0.03 % of IAPWS-95 from 5 to 50 C.
    """
    kelvin = _numbers(temperature_c) + ZERO_C_K
    c0, c1, c2, c3, c4, c5 = hyland_wexler.OVER_WATER
    exponent = c0 / kelvin + c1 + kelvin * (c2 + kelvin * (c3 + kelvin * c4)) + c5 * np.log(kelvin)
    return np.asarray(np.exp(exponent), dtype=np.float64)


def vapour_density_kg_m3(temperature_c: ArrayLike, humidity_fraction: ArrayLike = 1.0) -> FloatArray:
    """Mass of vapour in a volume of air [kg/m3]: e M / (R T), ideal gas."""
    kelvin = _numbers(temperature_c) + ZERO_C_K
    pressure = _numbers(humidity_fraction) * saturation_pressure_pa(temperature_c)
    return np.asarray(pressure * WATER_KG_MOL / (GAS_CONSTANT * kelvin), dtype=np.float64)


def vapour_density_slope_kg_m3_k(temperature_c: ArrayLike) -> FloatArray:
    """Growth of the saturated vapour density with temperature [kg/(m3 K)]: the formula's derivative."""
    kelvin = _numbers(temperature_c) + ZERO_C_K
    c0, _, c2, c3, c4, c5 = hyland_wexler.OVER_WATER
    log_slope = -c0 / kelvin**2 + c2 + 2.0 * c3 * kelvin + 3.0 * c4 * kelvin**2 + c5 / kelvin
    return np.asarray(vapour_density_kg_m3(temperature_c) * (log_slope - 1.0 / kelvin), dtype=np.float64)


def standard_pressure_pa(altitude_m: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere at an altitude [Pa]; ASHRAE2017, -5000 to 11000 m."""
    base = 1.0 - ashrae2017.PRESSURE_SLOPE_PER_M * _numbers(altitude_m)
    return np.asarray(STANDARD_PRESSURE_PA * base**ashrae2017.PRESSURE_EXPONENT, dtype=np.float64)


def humidity_ratio(
    temperature_c: ArrayLike, humidity_fraction: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> FloatArray:
    """Mass of vapour per mass of dry air [kg/kg], ideal gas (0.5 % under the real gas at saturation)."""
    vapour = _numbers(humidity_fraction) * saturation_pressure_pa(temperature_c)
    return np.asarray(ashrae2017.MASS_RATIO * vapour / (_numbers(pressure_pa) - vapour), dtype=np.float64)


def humidity_ratio_from_wet_bulb(
    temperature_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> FloatArray:
    """Mass of vapour per mass of dry air [kg/kg] from dry and wet bulb; ASHRAE2017, wet bulb above 0 C."""
    dry, wet = _numbers(temperature_c), _numbers(wet_bulb_c)
    at_wet = humidity_ratio(wet, 1.0, pressure_pa)
    latent = ashrae2017.LATENT_AT_0_C
    above = (latent - ashrae2017.LIQUID_LESS_VAPOUR * wet) * at_wet - ashrae2017.DRY_AIR_HEAT * (dry - wet)
    below = latent + ashrae2017.VAPOUR_HEAT * dry - ashrae2017.LIQUID_HEAT * wet
    return np.asarray(above / below, dtype=np.float64)


def wet_bulb_c(
    temperature_c: ArrayLike, humidity_fraction: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> FloatArray:
    """Temperature of a well ventilated wet surface [C], by halving; 1e-9 C; results above 0 C are meant."""
    dry, ratio = _numbers(temperature_c), humidity_ratio(temperature_c, humidity_fraction, pressure_pa)
    low, high = np.broadcast_arrays(dry - 45.0, dry + 0.0 * ratio)
    low = low + 0.0 * high
    high = high + 0.0 * low
    for _ in range(36):
        middle = 0.5 * (low + high)
        too_warm = humidity_ratio_from_wet_bulb(dry, middle, pressure_pa) > ratio
        low, high = np.where(too_warm, low, middle), np.where(too_warm, middle, high)
    return np.asarray(0.5 * (low + high), dtype=np.float64)


def dew_point_c(temperature_c: ArrayLike, humidity_fraction: ArrayLike) -> FloatArray:
    """Temperature at which the air would be saturated [C], by halving; humidity above 0."""
    pressure = _numbers(humidity_fraction) * saturation_pressure_pa(temperature_c)
    high = _numbers(temperature_c) + 0.0 * pressure
    low = np.full_like(high, -60.0)
    for _ in range(40):
        middle = 0.5 * (low + high)
        too_warm = saturation_pressure_pa(middle) > pressure
        low, high = np.where(too_warm, low, middle), np.where(too_warm, middle, high)
    return np.asarray(0.5 * (low + high), dtype=np.float64)


def diffusivity_m2_s(temperature_c: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA) -> FloatArray:
    """Diffusivity of water vapour in air [m2/s]; MASSMAN1998, about 3 % doubt between 0 and 40 C."""
    relative = (_numbers(temperature_c) + ZERO_C_K) / ZERO_C_K
    at_standard = 1e-4 * massman1998.AT_0_C_CM2_S * relative**massman1998.EXPONENT
    return np.asarray(at_standard * STANDARD_PRESSURE_PA / _numbers(pressure_pa), dtype=np.float64)


def dry_air_density_kg_m3(
    temperature_c: ArrayLike,
    humidity_fraction: ArrayLike = 0.0,
    pressure_pa: ArrayLike = STANDARD_PRESSURE_PA,
) -> FloatArray:
    """Mass of dry air in a volume of moist air [kg/m3], ideal gas."""
    kelvin = _numbers(temperature_c) + ZERO_C_K
    dry = _numbers(pressure_pa) - _numbers(humidity_fraction) * saturation_pressure_pa(temperature_c)
    return np.asarray(dry * DRY_AIR_KG_MOL / (GAS_CONSTANT * kelvin), dtype=np.float64)


def air_density_kg_m3(
    temperature_c: ArrayLike,
    humidity_fraction: ArrayLike = 0.0,
    pressure_pa: ArrayLike = STANDARD_PRESSURE_PA,
) -> FloatArray:
    """Mass of moist air in a volume [kg/m3], ideal gas: moist air is the lighter."""
    dry = dry_air_density_kg_m3(temperature_c, humidity_fraction, pressure_pa)
    return np.asarray(dry + vapour_density_kg_m3(temperature_c, humidity_fraction), dtype=np.float64)


def latent_heat_j_kg(temperature_c: ArrayLike) -> FloatArray:
    """Heat taken by evaporating a mass of water [J/kg]: 2.501e6 - 2361 T, within 0.1 % from 0 to 40 C."""
    return np.asarray(2.501e6 - 2361.0 * _numbers(temperature_c), dtype=np.float64)


def viscosity_pa_s(temperature_c: ArrayLike) -> FloatArray:
    """Dynamic viscosity of dry air [Pa s], Sutherland's law (constants from memory)."""
    kelvin = _numbers(temperature_c) + ZERO_C_K
    return np.asarray(
        1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4), dtype=np.float64
    )


def pore_humidity(suction_mm: ArrayLike, temperature_c: ArrayLike = 22.0) -> FloatArray:
    """Humidity of air over water held at a suction [mm of water]: exp(-g h M / (R T)), Kelvin's equation."""
    kelvin = _numbers(temperature_c) + ZERO_C_K
    head_m = 1e-3 * _numbers(suction_mm)
    return np.asarray(
        np.exp(-GRAVITY_M_S2 * head_m * WATER_KG_MOL / (GAS_CONSTANT * kelvin)), dtype=np.float64
    )
