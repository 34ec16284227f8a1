"""A room's moments as the arrays that appetite is fitted to and weighed by, with warmth for their clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.appetite_record import Moment, begun, hardening_days, is_vague, middle, moments_of
from nightround.findings.clock_rows import Row, rows_of
from nightround.findings.size import ClockSize
from nightround.record.model import Record
from nightround.science.appetite.data import AppetiteData, AppetiteNow, Courses, once
from nightround.science.appetite.fit import MOST_OFFERS
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.forecast import ClockForecast
from nightround.science.thermal import (
    FloatArray,
    IntArray,
    ThermalTable,
    clock_at,
    extended,
    locate,
    prepare_warmth,
    thermal_table,
)

if TYPE_CHECKING:
    from nightround.findings.moult import ClockRoom

# The round is in the evening: an offer stands this far into its day.
EVENING: Final = 0.8


@dataclass(frozen=True)
class View:
    """The room's warmth at the posterior mean of its Q10: past and to come.

    ahead [P, H]   cumulative warmth expected over `days` by place
    """

    fitted: ClockFit
    table: ThermalTable
    ahead: FloatArray

    @classmethod
    def of(cls, room: ClockRoom, fitted: ClockFit, days: FloatArray) -> View:
        """Prepare the view of a room for a forecast over the days to come [H]."""
        log_q10 = float(fitted.weight @ fitted.hyper()[:, 0])
        ahead = thermal_table(prepare_warmth(room.expected), log_q10).elapsed
        return cls(fitted, thermal_table(fitted.design.warmth, log_q10), extended(ahead, days))

    def at(self, animal: IntArray, moment: FloatArray) -> FloatArray:
        """Each animal's own warmth clock at moments in days [K]."""
        paths, table = self.fitted.design.paths, self.table
        where = locate(paths, animal, moment, table.first_day, table.elapsed.shape[1])
        return clock_at(paths, table.elapsed, table.first_day, where)

    def temperature(self, room: ClockRoom, animal: IntArray, moment: FloatArray) -> FloatArray:
        """Mean temperature of the day at each animal's place as recorded; NaN where it is not [K]."""
        paths, climate = self.fitted.design.paths, room.data.climate
        columns = climate.temperature_c.shape[1]
        stay = locate(paths, animal, moment, climate.first_day, columns + 1).stay
        column = np.floor(moment).astype(np.int64) - climate.first_day
        inside = (column >= 0) & (column < columns)
        read = climate.temperature_c[paths.place[stay], np.clip(column, 0, columns - 1)]
        return np.asarray(np.where(inside, read, np.nan), dtype=np.float64)

    def to_come(self, animal: IntArray) -> FloatArray:
        """Warmth expected in the coming days at the place of each animal [A', H]."""
        paths = self.fitted.design.paths
        last = np.concatenate([paths.first_row[1:], [paths.place.size]]) - 1
        return np.asarray(self.ahead[paths.place[last[animal]]])


def completed(record: Record, room: ClockRoom, view: View, sizes: Mapping[str, ClockSize]) -> AppetiteData:
    """The newest completed intervals of well known phase, until they hold enough offers."""
    rows = [row for index, history in enumerate(room.histories) for row in rows_of(index, history, room.on)]
    closed = [row for row in rows if row.start[0] > 0 and row.end[0] > 0 and not is_vague(row)]
    closed.sort(key=lambda row: (-row.end[1], row.animal))
    chosen, found, offers = [], [], 0
    for row in closed:
        if offers >= MOST_OFFERS:
            break
        moments = _moments(record, room, row)
        if moments:
            chosen.append(row)
            found.append(moments)
            offers += len(moments)
    courses, opened = _courses(room, chosen, found, view, sizes)
    animal = np.array([row.animal for row in chosen], dtype=np.int64)
    length = view.at(animal, np.array([middle(row.end) for row in chosen])) - opened
    keep = length > 0.0
    return AppetiteData(courses.only(keep), length[keep], len(room.taxa))


@dataclass(frozen=True)
class Running:
    """The running intervals of some animals.

    at [B]           rows of the forecast; row, moments   of each, as read from the record
    passed [B]       days at 25 C from the opening to the close of `on`
    seen [B]         the same to the last look
    """

    at: IntArray
    row: Sequence[Row]
    moments: Sequence[Sequence[Moment]]
    now: AppetiteNow
    passed: FloatArray
    seen: FloatArray


def running(
    record: Record,
    room: ClockRoom,
    view: View,
    sizes: Mapping[str, ClockSize],
    plain: ClockForecast,
    at: IntArray,
) -> Running:
    """Read the running intervals of the animals in rows `at` [B] of the plain forecast."""
    animal = room.asked[at]
    rows = [rows_of(int(index), room.histories[index], room.on)[-1] for index in animal]
    moments = [_moments(record, room, row) for row in rows]
    courses, opened = _courses(room, rows, moments, view, sizes)
    passed = np.maximum(view.at(animal, np.full(animal.size, room.on + 1.0)) - opened, 1e-6)
    looked = np.array([min(row.looked, room.on) + 1.0 for row in rows])
    seen = np.clip(view.at(animal, looked) - opened, 1e-6, passed)
    unknown = np.array([row.start[1] == NO_DAY for row in rows], dtype=bool)
    usual = np.where(unknown, np.exp(plain.median_log_duration[at]), 0.0)
    return Running(at, rows, moments, AppetiteNow(courses, seen, usual), passed, seen)


def _moments(record: Record, room: ClockRoom, row: Row) -> list[Moment]:
    history = room.histories[row.animal]
    return moments_of(record.animals[history.animal], history, row, room.on)


def _courses(
    room: ClockRoom,
    rows: Sequence[Row],
    moments: Sequence[Sequence[Moment]],
    view: View,
    sizes: Mapping[str, ClockSize],
) -> tuple[Courses, FloatArray]:
    """Rows and their moments as arrays, and the warmth clock at which each row begins [N]."""
    animal = np.array([row.animal for row in rows], dtype=np.int64)
    opened = view.at(animal, np.array([begun(row) for row in rows]))
    flat = [moment for own in moments for moment in own]
    row = np.repeat(np.arange(len(rows)), np.array([len(own) for own in moments], dtype=np.int64))
    day = np.array([moment.day for moment in flat], dtype=np.float64)
    signs = np.array([moment.signs for moment in flat], dtype=bool).reshape(row.size, len(SIGN_NAMES))
    courses = Courses(
        room.data.animal_taxon[animal],
        np.array([hardening_days(sizes.get(room.codes[r.animal]), r.instar) for r in rows], dtype=np.float64),
        row,
        day,
        np.maximum(view.at(animal[row], day + EVENING) - opened[row], 0.0),
        np.array([moment.outcome for moment in flat], dtype=np.int64),
        view.temperature(room, animal[row], day),
        np.array([moment.hungry for moment in flat], dtype=np.float64),
        once(row, signs),
    )
    return courses, opened
