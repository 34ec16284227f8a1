"""What each winter cost at each place, in days at 25 C, and by how much it put off the next moults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.climate_events import span_words
from nightround.findings.climate_tables import NO_THRESHOLDS, RoomTable
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.record.histories import MoultHistory
from nightround.record.model import Record
from nightround.reports.climate import LaterMoult, Thresholds, Winter
from nightround.science.climate.levels import YEAR_DAYS
from nightround.science.climate.lost import Lost, Q10Law, Winters, warm_days, winter_spans
from nightround.science.climate.offsets import coldest_phase, covers_a_year
from nightround.science.thermal import BoolArray, FloatArray

LEAST_WARM_DAYS: Final = 45
LEAST_COLD_DAYS: Final = 30
# A delay under half a day is none.
LEAST_LATER_DAYS: Final = 0.5
METHOD: Final = (
    "Thermal days lost: days of the cold half-year at the warm half-year's mean pace of the same place, less "
    "what they were worth, in days at 25 °C (77 °F)"
)
ASSUMED: Final = (
    "A winter is the half-year around the room's coldest day; lost days are told against the place's own "
    "warm half-year, which is no target: many animals are meant to rest in winter.",
    "A next moult is later by its animal's share of the lost days at the warm half-year's pace. Daily means "
    "are used; days without a reading are taken as the mean of the days around with that much doubt.",
)


def winters_of(
    record: Record,
    table: RoomTable,
    thresholds: Mapping[str, Thresholds],
    histories: Mapping[str, MoultHistory],
    law: Q10Law,
    sources_n: int,
) -> list[Winter]:
    """Return the winters of a room's places, oldest first; none before its readings cover a year.

    sources_n   completed intervals behind Q10 (0: the published prior)
    """
    known: BoolArray = np.isfinite(table.mean)
    if not covers_a_year(table.first_day, np.asarray(known.any(axis=0))):
        return []
    phase = coldest_phase(table.first_day, table.mean)
    warm = warm_days(phase, table.first_day, table.days, YEAR_DAYS)
    waiting = _waiting(histories)
    found: list[Winter] = []
    for row, name in enumerate(table.names):
        at = np.flatnonzero(known[row])
        target = thresholds.get(name, NO_THRESHOLDS).target_c
        if not at.size or (target is None and (known[row] & warm).sum() < LEAST_WARM_DAYS):
            continue
        worth = Winters(table.first_day, table.mean[row], warm, law, target_c=target)
        begun = table.first_day + int(at[0])
        for first, last in winter_spans(phase, begun, record.on.toordinal(), YEAR_DAYS):
            part = table.mean[row, first - table.first_day : last - table.first_day + 1]
            if np.isfinite(part).sum() >= LEAST_COLD_DAYS:
                stays = waiting.get(name, ())
                found.append(_winter(record, name, (first, last), part, worth, stays, sources_n))
    return sorted(found, key=lambda winter: winter.first)


_Stay = tuple[MoultHistory, int, int]


def _waiting(histories: Mapping[str, MoultHistory]) -> dict[str, list[_Stay]]:
    """Stays since the last moult of the animals that wait for another, by place: (history, first, last)."""
    found: dict[str, list[_Stay]] = {}
    for history in histories.values():
        grown = history.sex == "male" and history.mature_since is not None
        if history.ending != "running" or not history.moults or grown:
            continue
        since = history.moults[-1].last + timedelta(days=1)
        for place, first, last in history.stays:
            if place and last >= since:
                begun = max(first, since)
                found.setdefault(place, []).append((history, begun.toordinal(), last.toordinal()))
    return found


def _winter(
    record: Record,
    place: str,
    span: tuple[int, int],
    mean: FloatArray,
    worth: Winters,
    stays: list[_Stay] | tuple[_Stay, ...],
    sources_n: int,
) -> Winter:
    first, last = span
    lost = worth.lost(first, last)
    assert lost is not None, "a place with warm days has a reference"
    read = mean[np.isfinite(mean)]
    estimate = _estimate((lost.value, lost.low, lost.high), "days at 25 °C", int(read.size), sources_n)
    found = Winter(
        place=place,
        first=date.fromordinal(first),
        last=date.fromordinal(last),
        running=last == record.on.toordinal(),
        days=last - first + 1,
        known=int(read.size),
        mean_c=float(read.mean()),
        warm_c=float(worth.reference_c or 0.0),
        by_target=worth.by_target,
        lost=estimate,
        animals=_later(worth, stays, first, last, sources_n),
        words="",
    )
    return _worded(found)


def _later(
    worth: Winters, stays: list[_Stay] | tuple[_Stay, ...], first: int, last: int, sources_n: int
) -> tuple[LaterMoult, ...]:
    """Delays of the animals that waited at the place in the winter, longest first."""
    known: dict[tuple[int, int], Lost | None] = {}
    found: dict[str, tuple[str, FloatArray, int]] = {}
    for history, a, b in stays:
        part = max(a, first), min(b, last)
        if part[0] > part[1]:
            continue
        if part not in known:
            known[part] = worth.lost(*part)
        lost = known[part]
        if lost is None:
            continue
        _, total, days = found.get(history.animal, ("", np.zeros(3), 0))
        later = total + np.array(lost.later_days)
        found[history.animal] = history.taxon, later, days + part[1] - part[0] + 1
    rows = [
        LaterMoult(
            animal, taxon,
            _estimate((float(later[0]), float(later[1]), float(later[2])), "days", days, sources_n),
        )
        for animal, (taxon, later, days) in found.items()
        if abs(later[0]) >= LEAST_LATER_DAYS
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (-row.later.value, row.animal)))


def _estimate(told: tuple[float, float, float], unit: str, days: int, intervals: int) -> Estimate:
    whose = f"Q10 from {counted(intervals, 'interval')} and the published prior" if intervals else (
        "Q10 from the published prior alone"
    )  # fmt: skip
    return Estimate(*told, unit, 0, days, f"{METHOD}; {whose}", 0.8, (OWN_RECORDS,))


def _worded(winter: Winter) -> Winter:
    lost = winter.lost
    against = "your target" if winter.by_target else "its warm half-year"
    what = "has cost so far" if winter.running else "cost"
    words = (
        f"The winter at {winter.place} ({span_words(winter.first, winter.last)}) {what} about"
        f" {lost.value:.0f} thermal days ({lost.low:.0f} to {lost.high:.0f}): mean {both(winter.mean_c, 'C')}"
        f" against {both(winter.warm_c, 'C')} {'as' if winter.by_target else 'in'} {against}"
    )
    if lost.value < 0:
        words = (
            f"The winter at {winter.place} ({span_words(winter.first, winter.last)}) cost nothing: it was as"
            f" warm as {against}"
        )
    if winter.known < winter.days:
        words += f"; {winter.known} of {winter.days} days read"
    return replace(winter, words=words)
