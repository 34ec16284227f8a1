"""The room's winters and summers: the climate page and its figures."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both, both_degrees
from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import counted
from nightround.reports.climate import ClimateReport, PlaceClimate, Winter
from nightround.web import climate_figure, figure
from nightround.web.page import Page, page_of
from nightround.web.pictures import addresses, svg

MONTHS_SHOWN = 13
WINTERS_SHOWN = 2
ANIMALS_SHOWN = 12


def climate(request: Request) -> Response:
    """Show the room's winters and summers."""
    page = page_of(request)
    report = page.desk.climate(page.on)
    return page.show(
        "climate.html",
        tab="",
        report=report,
        places=[_place(page, place) for place in report.places if place.first is not None],
        ranges=any(day.low_c is not None for place in report.places for day in place.course),
        unread=[place for place in report.places if place.first is None],
        winters=newest_winters(report),
        earlier=len(report.winters) - len(newest_winters(report)),
        both=both,
        degrees=both_degrees,
        ranged=ranged,
        most=ANIMALS_SHOWN,
    )


def newest_winters(report: ClimateReport) -> list[Winter]:
    """Return the latest winters of each place, newest first, then by what they cost."""
    kept: dict[str, int] = {}
    found = []
    for winter in report.winters:
        kept[winter.place] = kept.get(winter.place, 0) + 1
        if kept[winter.place] <= WINTERS_SHOWN:
            found.append(winter)
    return found


def ranged(estimate: Estimate, digits: int = 1) -> str:
    """Return an estimate with its range: '+1.1 (1.09 to 1.11)'."""
    value = f"{estimate.value:.{digits}f}"
    return f"{value} ({estimate.low:.{digits}f} to {estimate.high:.{digits}f})"


def _place(page: Page, place: PlaceClimate) -> dict[str, Any]:
    return {
        "place": place,
        "months": place.months[-MONTHS_SHOWN:],
        "earlier": max(0, len(place.months) - MONTHS_SHOWN),
        **addresses(page, "/climate/figure", page.desk.journal.last_number(), place=place.place),
        "height": climate_figure.height_of(figure.NARROW),
        "words": climate_figure.words_of(place, page.on),
        "read": counted(place.days_known, "day"),
    }


def picture(request: Request) -> Response:
    """Answer a figure as SVG, for one place, width and light."""
    page = page_of(request)
    asked = {name: request.query_params.get(name, "") for name in ("place", "width", "light")}
    widths = {str(width): width for width in climate_figure.WIDTHS}
    places = {place.place: place for place in page.desk.climate(page.on).places if place.first is not None}
    if asked["place"] not in places or asked["width"] not in widths or asked["light"] not in figure.COLOURS:
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    drawn = climate_figure.draw(places[asked["place"]], page.on, widths[asked["width"]], asked["light"])
    return svg(drawn)
