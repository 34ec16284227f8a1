"""Heat and vapour between surfaces and room air (source key PLATE-FLOW)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PLATE-FLOW",
    "Textbook relations of heat transfer, by memory and as coded in the ht library 1.2.0: laminar flow"
    " along a plate Nu = 0.664 Re^(1/2) Pr^(1/3); McAdams, upward plate 0.54 Ra^(1/4); Hollands et al."
    " (1976), layer heated below; Dagan et al. (1982), viscous flow through a hole in a plate.",
    Grade.A,
)
LAMINAR_PLATE: Final = 0.664
MCADAMS_UPWARD: Final = 0.54
HOLLANDS_ONSET: Final = 1708.0
HOLLANDS_FIRST: Final = 1.44
HOLLANDS_SECOND: Final = 5830.0
# Pressure over flow: mu / r^3 (3 + 8 t / (pi r)).
DAGAN_ENTRY: Final = 3.0
DISCHARGE_COEFFICIENT: Final = 0.6
