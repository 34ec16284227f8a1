"""The only module that asks what time it is, and the rule that turns instants into the room's days."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from nightround.foundation.refusal import NotReadable

_FIXED: ContextVar[datetime | None] = ContextVar("fixed_now", default=None)

DAY_TURNS_AT = time(4, 0)
"""Default hour at which a room's day turns: a round after midnight belongs to the evening before."""


def now() -> datetime:
    """Return the present instant in UTC (or the one given to `fixed`)."""
    return _FIXED.get() or datetime.now(UTC)


@contextmanager
def fixed(instant: datetime) -> Iterator[None]:
    """Hold the clock at an aware `instant`, for tests and for the demo's simulator."""
    token = _FIXED.set(instant.astimezone(UTC))
    try:
        yield
    finally:
        _FIXED.reset(token)


def machine_zone() -> str:
    """Return the machine's IANA time zone name, or `UTC` when it does not tell."""
    import os
    from pathlib import Path

    named = os.environ.get("TZ", "").lstrip(":")
    for candidate in (named, _zone_of_link(Path("/etc/localtime")), _first_line(Path("/etc/timezone"))):
        if candidate and _is_zone(candidate):
            return candidate
    return "UTC"


def _zone_of_link(link: object) -> str:
    from pathlib import Path

    path = Path(str(link))
    if not path.is_symlink():
        return ""
    return str(path.resolve()).rpartition("zoneinfo/")[2]


def _first_line(path: object) -> str:
    from pathlib import Path

    file = Path(str(path))
    return file.read_text(encoding="utf-8").strip() if file.is_file() else ""


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


@dataclass(frozen=True)
class RoomClock:
    """A room's own time: its zone (IANA name) and the local hour at which its day turns."""

    zone_name: str = "UTC"
    turns_at: time = DAY_TURNS_AT

    def __post_init__(self) -> None:
        if not _is_zone(self.zone_name):
            raise NotReadable(
                "a time zone by its IANA name, such as Europe/Lisbon or America/Denver",
                got=repr(self.zone_name),
                todo="Give --time-zone with such a name",
            )

    @cached_property
    def zone(self) -> ZoneInfo:
        """The zone as an object."""
        return ZoneInfo(self.zone_name)

    def day_of(self, instant: datetime) -> date:
        """Return the room's day of an aware `instant`: before the turn it is still yesterday."""
        local = instant.astimezone(self.zone)
        day = local.date()
        # Compared as instants: an hour that comes twice, or never, must not send a day back.
        begun = local.astimezone(UTC) >= self.close_of(day - timedelta(days=1))
        return day if begun else day - timedelta(days=1)

    def close_of(self, day: date) -> datetime:
        """Return the UTC instant at which the room's `day` ends (23, 24 or 25 hours after it began)."""
        local = datetime.combine(day + timedelta(days=1), self.turns_at, tzinfo=self.zone)
        return local.astimezone(UTC)

    def now(self) -> datetime:
        """Return the present instant in the room's zone."""
        return now().astimezone(self.zone)

    def today(self) -> date:
        """Return the room's present day."""
        return self.day_of(now())
