"""Sizes of generic vessels as the trade sells them (common practice, no source; sizes from memory)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import COMMON_PRACTICE

SOURCE: Final = COMMON_PRACTICE
# Fluid drams -> inner diameter [mm]; the height follows from the volume.
VIAL_DIAMETER_MM: Final = {5: 24.0, 10: 29.0, 20: 36.0, 40: 48.0}
# Fluid ounces -> inner diameter at half height [mm]; the height follows from the volume.
CUP_DIAMETER_MM: Final = {2.0: 54.0, 5.5: 72.0, 8.0: 105.0, 16.0: 105.0, 32.0: 105.0}
# Nominal US gallons -> outside length, width, height [inches] and glass [mm].
TANK_INCHES: Final = {
    "2.5": (12.0, 6.0, 8.0, 4.0),
    "5.5": (16.0, 8.0, 10.0, 4.0),
    "10": (20.0, 10.0, 12.0, 5.0),
    "15": (24.0, 12.0, 12.0, 5.0),
    "20 high": (24.0, 12.0, 16.0, 5.0),
    "20 long": (30.0, 12.0, 12.0, 5.0),
    "29": (30.0, 12.0, 18.0, 5.0),
    "40": (36.0, 18.0, 16.0, 6.0),
}
# Inner length, width, height [mm] of clear boxes in round sizes.
CLEAR_BOX_MM: Final = (
    (60.0, 60.0, 60.0), (100.0, 100.0, 100.0), (100.0, 100.0, 150.0), (150.0, 150.0, 150.0),
    (200.0, 200.0, 200.0), (300.0, 200.0, 200.0), (300.0, 300.0, 300.0), (400.0, 250.0, 250.0),
)  # fmt: skip
