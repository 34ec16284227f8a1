"""Random dialects of logger files: read right to the reading, or asked about; never read wrongly.

No published standard says how a logger writes: the dialects are made up here, of the parts that files vary in.
What is written is known, so every reading can be held against it (a property, seeded by Hypothesis).
"""

# A dialect or a bad file is one line of its table, however long.
# ruff: noqa: E501

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import NotReadable, Refusal
from nightround.journal.loggers import HowRead, LoggerRead, Question, read_logger
from nightround.journal.loggers.cells import read_cell

ZONES = ("Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "UTC")
DATES = ("%Y-%m-%d", "%d.%m.%Y", "%m/%d/%Y", "%d/%m/%Y", "%y-%m-%d", "%d.%m.%y", "%m/%d/%y", "%d-%m-%Y")
TIMES = (" %H:%M", " %H:%M:%S", "T%H:%M:%S", " %I:%M %p", " %I:%M:%S %p", " %I:%M", ",%H:%M")
HEADERS = (
    "Time",
    "Datum/Uhrzeit",
    "Date Time",
    "Timestamp",
    "Time (UTC)",
    "Date Time, GMT+01:00",
    "Time CET",
)


@dataclass(frozen=True)
class Dialect:
    """How a file is written. shift: what its clock shows, against the room's: local, winter, summer, utc."""

    delimiter: str
    date: str
    time: str
    comma: bool
    quoted: bool
    unit: str
    unit_in: str
    header: bool
    stamp: str
    shift: str
    offset: str
    humidity: str
    latest_first: bool
    minus: str
    bad: str
    above: int
    encoding: str
    trailing: bool


def dialects() -> st.SearchStrategy[Dialect]:
    return st.builds(
        Dialect,
        delimiter=st.sampled_from([",", ";", "\t", "|"]),
        date=st.sampled_from(DATES), time=st.sampled_from(TIMES), comma=st.booleans(), quoted=st.booleans(),
        unit=st.sampled_from(["C", "F"]), unit_in=st.sampled_from(["header", "cells", "nowhere"]),
        header=st.integers(0, 9).map(lambda n: n < 8), stamp=st.sampled_from(HEADERS),
        shift=st.sampled_from(["local", "local", "local", "winter", "summer", "utc"]),
        offset=st.sampled_from(["none"] * 7 + ["all"] * 3 + ["some"]),
        humidity=st.sampled_from(["none", "percent", "share", "two"]), latest_first=st.booleans(),
        minus=st.sampled_from(["-", "\u2212", "\u2013"]),
        bad=st.sampled_from(["", "", "--", "ERR2", "n/a", "21*", "1e9x"]), above=st.integers(0, 3),
        encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]), trailing=st.booleans(),
    )  # fmt: skip


@dataclass(frozen=True)
class Series:
    """Instants, °C and %."""

    moments: tuple[datetime, ...]
    celsius: tuple[float, ...]
    percent: tuple[float, ...]


def serieses() -> st.SearchStrategy[tuple[ZoneInfo, Series]]:
    starts = st.sampled_from([
        datetime(2026, 3, 2, 8, tzinfo=UTC), datetime(2026, 3, 28, 20, tzinfo=UTC), datetime(2026, 10, 24, 20, tzinfo=UTC),
        datetime(2026, 11, 1, 0, tzinfo=UTC), datetime(2026, 4, 4, 10, tzinfo=UTC), datetime(2026, 1, 12, tzinfo=UTC),
    ])  # fmt: skip
    return st.builds(_series, st.sampled_from(ZONES), starts, st.sampled_from([10, 15, 30, 60, 90, 120, 360]),
                     st.integers(11, 60), st.sampled_from([22.0, 8.0, 0.5]))  # fmt: skip


def _series(zone: str, start: datetime, minutes: int, count: int, mean: float) -> tuple[ZoneInfo, Series]:
    at = np.arange(count)
    return ZoneInfo(zone), Series(
        tuple(start + timedelta(minutes=minutes * n) for n in range(count)),
        tuple(np.round(mean + 2.0 * np.sin(at / 3.0), 1).tolist()),
        tuple(np.round(55.0 + 8.0 * np.cos(at / 5.0), 1).tolist()),
    )


def wall(moment: datetime, zone: ZoneInfo, shift: str) -> datetime:
    """What the logger's clock shows."""
    if shift == "utc":
        return moment.astimezone(UTC)
    if shift == "local":
        return moment.astimezone(zone)
    known = [datetime(2026, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7)]
    return (moment + (min if shift == "winter" else max)(known)).replace(tzinfo=UTC)


def number(value: float, d: Dialect) -> str:
    text = f"{abs(value):.2f}" if d.unit == "F" else f"{abs(value):.1f}"
    return (d.minus if value < 0 else "") + (text.replace(".", ",") if d.comma else text)


