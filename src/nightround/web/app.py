"""The application: which address shows which page, and how refusals look."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from nightround.foundation.refusal import NoSuchThing, NotReadable, Refusal
from nightround.web import (
    ahead_page,
    animal_pages,
    claims_page,
    climate_page,
    homes_page,
    larder_page,
    line_page,
    logger_page,
    paste_page,
    room_pages,
    round_page,
    taxa_page,
    track_page,
    water_pages,
)
from nightround.web.assets import serve_asset
from nightround.web.figure import Figures
from nightround.web.guards import LOOPBACK_NAMES, Guards
from nightround.web.page import Page, Room, page_of, templates
from nightround.web.rounds import Rounds

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

HEADINGS = {400: "That cannot be done so", 404: "There is no such thing here", 405: "Not from here"}

ROUTES = [
    Route("/", round_page.tonight),
    Route("/act", round_page.act, methods=["POST"]),
    Route("/undo", round_page.undo, methods=["POST"]),
    Route("/animals", animal_pages.animals),
    Route("/animal/{code:path}", animal_pages.animal),
    Route("/ahead/{code:path}", ahead_page.ahead),
    Route("/figure/{code:path}", animal_pages.picture),
    Route("/write/{code:path}", animal_pages.write),
    Route("/write/{code:path}", animal_pages.written, methods=["POST"]),
    Route("/water", water_pages.water),
    Route("/homes", homes_page.homes),
    Route("/homes-figure", homes_page.picture),
    Route("/move/{code:path}", homes_page.move),
    Route("/homes/{code:path}", water_pages.home),
    Route("/homes/{code:path}", water_pages.write_home, methods=["POST"]),
    Route("/home-figure/{code:path}", water_pages.picture),
    Route("/make-up", water_pages.make_up),
    Route("/make-up", water_pages.made_up, methods=["POST"]),
    Route("/shelves", room_pages.shelves),
    Route("/problems", room_pages.problems),
    Route("/journal", room_pages.journal),
    Route("/larder", larder_page.larder),
    Route("/larder", larder_page.write_larder, methods=["POST"]),
    Route("/larder/figure", larder_page.picture),
    Route("/sunday", larder_page.sunday),
    Route("/claims", claims_page.claims),
    Route("/claims", claims_page.write_claim, methods=["POST"]),
    Route("/climate", climate_page.climate),
    Route("/climate/figure", climate_page.picture),
    Route("/logger", logger_page.logger),
    Route("/logger", logger_page.sent, methods=["POST"]),
    Route("/taxa", taxa_page.taxa),
    Route("/taxa/{name:path}", taxa_page.taxon),
    Route("/taxa-figure/{name:path}", taxa_page.picture),
    Route("/track", track_page.track),
    Route("/track/figure", track_page.picture),
    Route("/track/look-back", track_page.look_back, methods=["POST"]),
    Route("/keys", room_pages.keys),
    Route("/light", room_pages.light, methods=["POST"]),
    Route("/paste", paste_page.paste),
    Route("/paste", paste_page.pasted, methods=["POST"]),
    Route("/line", line_page.line),
    Route("/line", line_page.lined, methods=["POST"]),
    Route("/static/{build}/{name}", serve_asset),
]


def make_app(desk: Desk, *, hosts: Iterable[str] = LOOPBACK_NAMES) -> Starlette:
    """Return the pages of a room as an ASGI application that answers to `hosts` only."""
    templates()
    app = Starlette(
        routes=ROUTES,
        middleware=[
            Middleware(Guards, hosts=tuple(hosts)),
            Middleware(GZipMiddleware, minimum_size=700, compresslevel=4),
        ],
        exception_handlers={Refusal: _refused, HTTPException: _not_here},
    )
    app.state.room = Room(desk, Rounds(desk))
    app.state.kept = round_page.KeptPages()
    app.state.figures = Figures()
    app.state.files = logger_page.HeldFiles()
    app.state.looking = track_page.LookingBack()
    return app


async def _refused(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, Refusal)
    status = 404 if isinstance(fault, NoSuchThing) else 400
    return await run_in_threadpool(_refusal_page, request, status, fault)


async def _not_here(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    told = Refusal(
        "one of the pages of this room", got=request.url.path, todo="Use the links at the top of the page"
    )
    return await run_in_threadpool(_refusal_page, request, fault.status_code, told)


def _refusal_page(request: Request, status: int, fault: Refusal) -> Response:
    return _page(request).show(
        "refusal.html",
        status,
        tab="",
        heading=HEADINGS.get(status, "That cannot be done"),
        wanted=fault.wanted,
        got=fault.got,
        todo=fault.todo,
    )


def _page(request: Request) -> Page:
    try:
        return page_of(request)
    except NotReadable:
        # The day itself could not be read: the refusal is shown on tonight's page.
        room: Room = request.app.state.room
        return Page(request, room, room.desk.today(), room.desk.today())
