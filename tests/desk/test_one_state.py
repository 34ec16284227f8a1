"""Answers of the desk that are made of others stand on one state of the journal."""

from __future__ import annotations

from datetime import date

import pytest

from nightround.desk import kept
from nightround.desk.desk import Desk
from nightround.desk.taps import FormRefusal, draft_of_form, parse_tap
from nightround.findings import moult, size
from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Moulted
from nightround.journal.store import Journal

K1 = Ref("animal", "K1")
EVENING = date(2026, 3, 1)


def test_a_moult_written_while_the_moults_are_fitted_is_in_the_next_round(tmp_path, monkeypatch):
    """Another phone's entry during a fit must not be hidden behind an answer kept as the newest."""
    journal = Journal.create(tmp_path / "room", time_zone="UTC")
    journal.append([Draft(K1, on_day(date(2025, 3, 1)), Arrived(taxon="Invented alpha"))])
    fit = moult.forecast

    def fit_while_another_phone_writes(record, **given):
        if journal.last_number() == 1:
            journal.append([Draft(K1, on_day(EVENING), Moulted())])
        return fit(record, **given)

    monkeypatch.setattr(moult, "forecast", fit_while_another_phone_writes)
    with Desk(journal) as desk:
        first = desk.tonight(EVENING)
        second = desk.tonight(EVENING)
    days = [
        row.days_since_moult for report in (first, second) for shelf in report.shelves for row in shelf.rows
    ]
    assert [None, 0] == days


@pytest.mark.parametrize("program", ["the same", "the next"])
def test_no_forecast_of_an_older_state_is_kept_as_the_newest(tmp_path, monkeypatch, program):
    """Neither in memory nor in the cache folder: what came while sizes were fitted is in the next answer."""
    journal = Journal.create(tmp_path / "room", time_zone="UTC")
    journal.append([Draft(K1, on_day(date(2025, 3, 1)), Arrived(taxon="Invented alpha"))])
    monkeypatch.setattr(kept, "WORTH_KEEPING_SECONDS", 0.0)
    fit = size.sizes

    def fit_while_another_phone_writes(record):
        if journal.last_number() == 1:
            journal.append([Draft(K1, on_day(EVENING), Moulted())])
        return fit(record)

    monkeypatch.setattr(size, "sizes", fit_while_another_phone_writes)
    with Desk(journal) as desk:
        first = desk.forecast(EVENING).animals[0]
        if program == "the same":
            second = desk.forecast(EVENING).animals[0]
    if program == "the next":
        with Desk.open(journal.room) as desk:
            second = desk.forecast(EVENING).animals[0]
    assert [None, EVENING] == [first.last_moult, second.last_moult]


@pytest.mark.parametrize("written", ["nan", "inf", "-3", "1e300"])
def test_a_size_that_is_no_size_is_told_not_dropped(written):
    """'nan' and 'inf' are numbers to a computer and would be stored as nothing at all."""
    with pytest.raises(FormRefusal) as told:
        draft_of_form("offered", "K1", {"prey": "roach", "prey_mm": written}, RoomClock("UTC"))
    assert ["prey_mm"] == list(told.value.fields)


@pytest.mark.parametrize("count", ["9" * 30, "9" * 5000])
def test_a_count_of_thousands_of_digits_is_refused(count):
    """Python will not read a number of over 4,300 digits; no button and no field takes one."""
    with pytest.raises(NotReadable):
        parse_and_draft(f"offered~{count}~cricket~-~-~K1")
    with pytest.raises(FormRefusal):
        draft_of_form("offered", "K1", {"number": count}, RoomClock("UTC"))


def parse_and_draft(text: str) -> None:
    """Read a tap as the page does."""
    from nightround.desk.taps import drafts_of

    drafts_of(parse_tap(text), EVENING)
