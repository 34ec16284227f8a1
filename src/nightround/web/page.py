"""What every page has in common: the room, the day it is asked for, the light, links, and rendering."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from nightround.foundation.refusal import Refusal
from nightround.foundation.when import parse_day
from nightround.foundation.wording import counted
from nightround.web import assets, words
from nightround.web.cards import slug
from nightround.web.rounds import Rounds

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

LIGHTS = {"dark": "Dark", "light": "Light", "night": "Red night"}
TABS = (("/", "Tonight"), ("/animals", "Animals"), ("/shelves", "Shelves"), ("/problems", "Problems"),
        ("/journal", "Journal"))  # fmt: skip
KEY_MARK = "\x02key\x03"
"""Stands in a kept page where each answer puts its own random key."""


@cache
def templates() -> Environment:
    """Return the page templates, compiled once."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals.update(asset=assets.url, slug=slug, tabs=TABS, lights=LIGHTS, code_path=code_path)
    environment.globals.update(percent=words.percent, days=words.days, plural=counted)
    for name in environment.list_templates():
        environment.get_template(name)
    return environment


def code_path(code: str) -> str:
    """Return a code as one part of an address."""
    return quote(code, safe="")


def new_key() -> str:
    """Return a random key for a form: what is sent twice under it is written once."""
    return secrets.token_hex(8)


@dataclass(frozen=True)
class Room:
    """The desk and the evenings that all requests share."""

    desk: Desk
    rounds: Rounds


@dataclass(frozen=True)
class Page:
    """One request for a page: which day, which light, and where links lead."""

    request: Request
    room: Room
    on: date
    today: date

    @property
    def desk(self) -> Desk:
        """The room's desk."""
        return self.room.desk

    @property
    def light(self) -> str:
        """The light chosen on this device."""
        chosen = self.request.cookies.get("light", "dark")
        return chosen if chosen in LIGHTS else "dark"

    @property
    def part(self) -> bool:
        """Whether the page's own script asks for a part of the page only."""
        return self.request.headers.get("x-nightround") == "part"

    def link(self, path: str, **query: str) -> str:
        """Return an address inside the room that keeps the day which is looked at."""
        if self.on != self.today:
            query["on"] = self.on.isoformat()
        kept = {name: value for name, value in query.items() if value}
        return path + ("?" + urlencode(kept) if kept else "")

    def day(self, value: date | None) -> Any:
        """Return a day as a person reads it."""
        return words.day(value, self.on)

    def when(self, value: words.Moment) -> Any:
        """Return a moment as a person reads it, in the room's time."""
        return words.when(value, self.on, self.desk.journal.clock.zone)

    def human(self, text: str) -> Any:
        """Return words with their ISO days as a person reads them."""
        return words.human(text, self.on)

    def html(self, template: str, **context: Any) -> str:
        """Return a template filled in, with KEY_MARK where a form's key belongs."""
        return templates().get_template(template).render(
            page=self, link=self.link, day=self.day, when=self.when, human=self.human, light=self.light,
            room_name=self.desk.name, invented=self.desk.invented, key=KEY_MARK, **context,
        )  # fmt: skip

    def show(self, template: str, status: int = 200, **context: Any) -> Response:
        """Return a page as an answer, never kept without asking again."""
        return self.answer(self.html(template, **context), status)

    def answer(self, html: str, status: int = 200, tag: str = "") -> Response:
        """Return finished HTML as an answer; `tag` names its state, so that an unchanged page is not sent."""
        headers = {"cache-control": "no-cache, private", "vary": "Cookie, X-Nightround"}
        if tag:
            headers["etag"] = f'W/"{tag}"'
            if self.request.headers.get("if-none-match", "").removeprefix("W/") == f'"{tag}"':
                return Response(status_code=304, headers=headers)
        return HTMLResponse(html.replace(KEY_MARK, new_key()), status, headers)

    def tag(self, *state: object) -> str:
        """Return a name for the state that a page shows: the journal, the day, the light and `state`."""
        seen = (assets.build(), self.on, self.today, self.light, self.request.url.query, self.part, state)
        return hashlib.sha256(repr(seen).encode()).hexdigest()[:24]


async def fields_of(request: Request) -> dict[str, str]:
    """Return the fields of a form that was sent; files are none of ours."""
    form = await request.form()
    return {name: text for name, text in form.items() if isinstance(text, str)}


def page_of(request: Request) -> Page:
    """Return the page that a request asks for. Raises NotReadable for a day that cannot be read."""
    room: Room = request.app.state.room
    today = room.desk.today()
    text = request.query_params.get("on", "").strip()
    return Page(request, room, parse_day(text) if text else today, today)


def refuse_days_to_come(page: Page) -> None:
    """Raise Refusal when something would be written for a day that has not come."""
    if page.on > page.today:
        raise Refusal(
            "an evening that has come, to write what was done",
            got=page.on.isoformat(),
            todo="Go back to tonight",
        )
