"""Logger files at the desk: said first what was understood, then written as one import."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

from nightround.desk.acts import IMPORT_MARK
from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.journal.entries import Draft, Entry
from nightround.journal.kinds.surroundings import Logged, hours_of
from nightround.journal.loggers import (
    HowRead,
    LoggerRead,
    Progress,
    Question,
    drafts_of,
    read_logger,
    unheard,
)

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.plans.rules import RuleValue

Unit = Literal["C", "F"]
Order = Literal["year_first", "day_first", "month_first"]
Clock = Literal["local", "winter", "summer", "utc"]
HumidityUnit = Literal["percent", "share"]

# Hourly means of the same readings differ by rounding only [C, %].
SAME = 0.06
DAYS_SHOWN = 7
# Enough of a file to tell whether it is a logger's.
SAMPLE_BYTES = 40_000
LONGEST_STEP_HOURS = 6.0

__all__ = [
    "LoggerAnswers",
    "LoggerDay",
    "LoggerTaken",
    "Question",
    "looks_like_logger",
    "take_logger",
    "take_logger_bytes",
]


@dataclass(frozen=True)
class LoggerAnswers:
    """What the keeper says of a file. None: found out from it, or asked; the clock by the place's own rules.

    column, humidity   a column's name or its place counted from one; 'none' for none
    drift_minutes      how far ahead its clock was at the end, right at the start; instead of the rule
    """

    unit: Unit | None = None
    dates: Order | None = None
    clock: Clock | None = None
    column: str | None = None
    humidity: str | None = None
    humidity_unit: HumidityUnit | None = None
    drift_minutes: float | None = None


@dataclass(frozen=True)
class LoggerDay:
    """One day of the file, as it is or would be kept; `hours` of it were read (None: none of that kind)."""

    day: date
    hours: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    percent: float | None


@dataclass(frozen=True)
class LoggerTaken:
    """What a logger file says, and what became of it.

    new, already   days that were written or would be, and days that are in the room already
    act            what takes it back; '' when nothing was written
    low_c, mean_c, high_c   of all its readings (None: it has no temperatures)
    first_days     the first days of it
    new_place      whether the place is not on record yet
    """

    place: str
    file: str
    first: date
    last: date
    readings: int
    new: int
    already: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    words: tuple[str, ...]
    doubts: tuple[str, ...]
    committed: bool
    act: str = ""
    first_days: tuple[LoggerDay, ...] = ()
    new_place: bool = False


def take_logger(
    desk: Desk,
    path: Path,
    place: str,
    answers: LoggerAnswers,
    *,
    commit: bool,
    progress: Progress = unheard,
) -> LoggerTaken:
    """Read a logger's file for a place; write it only with `commit`. The same file again adds nothing.

    progress   told of each step and, within it, of rows
    Raises Question where the file leaves something open, Refusal where it cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as fault:
        raise Refusal(
            f"a file that can be read at {path}",
            got=fault.strerror or str(fault),
            todo="Check that the file is there and may be read",
        ) from fault
    return take_logger_bytes(desk, data, path.name, place, answers, commit=commit, progress=progress)


def take_logger_bytes(
    desk: Desk,
    data: bytes,
    name: str,
    place: str,
    answers: LoggerAnswers,
    *,
    commit: bool,
    progress: Progress = unheard,
) -> LoggerTaken:
    """The same from the bytes of a file and its name."""
    clock = desk.journal.clock
    named = _place(desk, place)
    how, ahead_minutes, said = _how(desk, named, answers)
    read = read_logger(data, name, clock.zone, how, progress)
    rows = len(read.seconds)
    if ahead_minutes:
        late_s = 60.0 * ahead_minutes
        read = replace(read, seconds=read.seconds - late_s, left_out_s=read.left_out_s - late_s)
    progress("means of the hours", 0, rows)
    days = drafts_of(read, named, clock)
    if days.last > desk.today():
        raise Refusal(
            f"readings up to today in {name}",
            got=f"a reading of {days.last.isoformat()}",
            todo="Look at the logger's clock and at the order of day and month",
        )
    there = _there(desk, named)
    placed = [_placed(draft, there.get(draft.when.last, [])) for draft in days.drafts]
    fresh = [draft for draft in placed if draft is not None]
    act = IMPORT_MARK + secrets.token_hex(4) if commit and fresh else ""
    told = replace(
        _told(replace(read, words=(*read.words, *said)), named, days.drafts, len(fresh)),
        committed=commit,
        act=act,
        new_place=named not in desk.record().places,
    )
    if act:
        progress("writing", rows, rows)
        desk.write(fresh, intention=act)
    return told


def looks_like_logger(path: Path) -> bool:
    """Whether a file holds times of day and temperatures, a few hours apart at most: no list, no table."""
    try:
        with path.open("rb") as file:
            data = file.read(SAMPLE_BYTES)
    except OSError:
        return False
    # The last line of the sample may be cut; a mark of UTF-16 stands in front of whole pairs of bytes.
    end = data.rfind(b"\n") + 1
    sample = data[: end + end % 2] if len(data) == SAMPLE_BYTES and end else data
    orders: tuple[Order, ...] = ("day_first", "month_first")
    for dates in orders:
        # Read as °F a room's °C and °F are both what a room may have: only the times matter here.
        how = HowRead(unit="F", dates=dates, clock="utc", humidity_unit="percent")
        seconds = _sampled(sample, path.name, how)
        if seconds is not None:
            return seconds
    return False


