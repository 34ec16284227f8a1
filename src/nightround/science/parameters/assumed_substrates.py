"""Curves of substrates that nobody published: coir and vermiculite (common practice, no source).

Shapes like the peat's, set so that what stays after draining falls inside EVANS1996 for coir and near
PILLING2012 for vermiculite. Conductivities are guesses of the order of coarse organic media. Shown as
assumed on every page.
"""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import COMMON_PRACTICE

SOURCE: Final = COMMON_PRACTICE
COIR_SATURATED: Final = 0.875
COIR_ALPHA_PER_CM: Final = 0.14
COIR_N: Final = 1.40
COIR_CONDUCTIVITY_CM_H: Final = 10.0
VERMICULITE_SATURATED: Final = 0.70
VERMICULITE_ALPHA_PER_CM: Final = 0.20
VERMICULITE_N: Final = 1.42
VERMICULITE_CONDUCTIVITY_CM_H: Final = 20.0
TORTUOSITY: Final = 0.5
# Topsoil out of a bag is looser than a loam in the field.
TOPSOIL_BULK_DENSITY_G_CM3: Final = 1.1
# Water in a medium as bought: moist peat, dried coir, dry sand.
AS_BOUGHT: Final = {"peat": 0.10, "coir": 0.03, "vermiculite": 0.01, "topsoil": 0.10, "sand": 0.01}
