"""Hours past what counts as cold and hot: counted where loggers read hours, never made from days."""

from __future__ import annotations

from datetime import date

import pytest

from nightround.findings.climate import climate
from nightround.plans.climate_notices import climate_notices, thresholds_of
from nightround.plans.rules import RuleBook
from nightround.record.model import Record
from nightround.reports.climate import ClimateReport
from record.notebook import told


def logged(day: str, hours: list[float | None], place: str = "shelf B") -> str:
    """A day of a logger with its lowest and highest."""
    known = [value for value in hours if value is not None]
    written = " ".join("-" if value is None else f"{value:.1f}" for value in hours)
    ends = f"low_c={min(known)}; high_c={max(known)}; readings={len(known)}"
    return f"{day}  place {place}  logged  file=b.csv; hours_c={written}; {ends}"


def report_of(page: str, on: str) -> tuple[Record, ClimateReport]:
    """The record and its climate as of a day."""
    record = told(page, on)
    return record, climate(record, thresholds_of(record, RuleBook(record)), room="test")


WARM = [22.0] * 24
# From the turn at four: warm until midnight, then 16.5 C for four hours.
COLD_NIGHT = [22.0] * 20 + [16.5] * 4


def test_a_cold_night_says_its_hours_in_all_words() -> None:
    """Two nights of four hours under 17 C: 8 h of 48 read, in the event, the page's words and the months."""
    page = "\n".join(
        [logged("2026-03-01", WARM), logged("2026-03-02", COLD_NIGHT), logged("2026-03-03", COLD_NIGHT),
         logged("2026-03-04", WARM)]
    )  # fmt: skip
    record, found = report_of(page, "2026-03-04")
    (event,) = found.events
    (place,) = event.places
    assert (2, 8, 48) == (place.days, place.hours, place.hours_read)
    assert "down to 16.5 °C (61.7 °F) at shelf B, 8 h under 17.0 °C (62.6 °F), of 48 h read;" in event.words
    (month,) = found.places[0].months
    assert (2, 8, 0, 96) == (month.under, month.hours_under, month.hours_over, month.hours_read)
    (line, *_) = climate_notices(record, RuleBook(record), [])
    assert "shelf B 16.5 °C (61.7 °F) (8 h under 17.0 °C (62.6 °F), of 48 h read)." in line


def test_unread_hours_are_not_counted_as_anything() -> None:
    """The same night with two of its cold hours unread: 2 h of 22 read."""
    page = logged("2026-03-02", [22.0] * 20 + [16.5, None, None, 16.5])
    _, found = report_of(page, "2026-03-02")
    (place,) = found.events[0].places
    assert (2, 22) == (place.hours, place.hours_read)


def test_a_dip_within_an_hour_is_less_than_an_hour() -> None:
    """One reading of 16.9 C in an hour whose mean is 18 C: the night counts, no whole hour does."""
    hours = " ".join(["18.0"] * 24)
    page = f"2026-03-02  place shelf B  logged  file=b.csv; hours_c={hours}; low_c=16.9; high_c=19"
    _, found = report_of(page, "2026-03-02")
    (place,) = found.events[0].places
    assert 0 == place.hours
    assert place.hours_words.startswith("less than an hour under 17.0 °C")


def test_days_read_by_hand_have_no_hours() -> None:
    """A minimum of 14 C read by hand: a cold night as before, without hours and without words on them."""
    _, found = report_of("2026-03-02  place shelf B  reading  temperature_c=14; statistic=min", "2026-03-02")
    (event,) = found.events
    assert (None, None, "") == (
        event.places[0].hours,
        event.places[0].hours_read,
        event.places[0].hours_words,
    )
    assert " h " not in event.words
    assert None is found.places[0].months[0].hours_read


@pytest.mark.parametrize("switch", ["never", ""])
def test_heat_is_counted_over_its_threshold(switch: str) -> None:
    """Three hours of 31 C in a day: 3 h over 30 C; switched off, nothing is counted over it."""
    rule = f"2026-03-01  room   rule_set  rule=heat_wave_c; value={switch}\n" if switch else ""
    _, found = report_of(rule + logged("2026-03-02", [25.0] * 8 + [31.0] * 3 + [25.0] * 13), "2026-03-02")
    if switch:
        assert () == found.events
        assert None is found.places[0].months[0].hours_over
    else:
        (place,) = found.events[0].places
        assert ("heat", 3, 24) == (found.events[0].sort, place.hours, place.hours_read)
        assert date(2026, 3, 2) == place.worst_day
