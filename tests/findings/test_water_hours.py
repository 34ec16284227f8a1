"""Hours that a logger read reach the homes' water; days without one go on as before; frost stays frost."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from findings.watered_home import FIRST, dried, journal, water_of, weighed
from nightround.findings.water.air import room_air
from nightround.record.hourly import hourly_climate
from nightround.record.make_histories import daily_climate
from nightround.science.water.air import vapour_density_kg_m3
from record.notebook import told

DAYS = 20


def swinging(day: date, night_c: float, day_c: float, percent: float = 50.0) -> str:
    """A logged day: twelve warm hours, twelve cold ones."""
    hours = " ".join(f"{day_c if at < 12 else night_c:.1f}" for at in range(24))
    moist = " ".join([f"{percent:.0f}"] * 24)
    return f"{day.isoformat()}  place shelf A  logged  file=a.csv; hours_c={hours}; hours_percent={moist}"


def test_hours_stand_as_read_and_other_days_at_their_mean() -> None:
    """18 C by night and 26 C by day on 2 March, a hand reading of 21 C on 4 March, 3 March in between."""
    on = date(2026, 3, 4)
    record = told(
        f"{swinging(date(2026, 3, 2), 18.0, 26.0)}\n2026-03-04  place shelf A  reading  temperature_c=21",
        "2026-03-04",
    )
    air = room_air(daily_climate(record), ["shelf A"], on, 5, 5, hourly_climate(record))
    hourly = air.hourly(air.now + 1)
    at = (date(2026, 3, 2).toordinal() - air.first) * 24
    row = hourly.temperature_c[0]
    assert [22.0] * 4 + [26.0] * 12 + [18.0] * 12 == row[at : at + 28].tolist()
    assert [pytest.approx(21.5)] * 20 == row[at + 28 : at + 48].tolist()
    assert [21.0] * 24 == row[at + 48 : at + 72].tolist()
    later = air.hourly(air.now + 1, air.now - 2)
    assert np.array_equal(row[-72:], later.temperature_c[0])


def test_a_place_without_a_logger_is_as_it_was_to_the_bit() -> None:
    """Daily readings only: with and without the hours of the record, the same array."""
    page = "\n".join(f"2026-03-0{n}  place shelf A  reading  temperature_c={20 + n}" for n in range(1, 6))
    record = told(page, "2026-03-06")
    climate = daily_climate(record)
    plain = room_air(climate, ["shelf A"], record.on, 10, 10)
    with_hours = room_air(climate, ["shelf A"], record.on, 10, 10, hourly_climate(record))
    assert {} == with_hours.logged
    assert plain.hourly(21).temperature_c.tobytes() == with_hours.hourly(21).temperature_c.tobytes()


def test_frost_that_was_read_is_kept() -> None:
    """A reading of -5 C stays -5 C in the hours of the balance; it was taken as 0 C before."""
    record = told("2026-03-02  place shelf A  reading  temperature_c=-5", "2026-03-02")
    air = room_air(daily_climate(record), ["shelf A"], record.on, 2, 2)
    assert -5.0 == air.hourly(3).temperature_c[0].min()


def test_a_day_that_swings_dries_a_home_faster_than_its_mean() -> None:
    """The same daily mean of 22 C, by day 32 C and by night 12 C: vapour's curve is bent upwards.

    Half of what saturated air holds at 12 C and at 32 C together is more than at 22 C; by that ratio a home
    needs a smaller multiplier to have lost what its weighings say.
    """
    home = dried(1.0, DAYS)
    lines = [weighed(n, home.grams(n)) for n in range(0, DAYS + 1, 4)]
    still, _, _ = water_of(journal(lines, DAYS), DAYS)
    logged = "\n".join(swinging(FIRST + timedelta(days=n), 12.0, 32.0) for n in range(-1, DAYS + 1))
    swings, water, _ = water_of(journal(lines, DAYS, read=False) + "\n" + logged, DAYS)
    assert 1 == len(water.air.logged)
    bent = float(vapour_density_kg_m3(np.array([12.0, 32.0])).mean() / vapour_density_kg_m3(22.0))
    assert still.calibration is not None and swings.calibration is not None
    ratio = still.calibration.multiplier.value / swings.calibration.multiplier.value
    assert bent == pytest.approx(ratio, rel=0.05)
