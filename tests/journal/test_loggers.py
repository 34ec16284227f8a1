"""Logger files of many makes, made up here: every reading right, or a question that names its option."""

# A dialect is one line of its table, however long.
# ruff: noqa: E501

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.journal.kinds.surroundings import hours_of
from nightround.journal.loggers import HowRead, LoggerRead, Question, drafts_of, read_logger

BERLIN = ZoneInfo("Europe/Berlin")
Row = tuple[datetime, float, float]


def series(first: datetime, count: int, minutes: int = 30) -> list[Row]:
    """Instants with a temperature and a humidity, both to one decimal."""
    found = []
    for at in range(count):
        moment = first + timedelta(minutes=minutes * at)
        warm = 22.0 + 2.0 * math.sin(at / 7.0)
        found.append((moment, round(warm, 1), round(50.0 + 6.0 * math.cos(at / 9.0), 1)))
    return found


MARCH = series(datetime(2026, 3, 2, 8, 0, tzinfo=BERLIN), 400)


def written(
    rows: list[Row], line: Callable[[datetime, float, float], str], above: str = "", below: str = ""
) -> str:
    """A file's text: one line a row in the room's own time."""
    body = "\n".join(line(moment.astimezone(BERLIN), warm, moist) for moment, warm, moist in rows)
    return f"{above}{body}\n{below}"


def check(read: LoggerRead, rows: list[Row], digits: float = 0.051) -> None:
    """Every reading at its instant."""
    assert len(rows) == len(read.seconds)
    np.testing.assert_allclose(read.seconds, [moment.timestamp() for moment, _, _ in rows], atol=0.5)
    np.testing.assert_allclose(read.temperature_c, [warm for _, warm, _ in rows], atol=digits)


def comma(value: float) -> str:
    return f"{value:.1f}".replace(".", ",")


def at(moment: datetime) -> int:
    """A running number of the row."""
    return round((moment - MARCH[0][0]).total_seconds() / 1800.0) + 1


DIALECTS: dict[str, tuple[str, str, HowRead]] = {
    "comma, ISO": (written(MARCH, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c},{h}", "Time,Temperature (°C),Humidity (%)\n"),
                   "utf-8", HowRead()),
    "semicolon, decimal comma": (written(MARCH, lambda t, c, h: f"{t:%d.%m.%Y %H:%M};{comma(c)};{comma(h)}",
                                         "Zeit;Temperatur °C;Feuchte %\n"), "utf-8", HowRead()),
    "Fahrenheit by the header": (written(MARCH, lambda t, c, h: f"{t:%Y-%m-%d %H:%M:%S},{c * 1.8 + 32:.2f},{h}",
                                         "Date,Temp °F,RH\n"), "utf-8", HowRead()),
    "12-hour clock": (written(MARCH, lambda t, c, h: f"{t:%m/%d/%Y %I:%M %p},{c},{h}", "Date Time,Temp (C),Humidity\n"),
                      "utf-8", HowRead()),
    "byte order mark": (written(MARCH, lambda t, c, h: f'"{t:%Y-%m-%dT%H:%M:%S}","{c}","{h}"',
                                '"Time","Celsius","Humidity"\n'), "utf-8-sig", HowRead()),
    "UTF-16, tabs": (written(MARCH, lambda t, c, h: f"{t:%d/%m/%Y}\t{t:%H:%M}\t{c}\t{h}", "Date\tTime\tTemp C\t%RH\n"),
                     "utf-16", HowRead()),
    "UTF-16 without a mark": (written(MARCH, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c}", "Time,Temp °C\n"),
                              "utf-16-le", HowRead()),
    "lines above and below": (written(MARCH, lambda t, c, h: f"{at(t)},{t:%Y-%m-%d %H:%M:%S},{c},{h}",
                                      "Serial,ABC 123\nInterval,30 min\n\nNo.,Time,Temperature °C,Humidity %RH\n",
                                      "Max,24.0\nMin,20.0\n"), "utf-8", HowRead()),
    "offsets from UTC": (written(MARCH, lambda t, c, h: f"{t.isoformat()},{c},{h}", "time,temp_c,humidity\n"),
                         "utf-8", HowRead()),
    "UTC, said": (written(MARCH, lambda t, c, h: f"{t.astimezone(UTC):%Y-%m-%d %H:%M},{c},{h}", "UTC,Temp °C,RH %\n"),
                  "utf-8", HowRead(clock="utc")),
    "seconds since 1970": (written(MARCH, lambda t, c, h: f"{t.timestamp():.0f},{c},{h}", "epoch,temp °C,rh\n"),
                           "utf-8", HowRead()),
    "units in the cells": (written(MARCH, lambda t, c, h: f"{t:%Y-%m-%d %H:%M};{c} °C;{h} %", "Time;Value;Humidity\n")
                           .replace("Value", "Temp"), "utf-8", HowRead()),
    "Windows-1252": (written(MARCH, lambda t, c, h: f"{t:%d.%m.%Y %H:%M};{comma(c)}", "Uhrzeit;Temperatur (°C)\n"),
                     "cp1252", HowRead()),
    "winter time all year": (written(MARCH, lambda t, c, h: f"{t - (t.utcoffset() or timedelta()) + timedelta(hours=1):%Y-%m-%d %H:%M},{c}",
                                     "Time,Temp °C\n"), "utf-8", HowRead(clock="winter")),
    "latest first": ("Time,Temp °C\n" + "\n".join(reversed(
        [f"{t.astimezone(BERLIN):%Y-%m-%d %H:%M},{c}" for t, c, _ in MARCH])) + "\n", "utf-8", HowRead()),
}  # fmt: skip


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_reading_of_a_dialect_is_right(dialect: str) -> None:
    """400 half-hourly readings, each instant and each temperature compared."""
    text, encoding, how = DIALECTS[dialect]
    check(read_logger(text.encode(encoding), "shelf.csv", BERLIN, how), MARCH)


