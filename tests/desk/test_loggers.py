"""A logger's file taken into a room: days, means, lows and highs; twice, longer, taken back, as of a day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from nightround.desk.desk import Desk
from nightround.desk.loggers import LoggerAnswers, LoggerTaken, take_logger
from nightround.foundation import clock
from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.knowledge import RuleSet
from nightround.journal.store import Journal
from nightround.plans.rules import RuleBook
from nightround.record.make_histories import daily_climate

FIRST = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """An empty room whose day turns at four, on an evening of March."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 3, 20, 20, 30, tzinfo=UTC))
    Journal.create(tmp_path / "room.sqlite", time_zone="UTC").close()
    with Desk.open(tmp_path / "room.sqlite") as desk:
        yield desk


def file_of(folder: Path, hours: int, name: str = "b.csv", missing: range = range(0)) -> Path:
    """Half-hourly readings from 4 o'clock on: 20 C and a tenth more each hour of the day."""
    rows = []
    for at in range(2 * hours):
        moment = FIRST + timedelta(minutes=30 * at)
        if at // 2 not in missing:
            rows.append(f"{moment:%Y-%m-%d %H:%M},{20 + 0.1 * (at // 2 % 24):.1f},{50 + at % 2}")
    path = folder / name
    path.write_text("Time,Temp °C,RH %\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def take(desk: Desk, path: Path, *, commit: bool = True) -> LoggerTaken:
    """Take it in for shelf B."""
    return take_logger(desk, path, "shelf B", LoggerAnswers(), commit=commit)


def test_a_file_becomes_days_with_mean_low_and_high(desk: Desk, tmp_path: Path) -> None:
    """Three days of 20.0 to 22.3: mean 21.15, humidity 50.5; one entry a day."""
    done = take(desk, file_of(tmp_path, 72))
    assert (3, 0, 144) == (done.new, done.already, done.readings)
    assert 3 == desk.journal.last_number()
    known = daily_climate(desk.record())["shelf B"]
    assert [date(2026, 3, day) for day in (2, 3, 4)] == list(known.temperature_c)
    assert 21.15 == pytest.approx(known.temperature_c[date(2026, 3, 3)])
    assert 50.5 == pytest.approx(known.humidity_percent[date(2026, 3, 3)])
    assert (20.0, 22.3) == (known.low_c[date(2026, 3, 2)], known.high_c[date(2026, 3, 2)])


def test_without_commit_nothing_is_written(desk: Desk, tmp_path: Path) -> None:
    """The dry run says what it would write."""
    assert 3 == take(desk, file_of(tmp_path, 72), commit=False).new
    assert 0 == desk.journal.last_number()


def test_the_same_file_twice_adds_nothing_and_a_longer_one_completes_the_last_day(
    desk: Desk, tmp_path: Path
) -> None:
    """60 hours, then all 96 of the same logger: the half day is replaced, none is counted twice."""
    take(desk, file_of(tmp_path, 60))
    assert (0, 3) == ((again := take(desk, file_of(tmp_path, 60, "again.csv"))).new, again.already)
    longer = take(desk, file_of(tmp_path, 96))
    assert (2, 2) == (longer.new, longer.already)
    logged = desk.record().places["shelf B"].logged
    assert [date(2026, 3, day) for day in (2, 3, 4, 5)] == [each.day for each in logged]
    assert all(None not in each.hours_c for each in logged)


def test_a_night_alone_is_no_day(desk: Desk, tmp_path: Path) -> None:
    """Ten hours missing from the second day: its low and high are known, its mean is not."""
    take(desk, file_of(tmp_path, 72, missing=range(30, 40)))
    known = daily_climate(desk.record())["shelf B"]
    assert date(2026, 3, 3) not in known.temperature_c
    assert date(2026, 3, 3) in known.low_c


def test_an_import_is_taken_back_as_one_and_days_come_in_order(desk: Desk, tmp_path: Path) -> None:
    """As of the second day there is one day more than as of the first; taken back there is none."""
    done = take(desk, file_of(tmp_path, 72))
    assert 1 == len(desk.record(date(2026, 3, 2)).places["shelf B"].logged)
    assert 2 == len(desk.record(date(2026, 3, 3)).places["shelf B"].logged)
    desk.take_back(done.act)
    place = desk.record().places.get("shelf B")
    assert place is None or () == place.logged
    assert 3 == take(desk, file_of(tmp_path, 72)).new


def test_two_loggers_at_one_place_are_averaged(desk: Desk, tmp_path: Path) -> None:
    """A second logger a degree warmer: the day's mean lies between."""
    take(desk, file_of(tmp_path, 24))
    other = file_of(tmp_path, 24, "other.csv")
    text = other.read_text(encoding="utf-8").replace(",20.", ",21.").replace(",22.", ",23.")
    other.write_text(text, encoding="utf-8")
    take(desk, other)
    assert 21.15 < daily_climate(desk.record())["shelf B"].temperature_c[date(2026, 3, 2)] < 22.15


def test_what_cannot_be_is_refused_in_words(desk: Desk, tmp_path: Path) -> None:
    """No such file, no place, readings of days to come."""
    with pytest.raises(Refusal, match="a file that can be read"):
        take(desk, tmp_path / "none.csv")
    with pytest.raises(NoSuchThing, match="--place"):
        take_logger(desk, file_of(tmp_path, 24), " ", LoggerAnswers(), commit=True)
    with pytest.raises(Refusal, match="order of day and month"):
        take(desk, file_of(tmp_path, 24 * 30))


def test_the_climate_page_names_the_file(desk: Desk, tmp_path: Path) -> None:
    """File, place, days and when it was taken in."""
    take(desk, file_of(tmp_path, 72))
    (found,) = desk.climate().logger_files
    assert ("shelf B", "b.csv", 3) == (found.place, found.name, found.readings)
    assert date(2026, 3, 20) == found.taken_in


def rule(desk: Desk, about: Ref, name: str, value: str) -> None:
    """The keeper's own rule for a place or the room."""
    desk.write([Draft(about, on_day(date(2026, 3, 1)), RuleSet(rule=name, value=value))])


def test_the_clock_kept_for_a_place_is_used_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A room in Berlin in July: winter time all year is an hour later by the room's clock than local time."""
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 7, 20, 20, 30, tzinfo=UTC))
    Journal.create(tmp_path / "berlin.sqlite", time_zone="Europe/Berlin").close()
    rows = [f"2026-07-0{1 + at // 24} {at % 24:02d}:00,{20 + at % 24 / 10:.1f}" for at in range(72)]
    file = tmp_path / "b.csv"
    file.write_text("Time,Temp °C\n" + "\n".join(rows) + "\n", encoding="utf-8")
    with Desk.open(tmp_path / "berlin.sqlite") as desk:
        plain = take(desk, file, commit=False)
        assert not any("rule" in words for words in plain.words)
        rule(desk, Ref("place", "shelf B"), "logger_clock", "winter")
        kept = take(desk, file)
        assert "clock: winter time all year, by your rule for place shelf B (logger_clock)" in kept.words
        day = desk.record().places["shelf B"].logged[1]
        # The room day of 1 July turns at 4 o'clock; winter's 3:00 is then, and 20.3 C was read.
        assert (date(2026, 7, 1), 20.3) == (day.day, day.hours_c[0])
        said = take_logger(desk, file, "shelf C", LoggerAnswers(), commit=False)
        assert not any("logger_clock" in words for words in said.words)
        local = take_logger(desk, file, "shelf B", LoggerAnswers(clock="local"), commit=False)
        assert not any("logger_clock" in words for words in local.words)
        assert 0 < local.new


