"""The simulator's notebook: drafts with the instant each was written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import msgspec

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import When
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.animal import OfferSeen


@dataclass(slots=True)
class Line:
    """One entry to be. `offer` and `corrects` are places in the book, turned into references at the end."""

    written: datetime
    about: Ref
    when: When
    body: Body
    offer: int | None
    corrects: int | None
    device: str


class Book:
    """Collects lines in any order; `close` sorts them by the instant of writing."""

    def __init__(self, clock: RoomClock) -> None:
        self.clock = clock
        self.lines: list[Line] = []

    def local(self, day: date, hour: int, minute: int = 0) -> datetime:
        """Return the instant of a wall-clock time on a day of the room."""
        return datetime.combine(day, time(hour, minute), tzinfo=self.clock.zone).astimezone(UTC)

    def write(
        self,
        written: datetime,
        about: Ref,
        body: Body,
        when: When,
        *,
        offer: int | None = None,
        corrects: int | None = None,
        device: str = "phone",
    ) -> int:
        """Take a line and return its place, for `offer` and `corrects` of later ones."""
        self.lines.append(Line(written, about, when, body, offer, corrects, device))
        return len(self.lines) - 1

    def close(self, last: datetime, key: str) -> tuple[tuple[Draft, ...], list[int]]:
        """Return the drafts up to `last`, ascending by writing, and each place's position from 1 (0: none).

        References inside them count within this one act (−k: the k-th draft), as `Draft` has it.
        """
        order = sorted(
            (place for place, line in enumerate(self.lines) if line.written <= last),
            key=lambda place: self.lines[place].written,
        )
        positions = [0] * len(self.lines)
        for position, place in enumerate(order, start=1):
            positions[place] = position
        return tuple(self._draft(place, positions, key) for place in order), positions

    def _draft(self, place: int, positions: Sequence[int], key: str) -> Draft:
        line = self.lines[place]
        body = line.body
        if line.offer is not None and isinstance(body, OfferSeen):
            body = msgspec.structs.replace(body, offer=-positions[line.offer])
        corrects = None if line.corrects is None else -positions[line.corrects]
        evening = f"evening {self.clock.day_of(line.written).isoformat()}"
        return Draft(
            line.about,
            line.when,
            body,
            corrects,
            f"{key}-{positions[place]}",
            line.device,
            line.written,
            evening,
        )


def later(instant: datetime, seconds: float) -> datetime:
    """Return an instant so many whole seconds later."""
    return instant + timedelta(seconds=int(seconds))
