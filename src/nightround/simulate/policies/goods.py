"""What can be bought in a trial room: homes and packs of feeders, at invented prices; and how feeders grow.

Days to maturity of the field cricket and of the roach are published figures (named beside them); deaths,
adult lengths and prices are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi
from typing import Final

from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.simulate.homes import DEEP, LOW, MIXES, TALL, HomeSize
from nightround.simulate.taxa import Habit

CURRENCY: Final = "EUR"
SHOP: Final = "a shop (invented)"
# Homes shorter than the first number are sold with air holes of the second.
GAPS_MM: Final = ((60, 0.6), (100, 1.0), (150, 1.5), (10**6, 2.5))


@dataclass(frozen=True)
class Vessel:
    """A home as sold: its inner size, the width of its air holes [mm] and its price."""

    name: str
    size: HomeSize
    gap_mm: float
    price: float

    @property
    def litres(self) -> float:
        """Inner volume."""
        size = self.size
        floor = size.length_mm * (size.width_mm or size.length_mm * pi / 4)
        return floor * size.height_mm / 1e6

    @property
    def floor_mm(self) -> float:
        """Shorter inner side of the floor."""
        length = self.size.length_mm * (0.8 if self.size.shape == "tapered" else 1.0)
        return min(length, self.size.width_mm or length)

    def made_up(self, habit: Habit, depth_mm: float, place: str) -> MadeUp:
        """The body of a home made up in it."""
        size = self.size
        return MadeUp(
            shape=size.shape, inner_length_mm=size.length_mm, inner_width_mm=size.width_mm,
            inner_height_mm=size.height_mm,
            base_length_mm=round(0.8 * size.length_mm) if size.shape == "tapered" else None,
            substrate=MIXES[habit], depth_low_mm=round(depth_mm, 1), depth_high_mm=round(depth_mm, 1),
            place=place,
        )  # fmt: skip

    def empty(self) -> MadeUp:
        """The body of one that stands empty: its sizes."""
        size = self.size
        return MadeUp(
            shape=size.shape, inner_length_mm=size.length_mm, inner_width_mm=size.width_mm,
            inner_height_mm=size.height_mm,
            base_length_mm=round(0.8 * size.length_mm) if size.shape == "tapered" else None,
        )  # fmt: skip

    def opening(self) -> Opening:
        """Its air holes."""
        return Opening(shape="hole", number=24, width_mm=self.gap_mm, thickness_mm=1.0, at="lid")

    def supply(self) -> Supply:
        """The shop's offer of it."""
        size = self.size
        return Supply(
            item="home", name=self.name, shape=size.shape, inner_length_mm=size.length_mm,
            inner_width_mm=size.width_mm, inner_height_mm=size.height_mm,
            base_length_mm=round(0.8 * size.length_mm) if size.shape == "tapered" else None,
            gap_mm=self.gap_mm, pack=1, price=f"{self.price:.2f}", currency=CURRENCY, lead_days=3,
            delivery=("Wed",), from_whom=SHOP,
        )  # fmt: skip


def _vessel(pile: str, size: HomeSize) -> Vessel:
    floor = size.length_mm * (size.width_mm or size.length_mm * pi / 4)
    litres = floor * size.height_mm / 1e6
    gap = next(width for upto, width in GAPS_MM if size.length_mm < upto)
    return Vessel(f"{pile} {size.length_mm:g}", size, gap, round(0.5 + 2.4 * litres**0.7, 2))


def _pile(word: str, sizes: list[HomeSize]) -> tuple[Vessel, ...]:
    return tuple(_vessel(word, size) for size in sizes)


PILE_OF: Final[dict[str, tuple[Vessel, ...]]] = {
    "low": _pile("low", LOW), "tall": _pile("tall", TALL), "deep": _pile("deep", DEEP),
}  # fmt: skip
PILE_OF_HABIT: Final[dict[Habit, str]] = {
    "ground": "low", "wanderer": "tall", "web_builder": "low", "tree": "tall", "burrower": "deep",
    "trapdoor": "deep", "tube": "deep",
}  # fmt: skip
VESSELS: Final[dict[str, Vessel]] = {vessel.name: vessel for pile in PILE_OF.values() for vessel in pile}


@dataclass(frozen=True)
class TrueFeeder:
    """How a feeder truly grows: hatch to adult in thermal time, then an adult life; deaths a day.

    threshold_c, degree_days   of development from hatching to adult
    """

    name: str
    hatch_mm: float
    adult_mm: float
    threshold_c: float
    degree_days: float
    deaths_a_day: float
    adult_days: int

    def share_at(self, length_mm: float) -> float:
        """Share of development [0, 1] at a length; growth is by a constant factor per degree-day."""
        if self.hatch_mm >= self.adult_mm:
            return 1.0
        return min(1.0, max(0.0, log(length_mm / self.hatch_mm) / log(self.adult_mm / self.hatch_mm)))

    def length_at(self, share: float) -> float:
        """Length [mm] at a share of development."""
        return float(self.hatch_mm * (self.adult_mm / self.hatch_mm) ** min(share, 1.0))


FEEDERS: Final[dict[str, TrueFeeder]] = {
    # Adult in the culture; flies of 2.6 mm (CHEN2014) live about three weeks (invented).
    "fruit fly": TrueFeeder("fruit fly", 2.6, 2.6, 10.0, 1.0, 0.03, 24),
    # Gryllus bimaculatus nymphs: 555.6 degree-days over 16.2 C (published); lengths and deaths invented.
    "field cricket": TrueFeeder("field cricket", 2.5, 25.0, 16.2, 555.6, 0.018, 28),
    # Blatta lateralis: 222 days at 26.7 C (published); the threshold of 14 C is invented.
    "lateralis roach": TrueFeeder("lateralis roach", 2.0, 28.0, 14.0, 222 * 12.7, 0.003, 150),
}


@dataclass(frozen=True)
class Pack:
    """A pack of feeders as sold: kind, length of one [mm], how many, price."""

    name: str
    feeder: str
    low_mm: float
    high_mm: float
    number: int
    price: float

    @property
    def length_mm(self) -> float:
        """Middle length."""
        return (self.low_mm + self.high_mm) / 2

    def supply(self) -> Supply:
        """The shop's offer of it."""
        return Supply(
            item="feeder", name=self.name, feeder=self.feeder, size_low_mm=self.low_mm,
            size_high_mm=self.high_mm, pack=self.number, price=f"{self.price:.2f}", currency=CURRENCY,
            lead_days=LEAD_DAYS, delivery=("Wed",), from_whom=SHOP,
        )  # fmt: skip


LEAD_DAYS: Final = 3
"""Ordered on Sunday, delivered on Wednesday."""
PACKS: Final[dict[str, Pack]] = {
    pack.name: pack
    for pack in (
        Pack("fruit flies", "fruit fly", 2.5, 2.7, 50, 3.50),
        Pack("crickets 3 mm", "field cricket", 2.5, 3.5, 50, 2.80),
        Pack("crickets 5 mm", "field cricket", 4.5, 5.5, 40, 3.00),
        Pack("crickets 8 mm", "field cricket", 7.0, 9.0, 30, 3.20),
        Pack("crickets 12 mm", "field cricket", 11.0, 13.0, 25, 3.40),
        Pack("crickets 18 mm", "field cricket", 17.0, 19.0, 20, 3.60),
        Pack("roaches 9 mm", "lateralis roach", 8.0, 10.0, 25, 4.50),
        Pack("roaches 16 mm", "lateralis roach", 15.0, 17.0, 20, 5.00),
    )
}
