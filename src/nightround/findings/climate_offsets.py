"""Shelf offsets in words, and what unread places were by way of the others."""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np

from nightround.findings.climate_tables import RoomTable
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both_degrees
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.reports.climate import ShelfOffset
from nightround.science.climate.offsets import Offset, offsets, unread
from nightround.science.thermal import FloatArray

METHOD: Final = (
    "Shelf offsets: place = room of the day + offset (+ a yearly wave once common days cover a year) + "
    "errors that remember from day to day; days on which both were read; least squares, memory averaged over"
)
ASSUMED: Final = (
    "What two loggers would read differently side by side is part of an offset: lay them together for a day "
    "to know it.",
    "An offset is taken to stay as it is until something is moved; a heater that runs only in winter makes "
    "it swing.",
)
LEVEL: Final = 0.95
FEW_DAYS: Final = 60


def room_offsets(table: RoomTable) -> tuple[tuple[ShelfOffset, ...], FloatArray, FloatArray]:
    """Return the offsets of a room's places, and mean and sd of their unread days [P, T] as far as told."""
    if sum(bool(np.isfinite(row).any()) for row in table.mean) < 2:
        nothing = np.full(table.mean.shape, np.nan)
        return (), nothing, nothing
    found = offsets(table.first_day, table.mean, table.reference)
    mean, sd = unread(table.first_day, table.mean, found, table.reference)
    told = tuple(
        _told(table, row, offset, int(np.isfinite(mean[row]).sum()))
        for row, offset in enumerate(found)
        if offset is not None
    )
    return told, mean, sd


def _told(table: RoomTable, row: int, offset: Offset, estimated: int) -> ShelfOffset:
    against = "" if table.reference is None else table.names[table.reference]
    method = METHOD if offset.direct else f"{METHOD}; by way of the other places"
    value = _estimate((offset.value, offset.low, offset.high), offset.days, method)
    winter, summer = (
        None if each is None else _estimate(each, offset.days, method)
        for each in (offset.winter, offset.summer)
    )
    return ShelfOffset(
        place=table.names[row],
        against=against,
        offset=value,
        winter=winter,
        summer=summer,
        swings=offset.swings,
        direct=offset.direct,
        first=date.fromordinal(offset.first_day),
        last=date.fromordinal(offset.last_day),
        day_sd_c=offset.error_sd,
        estimated_days=estimated,
        words=_words(table.names[row], against, value, winter, summer, offset),
    )


def _estimate(told: tuple[float, float, float], days: int, method: str) -> Estimate:
    return Estimate(*told, "C", 0, days, method, LEVEL, (OWN_RECORDS,))


def _words(
    place: str,
    against: str,
    value: Estimate,
    winter: Estimate | None,
    summer: Estimate | None,
    offset: Offset,
) -> str:
    than = against or "the mean of the places"
    if value.low <= 0.0 <= value.high:
        said = f"{place} is not surely warmer or colder than {than}"
    else:
        said = f"{place} is {'warmer' if value.value > 0 else 'colder'} than {than} by "
        said += both_degrees(abs(value.value))
    low, high = sorted((value.low, value.high))
    said += f" (95 times in 100 {low:+.2f} to {high:+.2f} °C; {counted(offset.days, 'common day')}"
    said += ")" if offset.direct else ", by way of the other places)"
    if offset.days < FEW_DAYS:
        said += "; from so few days, a drift over weeks is not in this range"
    if offset.swings and winter is not None and summer is not None:
        said += f"; {winter.value:+.1f} °C in winter, {summer.value:+.1f} °C in summer"
    elif winter is None:
        said += "; not a year of common days yet, so no season is told"
    return said
