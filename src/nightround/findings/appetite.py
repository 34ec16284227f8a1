"""Appetite and signs of a room's record as evidence about each animal's next moult.

What carries evidence: offers that were taken, refused or left uneaten, and signs noted since the last moult.
What carries none: animals passed over by choice, offers whose outcome is open or was not seen, looks without
a sign, and whatever happened on days on which the moult itself may have been.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.clock_rows import Row, rows_of
from nightround.findings.size import ClockSize
from nightround.record.histories import MoultHistory
from nightround.record.model import Animal, Look, Record
from nightround.science.appetite.data import (
    NO_OFFER,
    NOT_TAKEN,
    TAKEN,
    AppetiteData,
    AppetiteNow,
    Courses,
    once,
)
from nightround.science.appetite.evidence import Evidence, evidence
from nightround.science.appetite.fit import MOST_OFFERS, AppetiteFit, fit_appetite
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.appetite.tilt import middles, quantiles, tilted
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.forecast import QUANTILES, WITHIN_DAYS, ClockForecast
from nightround.science.thermal import (
    DailyClimate,
    FloatArray,
    IntArray,
    ThermalTable,
    clock_at,
    locate,
    prepare_warmth,
    thermal_table,
)

if TYPE_CHECKING:
    from nightround.findings.moult import ClockRoom

# The round is in the evening: an offer stands this far into its day.
EVENING: Final = 0.8
# Windows of both moults together may be this share of an interval whose phase is to be known.
VAGUE_SHARE: Final = 0.2
# From this ratio of abdomen to carapace width it counts as fat (common practice, no source).
FAT_RATIO: Final = 1.3
# Hardening days at a carapace of 2 mm and their growth with size: 3-7 days for slings, 14-21 for large (D).
_HARD_DAYS, _HARD_MM, _HARD_POWER = 4.0, 2.0, 0.63
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SIGN_WORDS: Final = {
    "fat_abdomen": "fat abdomen",
    "dark_patch": "dark patch",
    "sealed": "retreat sealed",
    "moult_mat": "moult mat",
    "on_its_back": "on its back",
}


@dataclass(frozen=True, slots=True)
class AppetiteNote:
    """What appetite and signs say of one animal, for reasons and for plans.

    offers, taken   offers with a known outcome since the last moult, and how many were taken
    run, since      latest offers in a row not taken, and the day of the first of them
    signs           (day, sign) first noted since the last moult, oldest first
    in_premoult     chance that premoult has begun, all evidence taken together
    unexplained     chance that it fasts for a reason that has nothing to do with moulting
    phase           share of the interval passed, by the median that counts now; None: last moult not known
    words           the reasons in words, empty when nothing speaks
    """

    animal: str
    offers: int
    taken: int
    run: int
    since: date | None
    signs: tuple[tuple[date, str], ...]
    in_premoult: float
    unexplained: float
    phase: float | None
    words: tuple[str, ...]

    @property
    def early_streak(self) -> bool:
        """Three refusals or more that no coming moult explains: look at it, which is no diagnosis."""
        return self.run >= 3 and self.unexplained > self.in_premoult


@dataclass(frozen=True)
class Weighed:
    """A forecast with appetite and signs weighed in.

    result   as the clock's, its odds and quantiles multiplied by the evidence
    notes    by code, for every animal asked about
    """

    result: ClockForecast
    fit: AppetiteFit
    notes: Mapping[str, AppetiteNote]


def weigh(
    record: Record,
    room: ClockRoom,
    fitted: ClockFit,
    result: ClockForecast,
    sizes: Mapping[str, ClockSize],
    *,
    fit: AppetiteFit | None = None,
) -> Weighed:
    """Weigh what each animal ate and showed since its last moult into the clock's forecast.

    sizes   as given to the clock, for the hardening days
    fit     an earlier fit of the same room's appetite, to be used again; else it is fitted to the record
    """
    views = _View.of(room, fitted)
    rows = _rows(room)
    if fit is None:
        fit = fit_appetite(_past(record, room, rows, views, sizes))
    running = [rows[int(animal)][-1] for animal in room.asked]
    now, days = _now(record, room, running, views, sizes, result)
    lengths = now.elapsed_now[:, None] + views.to_come(room, middles(result.grid_days))
    says = evidence(fit, now, lengths)
    cumulative = tilted(result.cumulative, says.log_likelihood)
    changed = _with(result, cumulative)
    chances = _average(cumulative, says)
    notes = {
        room.codes[row.animal]: _note(room, row, days[index], now, index, changed, chances)
        for index, row in enumerate(running)
    }
    return Weighed(changed, fit, notes)


def _with(result: ClockForecast, cumulative: FloatArray) -> ClockForecast:
    """The forecast with another distribution; rows that did not change keep every digit."""
    moved = np.any(cumulative != result.cumulative, axis=1)
    at = np.searchsorted(result.grid_days, WITHIN_DAYS)
    within, days = result.within.copy(), result.quantile_days.copy()
    within[moved] = cumulative[moved][:, at]
    days[moved] = quantiles(result.grid_days, cumulative[moved], np.array(QUANTILES))
    return replace(result, within=within, quantile_days=days, cumulative=cumulative)


def _average(cumulative: FloatArray, says: Evidence) -> tuple[FloatArray, FloatArray]:
    """Chances of premoult and of an unexplained fast, over the lengths that count now [A'], [A']."""
    steps = np.concatenate([np.diff(cumulative, axis=1), 1.0 - cumulative[:, -1:]], axis=1)
    steps = np.maximum(steps, 0.0)
    return (steps * says.in_premoult).sum(axis=1), (steps * says.unexplained).sum(axis=1)


@dataclass(frozen=True)
class _View:
    """The room's warmth at the posterior mean of its Q10: past and to come."""

    fitted: ClockFit
    table: ThermalTable
    log_q10: float

    @classmethod
    def of(cls, room: ClockRoom, fitted: ClockFit) -> _View:
        log_q10 = float(fitted.weight @ fitted.hyper()[:, 0])
        return cls(fitted, thermal_table(fitted.design.warmth, log_q10), log_q10)

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

    def to_come(self, room: ClockRoom, days: FloatArray) -> FloatArray:
        """Warmth expected in the coming days at the place of each animal asked about [A', H]."""
        ahead = _ahead(room.expected, self.log_q10, days)
        paths = self.fitted.design.paths
        last = np.concatenate([paths.first_row[1:], [paths.place.size]]) - 1
        return np.asarray(ahead[paths.place[last[room.asked]]])


