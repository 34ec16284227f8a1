"""How easily water leaves a whole home: openings in series with air films and evaporative cooling.

    1 / G = 1 / G_openings + 1 / G_headspace + R_cooling

- Each opening of the lid stands in series with the room's air over it: a disc in still air and laminar
  flow along a plate at the assumed draught, Sh = 8/pi + 0.664 Re^(1/2) Sc^(1/3) (PLATE-FLOW). The gap of
  the lid is parallel to it.
- Covering a part of the lid takes that part of its openings and of the air over them, nothing else.
- Openings at two heights exchange by stack flow (`openings.exchange_m3_s`).
- Headspace: diffusion across it, more where the substrate is warmer than the room (Hollands), and a stir
  by the draught, let in as the open share of the lid.
- Evaporation cools the substrate until heat flows in as fast: with slope s of saturated density, latent
  heat L and h A of heat exchange this is a resistance s L / (h A), exact for small cooling.

Assumed, and to be said beside every figure: the draught, the lid's gap, no condensation on walls, no plants.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.parameters import plate_flow, room_air
from nightround.science.water import air, openings
from nightround.science.water.openings import LID, MM, SIDE_LOW, Opening

FloatArray = NDArray[np.float64]

ASSUMED: Final = (
    f"draught over the lid {room_air.DRAUGHT_M_S:g} m/s",
    f"gap of a closed lid {room_air.LID_GAP_MM:g} mm over {room_air.LID_OVERLAP_MM:g} mm",
    f"heat exchange of the outside {room_air.SURFACE_HEAT_W_M2_K:g} W/(m2 K)",
    "no condensation on the walls",
    "no plants",
)
KINEMATIC_VISCOSITY_M2_S: Final = 1.52e-5
AIR_DENSITY_KG_M3: Final = 1.19


@dataclass(frozen=True)
class Ventilation:
    """One home as vapour sees it. Areas in mm2, lengths in mm.

    openings              all of them, uncovered
    lid_area_mm2          of the lid, from inside
    floor_area_mm2        of the substrate's surface
    headspace_mm          mean height from substrate to lid
    outside_area_mm2      outer surface through which heat comes: floor and walls
    lid_cover_fraction    share of the lid that is covered
    rim_mm                length of the lid's closing edge; 0: sealed, or an open top
    gap_mm                width of the gap along it
    draught_m_s           air speed over the lid
    """

    openings: tuple[Opening, ...]
    lid_area_mm2: float
    floor_area_mm2: float
    headspace_mm: float
    outside_area_mm2: float
    lid_cover_fraction: float = 0.0
    rim_mm: float = 0.0
    gap_mm: float = room_air.LID_GAP_MM
    draught_m_s: float = room_air.DRAUGHT_M_S

    def __post_init__(self) -> None:
        sizes = (self.lid_area_mm2, self.floor_area_mm2, self.headspace_mm, self.outside_area_mm2)
        if min(sizes) <= 0.0 or min(self.rim_mm, self.gap_mm, self.draught_m_s) < 0.0:
            raise Refusal("a home needs areas and a headspace above 0", got=f"{sizes}")
        if not 0.0 <= self.lid_cover_fraction <= 1.0:
            raise Refusal("a covered share between 0 and 1 was wanted", got=f"{self.lid_cover_fraction:g}")
        panels = sum(
            o.number * o.width_mm * o.length_mm for o in self.openings if o.at == LID and o.length_mm
        )
        if panels > 1.02 * self.lid_area_mm2:
            raise Refusal(
                "openings no larger than the lid were wanted",
                got=f"{panels / 100:.0f} cm2 in a lid of {self.lid_area_mm2 / 100:.0f} cm2",
            )

    def covered(self, fraction: float) -> Ventilation:
        """The same home with another share of the lid covered."""
        return replace(self, lid_cover_fraction=fraction)

    def with_openings(self, *more: Opening) -> Ventilation:
        """The same home with more openings."""
        return replace(self, openings=(*self.openings, *more))

    @property
    def open_share(self) -> float:
        """Clear, uncovered area of the lid over the lid's area."""
        clear = sum(opening.clear_area_mm2 for opening in self.openings if opening.at == LID)
        return min(1.0, clear * (1.0 - self.lid_cover_fraction) / self.lid_area_mm2)