def test_minutes_ahead_kept_for_the_room_shift_every_reading(desk: Desk, tmp_path: Path) -> None:
    """31 minutes ahead: the reading of 4:00 was taken at 3:29, the day before; --fast takes its place."""
    rule(desk, ROOM, "logger_fast_minutes", "31")
    done = take(desk, file_of(tmp_path, 24), commit=False)
    assert date(2026, 3, 1) == done.first
    assert "clock taken as 31 min ahead, by your rule for the room (logger_fast_minutes)" in done.words
    answers = LoggerAnswers(drift_minutes=0.0)
    assert date(2026, 3, 2) == take_logger(desk, file_of(tmp_path, 24), "B", answers, commit=False).first


def test_a_rule_that_cannot_be_read_leaves_the_default(desk: Desk, tmp_path: Path) -> None:
    """'noon' is no clock: local time, and a problem of the rules."""
    rule(desk, Ref("place", "shelf B"), "logger_clock", "noon")
    assert 3 == take(desk, file_of(tmp_path, 72), commit=False).new
    assert ["rule_not_readable"] == [each.kind for each in RuleBook(desk.record()).problems]


def test_the_first_days_are_shown_as_they_would_be_kept(desk: Desk, tmp_path: Path) -> None:
    """Ten days: the first seven, each with its hours, low, mean, high and humidity; the place is new."""
    done = take(desk, file_of(tmp_path, 240))
    assert done.new_place
    assert 7 == len(done.first_days)
    day = done.first_days[1]
    assert (date(2026, 3, 3), 24, 20.0, 22.3) == (day.day, day.hours, day.low_c, day.high_c)
    assert (21.15, 50.5) == (pytest.approx(day.mean_c), pytest.approx(day.percent))
    assert not take(desk, file_of(tmp_path, 240)).new_place


