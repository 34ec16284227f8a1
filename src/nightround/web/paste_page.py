"""A pasted list of animals: looked at first, written when the keeper says so."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from nightround.web.page import Page, page_of
from nightround.web.words import plural

SHOWN_READY = 12


def paste(request: Request) -> Response:
    """Show an empty form for a list."""
    return page_of(request).show("first.html", tab="", pasted="")


async def pasted(request: Request) -> Response:
    """Say what a list would write; with `commit`, write it."""
    form = await request.form(max_part_size=4_000_000)
    text, commit = str(form.get("list", "")), str(form.get("commit", ""))
    return await run_in_threadpool(_pasted, page_of(request), text, commit)


def _pasted(page: Page, text: str, commit: str) -> Response:
    done = page.desk.import_pasted(text, commit=bool(commit), keep_good=commit == "good")
    return page.show("paste.html", tab="", pasted=text, **_told(done, bool(commit)))


def _told(done: Any, commit: bool) -> dict[str, Any]:
    return {"written": commit, "refused": done.refusals, "ready": [], "more": 0, "summary": plural(1, "row")}