def sherwood_along_plate(speed_m_s: float, length_m: float, diffusivity: ArrayLike) -> FloatArray:
    """Exchange of a plate with a slow draught, as a multiple of diffusion over its length (PLATE-FLOW)."""
    reynolds = speed_m_s * length_m / KINEMATIC_VISCOSITY_M2_S
    schmidt = KINEMATIC_VISCOSITY_M2_S / np.asarray(diffusivity, dtype=np.float64)
    return np.asarray(plate_flow.LAMINAR_PLATE * np.sqrt(reynolds) * np.cbrt(schmidt), dtype=np.float64)


def mcadams_upward(rayleigh: ArrayLike) -> FloatArray:
    """Exchange of an upward plate with still air that rises from it, Ra 1e4-1e7 (PLATE-FLOW)."""
    return np.asarray(plate_flow.MCADAMS_UPWARD * np.asarray(rayleigh, dtype=np.float64) ** 0.25, np.float64)


def hollands_layer(rayleigh: ArrayLike) -> FloatArray:
    """Exchange across a layer of air that is lighter below, as a multiple of diffusion (PLATE-FLOW)."""
    number = np.maximum(np.asarray(rayleigh, dtype=np.float64), 1e-30)
    first = np.maximum(1.0 - plate_flow.HOLLANDS_ONSET / number, 0.0)
    second = np.maximum(np.cbrt(number / plate_flow.HOLLANDS_SECOND) - 1.0, 0.0)
    return np.asarray(1.0 + plate_flow.HOLLANDS_FIRST * first + second, dtype=np.float64)


def _outer_film_m3_s(area_mm2: float, draught: float, diffusivity: FloatArray) -> FloatArray:
    """Conductance of the room's air over a patch [m3/s]."""
    length = np.sqrt(max(area_mm2, 1e-12)) * MM
    sherwood = 8.0 / np.pi + sherwood_along_plate(draught, float(length), diffusivity)
    return np.asarray(sherwood * diffusivity * length, dtype=np.float64)


def _series(*conductances: FloatArray) -> FloatArray:
    """Conductances one behind the other; 0 where one is 0."""
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / sum(1.0 / part for part in conductances), dtype=np.float64)


def _opening_m3_s(home: Ventilation, opening: Opening, diffusivity: FloatArray) -> FloatArray:
    """An opening and the room's air over it [m3/s]."""
    bare = openings.clear_length_m(opening) * diffusivity
    patch = opening.number * opening.width_mm * opening.length_mm
    if opening.at == LID:
        left = 1.0 - home.lid_cover_fraction
        bare = bare * left
        patch = (patch if opening.length_mm and opening.open_fraction else home.lid_area_mm2) * left
    elif not opening.open_fraction:
        return np.asarray(bare, dtype=np.float64)
    return _series(bare, _outer_film_m3_s(patch, home.draught_m_s, diffusivity))


def openings_m3_s(
    home: Ventilation, room_c: ArrayLike, humidity_fraction: ArrayLike, substrate_c: ArrayLike
) -> FloatArray:
    """Conductance from the headspace to the room [m3/s]: openings, the air over them, lid gap, stack flow."""
    room, substrate = np.asarray(room_c, dtype=np.float64), np.asarray(substrate_c, dtype=np.float64)
    diffusivity = air.diffusivity_m2_s(0.5 * (room + substrate))
    low = [opening for opening in home.openings if opening.at == SIDE_LOW and opening.number]
    high = [opening for opening in home.openings if opening.at != SIDE_LOW and opening.number]
    below = sum((_opening_m3_s(home, o, diffusivity) for o in low), 0.0 * diffusivity)
    above = sum((_opening_m3_s(home, o, diffusivity) for o in high), 0.0 * diffusivity)
    leak = openings.lid_leak_length_m(home.rim_mm, home.gap_mm) * diffusivity
    uncovered = [o for o in high if o.at != LID or home.lid_cover_fraction < 1.0]
    if not (low and uncovered):
        return np.asarray(below + above + leak, dtype=np.float64)
    left = 1.0 - home.lid_cover_fraction
    scaled = [_part(o, left) if o.at == LID else o for o in uncovered]
    flow = openings.stack_flow_m3_s(
        low, scaled, home.headspace_mm, _lighter_kg_m3(room, humidity_fraction, substrate)
    )
    return np.asarray(openings.exchange_m3_s(flow, below, above) + leak, dtype=np.float64)


