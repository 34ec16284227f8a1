"""The larder: need and stock to come, orders, lots with their forms; and the page for a Sunday."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.larder_forms import FORM_NAMES, larder_draft
from nightround.desk.taps import FormRefusal
from nightround.foundation.quantities import both
from nightround.foundation.refusal import NotReadable
from nightround.reports.larder import LarderReport, Range
from nightround.web import figure, larder_figure
from nightround.web.larder_forms import larder_forms
from nightround.web.page import Page, fields_of, page_of, refuse_days_to_come
from nightround.web.pictures import addresses, svg
from nightround.web.round_page import DEVICE
from nightround.web.rounds import intention_of_form

PATH = "/larder"
WEEKS_SHOWN = 8


def larder(request: Request) -> Response:
    """Show the larder."""
    page = page_of(request)
    return _larder(page, request.query_params.get("open", ""), {}, {})


def _larder(page: Page, opened: str, values: Mapping[str, str], faults: Mapping[str, str]) -> Response:
    report = page.desk.larder(page.on)
    record = page.desk.record(page.on)
    running = [code for code, lot in sorted(record.lots.items()) if not lot.finished]
    return page.show(
        "larder.html",
        422 if faults else 200,
        tab="",
        report=report,
        forms=larder_forms(running),
        opened=opened,
        values=values,
        faults=faults,
        supplies=record.supplies,
        figure=_figure(page, report),
        weeks_shown=WEEKS_SHOWN,
        ranged=ranged,
        whole=whole,
        both=both,
    )


def ranged(need: Range) -> str:
    """Whole prey animals with the range that holds them four times in five."""
    if round(need.low) == round(need.high):
        return whole(need.middle)
    return f"{whole(need.middle)} ({whole(need.low)} to {whole(need.high)})"


def whole(number: float | None) -> str:
    """A whole number; an unknown one is said to be unknown."""
    return "not known" if number is None else f"{number:.0f}"


def _figure(page: Page, report: LarderReport) -> dict[str, Any] | None:
    if not larder_figure.shown(report):
        return None
    return {
        **addresses(page, f"{PATH}/figure", page.desk.journal.last_number()),
        "height": larder_figure.height_of(report, figure.NARROW),
        "words": larder_figure.words_of(report),
    }


def picture(request: Request) -> Response:
    """Answer the figure as SVG, for one width and light."""
    page = page_of(request)
    widths = {str(width): width for width in figure.WIDTHS}
    width, light = request.query_params.get("width", ""), request.query_params.get("light", "")
    report = page.desk.larder(page.on)
    if width not in widths or light not in figure.COLOURS or not larder_figure.shown(report):
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    return svg(larder_figure.draw(report, widths[width], light))


async def write_larder(request: Request) -> Response:
    """Write a filled-in form of the larder."""
    fields = await fields_of(request)
    return await run_in_threadpool(_write, page_of(request), fields)


def _write(page: Page, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    kind = fields.get("kind", "")
    if kind not in FORM_NAMES or not fields.get("key"):
        raise NotReadable("one of the forms of this page", got=repr(kind), todo="Open the page again")
    intention = intention_of_form(fields)
    if any(entry.intention == intention for entry in page.desk.entries()):
        return _done(page)  # sent twice: the first one was written
    try:
        draft = larder_draft(kind, fields, page.desk.record(page.on))
    except FormRefusal as refused:
        return _larder(page, kind, fields, refused.fields)
    page.desk.write([draft.with_key(intention)], intention=intention, device=DEVICE)
    return _done(page)


def _done(page: Page) -> Response:
    return RedirectResponse(page.link(PATH), 303)


def sunday(request: Request) -> Response:
    """Show what to do on a Sunday."""
    page = page_of(request)
    return page.show("sunday.html", tab="", report=page.desk.sunday(page.on))
