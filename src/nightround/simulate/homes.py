"""Homes of the invented room: which there are, which an animal gets, how it is made up and dries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from nightround.foundation.quantities import quantity
from nightround.journal.kinds.surroundings import MadeUp, Opening, Watered, Weighed
from nightround.simulate.taxa import Habit

Shape = Literal["box", "cylinder", "tapered"]


@dataclass(frozen=True)
class HomeSize:
    """One size of home on the keeper's pile: inner length (or diameter), width and height [mm]."""

    shape: Shape
    length_mm: float
    width_mm: float | None
    height_mm: float


def _boxes(*sizes: tuple[float, float, float]) -> list[HomeSize]:
    return [HomeSize("box", length, width, height) for length, width, height in sizes]


LOW: Final = [
    HomeSize("cylinder", 45, None, 55),
    HomeSize("tapered", 80, None, 75),
    *_boxes((120, 120, 90), (200, 150, 120), (300, 200, 180), (400, 300, 220)),
]
TALL: Final = [
    HomeSize("cylinder", 50, None, 95),
    HomeSize("tapered", 85, None, 120),
    *_boxes((120, 120, 180), (200, 200, 300), (300, 300, 400), (400, 400, 500)),
]
DEEP: Final = [
    HomeSize("cylinder", 48, None, 95),
    HomeSize("cylinder", 70, None, 150),
    *_boxes((120, 120, 200), (200, 150, 250), (250, 250, 350), (400, 300, 400)),
]
PILES: Final[dict[Habit, list[HomeSize]]] = {
    "ground": LOW, "wanderer": TALL, "web_builder": LOW, "tree": TALL,
    "burrower": DEEP, "trapdoor": DEEP, "tube": DEEP,
}  # fmt: skip
SPANS_OF_FLOOR: Final = 2.5
DEPTH_SHARE: Final[dict[Habit, float]] = {
    "ground": 0.45, "wanderer": 0.15, "web_builder": 0.35, "tree": 0.15,
    "burrower": 0.75, "trapdoor": 0.8, "tube": 0.75,
}  # fmt: skip
MIXES: Final[dict[Habit, str]] = {
    "ground": "coir 70, sand 30", "wanderer": "coir 80, leaf litter 20", "tree": "coir 100",
    "web_builder": "coir 80, vermiculite 20", "burrower": "topsoil 50, coir 30, clay 20",
    "trapdoor": "topsoil 50, sand 20, clay 30", "tube": "topsoil 60, sand 30, clay 10",
}  # fmt: skip


def home_for(habit: Habit, span_mm: float) -> int:
    """Return the place in the habit's pile of the smallest home 2.5 spans long, else the last."""
    pile = PILES[habit]
    for place, home in enumerate(pile):
        if home.length_mm >= SPANS_OF_FLOOR * span_mm:
            return place
    return len(pile) - 1


def made_up(habit: Habit, size: HomeSize, place: str) -> MadeUp:
    """Return the body of a home as this keeper makes it up."""
    depth = round(DEPTH_SHARE[habit] * size.height_mm)
    tapered = size.shape == "tapered"
    return MadeUp(
        shape=size.shape,
        inner_length_mm=size.length_mm,
        inner_width_mm=size.width_mm,
        inner_height_mm=size.height_mm,
        base_length_mm=round(0.8 * size.length_mm) if tapered else None,
        substrate=MIXES[habit],
        depth_low_mm=depth,
        depth_high_mm=depth + (10 if size.length_mm >= 200 else 0),
        place=place,
    )


def openings(size: HomeSize, carapace_mm: float) -> list[Opening]:
    """Return its air holes: 0.7 carapace lengths wide, 0.8 to 4 mm; more on large boxes, and a mesh."""
    width = max(0.8, min(4.0, round(0.7 * carapace_mm, 1)))
    number = max(6, int(size.length_mm // 6))
    found = [
        Opening(shape="hole", number=number, width_mm=width, thickness_mm=1.0, at="lid", label="lid holes")
    ]
    if size.length_mm >= 200:
        found.append(
            Opening(
                shape="hole",
                number=number // 2,
                width_mm=width,
                thickness_mm=2.0,
                at="side_low",
                label="low row",
            )
        )
    if size.length_mm >= 300:
        found.append(
            Opening(
                shape="mesh",
                number=1,
                width_mm=80.0,
                length_mm=120.0,
                thickness_mm=0.5,
                open_fraction=0.4,
                at="lid",
                label="lid mesh",
            )
        )
    return found


def grams(value: float) -> Weighed:
    """Return a weighing to whole grams."""
    read = quantity(f"{value:.0f}", "g", "mass")
    return Weighed(value=read.value, unit=read.unit, written=read.written, written_unit=read.written_unit)


def millilitres(value: float, where: str) -> Watered:
    """Return a watering to whole millilitres."""
    read = quantity(f"{value:.0f}", "ml", "volume")
    return Watered(
        value=read.value, unit=read.unit, written=read.written, written_unit=read.written_unit, where=where
    )
