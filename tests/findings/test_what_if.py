"""The next moult under other temperatures: the fit and answer of the forecast, in the right direction."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from nightround.findings.ahead import ahead
from nightround.findings.moult import ClockOdds, clock_odds, forecast
from nightround.findings.what_if import CAUTIONS, _shifted, lived_temperatures, what_if
from nightround.foundation.refusal import Refusal
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.reports.ahead import WhatIf
from nightround.simulate import room

HOUR_OF_A_DAY = 1 / 24


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> tuple[Record, ClockOdds]:
    """An invented room of 60 animals, with the odds of its last day."""
    invented = room(3, animals=60, years=1.5, end=date(2026, 11, 20))
    with Journal.create(tmp_path_factory.mktemp("room") / "r.sqlite", time_zone="Europe/Paris") as journal:
        journal.append(invented.drafts)
        record = fold(journal.entries(), invented.end, journal.clock)
    odds = clock_odds(record)
    assert odds is not None
    return record, odds


def asked(record: Record, odds: ClockOdds, count: int = 5) -> list[str]:
    """Codes of animals with a forecast, from all over the room."""
    codes = sorted(odds.room.row_of)
    return codes[:: max(1, len(codes) // count)]


def at(odds: ClockOdds, degrees: float) -> ClockOdds:
    """The same odds in a room where every day to come is expected at so many degrees."""
    expected = odds.room.expected
    level = replace(expected, temperature_c=np.full_like(expected.temperature_c, degrees))
    return replace(odds, room=replace(odds.room, expected=level))


def days_of(told: WhatIf, level: str) -> list[float]:
    """Days to one level by rising shift, without the row of the forecast itself."""
    rows = [row for row in told.rows if row.shift_c != 0.0]
    return [np.inf if row.days[level] is None else row.days[level] for row in rows]  # type: ignore[misc]


def test_no_shift_is_the_forecast_itself(known: tuple[Record, ClockOdds]) -> None:
    """Worked out anew with a shift of nothing, every digit that is shown is the forecast's."""
    record, odds = known
    report = forecast(record)
    for code in asked(record, odds):
        row = odds.room.row_of[code]
        again = _shifted(record, odds, int(odds.room.asked[row]), 0.0)
        np.testing.assert_allclose(again.cumulative[0], odds.result.cumulative[row], atol=1e-9)
        told = what_if(record, odds, code)
        moult = report.of(code)
        assert told is not None and moult is not None and moult.next_moult is not None
        middle = next(each for each in told.rows if each.shift_c == 0.0)
        assert middle.within_30 == pytest.approx(moult.next_moult.within_days[30], abs=1e-9)
        assert middle.days["0.50"] == pytest.approx(moult.next_moult.quantiles_days["0.50"], abs=1e-6)


@pytest.mark.parametrize("degrees", [14.0, 20.0, 26.0, 30.0])
def test_warmer_never_delays_below_the_upper_turn(known: tuple[Record, ClockOdds], degrees: float) -> None:
    """At 14 to 30 degrees two more (32 at most) bring every level nearer and 'within 30 days' likelier.

    Up to an hour: evidence of appetite and signs is weighed on a grid of days.
    """
    record, odds = known
    level_room = at(odds, degrees)
    for code in asked(record, odds):
        told = what_if(record, level_room, code, (-2.0, -1.0, 1.0, 2.0))
        assert told is not None
        for level in ("0.10", "0.50", "0.90"):
            days = days_of(told, level)
            assert all(b <= a + HOUR_OF_A_DAY for a, b in zip(days, days[1:], strict=False)), (
                code,
                level,
                days,
            )
        chances = [row.within_30 for row in told.rows]
        assert all(b >= a - 1e-3 for a, b in zip(chances, chances[1:], strict=False)), (code, chances)


def test_above_the_upper_turn_warmer_delays_and_is_said_so(known: tuple[Record, ClockOdds]) -> None:
    """From 35 degrees on two more slow every animal down, and the rows say that growth slows there."""
    record, odds = known
    hot = at(odds, 35.0)
    for code in asked(record, odds):
        told = what_if(record, hot, code, (-2.0, 2.0))
        assert told is not None
        days = days_of(told, "0.50")
        assert days[1] > days[0]
        assert all("growth slows" in row.beyond for row in told.rows)


