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
    from nightround.desk.exchange import DateOrder, ImportDone


ORDERS: dict[DateOrder, str] = {
    "ask": "is refused, as it can be read both ways",
    "day_first": "begins with the day",
    "month_first": "begins with the month",
}


def paste(request: Request) -> Response:
    """Show an empty form for a list."""
    page = page_of(request)
    return first_page(page)


def first_page(page: Page, pasted: str = "", fault: str = "", dates: DateOrder = "ask") -> Response:
    """Show the form for a list; in an empty room it is the first page."""
    empty = page.desk.journal.last_number() == 0
    status = 422 if fault else 200
    return page.show(
        "first.html", status, tab="/" if empty else "/animals", pasted=pasted, fault=fault, empty=empty,
        dates=dates, orders=ORDERS.items(),
    )  # fmt: skip


async def pasted(request: Request) -> Response:
    """Say what a list would write; with `commit`, write it."""
    form = await request.form(max_part_size=MAX_BODY_BYTES)
    text, commit = str(form.get("list", "")), str(form.get("commit", ""))
    dates: DateOrder = next((order for order in ORDERS if order == form.get("dates")), "ask")
    # A list describes the room as it is today, whichever day is being looked at.
    page = page_of(request)
    return await run_in_threadpool(_pasted, replace(page, on=page.today), text, commit, dates)


def _pasted(page: Page, text: str, commit: str, dates: DateOrder) -> Response:
    try:
        done = page.desk.import_pasted(text, commit=bool(commit), keep_good=commit == "good", dates=dates)
    except NotReadable as fault:
        return first_page(page, text, str(fault), dates)
    left = _refused_lines(text, done) if done.committed else text
    return page.show(
        "paste.html", tab="/animals", pasted=left, fault="", done=done, told=_told(done), dates=dates,
        orders=ORDERS.items(),
    )  # fmt: skip


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
