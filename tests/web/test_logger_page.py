"""The page for a logger's file: looked at first, asked, written once, taken back; its own limit of size."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest

from nightround.journal.loggers import read
from nightround.web.guards import MAX_FILE_BYTES
from nightround.web.logger_page import LABELS
from web.fixed_room import FixedDesk

FIRST = datetime(2026, 11, 10, 4, 0, tzinfo=UTC)


def readings(hours: int = 72, head: str = "Time,Temp °C,RH %", cells: str = "{c:.1f},{p}") -> bytes:
    """Hourly readings from 10 November on, 20 to 22.3 C."""
    rows = [
        f"{FIRST + timedelta(hours=at):%Y-%m-%d %H:%M}," + cells.format(c=20 + at % 24 / 10, p=50 + at % 5)
        for at in range(hours)
    ]
    return (head + "\n" + "\n".join(rows) + "\n").encode()


def send(
    client: httpx.Client, file: bytes | None = None, name: str = "b.csv", **fields: str
) -> httpx.Response:
    """Send the form as a browser does, with a file or with an empty choice of one."""
    files = {"file": (name, file)} if file is not None else {"file": ("", b"")}
    return client.post("/logger", data={"place": "Shelf B", **fields}, files=files)


def hidden(page: str) -> dict[str, str]:
    """The form's hidden fields."""
    return dict(re.findall(r'<input type="hidden" name="(held|seen)" value="([^"]*)">', page))


def logged(desk: FixedDesk) -> Sequence[object]:
    """What Shelf B has of loggers."""
    return desk.record().places["Shelf B"].logged


def test_the_empty_form_names_the_places_and_the_limit(client: httpx.Client) -> None:
    """File, place, what may be said of it; a place in the address is filled in."""
    page = client.get("/logger?place=Shelf+A").text
    for words in ('type="file"', 'value="Shelf A"', '<option value="Shelf B">', "at most 20 MB"):
        assert words in page
    assert "/logger" in client.get("/climate").text


def test_a_file_is_looked_at_written_once_and_taken_back(client: httpx.Client, desk: FixedDesk) -> None:
    """The dry run writes nothing; written twice by a double tap it stands once; undo takes all of it."""
    before = desk.journal.last_number()
    looked = send(client, readings())
    assert 200 == looked.status_code
    for words in (
        "What would be written",
        "72 readings",
        "3 days would be written",
        "20.0 °C (68.0 °F)",
        "24</td>",
    ):
        assert words in looked.text, words
    assert before == desk.journal.last_number()
    form = hidden(looked.text)
    first, second = (send(client, do="write", **form) for _ in range(2))
    assert before + 3 == desk.journal.last_number()
    assert "<h1>Written</h1>" in first.text
    (act,) = set(re.findall(r'name="undo" value="([^"]+)"', first.text))
    assert f'value="{act}"' in second.text
    assert "3 days are in the room already" in second.text
    assert 303 == client.post("/undo", data={"undo": act, "back": "/journal", "sure": "yes"}).status_code
    assert () == logged(desk)


def test_what_was_not_looked_at_is_not_written(client: httpx.Client, desk: FixedDesk) -> None:
    """Another place than the one that was looked at: shown again, nothing written."""
    form = hidden(send(client, readings()).text)
    answer = client.post(
        "/logger", data={"place": "Shelf A", "do": "write", **form}, files={"file": ("", b"")}
    )
    assert 422 == answer.status_code
    assert "otherwise than when you looked" in answer.text
    assert () == logged(desk) == desk.record().places["Shelf A"].logged
    again = client.post(
        "/logger", data={"place": "Shelf A", "do": "write", **hidden(answer.text)}, files={"file": ("", b"")}
    )
    assert "<h1>Written</h1>" in again.text


def test_a_question_is_answered_by_radio_buttons(client: httpx.Client, desk: FixedDesk) -> None:
    """No unit in the file: asked, answered with °F, then looked at."""
    asked = send(client, readings(head="Time,Temp,RH %"))
    assert 200 == asked.status_code
    assert "<h1>One question</h1>" in asked.text
    for value, words in (("c", "°C"), ("f", "°F")):
        assert f'<input type="radio" name="unit" value="{value}" required> <span>{words}</span>' in asked.text
    answered = send(client, unit="f", **hidden(asked.text))
    assert "-6.7 °C (20.0 °F)" in answered.text
    assert '<option value="f" selected>' in answered.text
    assert "<h1>Written</h1>" in send(client, unit="f", do="write", **hidden(answered.text)).text
    assert 3 == len(logged(desk))


def test_several_temperatures_are_asked_about_by_their_names(client: httpx.Client) -> None:
    """Two probes, one with a quote in its name: the second is chosen."""
    head, cells = 'Time,"Probe ""1"" °C",Temp inside °C', "{c:.1f},35.0"
    asked = send(client, readings(head=head, cells=cells))
    values = re.findall(r'<input type="radio" name="column" value="([^"]*)"', asked.text)
    assert ["Probe &#34;1&#34; °C", "Temp inside °C"] == values
    answered = send(client, column="Temp inside °C", **hidden(asked.text))
    assert "mean 35.0 °C (95.0 °F)" in answered.text


