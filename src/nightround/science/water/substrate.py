"""What a substrate does with water: holds it, passes it on, and lets vapour through where it is dry.

Seven numbers a substrate, each with its source: residual and saturated water content, van Genuchten's
alpha and n, saturated conductivity, Mualem's exponent, dry bulk density.

    S(h) = (1 + (alpha h)^n)^(-m),  m = 1 - 1/n,  h suction
    content(h) = c r + (s - c r) S,  c = 1 - ln h / ln 1e7 (h in cm): on to oven-dry at pF 7 (Fayer and
    Simmons 1995) K(h) = Ks S^l (1 - (1 - S^(1/m))^m)^2

A mix holds the mean of its parts' contents at one suction, by volume, and conducts as their geometric
mean; that its parts keep their own pores is assumed. Suctions are in mm of water, conductivities in mm/h,
contents in volume fractions.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.foundation.sources import Source
from nightround.science.parameters import (
    assumed_substrates,
    carsel1988,
    evans1996,
    peat_classes,
    peat_pots,
    vermiculite_page,
)

FloatArray = NDArray[np.float64]

# Suctions of the tables: 0.1 mm to oven-dry (pF 7).
SUCTION_MM: Final = np.logspace(-1.0, 8.0, 721)
# Air-dry: pF 6, in balance with air of about 49 % humidity.
AIR_DRY_MM: Final = 1e7
OVEN_DRY_CM: Final = 1e7


@dataclass(frozen=True)
class Graded:
    """A number and where it comes from; the grade is the source's."""

    value: float
    source: Source


@dataclass(frozen=True)
class Substrate:
    """Seven numbers. Conductivity in cm/h, alpha in 1/cm, bulk density in g/cm3."""

    name: str
    residual: Graded
    saturated: Graded
    alpha_per_cm: Graded
    n: Graded
    conductivity_cm_h: Graded
    tortuosity: Graded
    bulk_density_g_cm3: Graded

    def numbers(self) -> Iterator[tuple[str, Graded]]:
        """Name and graded value of each of the seven."""
        for field in fields(self)[1:]:
            yield field.name, getattr(self, field.name)


def _mineral(name: str, texture: str, bulk_density: Graded | None = None) -> Substrate:
    residual, saturated, alpha, n, per_day = carsel1988.SETS[texture]
    grains = carsel1988.MINERAL_GRAIN_G_CM3 * (1.0 - saturated)
    source = carsel1988.SOURCE
    return Substrate(
        name,
        Graded(residual, source),
        Graded(saturated, source),
        Graded(alpha, source),
        Graded(n, source),
        Graded(per_day / 24.0, source),
        Graded(carsel1988.TORTUOSITY, source),
        bulk_density or Graded(grains, source),
    )


def _organic(name: str, source: Source, values: tuple[float, ...], bulk_density: Graded) -> Substrate:
    saturated, alpha, n, conductivity, tortuosity = (Graded(value, source) for value in values)
    residual = Graded(0.0, source)
    return Substrate(name, residual, saturated, alpha, n, conductivity, tortuosity, bulk_density)


def _made() -> dict[str, Substrate]:
    peat, guess = peat_classes, assumed_substrates
    made = [
        _organic(
            "peat",
            peat.SOURCE,
            (peat.SATURATED, peat.ALPHA_PER_CM, peat.N, peat.CONDUCTIVITY_CM_H, peat.TORTUOSITY),
            Graded(peat_pots.BULK_DENSITY_G_CM3, peat_pots.SOURCE),
        ),
        _organic(
            "coir",
            guess.SOURCE,
            (guess.COIR_SATURATED, guess.COIR_ALPHA_PER_CM, guess.COIR_N, guess.COIR_CONDUCTIVITY_CM_H)
            + (guess.TORTUOSITY,),
            Graded(sum(evans1996.BULK_DENSITY_G_CM3) / 2.0, evans1996.SOURCE),
        ),
        _organic(
            "vermiculite",
            guess.SOURCE,
            (guess.VERMICULITE_SATURATED, guess.VERMICULITE_ALPHA_PER_CM, guess.VERMICULITE_N)
            + (guess.VERMICULITE_CONDUCTIVITY_CM_H, guess.TORTUOSITY),
            Graded(sum(vermiculite_page.BULK_DENSITY_G_CM3) / 2.0, vermiculite_page.SOURCE),
        ),
        _mineral("topsoil", "loam", Graded(guess.TOPSOIL_BULK_DENSITY_G_CM3, guess.SOURCE)),
        _mineral("loam", "loam"),
        _mineral("sandy loam", "sandy loam"),
        _mineral("loamy sand", "loamy sand"),
        _mineral("sand", "sand"),
    ]
    return {substrate.name: substrate for substrate in made}


