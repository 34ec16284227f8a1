"""What a new home takes: litres of each part, water to add, the mass to expect."""

from __future__ import annotations

import re
from typing import Final

from nightround.findings.water.mixes import read_mix
from nightround.findings.water.report import TARGETS
from nightround.foundation.quantities import quantity
from nightround.foundation.refusal import NotReadable
from nightround.foundation.sources import Source
from nightround.journal.kinds.surroundings import MadeUp
from nightround.reports.water import RecipeReport
from nightround.science.parameters import assumed_substrates, vessel_sizes
from nightround.science.water.predicted import drained_mm
from nightround.science.water.substrate import SUBSTRATES, curves, recipe
from nightround.science.water.vessels import (
    Fill,
    Vessel,
    catalogue,
    cup,
    substrate_litres,
    tank,
    vial,
)

_SIZED: Final = re.compile(
    r"^(vial|cup|tank)s?,?\s+(\d+(?:\.\d+)?(?:\s+(?:high|long))?)\s*(?:dram|oz|fl oz|gal|gallon)?s?$"
)
_SIDES: Final = re.compile(
    r"^(?:clear\s+)?(?:box|cage)?,?\s*([\d.]+)\s*[x×]\s*([\d.]+)\s*[x×]\s*([\d.]+)\s*(mm|cm|in|inch|\")?$"
)
_ROUND: Final = re.compile(r"^(?:cylinder|round),?\s*([\d.]+)\s*[x×]\s*([\d.]+)\s*(mm|cm|in|inch|\")?$")


def vessel_named(words: str) -> tuple[str, Vessel]:
    """A vessel of the generic catalogue or by its sizes: 'vial 20 dram', 'tank 10 gal', '30 x 20 x 20 cm'."""
    text = " ".join(words.lower().replace("fl oz", "oz").split())
    for name, vessel in catalogue().items():
        if text == name.lower().replace("fl oz", "oz"):
            return name, vessel
    sized, sides, across = _SIZED.match(text), _SIDES.match(text), _ROUND.match(text)
    if sized:
        return _sized(sized[1], sized[2])
    if sides:
        one, two, three = (quantity(each, sides[4] or "cm", "length").value for each in sides.groups()[:3])
        return words.strip(), Vessel("box", one, two, three)
    if across:
        one, two = (quantity(each, across[3] or "cm", "length").value for each in across.groups()[:2])
        return words.strip(), Vessel("cylinder", one, one, two)
    raise NotReadable(
        "a vessel such as 'vial 20 dram', 'cup 16 oz', 'tank 10 gal', '30 x 20 x 20 cm' or 'round 8 x 12 cm'",
        got=repr(words),
    )


def _sized(sort: str, size: str) -> tuple[str, Vessel]:
    if sort == "vial":
        return f"vial, {size} dram", vial(int(float(size)))
    if sort == "cup":
        return f"cup, {size} fl oz", cup(float(size))
    return f"glass tank, {size} gal", tank(size)


def made_up_as(vessel: Vessel) -> MadeUp:
    """The vessel's sizes as an entry of a home made up."""
    return MadeUp(
        shape=vessel.shape,
        inner_length_mm=vessel.length_mm,
        inner_width_mm=None if vessel.shape == "cylinder" else vessel.width_mm,
        inner_height_mm=vessel.height_mm,
        base_length_mm=vessel.base_length_mm or None,
        base_width_mm=vessel.base_width_mm or None,
    )


def recipe_report(
    vessel_words: str, substrate: str, low_mm: float, high_mm: float, *, habit: str = "unknown"
) -> RecipeReport:
    """Litres of each part, water to add and mass to expect; the bottom as damp as the habit asks."""
    name, vessel = vessel_named(vessel_words)
    mix = read_mix(substrate)
    if mix.parts is None:
        raise NotReadable(
            "a substrate such as 'coir 70, sand 30'", got=f"{substrate!r}: not known is {mix.missing}"
        )
    fill = Fill(min(low_mm, high_mm), max(low_mm, high_mm))
    litres = substrate_litres(vessel, fill)
    kept = sum(drained_mm(mix.parts, fill.mean_mm)) / fill.mean_mm
    target = curves(mix.parts).air_dry + TARGETS.get(habit, TARGETS["unknown"]) * kept
    made = recipe(mix.parts, litres, target)
    sources: list[Source] = [vessel_sizes.SOURCE, assumed_substrates.SOURCE]
    sources += [SUBSTRATES[part].saturated.source for part, _ in mix.parts]
    return RecipeReport(
        vessel=name,
        vessel_litres=vessel.litres,
        substrate_litres=litres,
        litres=made.litres,
        water_there_ml=made.water_there_g,
        water_to_add_ml=made.water_to_add_g,
        dry_g=made.dry_g,
        full_g=made.full_g,
        assumed=(
            *mix.assumed,
            "the parts as moist as they are usually bought",
            "loose substrate settles by 5 to 10 %: have a little more ready",
        ),
        sources=tuple(dict.fromkeys(f"{source.citation} ({source.grade.value})" for source in sources)),
    )
