"""Retention and conductivity of mineral soils by texture (source key CARSEL1988)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "CARSEL1988",
    "Carsel R F, Parrish R S (1988) Developing joint probability distributions of soil water retention"
    " characteristics. Water Resources Research 24: 755-769; the set used by HYDRUS, seen in pedon 0.1.0.",
    Grade.A,
)
# Residual and saturated water content, alpha [1/cm], n, saturated conductivity [cm/day].
SETS: Final = {
    "sand": (0.045, 0.43, 0.145, 2.68, 712.8),
    "loamy sand": (0.057, 0.41, 0.125, 2.28, 350.2),
    "sandy loam": (0.065, 0.41, 0.075, 1.89, 106.1),
    "loam": (0.078, 0.43, 0.036, 1.56, 24.96),
}
# Mualem's exponent for mineral soils (van Genuchten 1980; from memory).
TORTUOSITY: Final = 0.5
MINERAL_GRAIN_G_CM3: Final = 2.65
