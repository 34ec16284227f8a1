"""Entries about what can be bought for the room: homes and feeders, from whom, at what price."""

from __future__ import annotations

from typing import Literal

from nightround.journal.kinds.base import Body, Kind

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class Supply(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Something that a seller offers. The same item, name and seller again takes the earlier word's place.

    inner sizes              of a home, as in `made_up`; a cylinder has `inner_length_mm` as its diameter
    gap_mm                   widest opening of a home as it is sold, 0 when it has none
    size_low_mm, size_high_mm   length of one feeder, as sold
    pack                     how many are in a pack
    price, currency          of one pack, a decimal number as text and the currency as written
    lead_days                days from order to delivery
    delivery                 weekdays on which it is delivered, such as Tue; empty: unknown
    gone                     yes: no longer offered from this day on
    """

    item: Literal["home", "feeder"]
    name: str
    feeder: str = ""
    shape: Literal["box", "cylinder", "tapered"] | None = None
    inner_length_mm: float | None = None
    inner_width_mm: float | None = None
    inner_height_mm: float | None = None
    base_length_mm: float | None = None
    base_width_mm: float | None = None
    gap_mm: float | None = None
    size_low_mm: float | None = None
    size_high_mm: float | None = None
    pack: int | None = None
    price: str = ""
    currency: str = ""
    lead_days: int | None = None
    delivery: tuple[str, ...] = ()
    from_whom: str = ""
    gone: bool | None = None


KINDS: tuple[Kind, ...] = (Kind("supply", Supply, ("room",), "can be bought", "name", "pack"),)
