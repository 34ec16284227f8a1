"""Homes months ahead: what does not fit tonight, who moves when, what to buy; and run sheets for moves."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from nightround.foundation.quantities import both
from nightround.foundation.refusal import NotReadable
from nightround.reports.homes import HomesReport, Window
from nightround.web import figure, homes_figure
from nightround.web.page import Page, page_of
from nightround.web.pictures import addresses, svg

PATH = "/homes"
MOST_SHOWN = 60
FIRST_SHOWN = 4


def homes(request: Request) -> Response:
    """Show the plan of the homes."""
    page = page_of(request)
    report = page.desk.homes(page.on)
    return page.show(
        "homes.html",
        tab="",
        report=report,
        wrong=[each for each in report.fits if each.fits is False],
        unknown=[each for each in report.fits if each.fits is None],
        skipped=[course for course in report.courses if course.skips],
        unplanned=[course for course in report.courses if course.unplanned],
        figure=_figure(page, report),
        first=FIRST_SHOWN,
        most=MOST_SHOWN,
        both=both,
        outgrown=lambda window: outgrown(page, window),
    )


def outgrown(page: Page, window: Window | None) -> str:
    """When the home left is outgrown: the middle day with the range that holds it eight times in ten."""
    if window is None or window.early is None:
        return "not by size in these months"
    if window.middle is None:
        return f"one in ten by {page.day(window.early)}, more likely not in these months"
    late = page.day(window.late) if window.late is not None else "later than these months"
    return f"{page.day(window.middle)} ({page.day(window.early)} to {late})"


def _figure(page: Page, report: HomesReport) -> dict[str, Any] | None:
    if not homes_figure.shown(report):
        return None
    return {
        **addresses(page, "/homes-figure", page.desk.journal.last_number()),
        "height": homes_figure.height_of(report),
        "words": homes_figure.words_of(report),
    }


def picture(request: Request) -> Response:
    """Answer the timeline as SVG, for one width and light."""
    page = page_of(request)
    widths = {str(width): width for width in figure.WIDTHS}
    width, light = request.query_params.get("width", ""), request.query_params.get("light", "")
    report = page.desk.homes(page.on)
    if width not in widths or light not in figure.COLOURS or not homes_figure.shown(report):
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    return svg(homes_figure.draw(report, widths[width], light))


def move(request: Request) -> Response:
    """Show the run sheet of one planned move."""
    page = page_of(request)
    number = request.query_params.get("number", "1")
    if not number.isdecimal():
        raise NotReadable("the number of a move", got=repr(number))
    sheet = page.desk.run_sheet(request.path_params["code"], int(number), page.on)
    return page.show("move.html", tab="", sheet=sheet, both=both)