def test_what_no_record_shows_is_called_an_extrapolation(known: tuple[Record, ClockOdds]) -> None:
    """Inside the temperatures of nine in ten completed intervals nothing is said; far outside it is."""
    record, odds = known
    lived = lived_temperatures(odds)
    assert np.isfinite(lived).sum() > 30
    middle = float(np.nanmedian(lived))
    code = asked(record, odds)[0]
    for degrees, words in ((middle, ""), (middle - 12.0, "cooler"), (31.0, "warmer")):
        told = what_if(record, at(odds, degrees), code, (0.5,))
        assert told is not None
        assert words in told.rows[0].beyond
        assert bool(words) == bool(told.rows[0].beyond)
        assert told.records_low_c == pytest.approx(float(np.nanquantile(lived, 0.05)))


def test_temperatures_lived_are_those_of_the_places(known: tuple[Record, ClockOdds]) -> None:
    """The mean temperature of an interval is the mean of its days' readings, found by averaging them."""
    _, odds = known
    climate, rows = odds.room.data.climate, odds.room.data.intervals
    lived, found = lived_temperatures(odds), []
    for row in range(rows.count):
        if rows.end_last[row] < 0 or rows.start_first[row] < 0:
            continue
        first = int(rows.start_first[row] + rows.start_last[row] + 1) // 2
        last = int(rows.end_first[row] + rows.end_last[row] + 1) // 2
        stays = odds.room.histories[rows.animal[row]].stays
        here = [name for name, begun, end in stays if begun.toordinal() <= first and end.toordinal() >= last]
        if not here or last - first < 40:
            continue
        place = odds.room.places.index(here[0])
        days = climate.temperature_c[place, first - climate.first_day : last - climate.first_day]
        if np.isfinite(days).mean() > 0.95:
            found.append(lived[row] - np.nanmean(np.minimum(days, 32.0)))
    assert len(found) > 10
    np.testing.assert_allclose(found, 0.0, atol=0.1)


def test_the_cautions_are_there(known: tuple[Record, ClockOdds]) -> None:
    """Heat is never advised: the cautions name the upper turn, fire, thermostats and local advice."""
    record, odds = known
    told = what_if(record, odds, asked(record, odds)[0])
    assert told is not None
    assert CAUTIONS == told.cautions
    words = " ".join(told.cautions)
    assert "Never heat a spider" in words
    for said in ("32 °C", "thermostat", "fire", "local advice", "veterinarian", "shortens life"):
        assert said in words
    assert told.q10_low < told.q10 < told.q10_high


def test_a_place_without_readings_says_so(known: tuple[Record, ClockOdds]) -> None:
    """Its days to come stand at the assumed 23 degrees, shifted, and warmth still hurries."""
    record, odds = known
    blind = replace(
        odds.room,
        expected=replace(
            odds.room.expected, temperature_c=np.full_like(odds.room.expected.temperature_c, np.nan)
        ),
    )
    told = what_if(record, replace(odds, room=blind), asked(record, odds)[0])
    assert told is not None
    assert [21.0, 22.0, 23.0, 24.0, 25.0] == pytest.approx([row.mean_c for row in told.rows])
    days = days_of(told, "0.50")
    assert days == sorted(days, reverse=True)


def test_ahead_of_the_unmeasured_and_of_nobody(known: tuple[Record, ClockOdds]) -> None:
    """Without a reading: a what-if, no growth; a stranger has nothing; days gone by are refused."""
    record, odds = known
    reports = {animal.code: ahead(record, odds, animal.code) for animal in record.living()}
    silent = [told for told in reports.values() if told.growth is None and told.what_if is not None]
    assert silent
    assert all((0, ()) == (told.n_readings, told.fan) for told in silent)
    told = next(each for each in reports.values() if each.growth is not None and each.what_if is not None)
    assert 3 == len(told.growth.on_days) if told.growth else False
    assert all(a.day < b.day for a, b in zip(told.fan, told.fan[1:], strict=False))
    assert all(point.low_mm <= point.middle_mm <= point.high_mm for point in told.fan)
    for code, report in reports.items():
        assert (report.what_if is None) == (code not in odds.room.row_of)
    assert ahead(record, odds, "nobody").growth is None
    with pytest.raises(Refusal, match="days from"):
        ahead(record, odds, told.animal, days=(date(2020, 1, 1),))
