"""How easily vapour leaves through the openings of a lid or wall.

A conductance G [m3/s] times a difference of vapour density [kg/m3] is a flow of water [kg/s]. A round hole of
radius r through a plate of thickness t, one of N:

    G = N D pi r^2 / (t + (pi/2) r P(xi))

the air in the hole in series with the narrowing of the field on both its sides, each worth (pi/4) r for a
hole alone (Maxwell's disc, 4 D r). P, Fok's polynomial in xi = sqrt(share of the area that is open), takes
away what neighbours already spread. Within 6 % of a numerical solution of Laplace's equation
(tests/science/test_water_openings.py). Lengths are in millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import fok1941, plate_flow, room_air
from nightround.science.water.air import diffusivity_m2_s

FloatArray = NDArray[np.float64]
Shape = Literal["hole", "slot", "mesh", "perforated"]
Position = Literal["lid", "side_high", "side_low"]

HOLE, SLOT, MESH, PERFORATED = "hole", "slot", "mesh", "perforated"
LID, SIDE_HIGH, SIDE_LOW = "lid", "side_high", "side_low"
MM: Final = 1e-3


@dataclass(frozen=True)
class Opening:
    """Openings of one kind at one height.

    shape          hole (round) · slot · mesh (woven) · perforated (plate with round holes)
    number         how many; for mesh and perforated plate, how many such panels
    width_mm       diameter of a hole, narrow side of a slot, one side of a panel
    length_mm      long side of a slot, other side of a panel; not used for holes
    thickness_mm   of the wall or plate; of the woven mesh
    aperture_mm    clear width of one mesh or one hole of a perforated plate
    open_fraction  open share of a panel; for holes and slots, of the patch they are spread over (0: far
                   apart)
    at             lid · side_high · side_low
    """

    shape: Shape
    number: int
    width_mm: float
    length_mm: float = 0.0
    thickness_mm: float = 2.0
    aperture_mm: float = room_air.MESH_APERTURE_MM
    open_fraction: float = 0.0
    at: Position = "lid"

    def __post_init__(self) -> None:
        long_enough = self.shape == HOLE or self.length_mm > 0.0
        if self.number < 0 or self.width_mm <= 0.0 or self.thickness_mm < 0.0 or not long_enough:
            raise Refusal(
                "an opening needs a number of 0 or more and sizes above 0",
                got=f"{self.number} × {self.width_mm:g} × {self.length_mm:g} × {self.thickness_mm:g} mm",
            )
        panel = self.shape in (MESH, PERFORATED)
        if not 0.0 <= self.open_fraction < 0.9 or (
            panel and not (self.open_fraction and self.aperture_mm > 0.0)
        ):
            raise Refusal(
                "an open fraction from 0 to under 0.9 was wanted, above 0 for a panel, with its aperture",
                got=f"{self.open_fraction:g}, {self.aperture_mm:g} mm",
            )

    @property
    def clear_area_mm2(self) -> float:
        """Area that is open to the air, all together."""
        if self.shape == HOLE:
            return self.number * np.pi * self.width_mm**2 / 4.0
        share = 1.0 if self.shape == SLOT else self.open_fraction
        return self.number * self.width_mm * self.length_mm * share

    @property
    def channels(self) -> tuple[float, float, float]:
        """Number, radius and thickness [mm] of round holes of the same area and wall, for the flow of air."""
        if self.shape in (MESH, PERFORATED):
            radius = self.aperture_mm / (2.0 if self.shape == PERFORATED else np.sqrt(np.pi))
        else:
            radius = self.width_mm / 2.0
        return self.clear_area_mm2 / (np.pi * radius**2), float(radius), self.thickness_mm


def fok_polynomial(xi: ArrayLike) -> FloatArray:
    """What is left of the end correction when holes share a plate: 1 far apart, towards 0 as xi nears 1."""
    ratio = np.asarray(xi, dtype=np.float64)
    total = sum(coefficient * ratio**power for power, coefficient in fok1941.COEFFICIENTS.items())
    return np.asarray(np.clip(total, 0.0, 1.0), dtype=np.float64)


def elliptic_integral(modulus_squared: float) -> float:
    """Complete elliptic integral of the first kind K(m), by the arithmetic-geometric mean; 0 <= m < 1."""
    one, other = 1.0, float(np.sqrt(1.0 - modulus_squared))
    while abs(one - other) > 1e-14:
        one, other = 0.5 * (one + other), float(np.sqrt(one * other))
    return float(np.pi / (2.0 * one))


def hole_length_mm(radius_mm: float, thickness_mm: float, open_fraction: float = 0.0) -> float:
    """Length of still air [mm] that a round hole is worth, both ends corrected."""
    return thickness_mm + float(0.5 * np.pi * radius_mm * fok_polynomial(np.sqrt(open_fraction)))


def slot_length_mm(
    width_mm: float, length_mm: float, thickness_mm: float, open_fraction: float = 0.0
) -> float:
    """Length of still air [mm] that a slot is worth: the ends are those of the ellipse of its area and
    aspect.

    An ellipse with half-axes a >= b passes D pi a / K(1 - b^2/a^2) through a thin plate (K the elliptic
    integral; a circle gives 2 D a), so the ends are worth K b. Within 4 % of rectangles solved by panels,
    aspect 1 to 16.
    """
    narrow, wide = sorted((width_mm, length_mm))
    ends = elliptic_integral(1.0 - (narrow / wide) ** 2) * narrow / np.sqrt(np.pi)
    return thickness_mm + float(ends * fok_polynomial(np.sqrt(open_fraction)))


def clear_length_m(opening: Opening) -> float:
    """Clear area over length of still air [m]: conductance of the openings per diffusivity."""
    if opening.shape == HOLE:
        length = hole_length_mm(opening.width_mm / 2.0, opening.thickness_mm, opening.open_fraction)
    elif opening.shape == SLOT:
        length = slot_length_mm(
            opening.width_mm, opening.length_mm, opening.thickness_mm, opening.open_fraction
        )
    else:
        _, radius, thickness = opening.channels
        length = hole_length_mm(radius, thickness, opening.open_fraction)
    return opening.clear_area_mm2 / length * MM


def conductance_m3_s(opening: Opening, temperature_c: ArrayLike) -> FloatArray:
    """Conductance of the openings by diffusion alone [m3/s], at the temperature's shape."""
    return np.asarray(clear_length_m(opening) * diffusivity_m2_s(temperature_c), dtype=np.float64)


