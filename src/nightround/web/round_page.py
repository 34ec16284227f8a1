"""Tonight: the round in walking order, its taps, and their undoing."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Any
from urllib.parse import urlsplit

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.taps import Tap, drafts_of, parse_tap
from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import counted
from nightround.reports.larder import Errand
from nightround.web.cards import Card, slug
from nightround.web.page import Page, fields_of, page_of, refuse_days_to_come, templates
from nightround.web.paste_page import first_page
from nightround.web.rounds import TAP, Evening, intention_of

SHOWN = {"all": "All", "hand": "Needs a hand", "alone": "Leave alone"}
DEVICE = "page"
PATIENCE_SECONDS = 6.0
"""How long the round may take at first before a page says that it is being worked out."""
_KEPT_PAGES = 8
_KEPT_CARDS = 12_000


class Kept:
    """Finished HTML of what has not changed; the oldest goes when there is too much."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._lock = Lock()
        self._kept: OrderedDict[Any, str] = OrderedDict()

    def get(self, key: Any) -> str | None:
        """Return what is kept under a key."""
        return self._kept.get(key)

    def keep(self, key: Any, html: str) -> str:
        """Keep HTML under a key, and let the oldest go."""
        with self._lock:
            self._kept[key] = html
            while len(self._kept) > self._limit:
                self._kept.popitem(last=False)
        return html


class KeptPages:
    """The last few rounds, and their cards: a tap changes one card, so only that is written out again."""

    def __init__(self) -> None:
        self.pages = Kept(_KEPT_PAGES)
        self.cards = Kept(_KEPT_CARDS)


def tonight(request: Request) -> Response:
    """Show the round of the evening."""
    page = page_of(request)
    if page.desk.journal.last_number() == 0:
        return first_page(page)
    show = request.query_params.get("show", "all")
    if show not in SHOWN:
        raise NotReadable("one of " + ", ".join(SHOWN), got=repr(show), todo="Choose a filter on the page")
    evening = page.room.rounds.evening_within(page.on, PATIENCE_SECONDS)
    if evening is None:
        waiting = page.show("waiting.html", tab="/")
        waiting.headers["refresh"] = "2"
        return waiting
    errands = page.desk.errands(page.on)
    tag = page.tag(evening.number, evening.stale, id(evening), errands)
    kept: KeptPages = request.app.state.kept
    html = kept.pages.get(tag) or kept.pages.keep(tag, _html(page, evening, show, kept.cards, errands))
    return page.answer(html, tag=tag)


def _html(page: Page, evening: Evening, show: str, kept: Kept, errands: tuple[Errand, ...]) -> str:
    shelves = [
        (place, [_card_html(page, card, kept) for card in cards if is_shown(card, show)], progress_of(cards))
        for place, cards in evening.cards()
    ]
    everyone = [card for _, cards in evening.cards() for card in cards]
    return page.html(
        "tonight.html",
        tab="/",
        report=evening.report,
        errands=errands,
        shelves=[shelf for shelf in shelves if shelf[1]],
        walk=shelves,
        progress=progress_of(everyone),
        show=show,
        shown=SHOWN,
        counts={name: sum(is_shown(card, name) for card in everyone) for name in SHOWN},
    )


def _card_html(page: Page, card: Card, kept: Kept) -> Markup:
    key = (page.on, page.today, card)
    show = templates().get_template("card.html").module.show  # type: ignore[attr-defined]
    html = kept.get(key) or kept.keep(key, show(card, page.day, page.human, page.link, ""))
    return Markup(html)


def is_shown(card: Card, show: str) -> bool:
    """Whether a card belongs to a filter; one that was done tonight stays where it was."""
    if show == "hand":
        return card.state != "calm"
    return show == "all" or card.verdict == "leave_alone"


def progress_of(cards: list[Card]) -> dict[str, Any]:
    """Return how far the round is: done, total, share of a hundred, and where it goes on."""
    total = sum(card.state != "calm" for card in cards)
    done = sum(card.state == "done" for card in cards)
    following = next((card for card in cards if card.state == "hand"), None)
    share = round(100 * done / total) if total else 100
    return {"done": done, "total": total, "share": share, "next": following}


