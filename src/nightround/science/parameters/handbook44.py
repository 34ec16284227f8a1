"""Units of volume (source key HB44)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "HB44",
    "NIST Handbook 44, appendix C: general tables of units of measurement; seen in a reprint.",
    Grade.A,
)
INCH_MM: Final = 25.4
GALLON_CUBIC_INCHES: Final = 231.0
BUSHEL_CUBIC_INCHES: Final = 2150.42
FLUID_OUNCES_PER_GALLON: Final = 128.0
DRAMS_PER_FLUID_OUNCE: Final = 8.0
