"""A home as the record describes it, in the terms of the physics, or what is missing, in words.

Unknown is never zero: a home without openings on record is not sealed, it is unknown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from nightround.findings.water.mixes import read_mix
from nightround.foundation.quantities import both
from nightround.foundation.refusal import Refusal
from nightround.journal.kinds.surroundings import MadeUp
from nightround.journal.kinds.surroundings import Opening as OpeningEntry
from nightround.science.parameters import room_air
from nightround.science.water.openings import MESH, PERFORATED, Opening, Position
from nightround.science.water.substrate import Parts
from nightround.science.water.ventilation import Ventilation
from nightround.science.water.vessels import CYLINDER, TAPERED, Fill, Vessel, ends_mm

# Where nobody noted it (common practice, no source); said beside the figures.
WALL_MM: Final = 2.0
PERFORATED_HOLE_MM: Final = 3.0
PERFORATED_SHARE: Final = 0.3
Openings = Mapping[tuple[str, ...], OpeningEntry]


@dataclass(frozen=True)
class Filling:
    """A home as made up: vessel, fill and substrate; None where `missing` says what is not on record."""

    vessel: Vessel | None
    fill: Fill | None
    parts: Parts | None
    assumed: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def ends(self) -> tuple[tuple[float, float], ...]:
        """Columns of a whole filling: (share of the area, depth [mm])."""
        return ends_mm(self.fill) if self.fill else ()

    @property
    def area_mm2(self) -> float:
        """Area of the substrate's surface at its mean depth."""
        return self.vessel.area_at(self.fill.mean_mm) if self.vessel and self.fill else 0.0


def filling_of(body: MadeUp | None) -> Filling:
    """Vessel, fill and substrate of a home as it was made up."""
    if body is None:
        return Filling(None, None, None, (), ("its size, openings and substrate",))
    vessel, rounded, missing = _vessel(body)
    mix = read_mix(body.substrate)
    fill, no_fill = _fill(body, vessel)
    lacking = [word for word in (missing, no_fill, mix.missing) if word]
    return Filling(vessel, fill, mix.parts, (*rounded, *mix.assumed), tuple(lacking))


def _vessel(body: MadeUp) -> tuple[Vessel | None, tuple[str, ...], str]:
    """The vessel, what was assumed of it, and what is missing."""
    length, width, height = body.inner_length_mm, body.inner_width_mm, body.inner_height_mm
    if length is None or height is None:
        return None, (), "its inner size"
    try:
        if body.shape == CYLINDER:
            return Vessel("cylinder", length, length, height), (), ""
        if body.shape == TAPERED:
            base = body.base_length_mm
            if base is None:
                return None, (), "the size of its base"
            if width is None:
                # Round tubs have one measure: their mean diameter stands for them.
                mean = 0.5 * (length + base)
                return Vessel("cylinder", mean, mean, height), ("a round tub as wide as in its middle",), ""
            narrow = body.base_width_mm if body.base_width_mm is not None else base * width / length
            return Vessel("tapered", length, width, height, base, narrow), (), ""
        if width is None:
            return None, (), "its inner width"
        return Vessel("box", length, width, height), (), ""
    except Refusal as refused:
        return None, (), f"inner sizes that can be: {refused.wanted}"


def _fill(body: MadeUp, vessel: Vessel | None) -> tuple[Fill | None, str]:
    low, high = body.depth_low_mm, body.depth_high_mm
    low = high if low is None else low
    high = low if high is None else high
    if low is None or high is None:
        return None, "how deep the substrate is"
    low, high = min(low, high), max(low, high)
    if low < 3.0 or high > 1000.0:
        return None, "a depth of substrate from 3 mm to 1 m"
    if vessel is not None and high >= vessel.height_mm:
        return None, "a depth of substrate under the home's inner height"
    return Fill(low, high), ""


def ventilation_of(
    filling: Filling, openings: Openings | None, lid_cover: float | None
) -> tuple[Ventilation | None, tuple[str, ...], tuple[str, ...]]:
    """The home as vapour sees it, what was assumed, and what is missing.

    openings   by their key; None: none were ever recorded, so nothing is known of them
    """
    if filling.vessel is None or filling.fill is None:
        return None, (), ()
    if openings is None:
        return None, (), ("which openings it has",)
    found, assumed, missing = [], [], []
    for entry in openings.values():
        made, words, lack = _opening(entry)
        assumed += words
        missing += lack
        found += [made] if made else []
    if missing:
        return None, (), tuple(dict.fromkeys(missing))
    vessel, fill = filling.vessel, filling.fill
    for place, area in (("lid", vessel.area_at(vessel.height_mm)), ("side", vessel.outside_area_mm2)):
        if sum(_area_mm2(one) for one in found if one.at.startswith(place)) > area:
            return None, (), (f"openings that fit its {place}: those on record are larger than it",)
    try:
        whole = Ventilation(
            openings=tuple(found),
            lid_area_mm2=vessel.area_at(vessel.height_mm),
            floor_area_mm2=filling.area_mm2,
            headspace_mm=vessel.height_mm - fill.mean_mm,
            outside_area_mm2=vessel.outside_area_mm2,
            lid_cover_fraction=lid_cover or 0.0,
            rim_mm=vessel.rim_mm,
        )
    except Refusal as refused:
        return None, (), (f"openings that can be ({refused.wanted}; on record: {refused.got})",)
    return whole, tuple(dict.fromkeys(assumed)), ()


