"""Water: the room's homes, one home with its forms, and making one up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.make_up import FIELDS, MadeUpForm, read_make_up
from nightround.desk.taps import FormRefusal, draft_of_form
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both, significant
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.reports.water import HomeWater, UntilDry
from nightround.web import figure, home_figure
from nightround.web.home_forms import HOME_FORM_OF, HOME_FORMS
from nightround.web.page import Page, code_path, fields_of, page_of, refuse_days_to_come
from nightround.web.pictures import addresses, svg
from nightround.web.round_page import DEVICE
from nightround.web.rounds import TAP, intention_of, intention_of_form

AHEAD_DAYS = 60
HISTORY_SHOWN = 20
AWAY_SHOWN = 40


def water(request: Request) -> Response:
    """Show the water of all homes, and, asked for, which dry first while nobody waters."""
    page = page_of(request)
    asked = request.query_params.get("away", "").strip()
    fault, gone = "", None
    if asked:
        try:
            gone = page.desk.away(_days(asked), page.on)
        except Refusal as refused:
            fault = str(refused)
    report = page.desk.water(page.on)
    return page.show(
        "water.html",
        422 if fault else 200,
        tab="",
        report=report,
        places=_by_place(report.homes),
        assumed=common_assumptions(report.homes),
        away=gone,
        asked=asked,
        fault=fault,
        most=AWAY_SHOWN,
        until=until_words,
        ranged=ranged,
    )


def _days(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 4):
        raise NotReadable("a number of days such as 14", got=repr(text))
    return int(text)


def _by_place(homes: tuple[HomeWater, ...]) -> list[tuple[str, list[HomeWater]]]:
    places: dict[str, list[HomeWater]] = {}
    for home in homes:
        places.setdefault(home.place, []).append(home)
    return list(places.items())


def common_assumptions(homes: tuple[HomeWater, ...]) -> list[str]:
    """What many homes' figures take for granted, said once for the page; a home's own stand on its page."""
    counts: dict[str, int] = {}
    known = [home for home in homes if home.assumed]
    for home in known:
        for words in home.assumed:
            counts[words] = counts.get(words, 0) + 1
    return [words for words, number in counts.items() if number >= max(1, len(known) // 4)]


def until_words(until: UntilDry | None) -> str:
    """Days until dry with their 80 % range: 'in 9 d (4 to 15)'."""
    if until is None:
        return "not known"
    low, middle, high = (until.days[level] for level in ("0.1", "0.5", "0.9"))
    if high is not None and high <= 0.5:
        return "dry now"
    if middle is None:
        return f"not within {AHEAD_DAYS} d" + (f" (perhaps in {low:.0f})" if low is not None else "")
    ends = [f"{day:.0f}" if day is not None else f"over {AHEAD_DAYS}" for day in (low, middle, high)]
    return f"in {ends[1]} d ({ends[0]} to {ends[2]})"


def ranged(estimate: Estimate | None) -> str:
    """An estimate with its range, two digits each."""
    if estimate is None:
        return "not known"
    value, low, high = (significant(each, 2) for each in (estimate.value, estimate.low, estimate.high))
    return f"{value} ({low} to {high})"


def home(request: Request) -> Response:
    """Show one home."""
    page = page_of(request)
    return _home(page, request.path_params["code"], request.query_params.get("open", ""), {}, {})


def _home(
    page: Page, code: str, opened: str, values: Mapping[str, str], faults: Mapping[str, str]
) -> Response:
    report = page.desk.home(code, page.on)
    asked = page.request.query_params.get("if", "").strip()
    changes, fault = report.changes, ""
    if asked:
        try:
            changes = page.desk.what_if_home(report.home, [asked], page.on)
        except Refusal as refused:
            fault = str(refused)
    lines = page.desk.home_history(report.home, page.on)
    undoable = {
        line.number: entry.intention
        for line in lines[:HISTORY_SHOWN]
        if not line.struck and (entry := page.desk.entry(line.number)).intention.startswith(TAP)
    }
    started = _started(report)
    return page.show(
        "home.html",
        422 if faults or fault else 200,
        tab="",
        home=report,
        forms=HOME_FORMS,
        opened=opened,
        values={**started.get(opened, {}), **values},
        started=started,
        faults=faults,
        changes=changes,
        asked=asked,
        fault=fault,
        figure=_figure(page, report),
        lines=lines[:HISTORY_SHOWN],
        more=len(lines) - HISTORY_SHOWN,
        undoable=undoable,
        both=both,
        until=until_words,
        ranged=ranged,
    )


def _started(report: HomeWater) -> dict[str, dict[str, str]]:
    """What forms begin with: the advised water."""
    if report.dose.ml is None:
        return {}
    return {"watered": {"value": f"{report.dose.ml:g}", "unit": "ml", "where": "down one side"}}


def _figure(page: Page, report: HomeWater) -> dict[str, Any] | None:
    if not report.course:
        return None
    path = f"/home-figure/{code_path(report.home)}"
    return {
        **addresses(page, path, page.desk.journal.last_number()),
        "height": home_figure.height_of(figure.NARROW),
        "words": home_figure.words_of(report),
    }


def picture(request: Request) -> Response:
    """Answer a home's figure as SVG, for one width and light."""
    page = page_of(request)
    widths = {str(width): width for width in home_figure.WIDTHS}
    width, light = request.query_params.get("width", ""), request.query_params.get("light", "")
    report = page.desk.home(request.path_params["code"], page.on)
    if width not in widths or light not in figure.COLOURS or not report.course:
        raise NotReadable("a figure that the page shows", got=request.url.query or "nothing")
    drawn = home_figure.draw(report.home, report.course, widths[width], light)
    return svg(drawn)


