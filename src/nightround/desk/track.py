"""The track record at the desk: forecasts kept as they are issued, held to what happened, looked back for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import date
from typing import TYPE_CHECKING, Any

from nightround.foundation import clock as clocks
from nightround.foundation.refusal import Refusal, RoomRefusal
from nightround.journal.issued import Issued, newest_run
from nightround.journal.store import Journal
from nightround.record.model import Record
from nightround.reports.track_record import TrackReport, Widening

if TYPE_CHECKING:
    from threading import RLock

    from nightround.desk.desk import Desk
    from nightround.journal.entries import Entry


class Tracking:
    """What the desk knows and does about past forecasts; `Desk` brings the rest."""

    if TYPE_CHECKING:
        journal: Journal
        _lock: RLock
        _issued: list[Issued]
        _answers: dict[tuple[str, date], tuple[int, Any]]

        def entries(self) -> list[Entry]: ...
        def _standing(self, question: str, record: Record) -> Any: ...

    def issued(self) -> list[Issued]:
        """Return every forecast that is kept, in the order in which they were, reading only the new ones."""
        with self._lock:
            fresh = self.journal.issued(self._issued[-1].number if self._issued else 0)
            if fresh:
                self._issued = [*self._issued, *fresh]
            return self._issued

    def track(self: Desk, on: date | None = None) -> TrackReport:  # type: ignore[misc]
        """Return how past forecasts did, by what had happened up to the day."""
        from nightround.findings.track_record import track_record

        with self.one_state():
            record, issued = self.record(on), self.issued()
            state = len(self.entries()), len(issued)
            _, held = self._answers.get(("track", record.on), (0, ((-1, -1), None)))
            report: TrackReport | None = held[1] if held[0] == state else None
            if report is None:
                report = track_record(record, issued, room=self.name, invented=self.invented)
                self._answers["track", record.on] = state[0], (state, report)
            return report

    def keep_forecasts(self: Desk) -> int:  # type: ignore[misc]
        """Keep those of today's forecasts that the track record asks for; return how many."""
        return keep_forecasts(self)

    def look_back(  # type: ignore[misc]
        self: Desk,
        *,
        every: int | None = None,
        most: int | None = None,
        heard: Callable[[int, int], None] = lambda done, of: None,
    ) -> int:
        """Work out what would have been forecast on past days; return how many forecasts that gave."""
        return look_back(self, every=every, most=most, heard=heard)

    def _widenings(self, record: Record) -> Mapping[str, Widening]:
        """Return what the track record asks for; where that has changed, the day's forecast is forgotten.

        It stands while only quiet entries come; a look back adds past forecasts without any entry.
        """
        from nightround.findings.track_record import widenings

        with self._lock:
            issued = self.issued()
            run = newest_run(issued)
            held: tuple[str, Mapping[str, Widening]] | None = self._standing("widenings", record)
            if held is not None and held[0] == run:
                return held[1]
            found = widenings(record, issued)
            _, before = self._answers.get(("widenings", record.on), (0, ("", {})))
            if before[1] != found:
                for question in ("forecast", "tonight", "odds"):
                    self._answers.pop((question, record.on), None)
            self._answers["widenings", record.on] = (len(self.entries()), (run, found))
            return found


def asked_with(question: str, wider: Mapping[str, Widening]) -> str:
    """Return the name under which an answer is kept that was widened so."""
    told = sorted((group, round(each.applied, 6), each.words) for group, each in wider.items())
    return f"{question} {told}" if told else question


def keep_forecasts(desk: Desk) -> int:
    """Keep today's forecasts that are due to be kept; return how many. Writes nothing on most evenings.

    A room that cannot be written to keeps none: what was asked for is answered all the same.
    """
    from nightround.findings.issued import due

    today = desk.today()
    with desk.one_state():
        record, report = desk.record(today), desk.forecast(today)
        found = due(record, report, desk.issued(), written=clocks.now())
    with suppress(RoomRefusal):
        return desk.journal.issue(found)
    return 0


def look_back(
    desk: Desk, *, every: int | None = None, most: int | None = None, heard: Callable[[int, int], None]
) -> int:
    """Work out what today's program would have forecast on past days, and keep it as such; return how many.

    every, most   days between the days looked back from, and how many such days at most
    heard         is told how many days are done, of how many: a day takes about as long as tonight's round
    Raises Refusal when there is no past to look back on.
    """
    from nightround.findings import look_back as looking

    entries, today = list(desk.entries()), desk.today()
    days = looking.past_days(
        entries, today, every=every or looking.EVERY_DAYS, most=most or looking.MOST_DAYS
    )
    if not days:
        raise Refusal(
            "a room with a moult some weeks ago, to look back on",
            got="none",
            todo="Wait: forecasts are kept from now on, and counted when their windows are over",
        )
    written = clocks.now()
    run = f"look-back-{written:%Y%m%dT%H%M%S}"
    found = looking.look_back(entries, desk.journal.clock, days, run=run, written=written, heard=heard)
    return desk.journal.issue(found)