def _part(opening: Opening, share: float) -> Opening:
    """The uncovered share of an opening, as far as the flow of air is concerned."""
    if opening.shape == openings.HOLE:
        return replace(opening, width_mm=opening.width_mm * float(np.sqrt(share)))
    return replace(opening, length_mm=opening.length_mm * share)


def _lighter_kg_m3(room: FloatArray, humidity_fraction: ArrayLike, substrate: FloatArray) -> FloatArray:
    """How much lighter the headspace is than the room [kg/m3]: its moisture, half the substrate's warmth."""
    moister = air.vapour_density_kg_m3(substrate) - air.vapour_density_kg_m3(room, humidity_fraction)
    warmer = AIR_DENSITY_KG_M3 * 0.5 * (substrate - room) / (room + air.ZERO_C_K)
    return np.asarray(air.LIGHTER_BY * moister + warmer, dtype=np.float64)


def headspace_m3_s(home: Ventilation, room_c: ArrayLike, substrate_c: ArrayLike) -> FloatArray:
    """Conductance from the substrate's surface to the lid [m3/s]: diffusion, warmth from below, stirring."""
    room, substrate = np.asarray(room_c, dtype=np.float64), np.asarray(substrate_c, dtype=np.float64)
    diffusivity = air.diffusivity_m2_s(0.5 * (room + substrate))
    height, area = home.headspace_mm * MM, home.floor_area_mm2 * MM**2
    warmth = np.maximum(substrate - room, 0.0) / (room + air.ZERO_C_K)
    rayleigh = air.GRAVITY_M_S2 * warmth * height**3 / (KINEMATIC_VISCOSITY_M2_S * diffusivity)
    length = float(np.sqrt(area))
    stir = sherwood_along_plate(home.draught_m_s * home.open_share, length, diffusivity) / length
    return np.asarray(area * diffusivity * (hollands_layer(rayleigh) / height + stir), dtype=np.float64)


def cooling_s_m3(home: Ventilation, substrate_c: ArrayLike) -> FloatArray:
    """Resistance that evaporative cooling is worth [s/m3]: s L / (h A)."""
    slope = air.vapour_density_slope_kg_m3_k(substrate_c)
    heat = room_air.SURFACE_HEAT_W_M2_K * home.outside_area_mm2 * MM**2
    return np.asarray(slope * air.latent_heat_j_kg(substrate_c) / heat, dtype=np.float64)


def home_conductance_m3_s(
    home: Ventilation, room_c: ArrayLike, humidity_fraction: ArrayLike, substrate_c: ArrayLike | None = None
) -> FloatArray:
    """Conductance of the whole way from wet substrate to room [m3/s]; substrate as warm as the room unless
    told.

    Arrays broadcast. 0 for a sealed home. Doubt: holes 6 %, draught and gap assumed; a home's own
    weighings set its multiplier (`calibrate`).
    """
    substrate = room_c if substrate_c is None else substrate_c
    vents = openings_m3_s(home, room_c, humidity_fraction, substrate)
    head = headspace_m3_s(home, room_c, substrate)
    return _series(vents, head, 1.0 / cooling_s_m3(home, substrate) + 0.0 * vents)


def loss_g_day(
    home: Ventilation,
    room_c: ArrayLike,
    humidity_fraction: ArrayLike,
    substrate_c: ArrayLike | None = None,
    multiplier: float = 1.0,
) -> FloatArray:
    """Water a home with a wet substrate loses in a day [g]: m G (rho_s(substrate) - RH rho_s(room)).

    `multiplier` is the home's own m. Nothing condenses in: a room moister than the home gives 0.
    """
    humidity = air.checked_humidity(humidity_fraction)
    substrate = room_c if substrate_c is None else substrate_c
    drier = air.vapour_density_kg_m3(substrate) - air.vapour_density_kg_m3(room_c, humidity)
    conductance = home_conductance_m3_s(home, room_c, humidity, substrate)
    return np.asarray(multiplier * conductance * np.maximum(drier, 0.0) * 86_400e3, dtype=np.float64)