async def write_home(request: Request) -> Response:
    """Write a filled-in form about a home."""
    fields = await fields_of(request)
    return await run_in_threadpool(_write_home, page_of(request), request.path_params["code"], fields)


def _write_home(page: Page, code: str, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    kind = fields.get("kind", "")
    if kind not in HOME_FORM_OF or not fields.get("key"):
        raise NotReadable("one of the forms of this page", got=repr(kind), todo="Open the page again")
    report = page.desk.home(code, page.on)
    try:
        draft = draft_of_form(kind, report.home, fields, page.desk.journal.clock, "home")
    except FormRefusal as refused:
        return _home(page, report.home, kind, fields, refused.fields)
    intention = intention_of_form(fields)
    page.desk.write([draft.with_key(intention)], intention=intention, device=DEVICE)
    return RedirectResponse(page.link(f"/homes/{code_path(report.home)}"), 303)


def make_up(request: Request) -> Response:
    """Show the form of a home made up."""
    page = page_of(request)
    values = {name: request.query_params.get(name, "") for name in FIELDS}
    return _make_up(page, values, {}, None)


def _make_up(
    page: Page, values: Mapping[str, str], faults: Mapping[str, str], checked: MadeUpForm | None
) -> Response:
    from nightround.desk.water import vessel_catalogue

    return page.show(
        "makeup.html",
        422 if faults else 200,
        tab="",
        values={name: values.get(name, "") for name in FIELDS},
        faults=faults,
        checked=checked,
        vessels=vessel_catalogue(),
        places=sorted(page.desk.record(page.on).places),
        both=both,
    )


async def made_up(request: Request) -> Response:
    """Check a filled-in form, or write it."""
    fields = await fields_of(request)
    return await run_in_threadpool(_made_up, page_of(request), fields)


def _made_up(page: Page, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    try:
        read = read_make_up(fields, page.desk.record(page.on), page.on)
    except FormRefusal as refused:
        return _make_up(page, fields, refused.fields, None)
    if fields.get("do") != "write" or not fields.get("key"):
        return _make_up(page, fields, {}, read)
    said = sorted((name, fields.get(name, "")) for name in FIELDS)
    intention = intention_of(fields["key"], repr(said))
    drafts = [draft.with_key(f"{intention}.{at}") for at, draft in enumerate(read.drafts)]
    page.desk.write(drafts, intention=intention, device=DEVICE)
    return RedirectResponse(page.link(f"/homes/{code_path(read.home)}"), 303)