def written(d: Dialect, zone: ZoneInfo, series: Series) -> bytes:
    """The file's bytes."""
    lines = []
    for n, moment in enumerate(series.moments):
        shown = wall(moment, zone, d.shift)
        stamp = shown.strftime(d.date + d.time.replace(",", d.delimiter))
        if d.offset == "all" or (d.offset == "some" and n % 2):
            stamp += moment.astimezone(zone).isoformat()[-6:]
        warm = series.celsius[n] * 1.8 + 32.0 if d.unit == "F" else series.celsius[n]
        cells = [number(warm, d) + (f" °{d.unit}" if d.unit_in == "cells" else "")]
        if d.bad and n == 2:
            cells = [d.bad]
        if d.humidity != "none":
            moist = series.percent[n]
            cells.append(f"{moist / 100.0:.3f}" if d.humidity == "share" else number(moist, d))
        if d.humidity == "two":
            cells.append(number(moist + 7.0, d))
        if d.quoted:
            cells = [f'"{cell}"' for cell in cells]
        lines.append(d.delimiter.join([stamp, *cells, *([""] if d.trailing else [])]))
    if d.latest_first:
        lines.reverse()
    names = [d.stamp if d.delimiter != "," or "," not in d.stamp else f'"{d.stamp}"']
    names += ["Clock"] if d.time.startswith(",") else []
    names.append(f"Temp °{d.unit}" if d.unit_in == "header" else "Temp")
    names += {"none": [], "two": ["Humidity A", "Humidity B"]}.get(d.humidity, ["Humidity"])
    head = [*(f"Line {n}" for n in range(d.above)), *([d.delimiter.join(names)] if d.header else [])]
    return "\n".join([*head, *lines, ""]).encode(d.encoding)


def answers(d: Dialect, how: HowRead, question: Question) -> HowRead:
    """The keeper's true answer to a question."""
    if question.option == "--unit":
        return replace(how, unit=d.unit)  # type: ignore[arg-type]
    if question.option == "--dates":
        order = {"%Y": "year_first", "%y": "year_first", "%d": "day_first"}.get(d.date[:2], "month_first")
        return replace(how, dates=order)  # type: ignore[arg-type]
    if question.option == "--clock":
        return replace(how, clock=d.shift)  # type: ignore[arg-type]
    if question.option == "--humidity-unit":
        return replace(how, humidity_unit="share" if d.humidity == "share" else "percent")
    first = 1 + (1 if d.time.startswith(",") else 0)
    if question.option == "--column":
        return replace(how, column=str(first + 1))
    return replace(how, humidity="none" if d.humidity == "none" else str(first + 2))


def hold(read: LoggerRead, d: Dialect, series: Series) -> None:
    """Every reading at its instant, and its humidity."""
    ok = [n for n in range(len(series.moments)) if not (d.bad and n == 2 and d.humidity == "none")]
    np.testing.assert_allclose(read.seconds, [series.moments[n].timestamp() for n in ok], atol=0.5)
    warm = [np.nan if d.bad and n == 2 else series.celsius[n] for n in ok]
    np.testing.assert_allclose(read.temperature_c, warm, atol=0.051)
    moist = [np.nan if d.humidity == "none" else series.percent[n] for n in ok]
    np.testing.assert_allclose(read.humidity_percent, moist, atol=0.06)


def told_half(d: Dialect, series: Series, zone: ZoneInfo) -> bool:
    """Whether a clock of twelve hours without am and pm shows the hours as they are: nobody can tell 10:00 in
    the evening from 10:00 in the morning in a file of one evening.
    """
    return d.time != " %I:%M" or all(1 <= wall(m, zone, d.shift).hour <= 12 for m in series.moments)


def told_clock(d: Dialect, series: Series, zone: ZoneInfo) -> bool:
    """Whether what the file says of its clock is so, or it shows by itself that it is not the room's.

    A clock that keeps winter time and says nothing cannot be told from one that follows summer time, away
    from its changes; nor can a header that says UTC and is not.
    """
    if d.offset == "all":
        return d.shift == "local"
    if "UTC" in d.stamp:
        return d.header and d.shift == "utc"
    if "GMT" in d.stamp:
        return d.header and all(
            wall(m, zone, d.shift).replace(tzinfo=UTC) - m == timedelta(hours=1) for m in series.moments
        )
    return all(
        wall(m, zone, d.shift).replace(tzinfo=None) == wall(m, zone, "local").replace(tzinfo=None)
        for m in series.moments
    )  # fmt: skip


