"""The trial keeper's book: entries as a journal would hold them, in the order of writing, no database."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import When, on_day
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import KIND_OF_BODY, Body
from nightround.record.fold import fold
from nightround.record.model import Record


class Notebook:
    """Takes down what is seen and done; `record` is what the planner may read."""

    def __init__(self, clock: RoomClock) -> None:
        self.clock = clock
        self.entries: list[Entry] = []
        self._moment = datetime(2000, 1, 1, tzinfo=UTC)

    def write(self, day: date, about: Ref, body: Body, when: When | None = None, hour: int = 20) -> int:
        """Write one entry on an evening and return its number."""
        moment = datetime.combine(day, time(hour), tzinfo=self.clock.zone).astimezone(UTC)
        self._moment = max(moment, self._moment + timedelta(seconds=1))
        number = len(self.entries) + 1
        kind = KIND_OF_BODY[type(body)].name
        self.entries.append(
            Entry(
                number,
                kind,
                about,
                when or on_day(day),
                body,
                self._moment,
                "phone",
                f"trial-{number}",
                None,
                f"evening {day.isoformat()}",
            )  # fmt: skip
        )
        return number

    def record(self, on: date) -> Record:
        """Fold what was written so far, as of the close of a day."""
        return fold(self.entries, on, self.clock)