@pytest.mark.parametrize(
    ("file", "fields", "words"),
    [
        (None, {}, "Choose the logger’s file."),
        (None, {"held": "none"}, "The file is not here any more."),
        (readings(), {"place": " "}, "Write where the logger stood"),
        (b"%PDF-1.4", {}, "Export the readings as CSV"),
        (b"", {}, "an empty file"),
        (readings(24 * 40), {}, "readings up to today"),
        (readings(), {"unit": "k"}, "one of the answers"),
        (readings(), {"fast": "some"}, "a plain number"),
    ],
)
def test_what_cannot_be_taken_is_said_beside_the_form(
    client: httpx.Client, desk: FixedDesk, file: bytes | None, fields: dict[str, str], words: str
) -> None:
    """422, the reason, the form with its place still there; nothing written."""
    before = desk.journal.last_number()
    answer = send(client, file, **fields)
    assert 422 == answer.status_code
    assert words in answer.text
    assert 'role="alert"' in answer.text
    assert 'name="place"' in answer.text
    assert before == desk.journal.last_number()


def test_ten_megabytes_are_taken_here_and_nowhere_else(client: httpx.Client) -> None:
    """The same body is refused by every other page."""
    body = readings(24) + b" " * 10_000_000
    assert 200 == send(client, body).status_code
    assert 413 == client.post("/paste", data={"list": body.decode()}).status_code


def test_a_file_over_the_limit_is_refused_with_the_command(client: httpx.Client) -> None:
    """By what its length says, and by what it holds where the form around it is small: a page, not a cut."""
    for size in (MAX_FILE_BYTES + 200_000, MAX_FILE_BYTES + 1):
        answer = send(client, b"x" * size)
        assert 413 == answer.status_code
        assert "nightround import FILE --logger --place" in answer.text
        assert "Choose" not in answer.text


def test_a_foreign_page_sends_no_file(client: httpx.Client, desk: FixedDesk) -> None:
    """The Origin is asked for as on every other page, also of bodies that are too large."""
    before = desk.journal.last_number()
    for body in (readings(), b"x" * (MAX_FILE_BYTES + 200_000)):
        answer = client.post(
            "/logger", data={"place": "Shelf B"}, files={"file": ("b.csv", body)},
            headers={"Origin": "http://elsewhere.example"},
        )  # fmt: skip
        assert 403 == answer.status_code
    assert before == desk.journal.last_number()


def test_names_of_files_and_places_are_escaped(client: httpx.Client) -> None:
    """What a file is called is text; a path before its name is left away."""
    page = send(client, readings(), name="C:\\loggers\\<b>.csv", place="<i>new</i>").text
    assert "<b>.csv" not in page
    assert "&lt;b&gt;.csv for &lt;i&gt;new&lt;/i&gt;" in page
    assert "is not on record yet" in page
    assert "loggers" not in page.split("<main")[1].split("Climate")[0].replace("loggers there", "")


def test_every_option_that_a_file_can_ask_for_has_a_place_on_the_form() -> None:
    """Whatever the reader asks by an option of the command line, the page asks by buttons and understands."""
    source = Path(read.__file__).parent
    options = {
        option
        for path in source.glob("*.py")
        for option in re.findall(r'"--([a-z-]+)"', path.read_text(encoding="utf-8"))
    }
    assert {"unit", "dates", "clock", "column", "humidity", "humidity-unit"} == options
    assert {option.replace("-", "_") for option in options} <= set(LABELS)


def test_the_clock_is_asked_where_the_rows_speak_against_local_time(client: httpx.Client) -> None:
    """Lisbon, 29 March 2026: rows at 1 o'clock, which never came; answered with winter time all year."""
    rows = [f"2026-03-{28 + at // 24} {at % 24:02d}:00,{20 + at % 24 / 10:.1f}" for at in range(72)]
    asked = send(client, ("Time,Temp °C\n" + "\n".join(rows) + "\n").encode())
    assert "<h1>One question</h1>" in asked.text
    assert "<span>keeps winter time all year</span>" in asked.text
    answered = send(client, clock="winter", **hidden(asked.text))
    assert "What would be written" in answered.text
    assert '<option value="winter" selected>' in answered.text


def test_humidities_as_shares_are_asked_about(client: httpx.Client) -> None:
    """A mean of 0.5: percent or shares; as shares 50 to 54 %."""
    asked = send(client, readings(cells="{c:.1f},0.{p}"))
    assert '<input type="radio" name="humidity_unit" value="share" required>' in asked.text
    assert "<td>52 %</td>" in send(client, humidity_unit="share", **hidden(asked.text)).text