def test_an_hour_that_comes_twice_goes_by_the_order_of_the_rows() -> None:
    """25 October 2026 in Berlin: 02:00-02:59 comes twice; local times alone do not tell them apart."""
    rows = series(datetime(2026, 10, 24, 22, 0, tzinfo=UTC), 24)
    text = written(rows, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c},{h}", "Time,Temp °C,RH %\n")
    assert 2 == text.count("2026-10-25 02:30")
    read = read_logger(text.encode(), "night.csv", BERLIN)
    check(read, rows)
    assert any("came twice" in words for words in read.doubts)


def test_a_logger_that_ignores_summer_time_is_noticed() -> None:
    """29 March 2026: readings at 02:30, an hour that never came in Berlin; --clock winter reads them right."""
    rows = series(datetime(2026, 3, 28, 22, 0, tzinfo=UTC), 24)
    text = "Time,Temp °C\n" + "\n".join(
        f"{moment + timedelta(hours=1):%Y-%m-%d %H:%M},{warm}" for moment, warm, _ in rows
    )
    with pytest.raises(Question) as asked:
        read_logger(text.encode(), "n.csv", BERLIN)
    assert ("--clock", True) == (asked.value.option, "winter" in asked.value.choices)
    check(read_logger(text.encode(), "n.csv", BERLIN, HowRead(clock="winter")), rows)


def test_missing_rows_stay_gaps_and_error_words_are_no_numbers() -> None:
    """Forty rows missing, one '--', one 'ERR', one at 85 °C: gaps, counted in words; nothing invented."""
    rows = [*MARCH[:100], *MARCH[140:]]
    lines = [f"{t:%Y-%m-%d %H:%M},{c}" for t, c, _ in rows]
    lines[3], lines[4], lines[5] = (
        f"{rows[n][0]:%Y-%m-%d %H:%M},{bad}" for n, bad in ((3, "--"), (4, "ERR"), (5, "85.0"))
    )
    read = read_logger(("Time,Temp °C\n" + "\n".join(lines)).encode(), "g.csv", BERLIN)
    check(read, [row for number, row in enumerate(rows) if number not in (3, 4, 5)])
    assert any("gap" in words for words in read.words)
    assert any("over 60 °C" in words for words in read.doubts)


QUESTIONS: dict[str, tuple[str, str]] = {
    "day or month": ("--dates", "Time,Temp °C\n" + "\n".join(f"0{d}/0{d + 1}/2026 08:00,21.{d}" for d in (3, 5, 7))),
    "no unit": ("--unit", "Time,Temp,Humidity\n2026-03-02 08:00,21.5,50\n2026-03-02 09:00,21.7,50\n"),
    "two sensors": ("--column", "Time,Probe A °C,Probe B °C\n2026-03-02 08:00,21.5,19\n2026-03-02 09:00,21.7,19\n"
                    .replace("Probe A", "Temp A").replace("Probe B", "Temp B")),
    "unit that cannot be": ("--unit", "Time,Temp °C\n2026-03-02 08:00,71.5\n2026-03-02 09:00,71.7\n"),
}  # fmt: skip


@pytest.mark.parametrize("name", QUESTIONS)
def test_what_is_not_clear_is_asked(name: str) -> None:
    """The question names what came and the option that answers it."""
    option, text = QUESTIONS[name]
    with pytest.raises(Question) as asked:
        read_logger(text.encode(), "q.csv", BERLIN)
    assert option == asked.value.option
    assert asked.value.choices
    assert option in str(asked.value)


