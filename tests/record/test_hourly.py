"""Hours that loggers read: by the room's own clock, over both changes of summer time, several loggers."""

from __future__ import annotations

from datetime import date

from nightround.record.hourly import hourly_climate, logged_hours
from record.notebook import told


def hours(*values: float | str) -> str:
    """Hours as a logged day holds them."""
    return " ".join(map(str, values))


def test_hours_stand_at_the_clock_they_were_read_at() -> None:
    """The room's day turns at four: hour 0 of 2 March is 4 o'clock, its last is 3 o'clock of 3 March."""
    day = hours(*range(24))
    record = told(f"2026-03-02  place shelf A  logged  file=a.csv; hours_c={day}")
    found = hourly_climate(record)["shelf A"].temperature_c
    assert [date(2026, 3, 2), date(2026, 3, 3)] == list(found)
    assert (None,) * 4 + tuple(map(float, range(20))) == found[date(2026, 3, 2)]
    assert (20.0, 21.0, 22.0, 23.0) == found[date(2026, 3, 3)][:4]
    assert {None} == set(found[date(2026, 3, 3)][4:])
    assert {} == hourly_climate(record)["shelf A"].humidity_percent


def test_the_hour_that_comes_twice_is_the_mean_of_both() -> None:
    """Lisbon, 25 October 2026: at 2 o'clock clocks go back to 1; the day before has 25 hours."""
    day = hours(*[20] * 21, 10, 14, 20, 20)
    record = told(f"2026-10-24  place shelf A  logged  file=a.csv; hours_c={day}")
    found = hourly_climate(record)["shelf A"].temperature_c[date(2026, 10, 25)]
    assert (20.0, 12.0, 20.0, 20.0) == found[:4]


def test_the_hour_that_never_comes_is_unknown() -> None:
    """Lisbon, 29 March 2026: 1 o'clock is left out; the day before has 23 hours."""
    record = told(f"2026-03-28  place shelf A  logged  file=a.csv; hours_c={hours(*range(23))}")
    found = hourly_climate(record)["shelf A"].temperature_c[date(2026, 3, 29)]
    assert (20.0, None, 21.0, 22.0) == found[:4]


def test_two_loggers_are_averaged_hour_by_hour() -> None:
    """20 and 22 make 21; where one read nothing the other's hour stands; none read: unknown."""
    record = told(
        f"""
        2026-03-02  place shelf A  logged  file=a.csv; hours_c={hours(20, 20, "-", *["-"] * 21)}
        2026-03-02  place shelf A  logged  file=b.csv; hours_c={hours(22, "-", "-", *["-"] * 21)}
        """
    )
    found = logged_hours(record.places["shelf A"], "hours_c")[date(2026, 3, 2)]
    assert (21.0, 20.0, None) == found[:3]


def test_older_days_are_left_out_where_that_is_asked() -> None:
    """Two days on record, one of them since 3 March."""
    day = hours(*[20] * 24)
    record = told(
        f"""
        2026-03-02  place shelf A  logged  file=a.csv; hours_c={day}
        2026-03-03  place shelf A  logged  file=a.csv; hours_c={day}
        """
    )
    assert 2 == len(logged_hours(record.places["shelf A"], "hours_c"))
    assert [date(2026, 3, 3)] == list(logged_hours(record.places["shelf A"], "hours_c", date(2026, 3, 3)))
