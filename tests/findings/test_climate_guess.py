"""The temperature to be expected at a place, and whether its stated spread is right.

Of the means over the next 30, 90 and 180 days about 80 % should lie within 1.28 stated sd. Checked on tubs
of the crab records, on the invented room, and on an outdoor record, Seattle-Tacoma airport 2012 to 2015 (NOAA
daily summaries, as distributed in the open collection of example data of the Vega project), with its swings
halved: a room indoors swings about half as much (common practice, no source).
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from nightround.findings.clock_climate import LEAST_SPREAD_C, expected_climate, past_climate
from nightround.record.histories import DailyClimate
from nightround.simulate.climate import QUARANTINE, SHELVES, make_climate

FOUR_IN_FIVE = 1.2816
# Means of (highest + lowest) / 2 of each week from 1 January 2012 on, in tenths of a degree Celsius.
SEATTLE_WEEKS = """
    69 36 8 47 73 89 54 58 41 60 53 52 83 77 112 101 126 97 123 151 133 144 118 154 148 160 166 195
    182 175 193 205 228 183 173 190 168 170 159 146 127 122 87 130 84 76 77 78 70 50 44 49 30 39 8 34
    64 70 76 59 85 71 94 65 110 120 86 96 122 127 181 148 123 145 181 163 176 200 214 188 206 210 180
    217 209 211 208 202 204 173 134 121 122 104 96 113 93 100 69 78 17 26 61 61 59 74 73 64 67 4 77 62
    75 109 103 67 95 95 118 107 101 145 118 175 159 148 165 162 152 184 196 223 210 175 225 211 215
    198 201 187 184 194 175 153 162 150 135 116 115 52 63 91 45 110 86 71 23 74 67 85 85 92 110 92 79
    75 112 104 113 101 105 100 115 130 138 133 163 169 174 194 192 216 242 214 216 203 223 209 209 204
    197 156 185 155 149 144 159 142 128 131 95 86 60 40 62 94 54 42
"""
Series = NDArray[np.float64]


def expectation(known: Series) -> tuple[Series, Series]:
    """What is expected at a place of which these days are known, and the sd."""
    first = date(2020, 1, 1)
    days = {
        date.fromordinal(first.toordinal() + at): float(t) for at, t in enumerate(known) if np.isfinite(t)
    }
    climate = {"shelf": DailyClimate("shelf", days, {}, {})}
    on = first.toordinal() + known.size - 1
    past = past_climate(["shelf"], climate, first.toordinal(), on)
    expected = expected_climate(["shelf"], climate, on, past)
    assert expected.spread_c is not None
    return expected.temperature_c[0], expected.spread_c[0]


def inside(series: Iterable[Series], origins: range, ahead: int) -> tuple[float, int]:
    """Share of means over the next days that lie within the stated 80 %, and of how many."""
    found = []
    for values in series:
        for at in origins:
            to_come = values[at : at + ahead]
            if to_come.size < ahead or np.isfinite(to_come).mean() < 0.9:
                continue
            mean, spread = expectation(values[:at])
            error = float(np.nanmean(to_come) - mean[:ahead].mean())
            found.append(abs(error) <= FOUR_IN_FIVE * float(spread[:ahead].mean()))
    return float(np.mean(found)), len(found)


def invented() -> list[Series]:
    """Every logged shelf of six invented rooms over four and a half years."""
    found = []
    for seed in range(6):
        climate = make_climate(np.random.default_rng(seed), date(2020, 3, 1), 1660, 1660)
        for shelf in range(len(SHELVES)):
            if shelf != QUARANTINE:
                found.append(np.where(climate.logged[shelf], climate.temperature_c[shelf], np.nan))
    return found


@pytest.mark.parametrize("ahead", [30, 90, 180])
def test_before_a_year_is_known(ahead: int) -> None:
    """In the invented rooms 68 to 92 % of the means lie inside, at origins 20 to 300 days after the start."""
    share, count = inside(invented(), range(20, 300, 31), ahead)
    assert count > 200
    assert 0.68 <= share <= 0.92


@pytest.mark.parametrize("ahead", [30, 90, 180])
def test_a_year_and_more(ahead: int) -> None:
    """In the invented rooms, whose years are alike, enough lie inside, and the spread has narrowed."""
    rooms = invented()
    share, count = inside(rooms, range(400, 1100, 97), ahead)
    assert count > 200
    assert share >= 0.85
    early = np.mean([expectation(values[:150])[1][:ahead].mean() for values in rooms])
    late = np.mean([expectation(values[:800])[1][:ahead].mean() for values in rooms])
    assert late < 0.7 * early


def test_outdoor_weeks_halved() -> None:
    """Seattle, swings halved: 55 to 100 % inside at every horizon, with one year known as with less."""
    tenths = np.array([float(word) for word in SEATTLE_WEEKS.split()])
    assert 208 == tenths.size
    weeks = 22.0 + 0.5 * (tenths - tenths.mean()) / 10.0
    series = np.interp(np.arange(208 * 7), np.arange(208) * 7 + 3.0, weeks)
    for origins in (range(60, 300, 11), range(400, 1000, 17)):
        for ahead in (30, 90, 180):
            share, count = inside([series], origins, ahead)
            assert count > 20
            assert 0.55 <= share <= 1.0, (origins, ahead, share)


def test_the_tubs_of_the_crabs(shared_data: Path) -> None:
    """Half a year in six tubs that cool as winter comes: 65 % or more inside, 30 and 90 days ahead."""
    path = shared_data / "crab-2012" / "climate.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    days = [date.fromisoformat(row["when"]).toordinal() for row in rows]
    tubs = {row["place"]: np.full(max(days) - min(days) + 1, np.nan) for row in rows}
    for day, row in zip(days, rows, strict=True):
        tubs[row["place"]][day - min(days)] = float(row["temperature_c"])
    for ahead, least in ((30, 50), (90, 30)):
        share, count = inside(tubs.values(), range(14, 150, 10), ahead)
        assert count >= least
        assert share >= 0.65


def test_a_place_held_by_a_thermostat_is_surer_than_one_that_is_not() -> None:
    """After a year, a place that never moved by a degree is known better than one that swings by eight."""
    days = np.arange(500)
    held = 25.0 + 0.2 * np.sin(days / 3.0)
    free = 22.0 - 4.0 * np.cos(2.0 * np.pi * days / 365.25)
    sure, unsure = expectation(held)[1], expectation(free)[1]
    assert (sure >= LEAST_SPREAD_C).all()
    assert sure[:90].mean() < 0.45
    assert unsure[:90].mean() > 1.4 * sure[:90].mean()


def test_a_day_is_no_year() -> None:
    """One reading is a level, with the widest doubt: about two and a half degrees over the next quarter."""
    mean, spread = expectation(np.array([24.0]))
    np.testing.assert_allclose(mean, 24.0)
    assert 2.0 < spread[:90].mean() < 3.5
