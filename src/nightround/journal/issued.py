"""Forecasts that the program issued, kept as they were shown: what it is held to later.

They lie beside the entries, not among them: an entry is what a keeper saw, an issued forecast is what the
program said. Like entries they are only ever added to, and the database itself refuses changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Literal, get_args

import msgspec
from sqlalchemy import BigInteger, Column, Integer, Table, Text, func, select

from nightround.foundation.refusal import RoomRefusal
from nightround.journal import coding
from nightround.journal.database import METADATA

if TYPE_CHECKING:
    from sqlalchemy import Connection

Stage = Literal["after_moult", "half_time"]
STAGES: tuple[Stage, ...] = get_args(Stage)

ISSUED = Table(
    "issued",
    METADATA,
    Column("number", BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
    Column("key", Text),
    Column("animal", Text),
    Column("stage", Text),
    Column("run", Text),
    Column("day", Text),
    Column("opened_first", Text),
    Column("opened_last", Text),
    Column("written", Text),
    Column("entries", BigInteger),
    Column("program", Text),
    Column("odds", Text),
)


class Odds(msgspec.Struct, frozen=True):
    """What was said of one animal, as the report of that day showed it.

    quantiles_days   level → days from the close of the day (None: not reachable)
    within_days      n → chance of a moult up to and including day + n
    unseen           chance that it had moulted unseen since the last look
    widened          by what the forecast had been widened (1: not at all)
    taxon, group     as they were named then; n_intervals: closed intervals of its taxon behind it
    """

    quantiles_days: dict[str, float | None]
    within_days: dict[int, float]
    unseen: float
    widened: float
    taxon: str
    group: str
    n_intervals: int


@dataclass(frozen=True, slots=True)
class Issued:
    """One forecast that was issued for one interval of one animal.

    stage     after_moult: the first after its opening moult was known; half_time: the first from half of the
              then expected wait on
    run       '' for one that was kept on its day; else the look back that worked it out afterwards
    day       as of whose close it was worked out
    opened    days between which the moult that opened the interval had happened, as known then
    written   when it was written down; entries: number of the newest entry then
    """

    animal: str
    stage: Stage
    run: str
    day: date
    opened: tuple[date, date]
    written: datetime
    entries: int
    program: str
    odds: Odds
    number: int = 0

    @property
    def key(self) -> str:
        """What may be there only once: one forecast of an interval, stage and run."""
        return "|".join((self.run or "kept", self.stage, self.opened[1].isoformat(), self.animal))


_ENCODER = msgspec.json.Encoder()
_DECODER = msgspec.json.Decoder(Odds)


def odds_text(odds: Odds) -> str:
    """Return odds as JSON text."""
    return _ENCODER.encode(odds).decode()


def odds_of(text: str) -> Odds:
    """Return the odds that JSON text holds. Raises RoomRefusal."""
    try:
        return _DECODER.decode(text)
    except msgspec.DecodeError as error:
        raise RoomRefusal("odds of an issued forecast", got=f"{text[:80]} ({error})") from error


def add(connection: Connection, forecasts: Sequence[Issued]) -> int:
    """Write forecasts that are not there yet, in the caller's writing transaction; return how many were new.

    One that is there by its key stays as it is, whatever the new one says: what was said is not said anew.
    """
    if not forecasts:
        return 0
    there = set(connection.execute(select(ISSUED.c.key)).scalars())
    last = int(connection.execute(select(func.max(ISSUED.c.number))).scalar() or 0)
    rows: list[dict[str, Any]] = []
    for each in forecasts:
        if each.key not in there:
            there.add(each.key)
            rows.append(_row(each, last + len(rows) + 1))
    if rows:
        connection.execute(ISSUED.insert(), rows)
    return len(rows)


def _row(each: Issued, number: int) -> dict[str, Any]:
    return {
        "number": number,
        "key": each.key,
        "animal": each.animal,
        "stage": each.stage,
        "run": each.run,
        "day": each.day.isoformat(),
        "opened_first": each.opened[0].isoformat(),
        "opened_last": each.opened[1].isoformat(),
        "written": coding.instant_text(each.written),
        "entries": each.entries,
        "program": each.program,
        "odds": odds_text(each.odds),
    }


def read(connection: Connection, after: int = 0) -> list[Issued]:
    """Return the forecasts numbered above `after`, ascending."""
    query = ISSUED.select().where(ISSUED.c.number > after).order_by(ISSUED.c.number)
    return [_issued(row._mapping) for row in connection.execute(query)]


def _issued(row: Mapping[Any, Any]) -> Issued:
    return Issued(
        row["animal"],
        row["stage"],
        row["run"],
        date.fromisoformat(row["day"]),
        (date.fromisoformat(row["opened_first"]), date.fromisoformat(row["opened_last"])),
        datetime.fromisoformat(row["written"]),
        row["entries"],
        row["program"],
        odds_of(row["odds"]),
        row["number"],
    )


def faults(connection: Connection) -> Iterator[str]:
    """Yield what is wrong with the forecasts that are kept."""
    for expected, row in enumerate(connection.execute(ISSUED.select().order_by(ISSUED.c.number)), start=1):
        if row.number != expected:
            yield f"issued forecast {row.number}: number {expected} should stand here; some are missing"
            return
        try:
            kept = _issued(row._mapping)
        except (RoomRefusal, ValueError) as fault:
            yield f"issued forecast {row.number}: {fault}"
            continue
        if kept.key != row.key or kept.stage not in STAGES or kept.written.tzinfo is None:
            yield f"issued forecast {row.number}: key, stage or moment of writing do not fit together"


def newest_run(forecasts: Iterable[Issued]) -> str:
    """Return the run of the look back that was written last, '' when there was none."""
    return max(((each.number, each.run) for each in forecasts if each.run), default=(0, ""))[1]