async def act(request: Request) -> Response:
    """Write one tap; the same form sent twice writes once."""
    from starlette.concurrency import run_in_threadpool

    form = await request.form()
    key, value = str(form.get("key", "")), str(form.get("do", ""))
    if not key:
        raise NotReadable("the form's own key", got="nothing", todo="Open the page again and tap once more")
    return await run_in_threadpool(_act, page_of(request), key, value, str(form.get("back", "")))


def _act(page: Page, key: str, value: str, back: str) -> Response:
    refuse_days_to_come(page)
    tap = parse_tap(value)
    rounds = page.room.rounds
    evening = rounds.known(page.on)
    if tap.code not in evening.rows:
        tap = Tap(tap.do, page.desk.find(tap.code, page.on).code, tap.said)
    intention = intention_of(key, value)
    _write(page, tap, intention)
    if page.part and tap.code in evening.rows:
        return _part(page, tap.code, back)
    return RedirectResponse(back_to(back, page) + f"#a-{slug(tap.code)}", 303)


def _write(page: Page, tap: Tap, intention: str) -> None:
    drafts = [draft.with_key(f"{intention}:{place}") for place, draft in enumerate(drafts_of(tap, page.on))]
    written = page.desk.write(drafts, intention=intention, device=DEVICE)
    page.room.rounds.lay_over(page.on, tap.code, intention, drafts, written.numbers)


def _part(page: Page, code: str, back: str, said: str = "") -> Response:
    evening = page.room.rounds.known(page.on)
    cards = [card for _, shelf in evening.cards() for card in shelf]
    card = evening.card(code)
    words = said or (card.acts[-1].words if card.acts else "")
    show = "hand" if "show=hand" in urlsplit(back).query.split("&") else "all"
    html = page.html("part.html", card=card, progress=progress_of(cards), said=f"{code}: {words}", show=show)
    return page.answer(html)


async def undo(request: Request) -> Response:
    """Strike everything one act wrote; it stays in the journal, crossed out."""
    from starlette.concurrency import run_in_threadpool

    fields = await fields_of(request)
    return await run_in_threadpool(_undo, page_of(request), fields)


def _undo(page: Page, fields: dict[str, str]) -> Response:
    intention, _, code = fields.get("undo", "").partition("~")
    back = fields.get("back", "")
    if not intention.startswith(TAP) and fields.get("sure") != "yes":
        return _ask_before_undo(page, intention, fields)
    written = page.desk.undo(intention, key=f"undo:{intention}", device=DEVICE)
    page.room.rounds.take_off(page.on, code, intention, written.numbers)
    if page.part and code in page.room.rounds.known(page.on).rows:
        return _part(page, code, back, "undone")
    return RedirectResponse(back_to(back, page) + (f"#a-{slug(code)}" if code else ""), 303)


def _ask_before_undo(page: Page, intention: str, fields: dict[str, str]) -> Response:
    count = sum(entry.belongs_to(intention) for entry in page.desk.entries())
    return page.show(
        "confirm.html",
        tab="/journal",
        heading="Undo a whole act?",
        question=f"{counted(count, 'entry', 'entries')} written together would no longer count. "
        "They stay in the journal, crossed out.",
        action=page.link("/undo"),
        fields={name: text for name, text in fields.items() if name != "sure"},
        yes=f"Yes, undo {counted(count, 'entry', 'entries')}",
        back=back_to(fields.get("back", ""), page),
    )


def back_to(back: str, page: Page) -> str:
    """Return where to go after a form: the page it came from when it is one of ours, else Tonight."""
    parts = urlsplit(back)
    ours = not parts.scheme and not parts.netloc and parts.path.startswith("/") and "\\" not in back
    if not ours or parts.path.startswith("//"):
        return page.link("/")
    return parts.path + (f"?{parts.query}" if parts.query else "")