def _sampled(sample: bytes, name: str, how: HowRead) -> bool | None:
    """Whether it reads as a logger's file; None: not with this order of dates."""
    from zoneinfo import ZoneInfo

    import numpy as np

    try:
        seconds = read_logger(sample, name, ZoneInfo("UTC"), how).seconds
    except Question as fault:
        return fault.option in ("--column", "--humidity") or None
    except Refusal:
        return None
    steps = np.diff(np.unique(seconds))
    return bool(steps.size > 1 and np.median(steps) <= LONGEST_STEP_HOURS * 3600.0)


def _how(desk: Desk, place: str, answers: LoggerAnswers) -> tuple[HowRead, float, tuple[str, ...]]:
    """How the file is read, minutes by which its clock is always ahead, and what of that the rules say."""
    from nightround.plans.rules import RuleBook
    from nightround.record.model import Animal

    book, there = RuleBook(desk.record()), Animal("", "", place=place)
    kept, fast = book.ask("logger_clock", there), book.ask("logger_fast_minutes", there)
    # Where nobody said anything of the clock the file itself may, or has to be asked about.
    clock = answers.clock or cast(Clock | None, kept.text or None)
    ahead = (fast.number or 0.0) if answers.drift_minutes is None else 0.0
    said = []
    if answers.clock is None and clock is not None:
        said.append(f"clock: {_CLOCKS[clock]}, by {_whose(kept)}")
    if ahead:
        said.append(
            f"clock taken as {abs(ahead):g} min {'ahead' if ahead > 0 else 'behind'}, by {_whose(fast)}"
        )
    how = HowRead(
        unit=answers.unit,
        dates=answers.dates,
        clock=clock,
        column=answers.column,
        humidity=answers.humidity,
        humidity_unit=answers.humidity_unit,
        fast_seconds=60.0 * (answers.drift_minutes or 0.0),
    )
    return how, ahead, tuple(said)


_CLOCKS: dict[Clock, str] = {
    "local": "follows summer time", "winter": "winter time all year", "summer": "summer time all year",
    "utc": "UTC",
}  # fmt: skip


def _whose(rule: RuleValue) -> str:
    return f"{rule.used.source} ({rule.key})"


def _place(desk: Desk, name: str) -> str:
    """A place of the room in any spelling of capitals; a new one is made by naming it exactly."""
    if not name.strip():
        known = ", ".join(desk.record().places) or "none yet"
        raise NoSuchThing(
            "the place that the logger stood at", got="none", todo=f"Say --place, such as: {known}"
        )
    return next(
        (known for known in desk.record().places if known.casefold() == name.strip().casefold()), name.strip()
    )


def _there(desk: Desk, place: str) -> dict[date | None, list[Entry]]:
    """Logged days of the place that stand in the record, by day."""
    record = desk.record()
    known = record.places.get(place)
    found: dict[date | None, list[Entry]] = {}
    for logged in known.logged if known is not None else ():
        if logged.number in record.entries:
            found.setdefault(logged.day, []).append(record.entries[logged.number])
    return found


def _placed(draft: Draft, there: Sequence[Entry]) -> Draft | None:
    """A day that is not there yet, or tells more of the same readings and takes the old one's place."""
    body = draft.body
    assert isinstance(body, Logged)
    for entry in there:
        if not isinstance(entry.body, Logged):
            continue
        if _covers(entry.body, body):
            return None
        if _covers(body, entry.body):
            return Draft(draft.about, draft.when, body, corrects=entry.number)
    return draft


def _covers(more: Logged, less: Logged) -> bool:
    """Whether one day holds all that the other does: hour by hour, but for one that was only half read."""
    for text, other in ((more.hours_c, less.hours_c), (more.hours_percent, less.hours_percent)):
        whole, part = hours_of(text), hours_of(other)
        if len(part) > len(whole):
            return False
        apart = [
            at for at, value in enumerate(part)
            if value is not None and ((there := whole[at]) is None or abs(there - value) > SAME)
        ]  # fmt: skip
        if len(apart) > 1 or any(whole[at] is None for at in apart):
            return False
    return (more.readings or 0) >= (less.readings or 0)


def _told(read: LoggerRead, place: str, drafts: Sequence[Draft], new: int) -> LoggerTaken:
    import numpy as np

    known = read.temperature_c[np.isfinite(read.temperature_c)]
    days = [_day(draft) for draft in drafts]
    return LoggerTaken(
        place=place,
        file=read.name,
        first=days[0].day,
        last=days[-1].day,
        readings=len(read.seconds),
        new=new,
        already=len(drafts) - new,
        low_c=float(known.min()) if known.size else None,
        mean_c=float(known.mean()) if known.size else None,
        high_c=float(known.max()) if known.size else None,
        words=read.words,
        doubts=read.doubts,
        committed=False,
        first_days=tuple(days[:DAYS_SHOWN]),
    )


def _day(draft: Draft) -> LoggerDay:
    body, day = draft.body, draft.when.last
    assert isinstance(body, Logged) and day is not None
    warm, moist = (
        [value for value in hours_of(text) if value is not None]
        for text in (body.hours_c, body.hours_percent)
    )
    return LoggerDay(
        day,
        max(len(warm), len(moist)),
        body.low_c,
        sum(warm) / len(warm) if warm else None,
        body.high_c,
        sum(moist) / len(moist) if moist else None,
    )
