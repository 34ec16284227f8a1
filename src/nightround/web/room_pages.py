"""Shelves, problems, the journal, keys and light."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.words import words_of
from nightround.foundation.problem import Problem
from nightround.foundation.quantities import both
from nightround.foundation.refusal import NotReadable
from nightround.web.page import LIGHTS, Page, page_of
from nightround.web.round_page import back_to
from nightround.web.words import human, when

ACTS_A_PAGE = 40
LINES_AN_ACT = 8
A_YEAR_SECONDS = 365 * 86_400
VOIDING = {"struck", "taken_back"}

KEYS = (
    ("j", "next card"),
    ("k", "card before"),
    ("o", "the usual: what the first button of the card does"),
    ("g", "gone: the prey was taken"),
    ("s", "still there: not eaten"),
    ("r", "refused"),
    ("n", "not seen what became of it"),
    ("l", "leftovers taken out"),
    ("w", "watered as advised"),
    ("p", "passed over"),
    ("m", "moulted since the last look"),
    ("v", "seen, alive"),
    ("b", "looked for and not found"),
    ("u", "undo on this card"),
    ("e", "more: write in detail"),
    ("/", "find an animal"),
    ("?", "this page"),
)


@dataclass(frozen=True)
class ActLine:
    """One entry of an act in words."""

    about: str
    animal: str
    words: str
    note: str
    when: Any
    struck: str


@dataclass(frozen=True)
class JournalAct:
    """One act of the journal, with its first lines."""

    intention: str
    first: int
    written: Any
    device: str
    count: int
    lines: tuple[ActLine, ...]
    void: bool


def shelves(request: Request) -> Response:
    """Show the shelves in walking order."""
    page = page_of(request)
    return page.show("shelves.html", tab="/shelves", report=page.desk.shelves(page.on), both=both)


def problems(request: Request) -> Response:
    """Show where the record disagrees with itself."""
    page = page_of(request)
    known = page.desk.record(page.on).animals
    rows = [_problem_row(problem, known) for problem in page.desk.problems(page.on)]
    return page.show("problems.html", tab="/problems", problems=rows)


def _problem_row(problem: Problem, known: Any) -> dict[str, Any]:
    sort, _, code = problem.subject.partition(" ")
    return {
        "severity": problem.severity,
        "subject": problem.subject,
        "animal": code if sort == "animal" and code in known else "",
        "message": problem.message,
        "todo": problem.todo,
        "entries": problem.entries,
    }


def journal(request: Request) -> Response:
    """Show the newest acts with undo."""
    page = page_of(request)
    before = request.query_params.get("before", "")
    if before and not (before.isascii() and before.isdigit() and len(before) < 19):
        raise NotReadable("a number of an entry after 'before='", got=repr(before))
    acts = _acts(page, int(before) if before else None)
    older = str(acts[-1].first) if len(acts) == ACTS_A_PAGE and acts[-1].first > 1 else ""
    return page.show("journal.html", tab="/journal", acts=acts, older=older)


def _acts(page: Page, before: int | None) -> list[JournalAct]:
    entries = page.desk.entries()
    standing = page.desk.record(None).entries
    kept = entries if before is None else entries[: max(0, before - 1)]
    acts: list[JournalAct] = []
    for intention, group in groupby(reversed(kept), key=lambda entry: entry.intention):
        members = list(group)
        # A strike is told where it strikes, not as an act of its own.
        shown = [entry for entry in members if entry.kind not in VOIDING]
        if shown:
            acts.append(_act(page, intention, shown, standing))
        if len(acts) == ACTS_A_PAGE:
            break
    return acts


def _act(page: Page, intention: str, members: list[Any], standing: Any) -> JournalAct:
    zone = page.desk.journal.clock.zone
    newest = members[0]
    written = newest.recorded.astimezone(zone)
    return JournalAct(
        intention=intention,
        first=members[-1].number,
        written=human(f"{written:%Y-%m-%d}", page.on) + f", {written:%H:%M}",
        device=newest.device,
        count=len(members),
        lines=tuple(_line(page, entry, standing) for entry in reversed(members[-LINES_AN_ACT:])),
        void=not any(entry.number in standing for entry in members),
    )


def _line(page: Page, entry: Any, standing: Any) -> ActLine:
    animal = entry.about.code if entry.about.kind == "animal" else ""
    return ActLine(
        about="" if entry.about.kind == "room" else str(entry.about),
        animal=animal,
        words=words_of(entry.kind, entry.body),
        note=entry.body.note,
        when=when(entry.when, page.on, page.desk.journal.clock.zone),
        struck="" if entry.number in standing else "no longer counts",
    )


def keys(request: Request) -> Response:
    """Show the keys and what a tap writes."""
    return page_of(request).show("keys.html", tab="", keys=KEYS)


async def light(request: Request) -> Response:
    """Keep the chosen light on this device."""
    form = await request.form()
    return await run_in_threadpool(
        _light, page_of(request), str(form.get("light")), str(form.get("back", ""))
    )


def _light(page: Page, chosen: str, back: str) -> Response:
    if chosen not in LIGHTS:
        raise NotReadable("one of the lights " + ", ".join(LIGHTS), got=repr(chosen))
    answer = RedirectResponse(back_to(back, page), 303)
    answer.set_cookie("light", chosen, max_age=A_YEAR_SECONDS, samesite="lax", httponly=True, path="/")
    return answer
