"""Moult histories without a keeper's book: many lives, looked at once a week, for trials of coverage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

import numpy as np

from nightround.record.histories import DailyClimate, MoultHistory, MoultWindow
from nightround.simulate.climate import SHELVES, RoomClimate, day_at, make_climate, season
from nightround.simulate.life import Biology, Breaks, Herd, Life
from nightround.simulate.taxa import TAXA

AHEAD_DAYS = 400


@dataclass(frozen=True)
class MoultRoom:
    """Histories as of `on`, climate (days to come as `expected_c`), and each animal's next true moult.

    next_moult   first true moult after `on` within 400 days; None: none, or it died first or has stopped
    """

    on: date
    histories: tuple[MoultHistory, ...]
    climate: Mapping[str, DailyClimate]
    next_moult: Mapping[str, date | None]


def moult_room(
    seed: int, *, animals: int = 100, years: float = 2.0, breaks: Breaks | None = None, look_days: int = 7
) -> MoultRoom:
    """Simulate `animals` that arrive at any age, stay on one shelf, and are seen every `look_days`."""
    kept = round(years * 365.25)
    first, days = date(2026, 1, 1) - timedelta(days=kept), kept + AHEAD_DAYS
    rng = np.random.default_rng([seed, 7])
    climate = make_climate(np.random.default_rng([seed, 8]), first, days, kept)
    breaks = breaks or Breaks()
    biology = Biology(rng, TAXA, breaks)
    herd = Herd(biology, climate.temperature_c[:-1], season(first, days), animals)
    chosen = rng.choice(
        len(TAXA), animals, p=np.array([kind.share for kind in TAXA]) / sum(k.share for k in TAXA)
    )
    arrivals = np.sort(rng.integers(0, kept * 3 // 4, animals))
    watched: list[int] = []
    for column in range(days):
        while len(watched) < animals and arrivals[len(watched)] == column:
            _take_in(herd, int(chosen[len(watched)]), column)
            watched.append(column)
        for index in (moulting for part in herd.day(column) for moulting in part):
            herd.moult(index, column)
    last_look = kept - 1 - (kept - 1) % look_days
    histories = tuple(
        _history(
            climate, f"M{index:04d}", life, watched[index], last_look, look_days, herd, index, rng, breaks
        )
        for index, life in enumerate(herd.lives)
    )
    upcoming = {
        history.animal: next((day_at(climate, m) for m in life.moults if m >= kept), None)
        for history, life in zip(histories, herd.lives, strict=True)
    }
    return MoultRoom(
        day_at(climate, kept - 1), histories, _climate(climate, kept), MappingProxyType(upcoming)
    )


def _take_in(herd: Herd, taxon: int, column: int) -> None:
    life, elapsed = herd.biology.arrived(taxon, column, float(herd.rng.uniform(0, 1.05)))
    herd.add(life, int(herd.rng.integers(len(SHELVES) - 1)), elapsed, column)


def _history(
    climate: RoomClimate, code: str, life: Life, arrived: int, last_look: int, look_days: int, herd: Herd,
    index: int,    rng: np.random.Generator, breaks: Breaks,
) -> MoultHistory:  # fmt: skip
    kind = TAXA[life.taxon]
    dead = life.died if life.died is not None and life.died <= last_look else None
    end = last_look if dead is None else dead
    windows = []
    for order, moult in enumerate(life.moults):
        found = max(arrived, moult - moult % look_days + look_days)
        if arrived < moult < end and found <= end and rng.random() >= breaks.unrecorded:
            before = max(arrived, moult - moult % look_days)
            windows.append(MoultWindow(order + 1, day_at(climate, before), day_at(climate, found)))
    mature = (
        None if life.mature_at is None or life.moults[life.mature_at] >= end else life.moults[life.mature_at]
    )
    return MoultHistory(
        animal=code, taxon=kind.name, group=kind.group, sex=life.sex if mature is not None else None,
        hatched_first=None, hatched_last=None, under_watch=day_at(climate, arrived), moults=tuple(windows),
        last_look=day_at(climate, end), ending="running" if dead is None else "died",
        stays=((SHELVES[int(herd.place[index])].name, day_at(climate, arrived), day_at(climate, end)),),
        mature_since=None if mature is None else day_at(climate, max(mature, arrived)),
        legs_lost=(), taken=(), offered=(),
    )  # fmt: skip


def _climate(climate: RoomClimate, kept: int) -> Mapping[str, DailyClimate]:
    days = climate.temperature_c.shape[1]
    found = {}
    for row, shelf in enumerate(SHELVES):
        warm = climate.temperature_c[row]
        known = {day_at(climate, c): float(warm[c]) for c in range(kept) if climate.logged[row, c]}
        coming = {day_at(climate, c): float(warm[c]) for c in range(kept, days)}
        found[shelf.name] = DailyClimate(
            shelf.name, MappingProxyType(known), MappingProxyType({}), MappingProxyType(coming)
        )
    return MappingProxyType(found)
