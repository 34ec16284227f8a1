"""Moist air at ordinary pressures (source key ASHRAE2017)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "ASHRAE2017",
    "ASHRAE Handbook Fundamentals 2017 (SI), chapter 1: equations 3, 22 and 35 (from memory; the table"
    " values and example 1 that they give are checked in the tests).",
    Grade.A,
)
STANDARD_PRESSURE_PA: Final = 101325.0
# Standard atmosphere: p = p0 (1 - a z)^b, z in metres.
PRESSURE_SLOPE_PER_M: Final = 2.25577e-5
PRESSURE_EXPONENT: Final = 5.2559
# Mass of vapour over mass of dry air per pressure over pressure.
MASS_RATIO: Final = 0.621945
# Wet bulb above freezing: latent heat and heats of vapour, liquid and dry air [kJ/kg], [kJ/(kg K)].
LATENT_AT_0_C: Final = 2501.0
LIQUID_LESS_VAPOUR: Final = 2.326
DRY_AIR_HEAT: Final = 1.006
VAPOUR_HEAT: Final = 1.86
LIQUID_HEAT: Final = 4.186
