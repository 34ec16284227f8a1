"""How past forecasts did: the track record's page, its figure, and looking back behind it."""

from __future__ import annotations

import threading
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.foundation.refusal import NotReadable, Refusal
from nightround.reports.track_record import FATES, STAGE_WORDS, Share, TrackPart, TrackReport
from nightround.web import figure, track_figure
from nightround.web.page import Page, Room, page_of
from nightround.web.pictures import addresses, svg

PARTS = {"kept": "Kept on their day", "back": "Worked out by looking back"}
NOT_COUNTED = tuple(FATES)[3:]
LOOK_AGAIN_SECONDS = "3"


class LookingBack:
    """A look back that works behind the page: a large room's takes minutes."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._worker: threading.Thread | None = None
        self.progress = (0, 0)
        self.refusal: Refusal | None = None

    @property
    def working(self) -> bool:
        """Whether it is at work."""
        return self._worker is not None and self._worker.is_alive()

    def begin(self, room: Room) -> None:
        """Begin one, unless one is at work."""
        with self._lock:
            if not self.working:
                self.progress, self.refusal = (0, 0), None
                self._worker = threading.Thread(
                    target=self._work, args=(room,), name="look back", daemon=True
                )
                self._worker.start()

    def _work(self, room: Room) -> None:
        try:
            room.desk.look_back(heard=self._heard)
            room.rounds.forget()
        except Refusal as refusal:  # told on the page, where the keeper sees it
            self.refusal = refusal

    def _heard(self, done: int, of: int) -> None:
        self.progress = (done, of)


def track(request: Request) -> Response:
    """Show how past forecasts did."""
    page = page_of(request)
    report = page.desk.track(page.on)
    looking: LookingBack = request.app.state.looking
    answer = page.show(
        "track.html",
        tab="",
        report=report,
        parts=[_part(page, name, part) for name, part in _parts(report) if part is not None],
        fates=FATES,
        share=share_words,
        stages=STAGE_WORDS,
        looking=looking,
    )
    if looking.working:
        answer.headers["refresh"] = LOOK_AGAIN_SECONDS
    return answer


def _parts(report: TrackReport) -> tuple[tuple[str, TrackPart | None], ...]:
    return ("kept", report.kept), ("back", report.looked_back)


def _part(page: Page, name: str, part: TrackPart) -> dict[str, Any]:
    state = f"{page.desk.journal.last_number()}.{len(page.desk.issued())}"
    where = addresses(page, "/track/figure", state, part=name)
    return {
        "name": name,
        "title": PARTS[name],
        "part": part,
        **where,
        "narrow": where["narrow"] if any(part.levels.values()) else "",
        "height": track_figure.height_of(figure.NARROW),
        "words": track_figure.words_of(part),
        "not_counted": [
            (FATES[fate], count)
            for fate in NOT_COUNTED
            if (count := sum(line.fates[fate] for line in part.lines))
        ],
    }


def share_words(share: Share | None) -> str:
    """Return a share as '80 % (74 to 85)'."""
    if share is None:
        return "none over yet"
    return f"{100 * share.value:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})"


def picture(request: Request) -> Response:
    """Answer the figure as SVG, for one part, width and light."""
    page = page_of(request)
    asked = {name: request.query_params.get(name, "") for name in ("part", "width", "light")}
    report = page.desk.track(page.on)
    part = dict(_parts(report)).get(asked["part"])
    widths = {str(width): width for width in track_figure.WIDTHS}
    if part is None or asked["width"] not in widths or asked["light"] not in figure.COLOURS:
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    drawn = track_figure.draw(part, widths[asked["width"]], figure.COLOURS[asked["light"]])
    return svg(drawn)


async def look_back(request: Request) -> Response:
    """Begin to look back, and show the page again."""
    looking: LookingBack = request.app.state.looking
    await run_in_threadpool(looking.begin, request.app.state.room)
    return RedirectResponse("/track", 303)
