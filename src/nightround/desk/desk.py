"""The desk: the one object that faces talk to. It asks the layers below and hands out frozen reports."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from nightround.desk.ahead import LookingAhead
from nightround.desk.claims import Claims
from nightround.desk.climate import Climates
from nightround.desk.homes import HomePlans
from nightround.desk.kept import kept_or
from nightround.desk.larder import Larders
from nightround.desk.taxon import Taxa
from nightround.desk.track import Tracking, asked_with
from nightround.desk.water import Waters
from nightround.foundation.collector import collector_paused
from nightround.foundation.problem import Problem
from nightround.foundation.refusal import NoSuchThing
from nightround.journal.entries import Draft, Entry, Written
from nightround.journal.store import Journal
from nightround.record.model import Animal, Record

if TYPE_CHECKING:
    from nightround.desk.exchange import ExportDone, ImportDone
    from nightround.desk.jot import JotReading
    from nightround.findings.moult import ClockOdds
    from nightround.journal.tables import DateOrder
    from nightround.journal.verify import VerifyReport
    from nightround.reports.forecast import ForecastReport
    from nightround.reports.room import AnimalReport, HistoryLine, ShelvesReport
    from nightround.reports.size import SizeReport
    from nightround.reports.tonight import TonightReport
    from nightround.reports.track_record import Widening

T = TypeVar("T")

_KEPT_DAYS = 3


class Desk(Climates, Tracking, LookingAhead, Waters, Larders, HomePlans, Taxa, Claims):
    """Reads and acts on one room. Safe to share between threads; close it when done.

    Every answer is computed once per (journal state, day) and shared: answers are frozen.
    """

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self._lock = threading.RLock()
        self._entries: list[Entry] = []
        self._answers: dict[tuple[str, date], tuple[int, Any]] = {}
        self._days: list[date] = []
        self._held = 0
        self._issued = []

    @classmethod
    def open(cls, room: str | Path) -> Desk:
        """Open a room's desk. Raises RoomRefusal."""
        return cls(Journal.open(room))

    def __enter__(self) -> Desk:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the room."""
        self.journal.close()

    # -- the room ------------------------------------------------------------------------------------

    @property
    def name(self) -> str:
        """The room's name."""
        return self.journal.name

    @property
    def invented(self) -> bool:
        """Whether this is the demo room."""
        return self.journal.invented

    def today(self) -> date:
        """Return the room's present day (a round after midnight belongs to the evening before)."""
        return self.journal.clock.today()

    def entries(self) -> list[Entry]:
        """Return all entries, reading only the new ones from the database."""
        with self._lock:
            if not self._held:
                after = self._entries[-1].number if self._entries else 0
                fresh = self.journal.entries(after)
                if fresh:
                    self._entries = [*self._entries, *fresh]
            return self._entries

    @contextmanager
    def one_state(self) -> Iterator[None]:
        """Answer everything asked in here from one state of the journal, whatever is written meanwhile.

        An answer made of others (the round of record, sizes and forecast) would else mix two states, and
        be kept as the answer of the newer one.
        """
        with self._lock:
            self.entries()
            self._held += 1
            try:
                yield
            finally:
                self._held -= 1

    # -- reading -------------------------------------------------------------------------------------

    def record(self, on: date | None = None) -> Record:
        """Return what is true as of the close of day `on` (default today)."""
        from nightround.record.fold import fold

        day = on or self.today()
        return self._once("record", day, lambda entries: fold(entries, day, self.journal.clock))

    def sizes(self, on: date | None = None) -> dict[str, SizeReport]:
        """Return each animal's sizes."""
        from nightround.reports.size import SizeReport

        def answer(entries: list[Entry]) -> dict[str, SizeReport]:
            standing: dict[str, SizeReport] | None = self._standing("sizes", record)
            return standing or kept_or(
                "sizes", entries, record.on, dict[str, SizeReport], lambda: _sizes_of(record)
            )

        with self.one_state():
            record = self.record(on)
            return self._once("sizes", record.on, answer)

    def forecast(self, on: date | None = None) -> ForecastReport:
        """Return the moult forecast of every living animal."""
        from nightround.reports.forecast import ForecastReport

        def answer(entries: list[Entry]) -> ForecastReport:
            standing: ForecastReport | None = self._standing("forecast", record)
            taken_in = standing and self._taken_in(standing, record, sizes)
            if taken_in:
                return taken_in
            _, earlier = self._answers.get(("odds", record.on), (0, None))
            keep = partial(self._keep_odds, record.on)
            if earlier is not None:
                # A fit that took entries in differs by a hair from a whole one: it is not kept on disk.
                return _forecast_of(record, sizes, wider, keep, earlier)
            return kept_or(
                asked_with("forecast", wider),
                entries,
                record.on,
                ForecastReport,
                lambda: _forecast_of(record, sizes, wider, keep),
            )

        with self.one_state():
            record, sizes = self.record(on), self.sizes(on)
            wider = self._widenings(record)
            return self._once("forecast", record.on, answer)

    def odds(self, on: date | None = None) -> ClockOdds | None:
        """Return the fits and distributions behind the forecast; None in a room without animals."""
        from nightround.findings.moult import clock_odds

        with self.one_state():
            record = self.record(on)
            self.forecast(on)
            odds = self._odds_of(record.on, len(self.entries()))
            if odds is None:
                odds = clock_odds(record, widenings=self._widenings(record))
                self._keep_odds(record.on, odds)
            return odds

    def tonight(self, on: date | None = None) -> TonightReport:
        """Return the round of that evening."""
        from nightround.plans.tonight import tonight

        with self.one_state():
            record, sizes, forecast = self.record(on), self.sizes(on), self.forecast(on)
            water, errands = self.water(on), (*self.errands(on), *self.planned_moves(on))
            return self._once(
                "tonight",
                record.on,
                lambda _: tonight(
                    record,
                    forecast,
                    sizes,
                    room=self.name,
                    invented=self.invented,
                    water=water,
                    errands=errands,
                ),
            )

    def animal(self, code: str, on: date | None = None) -> AnimalReport:
        """Return one animal's page. Raises NoSuchThing with the nearest codes."""
        from nightround.desk.animal_page import animal_report

        with self.one_state():
            return animal_report(self, self.find(code, on), on)

    def shelves(self, on: date | None = None) -> ShelvesReport:
        """Return the shelves in walking order."""
        from nightround.desk.shelves_page import shelves_report

        with self.one_state():
            return shelves_report(self, on)

    def problems(self, on: date | None = None) -> tuple[Problem, ...]:
        """Return what disagrees in the record, and overruled rules that cannot be read."""
        from nightround.plans.rules import RuleBook

        record = self.record(on)
        return tuple(sorted((*record.problems, *RuleBook(record).problems)))

    def recent(self, limit: int = 50) -> list[HistoryLine]:
        """Return the newest entries in words, newest first; struck ones say why."""
        from nightround.desk.words import history_lines

        entries = self.entries()
        return history_lines(entries[-limit:], self.record().entries, entries)

    def find(self, code: str, on: date | None = None) -> Animal:
        """Return the animal of that code, in any spelling of upper and lower case."""
        from nightround.desk.finding import animal_named

        return animal_named(self.record(on), code)

    def search(self, words: str, on: date | None = None) -> list[Animal]:
        """Return animals by code, taxon under any name, shelf or home, best first."""
        from nightround.desk.finding import search

        return search(self.record(on), words)

    def entry(self, number: int) -> Entry:
        """Return one entry. Raises NoSuchThing."""
        entries = self.entries()
        if not 0 < number <= len(entries):
            raise NoSuchThing(f"an entry from 1 to {len(entries)}", got=str(number))
        return entries[number - 1]

    def verify(self) -> VerifyReport:
        """Check the journal."""
        return self.journal.verify()

    # -- acting --------------------------------------------------------------------------------------

    def write(self, drafts: Sequence[Draft], *, intention: str = "", device: str = "") -> Written:
        """Write drafts as one act; their keys make a second tap harmless."""
        return self.journal.append(drafts, intention=intention, device=device)

    def undo(self, intention: str, *, key: str = "", device: str = "") -> Written:
        """Strike everything one act wrote. Undoing an undo brings it back."""
        from nightround.desk.acts import undo_drafts

        return self.write(undo_drafts(self, intention, key), device=device)

    def strike(self, number: int, why: str, *, key: str = "", device: str = "") -> Written:
        """Strike one entry, with the reason."""
        from nightround.desk.acts import strike_draft

        return self.write([strike_draft(self, self.entry(number), why, key)], device=device)

    def understand(self, text: str, on: date | None = None) -> JotReading:
        """Read a plain line such as 'K12 took 2 crickets; K07 refused' into drafts, writing nothing."""
        from nightround.desk.jot import understand

        return understand(self.record(on), text, self.today() if on is None else on)

    def import_tables(
        self,
        path: str | Path,
        *,
        commit: bool = False,
        keep_good: bool = False,
        rejects: Path | None = None,
        dates: DateOrder = "ask",
    ) -> ImportDone:
        """Take in plain tables; without `commit` only say what would happen. `rejects`: folder for them."""
        from nightround.desk.exchange import import_tables

        return import_tables(
            self, Path(path), commit=commit, keep_good=keep_good, rejects=rejects, dates=dates
        )

    def import_pasted(
        self,
        text: str,
        *,
        commit: bool = False,
        keep_good: bool = False,
        rejects: Path | None = None,
        dates: DateOrder = "ask",
    ) -> ImportDone:
        """Take in a pasted list (code, taxon, shelf, span, last moult). `rejects`: folder for them."""
        from nightround.desk.exchange import import_pasted

        return import_pasted(self, text, commit=commit, keep_good=keep_good, rejects=rejects, dates=dates)

    def take_back(self, intention: str) -> Written:
        """Take back a whole import as one. Raises NoSuchThing."""
        from nightround.desk.acts import take_back_draft

        return self.write([take_back_draft(self, intention)])

    def export_tables(self, directory: str | Path) -> ExportDone:
        """Write all plain tables and their description."""
        from nightround.desk.exchange import export_tables

        return export_tables(self, Path(directory))

    # -- once per state ------------------------------------------------------------------------------

    def _taken_in(
        self, standing: ForecastReport, record: Record, sizes: dict[str, SizeReport]
    ) -> ForecastReport | None:
        """Return the day's earlier forecast with the quiet entries since; None when it needs a fit."""
        from nightround.findings.reuse import refreshed, told_about

        count, _ = self._answers["forecast", record.on]
        told = told_about(record, self.entries()[count:])
        done = refreshed(standing, record, told, self._odds_of(record.on, count), sizes)
        if done is None:
            return None
        self._keep_odds(record.on, done[1])
        return done[0]

    def _odds_of(self, on: date, count: int) -> ClockOdds | None:
        """Return the odds held for that day and so many entries; None when there are none."""
        held, odds = self._answers.get(("odds", on), (-1, None))
        return odds if held == count else None

    def _keep_odds(self, on: date, odds: ClockOdds | None) -> None:
        """Hold the odds of one day, the one asked about last: the fits of a large room take much memory."""
        for question, day in list(self._answers):
            if question == "odds":
                del self._answers[question, day]
        if odds is not None:
            self._answers["odds", on] = (len(self.entries()), odds)

    def _standing(self, question: str, record: Record) -> Any:
        """Return this day's earlier answer if nothing written since asks for a new fit, else None."""
        from nightround.findings.reuse import asks_for_a_fit

        with self._lock:
            count, answer = self._answers.get((question, record.on), (0, None))
            return None if answer is None or asks_for_a_fit(self.entries()[count:]) else answer

    def _once(self, question: str, on: date, answer: Callable[[list[Entry]], T]) -> T:
        with self._lock:
            entries = self.entries()
            count, found = self._answers.get((question, on), (-1, None))
            if count != len(entries):
                with collector_paused():
                    found = answer(entries)
                self._answers[question, on] = (len(entries), found)
            self._forget_other_days(on)
            kept: T = found
            return kept

    def _forget_other_days(self, on: date) -> None:
        """Keep the answers of the last few days asked about: a large room's record takes much memory."""
        self._days = [*(day for day in self._days if day != on), on][-_KEPT_DAYS:]
        for question, day in list(self._answers):
            if day not in self._days:
                del self._answers[question, day]


def _sizes_of(record: Record) -> dict[str, SizeReport]:
    from nightround.findings.size import sizes

    return sizes(record)


def _forecast_of(
    record: Record,
    sizes: dict[str, SizeReport],
    wider: Mapping[str, Widening],
    keep: Callable[[ClockOdds], None],
    earlier: ClockOdds | None = None,
) -> ForecastReport:
    from nightround.findings.moult import forecast

    return forecast(record, sizes=sizes, keep=keep, widenings=wider, earlier=earlier)