def test_a_file_that_only_holds_humidity_has_no_temperatures(desk: Desk, tmp_path: Path) -> None:
    """None is none, not zero."""
    rows = [f"{FIRST + timedelta(hours=at):%Y-%m-%d %H:%M},{50 + at % 5}" for at in range(48)]
    path = tmp_path / "h.csv"
    path.write_text("Time,RH %\n" + "\n".join(rows) + "\n", encoding="utf-8")
    done = take(desk, path)
    assert (None, None, None) == (done.low_c, done.mean_c, done.high_c)
    assert (None, None, None) == (
        done.first_days[0].low_c,
        done.first_days[0].mean_c,
        done.first_days[0].high_c,
    )
    assert 24 == done.first_days[0].hours


def test_impossible_readings_are_problems_of_the_record(desk: Desk, tmp_path: Path) -> None:
    """Three of 99 C on the second day are left out of its mean and high, kept as a number, and told."""
    path = file_of(tmp_path, 72)
    lines = path.read_text(encoding="utf-8").splitlines()
    for at in (61, 62, 75):
        stamp, _, percent = lines[at].split(",")
        lines[at] = f"{stamp},99.0,{percent}"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    take(desk, path)
    record = desk.record()
    assert [0, 3, 0] == [each.left_out for each in record.places["shelf B"].logged]
    assert 22.3 == daily_climate(record)["shelf B"].high_c[date(2026, 3, 3)]
    (problem,) = [each for each in record.problems if each.kind == "logger_impossible"]
    assert ("logger_impossible", (2,), "doubt") == (problem.kind, problem.entries, problem.severity)
    assert "held 3 readings that no room has, on 2026-03-03: left out" in problem.message
    assert 0 == take(desk, path).new


def test_a_dead_logger_is_a_problem_of_the_record(desk: Desk, tmp_path: Path) -> None:
    """Four days of one value: told at the import, and among the problems with the days' entries."""
    rows = [f"{FIRST + timedelta(hours=at):%Y-%m-%d %H:%M},21.5" for at in range(96)]
    path = tmp_path / "dead.csv"
    path.write_text("Time,Temp °C\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert any("is the logger alive?" in words for words in take(desk, path).doubts)
    assert [("logger_stuck", (1, 2, 3, 4))] == [(each.kind, each.entries) for each in desk.record().problems]


def test_who_waits_is_told_of_rows(desk: Desk, tmp_path: Path) -> None:
    """Every 50,000 rows, never more than all of them, at the end all."""
    rows = [
        f"{FIRST - timedelta(days=90) + timedelta(minutes=at):%Y-%m-%d %H:%M},{20 + at % 30 / 10}"
        for at in range(120_000)
    ]
    path = tmp_path / "long.csv"
    path.write_text("Time,Temp °C\n" + "\n".join(rows) + "\n", encoding="utf-8")
    told: list[tuple[str, int, int]] = []
    take_logger(desk, path, "B", LoggerAnswers(), commit=True, progress=lambda *step: told.append(step))
    assert [0, 50_000, 100_000] == [done for words, done, _ in told if words == "dates and times"]
    assert all(done <= rows for _, done, rows in told)
    assert ("writing", 120_000, 120_000) == told[-1]