SUBSTRATES: Final = _made()

Parts = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Curves:
    """Tables of one mix over `SUCTION_MM`, from wet to oven-dry.

    content             water content, falling
    conductivity_mm_h   falling
    potential_mm2_h     integral of the conductivity from oven-dry: a flow through a depth is its
                        difference over it
    saturated, air_dry  contents
    bulk_density_g_cm3  of the dry mix
    crust               diffusivity of vapour in the dry mix over that in air (Millington and Quirk)
    """

    content: FloatArray
    conductivity_mm_h: FloatArray
    potential_mm2_h: FloatArray
    saturated: float
    air_dry: float
    bulk_density_g_cm3: float
    crust: float

    def content_at(self, suction_mm: ArrayLike) -> FloatArray:
        """Water content at a suction [mm]."""
        log = np.log(np.clip(suction_mm, SUCTION_MM[0], SUCTION_MM[-1]))
        return np.asarray(np.interp(log, np.log(SUCTION_MM), self.content), dtype=np.float64)

    def suction_mm_at(self, content: ArrayLike) -> FloatArray:
        """Suction [mm] at a water content, the wet end at 0.1 mm."""
        log = np.interp(np.asarray(content, dtype=np.float64), self.content[::-1], np.log(SUCTION_MM)[::-1])
        return np.asarray(np.exp(log), dtype=np.float64)

    def potential_at(self, content: ArrayLike) -> FloatArray:
        """Potential of flow [mm2/h] at a water content."""
        found = np.interp(
            np.asarray(content, dtype=np.float64), self.content[::-1], self.potential_mm2_h[::-1]
        )
        return np.asarray(found, dtype=np.float64)

    def drained_content(self, height_mm: float, suction_at_foot_mm: float = 0.0) -> float:
        """Mean content of a column in balance with gravity, with a suction at its foot (0: just drained)."""
        heights = (np.arange(200) + 0.5) / 200.0 * height_mm
        return float(self.content_at(suction_at_foot_mm + heights).mean())


def _one_curve(substrate: Substrate) -> tuple[FloatArray, FloatArray]:
    """Content and log of conductivity [mm/h] of one substrate over `SUCTION_MM`."""
    centimetres, n = SUCTION_MM / 10.0, substrate.n.value
    m = 1.0 - 1.0 / n
    filled = (1.0 + (substrate.alpha_per_cm.value * centimetres) ** n) ** -m
    drier = np.clip(1.0 - np.log(np.maximum(centimetres, 1.0)) / np.log(OVEN_DRY_CM), 0.0, 1.0)
    held = drier * substrate.residual.value
    content = held + (substrate.saturated.value - held) * filled
    # 1 - (1 - S^(1/m))^m, kept exact where S is small.
    inner = -np.expm1(m * np.log1p(-np.minimum(filled ** (1.0 / m), 1.0 - 1e-15)))
    log_saturated = np.log(10.0 * substrate.conductivity_cm_h.value)
    log_k = log_saturated + substrate.tortuosity.value * np.log(filled) + 2.0 * np.log(inner)
    return content, log_k


