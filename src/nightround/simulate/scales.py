"""What the keeper's calliper, ruler and scale say of a true size."""

from __future__ import annotations

from random import Random

from nightround.foundation.quantities import quantity
from nightround.journal.kinds.animal import Measured

SHED_ERROR = 0.02
SPAN_ERROR = 0.10
BENT_BIAS = 0.82


def shed_carapace(rng: Random, carapace_mm: float) -> Measured:
    """Carapace length of a shed skin, 2 % error, read to 0.1 mm."""
    read = quantity(f"{max(0.1, carapace_mm * rng.gauss(1, SHED_ERROR)):.1f}", "mm", "length")
    return Measured(
        item="carapace_length", on="shed_skin", value=read.value, unit=read.unit, written=read.written,
        written_unit=read.written_unit,
    )  # fmt: skip


def live_span(rng: Random, span_mm: float) -> Measured:
    """Leg span beside a ruler: 10 % error and low when the legs are bent; now and then in inches."""
    bent = rng.random() < 0.55
    seen_mm = span_mm * (BENT_BIAS if bent else 1.0) * max(0.6, rng.gauss(1, SPAN_ERROR))
    if rng.random() < 0.08:
        read = quantity(f"{max(0.1, round(seen_mm / 25.4 * 4) / 4):.2f}", "in", "length")
    elif seen_mm < 30:
        read = quantity(f"{seen_mm:.0f}", "mm", "length")
    else:
        read = quantity(f"{seen_mm / 10:.1f}", "cm", "length")
    return Measured(
        item="leg_span", on="live", posture="bent" if bent else "stretched", value=read.value, unit=read.unit,
        written=read.written, written_unit=read.written_unit,
    )  # fmt: skip


def live_mass(rng: Random, mass_at_10_mm: float, carapace_mm: float, phase: float) -> Measured:
    """Mass on a kitchen scale: cubic across instars, up to 60 % heavier late in one; read to 0.1 g."""
    true_g = mass_at_10_mm * (carapace_mm / 10) ** 3 * (0.8 + 0.5 * min(1.0, phase))
    read = quantity(f"{max(0.1, true_g * rng.gauss(1, 0.02)):.1f}", "g", "mass")
    return Measured(
        item="mass",
        on="live",
        value=read.value,
        unit=read.unit,
        written=read.written,
        written_unit=read.written_unit,
    )