def _ahead(expected: DailyClimate, log_q10: float, days: FloatArray) -> FloatArray:
    """Cumulative expected warmth by place [P, H]; the last year goes on for ever."""
    table = thermal_table(prepare_warmth(expected), log_q10).elapsed
    whole = table.shape[1] - 1
    tail = min(whole, 365)
    rate = (table[:, -1] - table[:, -1 - tail]) / tail
    near = np.stack([np.interp(days, np.arange(whole + 1), row) for row in table])
    return np.asarray(near + np.maximum(days - whole, 0.0) * rate[:, None])


def _rows(room: ClockRoom) -> list[list[Row]]:
    return [rows_of(index, history, room.on) for index, history in enumerate(room.histories)]


@dataclass
class _Days:
    """The moments of one interval: (day number, outcome, days since a meal, signs first noted)."""

    moments: list[tuple[int, int, float, tuple[bool, ...]]]


def _past(
    record: Record,
    room: ClockRoom,
    rows: Sequence[Sequence[Row]],
    views: _View,
    sizes: Mapping[str, ClockSize],
) -> AppetiteData:
    """The newest completed intervals of well known phase, until they hold enough offers."""
    closed = [row for own in rows for row in own if row.start[0] > 0 and row.end[0] > 0 and not _vague(row)]
    closed.sort(key=lambda row: (-row.end[1], row.animal))
    chosen, days, offers = [], [], 0
    for row in closed:
        if offers >= MOST_OFFERS:
            break
        found = _days(record, room.histories[row.animal], row, room.on)
        if found.moments:
            chosen.append(row)
            days.append(found)
            offers += len(found.moments)
    courses, begun = _courses(room, chosen, days, views, sizes)
    animal = np.array([row.animal for row in chosen], dtype=np.int64)
    length = views.at(animal, np.array([_middle(row.end) for row in chosen])) - begun
    keep = length > 0.0
    return AppetiteData(courses.only(keep), length[keep], len(room.taxa))


def _vague(row: Row) -> bool:
    width = row.start[1] - row.start[0] + row.end[1] - row.end[0]
    return width > VAGUE_SHARE * max(_middle(row.end) - _middle(row.start), 1.0)


