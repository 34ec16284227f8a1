"""Readings that cannot be, and loggers that look dead: problems with the numbers of their entries."""

from __future__ import annotations

import pytest

from record.notebook import told


def logged(day: str, hours: str, more: str = "", file: str = "b.csv") -> str:
    """A logged day of shelf B."""
    return f"{day}  place shelf B  logged  file={file}; hours_c={hours}{'; ' + more if more else ''}"


def all_day(value: str) -> str:
    """The same value in every hour."""
    return " ".join([value] * 24)


def of_climate(page: str) -> list[tuple[str, tuple[int, ...], str]]:
    """Kind, entries and severity of the problems of places."""
    return [
        (each.kind, each.entries, each.severity)
        for each in told(page).problems
        if each.subject.startswith("place")
    ]


def test_the_same_value_for_three_days_is_asked_about() -> None:
    """72 hours of 21.5 C in three entries, a fourth day that moves."""
    moves = " ".join(f"{20 + at % 5}" for at in range(24))
    page = "\n".join(
        [logged(f"2026-03-0{n}", all_day("21.5")) for n in (1, 2, 3)] + [logged("2026-03-04", moves)]
    )
    assert [("logger_stuck", (1, 2, 3), "doubt")] == of_climate(page)
    (found,) = [each for each in told(page).problems if each.kind == "logger_stuck"]
    assert (
        "a temperature of 21.5 °C (70.7 °F) for 72 read hours on end, 2026-03-01 to 2026-03-03"
        in found.message
    )
    assert "b.csv at shelf B" in found.message


def test_71_hours_or_a_gap_in_between_are_none() -> None:
    """One hour less, and the same hours with a day missing in between."""
    short = all_day("21.5").rsplit(" ", 1)[0] + " 21.6"
    days = [logged("2026-03-01", all_day("21.5")), logged("2026-03-02", all_day("21.5"))]
    assert [] == of_climate("\n".join([*days, logged("2026-03-03", short)]))
    assert [] == of_climate("\n".join([*days, logged("2026-03-04", all_day("21.5"))]))


def test_unread_hours_neither_end_nor_lengthen_it() -> None:
    """Half of each day unread: 72 read hours need six days."""
    half = " ".join(["21.5", "-"] * 12)
    page = [logged(f"2026-03-0{n}", half) for n in range(1, 7)]
    assert [] == of_climate("\n".join(page[:5]))
    assert [("logger_stuck", (1, 2, 3, 4, 5, 6), "doubt")] == of_climate("\n".join(page))


def test_a_stuck_humidity_is_told_apart_and_two_files_are_not_mixed() -> None:
    """Humidity of 99.9 % in file a; file b reads on between with other values."""
    moves = " ".join(f"{20 + at % 5}" for at in range(24))
    page = []
    for n in (1, 2, 3):
        page.append(logged(f"2026-03-0{n}", moves, f"hours_percent={all_day('99.9')}", "a.csv"))
        page.append(logged(f"2026-03-0{n}", moves, f"hours_percent={moves}"))
    assert [("logger_stuck", (1, 3, 5), "doubt")] == of_climate("\n".join(page))


@pytest.mark.parametrize(
    ("line", "entries", "severity"),
    [
        (logged("2026-03-01", "21 22", "left_out=3"), (1,), "doubt"),
        (logged("2026-03-01", "21 22 150"), (1,), "contradiction"),
        (logged("2026-03-01", "21 22", "hours_percent=50 130"), (1,), "contradiction"),
        (logged("2026-03-01", "21 22", "low_c=-40"), (1,), "contradiction"),
    ],
)
def test_values_no_room_has_are_told(line: str, entries: tuple[int, ...], severity: str) -> None:
    """Left out by the reader: a doubt; in the record by another way: they count, and contradict."""
    assert [("logger_impossible", entries, severity)] == of_climate(line)


def test_a_reading_by_hand_that_no_room_has() -> None:
    """225 C for 22.5; 55 C in the sun is no impossibility."""
    page = """
        2026-03-01  place shelf B  reading  temperature_c=225
        2026-03-02  place shelf B  reading  temperature_c=55; humidity_percent=20
        2026-03-03  place shelf B  reading  humidity_percent=120
    """
    assert [
        ("reading_impossible", (1,), "contradiction"),
        ("reading_impossible", (3,), "contradiction"),
    ] == sorted(of_climate(page))


def test_a_struck_day_is_no_problem_any_more() -> None:
    """Three stuck days, one struck: two are left, and no problem."""
    page = "\n".join(logged(f"2026-03-0{n}", all_day("21.5")) for n in (1, 2, 3))
    page += "\n2026-03-04  place shelf B  struck  why=dead  @corrects 2"
    assert [] == of_climate(page)