@settings(
    max_examples=600,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
@given(d=dialects(), found=serieses())
def test_a_random_dialect_is_read_right_or_asked_about(d: Dialect, found: tuple[ZoneInfo, Series]) -> None:
    """Refused, or asked and then, with true answers, every reading right."""
    zone, series = found
    data, how = written(d, zone, series), HowRead()
    for _ in range(6):
        try:
            read = read_logger(data, "random.csv", zone, how)
        except Question as question:
            assert question.choices
            how = answers(d, how, question)
        except Refusal as refusal:
            assert str(refusal)
            event(f"refused: {refusal.wanted.split(' in ')[0][:40]}")
            return
        else:
            if told_half(d, series, zone) and (how.clock is not None or told_clock(d, series, zone)):
                hold(read, d, series)
                event("read right")
            return
    pytest.fail("asked for ever")


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("\u22124.0", -4.0), ("21,5", 21.5), ("21.5 °C", 21.5), ("2.1e1", 21.0), ("+3", 3.0), ("55 %", 55.0),
        ("55%RH", 55.0), ("- 4.0", -4.0), ("21.5\u00a0°C", 21.5), ("ERR2", None), ("21*", None), ("", None),
        ("1.021,5", None), ("12:30", None), ("21.5.2", None), ("4-5", None),
    ],
)  # fmt: skip
def test_a_cell_is_a_number_or_none(cell: str, value: float | None) -> None:
    """A typographic minus is a minus (U+2212); a word with a digit is no number."""
    found = read_cell(cell)
    assert value == (None if found is None else found[0])


REFUSED: dict[str, tuple[bytes, str]] = {
    "a decimal comma between commas": (b"Time,Temp C\n2026-03-02 08:00,21,5\n2026-03-02 09:00,21,7\n", "as many names as columns"),
    "the same without names": (b"2026-03-02 08:00,21,5\n2026-03-02 09:00,21,7\n", "commas may be decimal ones"),
    "a wider row": (b"Time,Temp C\n" + b"2026-03-02 08:00,21\n" * 1 + b"2026-03-02 09:00,22\n2026-03-02 10:00,21,5\n", "2 names in line 1, 3 cells in line 4"),
    "half a day's clock": (b"Time,Temp C\n" + b"".join(b"2026-03-02 %02d:00,21.%d\n" % (h, h) for h in (10, 11, 12, 1, 2)), "24-hour clock"),
    "offsets in some rows": (b"Time,Temp C\n2026-03-02 08:00+01:00,21\n2026-03-02 09:00,21\n", "in every row"),
    "two sensors below each other": (b"Time,Temp C,Sensor\n2026-03-02 08:00,21.0,A\n2026-03-02 08:00,18.0,B\n", "one reading of an instant"),
    "a cut UTF-16": ("Time,Temp C\n2026-03-02 08:00,21\n".encode("utf-16")[:-1], "may be cut"),
    "a mark and broken UTF-8": (b"\xef\xbb\xbfTime,Temp C\n2026-03-02 08:00,21\xff\n", "bytes that are none"),
    "an open quote": (b'Time,Temp C\n2026-03-02 08:00,"21\n2026-03-02 09:00,22\n2026-03-02 10:00,23\n', "quotes that are closed"),
    "mostly words": (b"Time,Temp C\n" + b"".join(b"2026-03-02 %02d:00,%s\n" % (h, b"21" if h % 3 else b"off 2") for h in range(10)), "numbers in Temp C"),
    "am and nothing": (b"Time,Temp C\n2026-03-02 08:00 AM,21\n2026-03-02 09:00,21\n", "am or pm"),
    "both units": (b"Time,Temp\n2026-03-02 08:00,21 C\n2026-03-02 09:00,70 F\n", "one unit"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_would_be_read_wrongly_is_refused(name: str) -> None:
    """Each in words that say what to do."""
    data, words = REFUSED[name]
    with pytest.raises(NotReadable) as refused:
        read_logger(data, "x.csv", ZoneInfo("Europe/Berlin"))
    assert words in str(refused.value)


def test_an_hourly_file_over_the_autumn_change_has_both_hours() -> None:
    """25 October 2026 in Berlin, a row an hour: 02:00 stands there twice and is two instants."""
    zone = ZoneInfo("Europe/Berlin")
    series = _series("Europe/Berlin", datetime(2026, 10, 24, 20, tzinfo=UTC), 60, 12, 22.0)[1]
    lines = [f"{m.astimezone(zone):%Y-%m-%d %H:%M},{c}" for m, c in zip(series.moments, series.celsius, strict=True)]  # fmt: skip
    for rows in (lines, lines[::-1]):
        read = read_logger(("Time,Temp °C\n" + "\n".join(rows)).encode(), "h.csv", zone)
        np.testing.assert_allclose(read.seconds, [moment.timestamp() for moment in series.moments])