def _middle(window: tuple[int, int]) -> float:
    return (window[0] + window[1]) / 2.0 + 0.5


def _begun(row: Row) -> float:
    """The moment an interval is counted from: the middle of its moult's window, or the first day of watch."""
    return _middle(row.start) if row.start[1] != NO_DAY else float(row.watched)


def _now(
    record: Record,
    room: ClockRoom,
    running: Sequence[Row],
    views: _View,
    sizes: Mapping[str, ClockSize],
    result: ClockForecast,
) -> tuple[AppetiteNow, list[_Days]]:
    days = [_days(record, room.histories[row.animal], row, room.on) for row in running]
    courses, begun = _courses(room, running, days, views, sizes)
    passed = views.at(room.asked, np.full(room.asked.size, room.on + 1.0)) - begun
    unknown = np.array([row.start[1] == NO_DAY for row in running], dtype=bool)
    usual = np.where(unknown, np.exp(result.median_log_duration), 0.0)
    return AppetiteNow(courses, np.maximum(passed, 1e-6), usual), days


def _courses(
    room: ClockRoom,
    rows: Sequence[Row],
    days: Sequence[_Days],
    views: _View,
    sizes: Mapping[str, ClockSize],
) -> tuple[Courses, FloatArray]:
    """Rows and their moments as arrays, and the warmth clock at which each row begins [N]."""
    taxon_of = room.data.animal_taxon
    animal = np.array([row.animal for row in rows], dtype=np.int64)
    begun = views.at(animal, np.array([_begun(row) for row in rows]))
    flat = [moment for found in days for moment in found.moments]
    counts = np.array([len(found.moments) for found in days], dtype=np.int64)
    row = np.repeat(np.arange(len(rows)), counts)
    day = np.array([moment[0] for moment in flat], dtype=np.float64)
    elapsed = views.at(animal[row], day + EVENING) - begun[row]
    hard = np.array([_hardening(sizes.get(room.codes[r.animal]), r.instar) for r in rows], dtype=np.float64)
    courses = Courses(
        taxon_of[animal],
        hard,
        row,
        day,
        np.maximum(elapsed, 0.0),
        np.array([moment[1] for moment in flat], dtype=np.int64),
        views.temperature(room, animal[row], day),
        np.array([moment[2] for moment in flat], dtype=np.float64),
        once(row, np.array([moment[3] for moment in flat], dtype=bool).reshape(row.size, len(SIGN_NAMES))),
    )
    return courses, begun


def _hardening(size: ClockSize | None, instar: int) -> float:
    """Days without appetite after a moult for the animal's size; NaN where its taxon was never measured."""
    if size is None or not size.mean or size.n_readings_of_taxon == 0:
        return float("nan")
    carapace_mm = float(np.exp(size.mean[min(instar, len(size.mean) - 1)]))
    return float(np.clip(_HARD_DAYS * (carapace_mm / _HARD_MM) ** _HARD_POWER, 3.0, 21.0))


def _days(record: Record, history: MoultHistory, row: Row, on: int) -> _Days:
    """The moments of one interval, in order of days; none on a day on which a moult may have been."""
    first = row.start[1] + 1 if row.start[1] != NO_DAY else row.watched
    last = row.end[0] - 1 if row.end[0] > 0 else on
    offers = _offers(history, max(first, row.watched), last)
    signs = _signs(record.animals[history.animal], first, last)
    empty = (False,) * len(SIGN_NAMES)
    looks = [(day, NO_OFFER, float("nan"), noted) for day, noted in signs.items() if day not in offers]
    told = [
        (day, outcome, gap, signs.get(day, empty) if number == 0 else empty)
        for day, found in offers.items()
        for number, (outcome, gap) in enumerate(found)
    ]
    return _Days(sorted([*looks, *told], key=lambda moment: moment[0]))


def _offers(history: MoultHistory, first: int, last: int) -> dict[int, list[tuple[int, float]]]:
    """Offers with a known outcome by day: outcome and days since the last meal on an earlier day."""
    low = bisect_left(history.offered, first, key=lambda pair: pair[0].toordinal())
    found: dict[int, list[tuple[int, float]]] = {}
    for when, outcome in history.offered[low:]:
        day = when.toordinal()
        if day > last:
            break
        meal = bisect_left(history.taken, when)
        gap = float((when - history.taken[meal - 1]).days) if meal else float("nan")
        found.setdefault(day, []).append((TAKEN if outcome == "taken" else NOT_TAKEN, gap))
    return found


