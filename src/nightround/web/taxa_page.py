"""What the records say of taxa: the list, one taxon with its findings and curves, and their figures."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from nightround.desk import taxon_words
from nightround.foundation.refusal import NotReadable
from nightround.reports.taxon import LifeCurve, TaxonReport
from nightround.web import figure, life_figure
from nightround.web.page import Page, code_path, page_of
from nightround.web.pictures import addresses, svg


def taxa(request: Request) -> Response:
    """Show the list of taxa."""
    page = page_of(request)
    return page.show("taxa.html", tab="", report=page.desk.taxa(page.on), words=taxon_words)


def taxon(request: Request) -> Response:
    """Show one taxon."""
    page = page_of(request)
    report = page.desk.taxon(request.path_params["name"], page.on)
    return page.show(
        "taxon.html",
        tab="",
        report=report,
        words=taxon_words,
        found=[each for each in report.findings if each.estimate is not None],
        missing=[each for each in report.findings if each.estimate is None],
        drawn=[
            {"curve": curve, **_figure(page, report, at, curve)}
            for at, curve in enumerate(report.curves)
            if curve.drawn
        ],
    )


def _figure(page: Page, report: TaxonReport, at: int, curve: LifeCurve) -> dict[str, Any]:
    path = f"/taxa-figure/{code_path(report.line.name)}"
    return {
        **addresses(page, path, page.desk.journal.last_number(), curve=str(at)),
        "height": life_figure.height_of(figure.NARROW),
        "words": life_figure.words_of(curve),
        "caption": life_figure.caption_of(curve),
    }


def picture(request: Request) -> Response:
    """Answer a curve as SVG, for one width and light."""
    page = page_of(request)
    asked = {name: request.query_params.get(name, "") for name in ("curve", "width", "light")}
    report = page.desk.taxon(request.path_params["name"], page.on)
    curves = {str(at): curve for at, curve in enumerate(report.curves) if curve.drawn}
    widths = {str(width): width for width in life_figure.WIDTHS}
    if asked["curve"] not in curves or asked["width"] not in widths or asked["light"] not in figure.COLOURS:
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    drawn = life_figure.draw(curves[asked["curve"]], widths[asked["width"]], figure.COLOURS[asked["light"]])
    return svg(drawn)
