"""From a logger's wall clock to instants: summer time, the hour that comes twice, the one that never comes.

A file shows by its rows at a change whether its clock follows summer time: then the hour of the autumn change
is there twice and that of spring is not. Where a file shows that it does not, or cannot be told, it is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightround.journal.loggers.questions import Question

Clock = Literal["local", "winter", "summer", "utc"]
OPTION: Final = "--clock"
CHOICES: Final = ("winter", "summer", "utc", "local")
HOUR_S: Final = 3600
# Clocks change at quarters of an hour, by a whole or half an hour.
QUARTER_S: Final = 900
# Rows further apart than this times the usual step have a gap between them.
NEXT: Final = 1.5

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Instants:
    """Seconds since 1970 [N]; rows in an hour that came twice, rows in one that never came."""

    seconds: FloatArray
    twice: int = 0
    skipped: int = 0


def instants(local: FloatArray, zone: ZoneInfo, clock: Clock | None, name: str) -> Instants:
    """Instants of wall-clock seconds [N] in the order of the rows.

    clock   None: the room's local time, asked where the rows speak against it or leave it open
    """
    if clock == "utc":
        return Instants(local)
    if clock in ("winter", "summer"):
        return Instants(local - _fixed_offset(zone, float(local[0]), clock))
    first, second = _offsets(local, zone)
    twice, skipped = np.flatnonzero(second < first), np.flatnonzero(second > first)
    if len(skipped) and clock is None:
        raise _question(name, local[skipped[0]], "in the hour that never came when summer time began")
    found = local - first
    if len(twice):
        # Latest first is the same series read from its end.
        back = -1 if np.median(np.diff(local)) < 0 else 1
        places = twice if back > 0 else len(local) - 1 - twice[::-1]
        shift = float((first - second)[twice[0]])
        late = _second_time(local[::back], places, shift, clock, name)
        found[::back][late] += (first - second)[::back][late]
    return Instants(found, len(twice), len(skipped))


def _offsets(local: FloatArray, zone: ZoneInfo) -> tuple[FloatArray, FloatArray]:
    """The zone's offset at each row if its hour came once, and if it is the second time [s]."""
    quarters, at = np.unique(np.floor(local / QUARTER_S), return_inverse=True)
    both = np.empty((2, len(quarters)))
    for number, quarter in enumerate(quarters.tolist()):
        wall = datetime.fromtimestamp(quarter * QUARTER_S, UTC).replace(tzinfo=zone)
        for fold in (0, 1):
            both[fold, number] = (wall.replace(fold=fold).utcoffset() or timedelta()).total_seconds()
    return both[0][at], both[1][at]


def _fixed_offset(zone: ZoneInfo, local_s: float, clock: Clock) -> float:
    """The zone's offset without or with summer time, around that year: of January's and July's."""
    year = datetime.fromtimestamp(local_s, UTC).year
    offsets = [datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7)]
    return (min if clock == "winter" else max)(offsets).total_seconds()


def _second_time(
    local: FloatArray, twice: IntArray, shift: float, clock: Clock | None, name: str
) -> IntArray:
    """Rows, earliest first, of an hour that came twice which are of its second time."""
    steps = np.diff(local)
    usual = float(np.median(np.abs(steps[steps != 0]))) if (steps != 0).any() else 0.0
    runs = np.split(twice, np.flatnonzero(np.diff(local[twice]) > 2 * HOUR_S) + 1)
    return np.concatenate([_late_in_run(local, run, usual, shift, clock, name) for run in runs])


def _late_in_run(
    local: FloatArray, run: IntArray, usual: float, shift: float, clock: Clock | None, name: str
) -> IntArray:
    """The same for one change of the clock."""
    late = _late_by_rows(local, run, usual, shift) if (np.diff(run) == 1).all() else None
    if late is None and clock is None:
        raise _question(name, local[run[0]], "in the hour that came twice when summer time ended")
    return run[:0] if late is None else late


def _late_by_rows(local: FloatArray, run: IntArray, usual: float, shift: float) -> IntArray | None:
    """Which of them the rows themselves show to be of the second time; None where they do not show it.

    usual, shift   seconds between rows, and by which the clock goes back
    """
    steps = np.diff(local[run])
    # The same time again: the clock gone back by one step of the rows; with shorter steps a row there twice.
    back = np.flatnonzero((steps < 0) | ((steps < 0.5 * usual) & (usual >= 0.9 * shift)))
    if len(back) == 1:
        return run[back[0] + 1 :]
    if len(back) > 1 or (steps > NEXT * usual).any():
        return None
    before = local[run[0]] - local[run[0] - 1] if run[0] > 0 else np.inf
    after = local[run[-1] + 1] - local[run[-1]] if run[-1] + 1 < len(local) else np.inf
    if usual > 1.2 * shift:
        # Rows further apart than that: the clock gone back shows as one step shorter by it.
        shorter = [abs(step - (usual - shift)) < 0.1 * shift for step in (before, after)]
        if any(shorter) and not all(shorter):
            return run if shorter[0] else run[:0]
    follows = [step <= NEXT * usual for step in (before, after)]
    if any(follows) and not all(follows):
        return run[:0] if follows[0] else run
    return None


def _question(name: str, wall_s: float, where: str) -> Question:
    shown = datetime.fromtimestamp(float(wall_s), UTC)
    return Question(
        f"whether the clock of {name} follows summer time", option=OPTION, choices=CHOICES,
        got=f"rows such as {shown:%Y-%m-%d %H:%M} {where}, that do not show it",
    )  # fmt: skip
