"""A climate logger's file: looked at first, asked about where it leaves something open, written as one."""

from __future__ import annotations

import ast
import hashlib
import re
import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, cast

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from nightround.foundation.quantities import both, number
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.web.guards import MAX_FILE_BYTES, TOO_LARGE
from nightround.web.page import Page, page_of

if TYPE_CHECKING:
    from nightround.desk.loggers import Clock, HumidityUnit, LoggerAnswers, LoggerTaken, Order, Question, Unit

MOST_HELD = 3
GONE = "The file is not here any more. Choose it again."
NO_FILE = "Choose the logger’s file."
NO_PLACE = "Write where the logger stood: a shelf or a room."
CHANGED = "Something is answered otherwise than when you looked. This is what would be written now."
LARGE = (
    f"The file is larger than this page takes ({MAX_FILE_BYTES // 1_000_000} MB). Nothing was read. Larger "
    'ones are taken in by command: nightround import FILE --logger --place "shelf B"'
)
CHOICES: dict[str, tuple[tuple[str, str], ...]] = {
    "unit": (("", "as the file says, else ask"), ("c", "°C"), ("f", "°F")),
    "dates": (
        ("", "as the file shows, else ask"), ("day-first", "the day first: 3/4 is 3 April"),
        ("month-first", "the month first: 3/4 is 4 March"),
        ("year-first", "the year first: 26-03-04 is 4 March"),
    ),
    "clock": (
        ("", "as kept for the place, else as the file says, else local"), ("local", "follows summer time"),
        ("winter", "keeps winter time all year"), ("summer", "keeps summer time all year"),
        ("utc", "runs on UTC"),
    ),
    "humidity_unit": (
        ("", "as the file shows, else ask"), ("percent", "percent"), ("share", "shares of one: 0.55 is 55 %"),
    ),
}  # fmt: skip
COLUMNS = ("column", "humidity")
LABELS = {
    "unit": "Its temperatures", "dates": "Its dates", "clock": "Its clock",
    "humidity_unit": "Its humidities", "column": "Which of several temperatures",
    "humidity": "Which of several humidities", "fast": "Minutes ahead when it was read out",
}  # fmt: skip


@dataclass
class HeldFile:
    """A file that was sent, kept while it is looked at; one act writes it."""

    token: str
    name: str
    data: bytes
    act: str = ""
    lock: threading.Lock = field(default_factory=threading.Lock)


class HeldFiles:
    """The last few files that were sent, in memory only."""

    def __init__(self) -> None:
        self._files: OrderedDict[str, HeldFile] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, name: str, data: bytes) -> HeldFile:
        """Keep a file under a new name that nobody can guess; the oldest makes room."""
        held = HeldFile(secrets.token_urlsafe(12), name, data)
        with self._lock:
            self._files[held.token] = held
            while len(self._files) > MOST_HELD:
                self._files.popitem(last=False)
        return held

    def find(self, token: str) -> HeldFile | None:
        """Return a file that is still kept."""
        with self._lock:
            return self._files.get(token)


def logger(request: Request) -> Response:
    """Show the empty form."""
    page = page_of(request)
    return _form(page, {"place": request.query_params.get("place", "")})


async def sent(request: Request) -> Response:
    """Say what a file would write; with `do=write`, write what was looked at."""
    page = page_of(request)
    # A file holds what was read up to today, whichever day is being looked at.
    page = replace(page, on=page.today)
    if request.scope.get(TOO_LARGE):
        async for _ in request.stream():
            pass
        return await run_in_threadpool(_form, page, {}, fault=LARGE, status=413)
    async with request.form(max_files=1, max_fields=20) as form:
        fields = {name: text.strip() for name, text in form.items() if isinstance(text, str)}
        name, data = await _file_of(form.get("file"))
    if len(data) > MAX_FILE_BYTES:
        return await run_in_threadpool(_form, page, fields, fault=LARGE, status=413)
    return await run_in_threadpool(_sent, page, fields, name, data)


async def _file_of(sent: object) -> tuple[str, bytes]:
    """A file's name without its folders and its bytes; '' where none was chosen."""
    if not isinstance(sent, UploadFile) or not sent.filename:
        return "", b""
    return re.split(r"[\\/]", sent.filename)[-1] or "file", await sent.read()