def _area_mm2(opening: Opening) -> float:
    """Area that openings take up in the wall."""
    if opening.shape == "hole":
        return opening.number * math.pi * opening.width_mm**2 / 4.0
    return opening.number * opening.width_mm * opening.length_mm


def _opening(entry: OpeningEntry) -> tuple[Opening | None, list[str], list[str]]:
    """One opening of the record, what was assumed of it, what is missing."""
    panel = entry.shape in (MESH, PERFORATED)
    number = 1 if entry.number is None and panel else entry.number
    if number is None:
        return None, [], [f"how many {entry.shape}s it has"]
    if entry.width_mm is None or (entry.shape != "hole" and entry.length_mm is None):
        return None, [], [f"how large its {entry.label or entry.shape} is"]
    assumed = []
    usual_mm = room_air.MESH_THICKNESS_MM if entry.shape == MESH else WALL_MM
    if entry.thickness_mm is None:
        assumed.append(f"{entry.shape} in a wall of {usual_mm:g} mm")
    share = entry.open_fraction
    if panel and not share:
        share = room_air.MESH_OPEN_FRACTION if entry.shape == MESH else PERFORATED_SHARE
        assumed.append(f"{share:.0%} of the {entry.shape} open")
    aperture = PERFORATED_HOLE_MM if entry.shape == PERFORATED else room_air.MESH_APERTURE_MM
    if panel:
        assumed.append(f"{entry.shape} of {aperture:g} mm")
    at: Position = entry.at or "lid"
    try:
        made = Opening(
            entry.shape, number, entry.width_mm, entry.length_mm or 0.0,
            usual_mm if entry.thickness_mm is None else entry.thickness_mm, aperture, share or 0.0, at,
        )  # fmt: skip
    except Refusal as refused:
        return None, [], [f"openings that can be: {refused.wanted}"]
    return made, assumed, []


# ---- words ---------------------------------------------------------------------------------------------


def vessel_words(body: MadeUp | None) -> str:
    """The vessel in words: '30 × 20 × 20 cm box'; '' when its size is not on record."""
    if body is None or body.inner_length_mm is None:
        return ""
    if body.shape == CYLINDER or body.inner_width_mm is None:
        round_it = "cylinder" if body.shape == CYLINDER else "tub"
        across = f"{both(body.inner_length_mm, 'mm')} across"
        tall = f", {both(body.inner_height_mm, 'mm')} high" if body.inner_height_mm is not None else ""
        return f"{round_it} {across}{tall}"
    sizes = (body.inner_length_mm, body.inner_width_mm, body.inner_height_mm)
    known = [size for size in sizes if size is not None]
    centimetres = " × ".join(f"{size / 10:.3g}" for size in known)
    inches = " × ".join(f"{size / 25.4:.3g}" for size in known)
    return f"{body.shape or 'box'} {centimetres} cm ({inches} in)"


def openings_words(openings: Openings | None, lid_cover: float | None) -> str:
    """The openings in words; '' when none were ever recorded."""
    if openings is None:
        return ""
    told = [_opening_words(entry) for entry in openings.values()] or ["closed"]
    cover = f"; {lid_cover:.0%} of the lid covered" if lid_cover else ""
    return ", ".join(told) + cover


AT_WORDS: Final = {"lid": "in the lid", "side_high": "high in the side", "side_low": "low in the side"}


def _opening_words(entry: OpeningEntry) -> str:
    where = f" {AT_WORDS[entry.at]}" if entry.at else ""
    if entry.shape in (MESH, PERFORATED):
        size = [f"{side / 10:.3g}" for side in (entry.width_mm, entry.length_mm) if side is not None]
        return f"{entry.shape} {' × '.join(size)} cm{where}"
    count = "" if entry.number is None else f"{entry.number} "
    width = "" if entry.width_mm is None else f" of {entry.width_mm:g} mm"
    return f"{count}{entry.shape}{'' if entry.number == 1 else 's'}{width}{where}"


def substrate_words(body: MadeUp | None) -> str:
    """The substrate and its depth in words."""
    if body is None:
        return ""
    depths = sorted({depth for depth in (body.depth_low_mm, body.depth_high_mm) if depth is not None})
    deep = " to ".join(both(depth, "mm") for depth in depths)
    return ", ".join(part for part in (body.substrate, f"{deep} deep" if deep else "") if part)