@pytest.mark.parametrize(
    ("how", "name", "first"),
    [(HowRead(dates="day_first"), "day or month", 3), (HowRead(dates="month_first"), "day or month", 4)],
)
def test_an_answer_settles_it(how: HowRead, name: str, first: int) -> None:
    """3/4 is the third of April, or the fourth of March."""
    read = read_logger(QUESTIONS[name][1].encode(), "q.csv", BERLIN, how)
    assert first == datetime.fromtimestamp(read.seconds[0], BERLIN).day


def test_a_column_is_chosen_by_its_name() -> None:
    """The second sensor of two."""
    read = read_logger(QUESTIONS["two sensors"][1].encode(), "q.csv", BERLIN, HowRead(column="Temp B °C"))
    np.testing.assert_allclose(read.temperature_c, 19.0)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "an empty file"),
        (b"PK\x03\x04rest", "workbook"),
        (b"%PDF-1.4", "PDF"),
        (bytes(range(256)) * 4, "no text"),
        (b"just some words\nand more\n", "rows with a date"),
        (b"Time,Temp C\n2026-13-45 08:00,21\n", "a day that there is"),
        (b"Time,Temp C\n2026-03-02 27:00,21\n", "a time of day"),
        (b"Time,Name\n2026-03-02 08:00,warm\n", "a column of temperatures"),
    ],
)
def test_what_is_no_such_file_is_refused_in_words(data: bytes, words: str) -> None:
    """Empty, zipped, a PDF, bytes, prose, a day or hour that is none, no numbers."""
    with pytest.raises(Refusal) as refused:
        read_logger(data, "x.csv", BERLIN)
    assert words in str(refused.value)


def test_a_clock_that_ran_fast_is_set_right_by_a_straight_line() -> None:
    """Started right, seven minutes fast when read out: the first reading stays, the last goes back by seven."""
    text = written(MARCH, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c}", "Time,Temp °C\n")
    plain, mended = (
        read_logger(text.encode(), "f.csv", BERLIN, HowRead(fast_seconds=s)) for s in (0.0, 420.0)
    )
    back = plain.seconds - mended.seconds
    assert [0.0, 420.0] == [pytest.approx(back[0]), pytest.approx(back[-1])]
    assert back[200] == pytest.approx(210.5, abs=1.0)


def test_a_logger_that_shows_the_same_for_days_is_asked_about() -> None:
    """21.0 for eight days."""
    rows = [(moment, 21.0, 50.0) for moment, _, _ in MARCH]
    text = written(rows, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c}", "Time,Temp °C\n")
    assert any(
        "same temperature for 8 days" in words for words in read_logger(text.encode(), "s.csv", BERLIN).doubts
    )


def test_days_turn_when_the_rooms_day_turns_and_hold_hourly_means() -> None:
    """Half-hourly readings from 4 to 4: each entry has its own day's hours; the clock change has 25."""
    clock = RoomClock("Europe/Berlin")
    rows = series(datetime(2026, 10, 24, 2, 0, tzinfo=UTC), 98)
    text = written(rows, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c},{h}", "Time,Temp °C,RH %\n")
    days = drafts_of(read_logger(text.encode(), "d.csv", BERLIN), "shelf B", clock)
    assert [date(2026, 10, 24), date(2026, 10, 25)] == [draft.when.last for draft in days.drafts]
    lengths = [len(hours_of(draft.body.hours_c)) for draft in days.drafts]
    assert [25, 24] == lengths
    first = hours_of(days.drafts[0].body.hours_c)[0]
    assert first == pytest.approx((rows[0][1] + rows[1][1]) / 2.0, abs=0.006)
    assert 98 == sum(draft.body.readings for draft in days.drafts)


def test_hours_without_a_reading_stay_unknown() -> None:
    """A gap of six hours is six dashes."""
    clock = RoomClock("Europe/Berlin")
    rows = [row for row in MARCH[:48] if not 12 <= row[0].hour < 18]
    text = written(rows, lambda t, c, h: f"{t:%Y-%m-%d %H:%M},{c}", "Time,Temp °C\n")
    days = drafts_of(read_logger(text.encode(), "d.csv", BERLIN), "shelf B", clock)
    assert [None] * 6 == hours_of(days.drafts[0].body.hours_c)[8:14]


def test_the_same_reading_is_never_refused_as_a_reading_of_something_else() -> None:
    """NotReadable is what the command prints: wanted, got, what to do."""
    with pytest.raises(NotReadable) as refused:
        read_logger(b"Date,Temp C\nnever,21\n", "x.csv", BERLIN)
    assert "x.csv" in str(refused.value)
