"""Plain lines on the page: looked at first, written when the keeper says so."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.foundation.refusal import NotReadable
from nightround.web.page import Page, fields_of, page_of, refuse_days_to_come
from nightround.web.round_page import DEVICE
from nightround.web.rounds import intention_of

if TYPE_CHECKING:
    from nightround.desk.jot import JotReading

EMPTY = "Write what happened, such as: K12 took 2 crickets"
CHANGED = "The room has changed since you looked. This is what would be written now."


def line(request: Request) -> Response:
    """Show an empty line to write in."""
    page = page_of(request)
    refuse_days_to_come(page)
    return page.show("line.html", tab="/journal", text="", reading=None, seen="", fault="")


async def lined(request: Request) -> Response:
    """Say what the lines would write; with `seen`, write what was looked at."""
    fields = await fields_of(request)
    return await run_in_threadpool(_lined, page_of(request), fields)


def _lined(page: Page, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    text, key, seen = fields.get("line", ""), fields.get("key", ""), fields.get("seen", "")
    if not key:
        raise NotReadable("the form's own key", got="nothing", todo="Open the page again")
    intention = intention_of(key, f"{page.on.isoformat()} {seen}")
    if seen and any(entry.intention == intention for entry in page.desk.entries()):
        return _done(page)  # sent twice: the first one was written
    reading = page.desk.understand(text, page.on)
    now = seen_of(reading)
    if reading.problems or not reading.items or seen != now:
        fault = "" if reading.items or reading.problems else EMPTY
        if seen and not reading.problems and reading.items:
            fault = CHANGED
        wrong = bool(fault or reading.problems)
        return page.show(
            "line.html",
            422 if wrong else 200,
            tab="/journal",
            text=text,
            reading=reading,
            seen=now,
            fault=fault,
        )
    drafts = [draft.with_key(f"{intention}:{place}") for place, draft in enumerate(reading.drafts)]
    page.desk.write(drafts, intention=intention, device=DEVICE)
    return _done(page)


def _done(page: Page) -> Response:
    return RedirectResponse(page.link("/journal"), 303)


def seen_of(reading: JotReading) -> str:
    """Return a name for what a reading would write, as it is shown."""
    return hashlib.sha256("\n".join(item.words for item in reading.items).encode()).hexdigest()[:24]
