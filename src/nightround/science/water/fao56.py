"""The published rule of evaporation from bare soil, FAO-56: what the two layers of `balance` are held to.

Depths of water are in millimetres; contents are volume fractions.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import fao56

FloatArray = NDArray[np.float64]


def saturation_pressure_kpa(temperature_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure [kPa], FAO-56 equation 11 (Tetens); 0.1 % above HYLAND-WEXLER at 25 C."""
    celsius = np.asarray(temperature_c, dtype=np.float64)
    exponent = fao56.TETENS_SLOPE * celsius / (celsius + fao56.TETENS_OFFSET_C)
    return np.asarray(fao56.TETENS_KPA * np.exp(exponent), dtype=np.float64)


def mean_saturation_pressure_kpa(highest_c: ArrayLike, lowest_c: ArrayLike) -> FloatArray:
    """Mean of the saturation pressures at a day's highest and lowest temperature [kPa], equation 12."""
    return 0.5 * (saturation_pressure_kpa(highest_c) + saturation_pressure_kpa(lowest_c))


def saturation_slope_kpa_k(temperature_c: ArrayLike) -> FloatArray:
    """Slope of the saturation pressure [kPa/K], equation 13."""
    celsius = np.asarray(temperature_c, dtype=np.float64)
    factor = fao56.TETENS_SLOPE * fao56.TETENS_OFFSET_C / (celsius + fao56.TETENS_OFFSET_C) ** 2
    return np.asarray(saturation_pressure_kpa(celsius) * factor, dtype=np.float64)


def total_evaporable_mm(field_capacity: float, wilting_point: float, depth_mm: float) -> float:
    """Water that a layer can lose to the air, equation 73: (FC - 0.5 WP) depth."""
    if not 0.0 <= wilting_point <= field_capacity <= 1.0 or depth_mm <= 0.0:
        raise Refusal(
            "water contents 0 <= wilting point <= field capacity <= 1 and a depth above 0 were wanted",
            got=f"{wilting_point:g}, {field_capacity:g} and {depth_mm:g} mm",
        )
    return (field_capacity - 0.5 * wilting_point) * depth_mm


def reduction(depletion_mm: ArrayLike, total_mm: float, readily_mm: float) -> FloatArray:
    """Share of the demand that the soil still gives, equation 74: 1 until `readily_mm`, then falling to 0."""
    if not 0.0 <= readily_mm < total_mm:
        raise Refusal(
            "readily evaporable water under the total was wanted", got=f"{readily_mm:g} of {total_mm:g} mm"
        )
    left = (total_mm - np.asarray(depletion_mm, dtype=np.float64)) / (total_mm - readily_mm)
    return np.asarray(np.clip(left, 0.0, 1.0), dtype=np.float64)
