"""Entries about batches, homes, places and the larder."""

from __future__ import annotations

from math import isfinite
from typing import Literal

from nightround.journal.kinds.base import Amount, Body, Kind

Felt = Literal["dry", "damp", "wet"]
Statistic = Literal["mean", "min", "max", "reading"]


class BatchBegun(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A batch of n spiderlings begins: from a sac of this room or from somebody."""

    taxon: str = ""
    number: int | None = None
    source: str = ""
    hatched: str = ""
    place: str = ""
    home: str = ""


class BatchCounted(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A batch was counted: how many were there, alive and dead, as far as looked for."""

    living: int | None = None
    dead: int | None = None
    left: int | None = None


class MadeUp(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A home was made up. All inner sizes; a cylinder has `inner_length_mm` as its diameter."""

    shape: Literal["box", "cylinder", "tapered"] | None = None
    inner_length_mm: float | None = None
    inner_width_mm: float | None = None
    inner_height_mm: float | None = None
    base_length_mm: float | None = None
    base_width_mm: float | None = None
    lid_cover_fraction: float | None = None
    substrate: str = ""
    depth_low_mm: float | None = None
    depth_high_mm: float | None = None
    place: str = ""


class Opening(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """An opening of a home as it is from now on; number 0 means closed."""

    shape: Literal["hole", "slot", "mesh", "perforated"] = "hole"
    number: int | None = None
    width_mm: float | None = None
    length_mm: float | None = None
    thickness_mm: float | None = None
    open_fraction: float | None = None
    at: Literal["lid", "side_high", "side_low"] | None = None
    label: str = ""


class LidCover(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """How much of the lid's opening is covered from now on, as a fraction."""

    fraction: float | None = None


class Watered(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Water was poured: millilitres and where (side, corner, dish, all over)."""

    where: str = ""


class Misted(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Misted; an amount when known."""


class Weighed(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """The whole home was weighed."""


class MoistureFelt(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """How the substrate felt at the surface and at the bottom."""

    surface: Felt | None = None
    bottom: Felt | None = None


class Dish(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A drinking dish was filled, or found dry."""

    state: Literal["filled", "found_dry"] = "filled"


class Trouble(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Mould, mites or a flood in a home."""

    what: Literal["mould", "mites", "flooded"] = "mould"


class Cleaned(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A home was cleaned."""


class PlaceSetUp(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A room or shelf: its position in the walk and what it stands in."""

    sort: Literal["room", "shelf"] | None = None
    position: int | None = None
    inside: str = ""


class Reading(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Temperature and humidity at a place; a reading dated by a day alone is that day's mean."""

    temperature_c: float | None = None
    humidity_percent: float | None = None
    statistic: Statistic = "mean"
    written: str = ""
    file: str = ""


class Logged(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A room day of a logger's file at a place: means of its hours from the turn of the day on.

    hours_c, hours_percent   numbers in a row, '-' where nothing was read (23 to 25 of them)
    low_c, high_c            lowest and highest single reading
    readings                 how many there were
    sha256                   first 16 digits of the file's digest
    left_out                 readings of the day that no room has, left out of all others
    """

    file: str = ""
    sha256: str = ""
    hours_c: str = ""
    hours_percent: str = ""
    low_c: float | None = None
    high_c: float | None = None
    readings: int | None = None
    left_out: int | None = None


def hours_of(text: str) -> list[float | None]:
    """Return the hours of a logged day as numbers; what is none was not read."""
    return [_hour(each) for each in text.split()]


def _hour(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) else None


class Expected(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What a place is expected to be on a day to come, by a plan or a weather forecast."""

    temperature_c: float | None = None
    humidity_percent: float | None = None
    statistic: Statistic = "mean"


class Heat(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Heating failed or was restored."""

    state: Literal["failed", "restored"] = "failed"


class LotBegun(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A lot of feeders was bought, or hatched here; `started`: a culture was set up, they come later."""

    how: Literal["bought", "hatched", "started"] = "bought"
    feeder: str = ""
    size_mm: float | None = None
    number: int | None = None
    price: str = ""
    from_whom: str = ""


class LotChanged(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A lot was counted (how many are there), culled or died off (how many went), or finished."""

    what: Literal["counted", "culled", "died_off", "finished"] = "counted"
    number: int | None = None
    size_mm: float | None = None


KINDS: tuple[Kind, ...] = (
    Kind("batch_begun", BatchBegun, ("batch",), "batch begun", "taxon", "number"),
    Kind("batch_counted", BatchCounted, ("batch",), "batch counted", value="living"),
    Kind("made_up", MadeUp, ("home",), "home made up", item="shape"),
    Kind("opening", Opening, ("home",), "opening changed", "shape", "number"),
    Kind("lid_cover", LidCover, ("home",), "lid cover changed", value="fraction"),
    Kind("watered", Watered, ("animal", "batch", "home"), "watered", "where", "value", dimension="volume"),
    Kind("misted", Misted, ("animal", "batch", "home"), "misted", "", "value", dimension="volume"),
    Kind("weighed", Weighed, ("home",), "home weighed", "", "value", dimension="mass"),
    Kind("moisture_felt", MoistureFelt, ("animal", "batch", "home"), "moisture felt", item="surface"),
    Kind("dish", Dish, ("animal", "batch", "home"), "dish", "state", "value", dimension="volume"),
    Kind("trouble", Trouble, ("home", "animal"), "trouble in a home", item="what"),
    Kind("cleaned", Cleaned, ("home", "animal"), "home cleaned"),
    Kind("place_set_up", PlaceSetUp, ("place",), "place set up", "sort", "position"),
    Kind("reading", Reading, ("place",), "climate read", value="temperature_c"),
    Kind("logged", Logged, ("place",), "logger read", item="file", value="readings"),
    Kind("expected", Expected, ("place",), "climate expected", value="temperature_c"),
    Kind("heat", Heat, ("place",), "heating", item="state"),
    Kind("lot_begun", LotBegun, ("lot",), "feeders came", "feeder", "number"),
    Kind("lot_changed", LotChanged, ("lot",), "feeders changed", "what", "number"),
)