def checked_parts(parts: Parts) -> Parts:
    """The parts of a mix, in volume shares that add up to 1; refuses unknown names and shares under 0."""
    total = sum(share for _, share in parts)
    for name, share in parts:
        if name not in SUBSTRATES:
            raise NoSuchThing(f"one of {', '.join(SUBSTRATES)} was wanted", got=name)
        if not share >= 0.0:
            raise Refusal("shares of 0 or more were wanted", got=f"{share:g} {name}")
    if not total > 0.0:
        raise Refusal("a mix of at least one substrate was wanted", got="none")
    return tuple((name, share / total) for name, share in parts)


@lru_cache(maxsize=512)
def curves(parts: Parts) -> Curves:
    """Tables of a mix of substrates given as (name, share of the volume)."""
    checked = checked_parts(parts)
    content, log_k = np.zeros_like(SUCTION_MM), np.zeros_like(SUCTION_MM)
    for name, share in checked:
        own_content, own_log_k = _one_curve(SUBSTRATES[name])
        content, log_k = content + share * own_content, log_k + share * own_log_k
    conductivity = np.exp(log_k)
    steps = 0.5 * (conductivity[1:] + conductivity[:-1]) * np.diff(SUCTION_MM)
    potential = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
    saturated = sum(share * SUBSTRATES[name].saturated.value for name, share in checked)
    air_dry = float(np.interp(np.log(AIR_DRY_MM), np.log(SUCTION_MM), content))
    return Curves(
        content,
        conductivity,
        potential,
        saturated,
        air_dry,
        sum(share * SUBSTRATES[name].bulk_density_g_cm3.value for name, share in checked),
        vapour_through(saturated, saturated - air_dry),
    )


def vapour_through(porosity: float, air_filled: float) -> float:
    """Diffusivity of vapour in a porous medium over that in free air: a^(10/3) / porosity^2.

    Millington and Quirk 1961 (from memory); a volume of air in the medium.
    """
    return float(air_filled ** (10.0 / 3.0) / porosity**2)


def gravity_length_mm(alpha_per_cm: float, n: float) -> float:
    """Depth over which capillary flow reaches a drying surface against gravity [mm]: (1+m)^(1+m) / (alpha
    (n-1) m^m).

    Lehmann, Assouline and Or 2008, by the tangent at the inflection of van Genuchten's curve.
    """
    m = 1.0 - 1.0 / n
    return float(10.0 * (1.0 + m) ** (1.0 + m) / (alpha_per_cm * (n - 1.0) * m**m))


@dataclass(frozen=True)
class Recipe:
    """What a new home takes.

    litres           of each component, loose
    dry_g            of the components without any water
    water_there_g    already in them
    water_to_add_g   millilitres to pour (a gram a millilitre)
    full_g           substrate and water together: what the scale should show above the empty vessel
    """

    litres: tuple[tuple[str, float], ...]
    dry_g: float
    water_there_g: float
    water_to_add_g: float
    full_g: float


def recipe(parts: Parts, litres: float, target_content: float, content_now: float | None = None) -> Recipe:
    """Litres of each component, water to add, and mass to expect, for so many litres of substrate.

    `content_now` is the water already in the mix [volume fraction]; unless told, what each part is usually
    bought with (common practice, no source). Settling is not counted: 5-10 % of loose organic substrate goes.
    """
    checked, tables = checked_parts(parts), curves(checked_parts(parts))
    if not litres > 0.0 or not 0.0 <= target_content <= tables.saturated:
        raise Refusal(
            f"litres above 0 and a content between 0 and {tables.saturated:.2f} were wanted",
            got=f"{litres:g} L and {target_content:g}",
        )
    usual = assumed_substrates.AS_BOUGHT
    guessed = sum(share * usual.get(name, usual["topsoil"]) for name, share in checked)
    there = 1000.0 * litres * (guessed if content_now is None else content_now)
    dry = 1000.0 * litres * tables.bulk_density_g_cm3
    add = max(0.0, 1000.0 * litres * target_content - there)
    return Recipe(
        tuple((name, share * litres) for name, share in checked), dry, there, add, dry + there + add
    )
