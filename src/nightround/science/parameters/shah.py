"""Evaporation from undisturbed water indoors (source key SHAH)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "SHAH",
    "Shah M M, natural convection from undisturbed indoor pools: E = C rho_w (rho_room - rho_w)^(1/3)"
    " (W_w - W_room), C = 35 in SI units with hours; table as digitised in a public model of pools.",
    Grade.A,
)
COEFFICIENT: Final = 35.0
