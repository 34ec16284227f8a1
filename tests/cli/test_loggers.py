"""`nightround import FILE --logger`: said first, written with --commit, asked where something is open."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest

from cli.test_commands import run
from nightround.cli.logger_file import RowsRead
from nightround.journal.store import Journal

FIRST = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)


@pytest.fixture
def file(own_room: Path, tmp_path: Path) -> Path:
    """A room, and a logger's file of two days in degrees Fahrenheit without a unit."""
    Journal.create(own_room, time_zone="UTC").close()
    rows = [f"{FIRST + timedelta(hours=at):%Y-%m-%d %H:%M},{70 + at % 6}" for at in range(48)]
    path = tmp_path / "b.csv"
    path.write_text("Time,Temp\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_a_file_without_a_unit_is_asked_about_and_then_taken_in(file: Path) -> None:
    """Exit 1 and the option; with it a dry run, then two days, then nothing new."""
    asked = run("import", str(file), "--logger", "--place", "shelf B")
    assert 1 == asked.exit_code
    assert "--unit c or --unit f" in asked.stderr
    told = ("import", str(file), "--logger", "--place", "shelf B", "--unit", "f")
    dry = run(*told).stdout
    assert "Would write: 2 days." in dry
    assert "from 21.1 °C (70.0 °F) to 23.9 °C (75.0 °F)" in dry
    assert "Written: 2 days." in run(*told, "--commit").stdout
    assert "In the room already: 2 days." in run(*told, "--commit").stdout
    assert "shelf B" in run("climate").stdout


def test_no_place_names_the_option(file: Path) -> None:
    """Exit 1: the place that the logger stood at."""
    refused = run("import", str(file), "--logger", "--unit", "f")
    assert 1 == refused.exit_code
    assert "--place" in refused.stderr


@pytest.mark.parametrize(("name", "encoding"), [("b.csv", "utf-8"), ("b.txt", "utf-8"), ("b.csv", "utf-16")])
def test_a_logger_file_without_logger_is_refused_with_the_command(
    file: Path, tmp_path: Path, name: str, encoding: str
) -> None:
    """Exit 1, and what to write instead; a headerless list of animals and a table are none of these."""
    text = file.read_text(encoding="utf-8")
    other = tmp_path / "other" / name
    other.parent.mkdir()
    other.write_text(text, encoding=encoding)
    refused = run("import", str(other))
    assert 1 == refused.exit_code
    assert "looks like a climate logger's file" in refused.stderr
    assert f'nightround import {other} --logger --place "shelf B"' in refused.stderr


def test_a_list_of_animals_is_no_logger_file(file: Path, tmp_path: Path) -> None:
    """Codes, spans and dates of moults, with and without a header: taken as the list it is."""
    rows = "\n".join(
        f"K{n}\tAphonopelma chalcodes\tshelf A\t{3 + n / 10:.1f} cm\t2026-03-0{n}" for n in range(1, 9)
    )
    for head in ("", "code\ttaxon\tshelf\tleg span\tlast moult\n"):
        path = tmp_path / "list.txt"
        path.write_text(head + rows + "\n", encoding="utf-8")
        found = run("import", str(path))
        assert 0 == found.exit_code
        assert "8 new animals" in found.stdout


class Screen(StringIO):
    """Standard error of a terminal."""

    def isatty(self) -> bool:
        """It is one."""
        return True


def test_rows_are_told_on_a_terminal_and_wiped_out_after() -> None:
    """'[######…] 250,000 of 1,000,000 rows', an empty line at the end; nothing where it is no terminal."""
    for screen in (Screen(), StringIO()):
        with RowsRead(screen) as rows:
            rows("dates and times", 250_000, 1_000_000)
            rows("writing", 0, 0)
        said = screen.getvalue()
        if isinstance(screen, Screen):
            assert "[######------------------] 250,000 of 1,000,000 rows: dates and times" in said
            assert said.endswith("\r" + " " * len("writing") + "\r")
        else:
            assert "" == said