def _sent(page: Page, fields: dict[str, str], name: str, data: bytes) -> Response:
    from nightround.desk.loggers import Question

    files: HeldFiles = page.request.app.state.files
    held = files.keep(name, data) if name else files.find(fields.get("held", ""))
    if held is None:
        return _form(page, fields, fault=GONE if fields.get("held") else NO_FILE)
    if not fields.get("place"):
        return _form(page, fields, held, fault=NO_PLACE)
    seen = _seen(held, fields)
    write = fields.get("do") == "write" and fields.get("seen") == seen
    try:
        answers = _answers(fields)
        with held.lock:
            done = _take(page, held, fields["place"], answers, write)
    except Question as question:
        return _form(page, fields, held, question=_question(question), status=200)
    except Refusal as refusal:
        return _form(page, fields, held, fault=str(refusal))
    fault = CHANGED if fields.get("do") == "write" and not write else ""
    return _form(page, fields, held, done=done, seen=seen, fault=fault, status=422 if fault else 200)


def _take(page: Page, held: HeldFile, place: str, answers: LoggerAnswers, write: bool) -> LoggerTaken:
    from nightround.desk.loggers import take_logger_bytes

    done = take_logger_bytes(page.desk, held.data, held.name, place, answers, commit=write)
    if write:
        # Sent twice, the second finds every day there: it is told what the first one wrote.
        held.act = done.act or held.act
        done = replace(done, act=held.act)
    return done


def _answers(fields: dict[str, str]) -> LoggerAnswers:
    from nightround.desk.loggers import LoggerAnswers

    for name, choices in CHOICES.items():
        if fields.get(name, "") not in dict(choices):
            raise NotReadable(f"one of the answers for {LABELS[name].lower()!r}", got=repr(fields[name]))
    fast = fields.get("fast", "")
    return LoggerAnswers(
        unit=cast("Unit", fields["unit"].upper()) if fields.get("unit") else None,
        dates=cast("Order", fields["dates"].replace("-", "_")) if fields.get("dates") else None,
        clock=cast("Clock", fields["clock"]) if fields.get("clock") else None,
        column=fields.get("column") or None,
        humidity=fields.get("humidity") or None,
        humidity_unit=cast("HumidityUnit", fields["humidity_unit"]) if fields.get("humidity_unit") else None,
        drift_minutes=number(fast) if fast else None,
    )


def _seen(held: HeldFile, fields: dict[str, str]) -> str:
    """A name for what was looked at: the file, the place and every answer."""
    said = [held.token, *(fields.get(name, "") for name in ("place", *LABELS))]
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:24]


def _question(question: Question) -> dict[str, Any]:
    """A question as radio buttons: the form's field, and each answer with its words."""
    name = question.option.removeprefix("--").replace("-", "_")
    words = {**dict(CHOICES.get(name, ())), **({"none": "none of them"} if name in COLUMNS else {})}
    values = [_bare(choice) for choice in question.choices]
    return {
        "name": name,
        "wanted": question.wanted,
        "got": question.got,
        "choices": [(value, words.get(value, value)) for value in values],
    }


def _bare(choice: str) -> str:
    """A choice without the quotes that the command line shows it in."""
    if choice[:1] in "'\"":
        try:
            return str(ast.literal_eval(choice))
        except (SyntaxError, ValueError):
            return choice
    return choice


def _form(
    page: Page,
    fields: dict[str, str],
    held: HeldFile | None = None,
    *,
    done: LoggerTaken | None = None,
    question: dict[str, Any] | None = None,
    fault: str = "",
    seen: str = "",
    status: int = 422,
) -> Response:
    status = status if fault or question or done else 200
    return page.show(
        "logger.html",
        status,
        tab="",
        fields={name: fields.get(name, "") for name in ("place", *LABELS)},
        places=list(page.desk.record().places),
        held=held,
        done=done,
        question=question,
        fault=fault,
        seen=seen,
        choices=CHOICES,
        columns=COLUMNS,
        opened=bool(fault) or any(fields.get(name) for name in LABELS),
        labels=LABELS,
        megabytes=MAX_FILE_BYTES // 1_000_000,
        both=both,
    )