def lid_leak_length_m(rim_mm: float, gap_mm: float = room_air.LID_GAP_MM) -> float:
    """Conductance per diffusivity [m] of the gap around a lid that is not sealed: rim times gap over overlap.

    The gap is assumed (common practice, no source) unless the weighings of the home say otherwise.
    """
    if rim_mm < 0.0 or gap_mm < 0.0:
        raise Refusal("a rim and a gap of 0 mm or more were wanted", got=f"{rim_mm:g} and {gap_mm:g} mm")
    return rim_mm * gap_mm / room_air.LID_OVERLAP_MM * MM


def stack_flow_m3_s(
    low: list[Opening],
    high: list[Opening],
    height_mm: float,
    lighter_kg_m3: ArrayLike,
    air_kg_m3: float = 1.19,
    viscosity_pa_s: float = 1.82e-5,
) -> FloatArray:
    """Air rising through openings at two heights [m3/s], driven by air inside that is lighter than the
    room's.

    The pressure g H (rho_room - rho_inside) is spent on viscous flow through each set (Dagan: mu / r^3
    (3 + 8 t / (pi r)) a hole) and on speed, rho/2 (Q / (0.6 A))^2; the quadratic in Q is solved. Heavier
    air inside falls through the same way. No draught or pulse of a door is counted.
    """
    viscous = quadratic = 0.0
    for level in (low, high):
        ease = sum(_viscous_ease_m3(opening) for opening in level)
        area = sum(opening.clear_area_mm2 for opening in level) * MM**2
        if ease <= 0.0 or height_mm <= 0.0:
            return np.zeros_like(np.asarray(lighter_kg_m3, dtype=np.float64))
        viscous += viscosity_pa_s / ease
        quadratic += 0.5 * air_kg_m3 / (plate_flow.DISCHARGE_COEFFICIENT * area) ** 2
    pressure = 9.80665 * height_mm * MM * np.abs(np.asarray(lighter_kg_m3, dtype=np.float64))
    root = np.sqrt(viscous**2 + 4.0 * quadratic * pressure)
    return np.asarray(2.0 * pressure / (viscous + root), dtype=np.float64)


def _viscous_ease_m3(opening: Opening) -> float:
    """Flow per pressure and fluidity [m3] of all holes of an opening."""
    number, radius, thickness = opening.channels
    if number <= 0.0:
        return 0.0
    resistance = (plate_flow.DAGAN_ENTRY + 8.0 * thickness / (np.pi * radius)) / (radius * MM) ** 3
    return float(number / resistance)


def exchange_m3_s(flow_m3_s: ArrayLike, low_m3_s: ArrayLike, high_m3_s: ArrayLike) -> FloatArray:
    """Conductance of two sets of openings with air flowing in by one and out by the other [m3/s].

    Vapour diffuses against the flow in one set and with it in the other:
    Q / (exp(Q/G_low) - 1) + Q / (1 - exp(-Q/G_high)). With equal sets this is Q coth(Q/G), G both
    together; without flow it is their sum. Inside is well mixed.
    """
    low, high = np.asarray(low_m3_s, dtype=np.float64), np.asarray(high_m3_s, dtype=np.float64)
    flow = np.where((low > 0.0) & (high > 0.0), np.asarray(flow_m3_s, dtype=np.float64), 0.0)
    return np.asarray(low * _against(flow, low) + high * _against(flow, high) + flow, dtype=np.float64)


def _against(flow: FloatArray, conductance: FloatArray) -> FloatArray:
    """x / (exp(x) - 1) at x = flow / conductance: the share of diffusion left against a flow."""
    peclet = np.clip(flow / np.where(conductance > 0.0, conductance, np.inf), 0.0, 700.0)
    safe = np.where(peclet > 1e-8, peclet, 1.0)
    return np.where(peclet > 1e-8, safe / np.expm1(safe), 1.0 - 0.5 * peclet)
