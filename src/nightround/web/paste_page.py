"""A pasted list of animals: looked at first, written when the keeper says so."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import counted
from nightround.web.guards import MAX_BODY_BYTES
from nightround.web.page import Page, page_of

if TYPE_CHECKING:
    from nightround.desk.exchange import ImportDone


def paste(request: Request) -> Response:
    """Show an empty form for a list."""
    page = page_of(request)
    return page.show("first.html", tab="", pasted="", fault="", empty=page.desk.journal.last_number() == 0)


async def pasted(request: Request) -> Response:
    """Say what a list would write; with `commit`, write it."""
    form = await request.form(max_part_size=MAX_BODY_BYTES)
    text, commit = str(form.get("list", "")), str(form.get("commit", ""))
    # A list describes the room as it is today, whichever day is being looked at.
    page = page_of(request)
    return await run_in_threadpool(_pasted, replace(page, on=page.today), text, commit)


def _pasted(page: Page, text: str, commit: str) -> Response:
    try:
        done = page.desk.import_pasted(text, commit=bool(commit), keep_good=commit == "good")
    except NotReadable as fault:
        empty = page.desk.journal.last_number() == 0
        return page.show("first.html", 422, tab="", pasted=text, fault=str(fault), empty=empty)
    left = _refused_lines(text, done) if done.committed else text
    return page.show("paste.html", tab="", pasted=left, fault="", done=done, told=_told(done))


def _told(done: ImportDone) -> dict[str, Any]:
    would = "" if done.committed else "would be "
    words = [f"{counted(done.animals, 'animal')} new to the room", counted(done.new, "entry", "entries")]
    kinds = [f"{count:,} {kind.replace('_', ' ')}" for kind, count in done.kinds]
    return {
        "summary": f"{words[0]}, {words[1]} {would}written.",
        "already": counted(done.already, "entry is", "entries are") + " here already" if done.already else "",
        "kinds": kinds,
        "refused_rows": len({refusal.row for refusal in done.refusals}),
    }


def _refused_lines(text: str, done: ImportDone) -> str:
    lines = text.splitlines()
    rows = sorted({refusal.row for refusal in done.refusals if 0 < refusal.row <= len(lines)})
    return "\n".join(lines[row - 1] for row in rows)
