"""Saturation vapour pressure over liquid water, 0-200 C (source key HYLAND-WEXLER)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "HYLAND-WEXLER",
    "Hyland R W, Wexler A (1983) Formulations for the thermodynamic properties of the saturated phases of"
    " H2O. ASHRAE Transactions 89(2A): 500-519; coefficients as in the ASHRAE Handbook Fundamentals 2017,"
    " chapter 1, equation 6 (from memory; the table values they give are checked in the tests).",
    Grade.A,
)
# ln p [Pa] = c0 / T + c1 + c2 T + c3 T^2 + c4 T^3 + c5 ln T, T in kelvin.
OVER_WATER: Final = (
    -5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673,
)  # fmt: skip
