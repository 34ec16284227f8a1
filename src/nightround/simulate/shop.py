"""What an invented shop offers the demo room: feeders and homes, with packs and prices nobody ever asked."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, Final

from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM
from nightround.journal.kinds.supplies import Supply
from nightround.simulate.book import Book
from nightround.simulate.climate import RoomClimate, day_at

SHOP: Final = "the invented feeder barn"
LISTED_DAYS_AGO: Final = 40

_FEEDERS: Final[tuple[dict[str, Any], ...]] = (
    {"name": "pinheads, a cup", "feeder": "cricket", "size_low_mm": 2.0, "size_high_mm": 3.0, "pack": 200,
     "price": "4.80"},
    {"name": "crickets, small", "feeder": "cricket", "size_low_mm": 5.0, "size_high_mm": 7.0, "pack": 100,
     "price": "3.60"},
    {"name": "crickets, half grown", "feeder": "cricket", "size_low_mm": 11.0, "size_high_mm": 13.0,
     "pack": 50, "price": "3.40"},
    {"name": "crickets, large", "feeder": "cricket", "size_low_mm": 18.0, "size_high_mm": 21.0, "pack": 30,
     "price": "3.20"},
    {"name": "roaches, small", "feeder": "lateralis roach", "size_low_mm": 3.0, "size_high_mm": 5.0,
     "pack": 100, "price": "4.20"},
    {"name": "flies, flightless, a tub", "feeder": "fruit fly", "size_low_mm": 2.5, "size_high_mm": 2.6,
     "pack": 150},
)  # fmt: skip
"""The tub of flies has no price on purpose: an unknown price is in no sum."""

_HOMES: Final[tuple[dict[str, Any], ...]] = (
    {"name": "vial 40 dram", "shape": "cylinder", "inner_length_mm": 47.0, "inner_height_mm": 85.0,
     "gap_mm": 1.0, "price": "0.90"},
    {"name": "cup 16 fl oz", "shape": "cylinder", "inner_length_mm": 110.0, "inner_height_mm": 75.0,
     "gap_mm": 1.5, "price": "1.20"},
    {"name": "clear box 20 cm high", "shape": "box", "inner_length_mm": 190.0, "inner_width_mm": 230.0,
     "inner_height_mm": 230.0, "gap_mm": 2.0, "price": "7.50"},
    {"name": "glass box 8 x 15 x 10 in", "shape": "box", "inner_length_mm": 381.0, "inner_width_mm": 203.0,
     "inner_height_mm": 254.0, "gap_mm": 2.0, "price": "19.00"},
    {"name": "glass cube 30 cm", "shape": "box", "inner_length_mm": 305.0, "inner_width_mm": 305.0,
     "inner_height_mm": 305.0, "gap_mm": 2.0, "price": "34.00"},
)  # fmt: skip


def write_supplies(book: Book, climate: RoomClimate, kept: int) -> None:
    """Write down, some weeks before the last evening, what the shop offers. No dice are thrown."""
    day = day_at(climate, max(kept - LISTED_DAYS_AGO, 0))
    common: dict[str, Any] = {"from_whom": SHOP, "currency": "EUR", "lead_days": 2, "note": "Invented."}
    days = ("Tue", "Wed", "Thu")
    bodies = [Supply(item="feeder", delivery=days, **common, **each) for each in _FEEDERS]
    bodies += [Supply(item="home", pack=1, **common, **each) for each in _HOMES]
    moment = book.local(day, 16, 45)
    for minute, body in enumerate(bodies):
        book.write(moment + timedelta(minutes=minute), ROOM, body, on_day(day), device="laptop")
