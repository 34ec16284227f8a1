"""Diffusivity of water vapour in air (source key MASSMAN1998)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "MASSMAN1998",
    "Massman W J (1998) A review of the molecular diffusivities of H2O, CO2 ... in air, O2 and N2 near STP."
    " Atmospheric Environment 32: 1111-1127; constants as coded in aquasol 1.8.0.",
    Grade.A,
)
AT_0_C_CM2_S: Final = 0.2178
EXPONENT: Final = 1.81