def _signs(animal: Animal, first: int, last: int) -> dict[int, tuple[bool, ...]]:
    """Days with a look, and the signs that a keeper saw then; a sign that a later look takes back is gone."""
    looks = [
        (look.when.last.toordinal(), look)
        for look in animal.looks
        if look.when.last is not None and first <= look.when.last.toordinal() <= last
    ]
    looks.sort(key=lambda pair: (pair[0], pair[1].number))
    told = [(day, _told(look)) for day, look in looks]
    out: dict[int, tuple[bool, ...]] = {}
    gone = [max((day for day, said in told if said[i] is False), default=-1) for i in range(len(SIGN_NAMES))]
    for day, said in told:
        noted = tuple(bool(word) and day > gone[i] for i, word in enumerate(said))
        before = out.get(day, (False,) * len(SIGN_NAMES))
        out[day] = tuple(a or b for a, b in zip(before, noted, strict=True))
    return out


def _told(look: Look) -> tuple[bool | None, ...]:
    """Signs in the order of SIGN_NAMES: True seen, False seen not to be there, None not looked for."""
    signs = look.signs
    fat: bool | None = None
    if signs.abdomen is not None:
        fat = signs.abdomen == "fat"
    elif signs.abdomen_ratio is not None:
        fat = signs.abdomen_ratio >= FAT_RATIO
    return fat, signs.dark_patch, signs.burrow_sealed, signs.moult_mat, signs.on_its_back


def _note(
    room: ClockRoom,
    row: Row,
    days: _Days,
    now: AppetiteNow,
    index: int,
    changed: ClockForecast,
    chances: tuple[FloatArray, FloatArray],
) -> AppetiteNote:
    offers = [(day, outcome) for day, outcome, _, _ in days.moments if outcome != NO_OFFER]
    run = 0
    while run < len(offers) and offers[-1 - run][1] == NOT_TAKEN:
        run += 1
    courses = now.courses
    own = slice(int(np.searchsorted(courses.row, index)), int(np.searchsorted(courses.row, index + 1)))
    noted = [
        (date.fromordinal(int(courses.day[own][moment])), SIGN_NAMES[sign])
        for moment, sign in np.argwhere(courses.signs[own])
    ]
    since = date.fromordinal(offers[-run][0]) if run else None
    history = room.histories[row.animal]
    words = _words(history, offers, run, since, noted, date.fromordinal(room.on))
    return AppetiteNote(
        history.animal,
        len(offers),
        sum(outcome == TAKEN for _, outcome in offers),
        run,
        since,
        tuple(noted),
        float(chances[0][index]),
        float(chances[1][index]),
        _phase(row, room.on, float(changed.quantile_days[index, QUANTILES.index(0.5)])),
        words,
    )


def _phase(row: Row, on: int, median_days: float) -> float | None:
    """Share of the calendar days from the last moult to the median of the next that have passed."""
    if row.start[1] == NO_DAY or np.isnan(median_days):
        return None
    passed = on + 1 - _middle(row.start)
    return passed / max(passed + median_days, 1e-9)


def _words(
    history: MoultHistory,
    offers: Sequence[tuple[int, int]],
    run: int,
    since: date | None,
    noted: Sequence[tuple[date, str]],
    on: date,
) -> tuple[str, ...]:
    words = [f"{_SIGN_WORDS[sign]} noted {_day(day, on)}" for day, sign in noted]
    if run >= 2 and since is not None:
        left = _left_uneaten(history, since, on)
        verb = "refused or left" if left else "refused"
        words.append(f"{verb} {run} of {run} since {_day(since, on)}")
    elif len(offers) >= 2:
        taken = sum(outcome == TAKEN for _, outcome in offers)
        words.append(f"took {taken} of {len(offers)} since the last moult")
    return tuple(words)


def _left_uneaten(history: MoultHistory, first: date, last: date) -> bool:
    low = bisect_left(history.offered, first, key=lambda pair: pair[0])
    high = bisect_right(history.offered, last, key=lambda pair: pair[0])
    return any(outcome == "uneaten" for _, outcome in history.offered[low:high])


def _day(day: date, on: date) -> str:
    """A day in words: '12 Nov', with its year when that is another one."""
    words = f"{day.day} {_MONTHS[day.month - 1]}"
    return words if day.year == on.year else f"{words} {day.year}"
