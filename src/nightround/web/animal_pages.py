"""Animals: finding one, everything about it, its figure, and writing about it in detail."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.taps import FormRefusal, draft_of_form
from nightround.foundation.refusal import NotReadable
from nightround.reports.room import AnimalReport
from nightround.reports.tonight import RuleUsed
from nightround.web import assets, figure
from nightround.web.ahead_page import ahead_context
from nightround.web.cards import Card
from nightround.web.forms import FORM_OF, FORMS, Form
from nightround.web.page import Page, code_path, fields_of, page_of, refuse_days_to_come
from nightround.web.round_page import DEVICE, back_to
from nightround.web.rounds import intention_of_form

FIRST_LINES = 60
SHOWN_DAYS = (7, 14, 30, 60, 90)


def animals(request: Request) -> Response:
    """List the animals, or those that the words in `q` find."""
    page = page_of(request)
    words = request.query_params.get("q", "").strip()
    gone = request.query_params.get("gone") == "yes"
    record = page.desk.record(page.on)
    if words:
        found = page.desk.search(words, page.on)
    else:
        everyone = [animal for _, animal in sorted(record.animals.items())]
        found = [animal for animal in everyone if gone or animal.status in ("alive", "escaped")]
    return page.show("animals.html", tab="/animals", q=words, animals=found, gone=gone)


def animal(request: Request) -> Response:
    """Show everything about one animal."""
    page = page_of(request)
    report = page.desk.animal(request.path_params["code"], page.on)
    whole = request.query_params.get("history") == "all"
    return page.show(
        "animal.html",
        tab="/animals",
        animal=report,
        card=_card(page, report),
        rules=_rules(report),
        chances=_chances(report),
        **ahead_context(page, report, page.desk.ahead_known(report.code, page.on)),
        history=report.history if whole else report.history[:FIRST_LINES],
    )


def _card(page: Page, report: AnimalReport) -> Card | None:
    if report.tonight is None:
        return None
    evening = page.room.rounds.evening(page.on)
    return evening.card(report.code) if report.code in evening.rows else None


def _rules(report: AnimalReport) -> list[RuleUsed]:
    jobs = report.tonight.jobs if report.tonight else ()
    return list({rule.rule: rule for job in jobs for rule in job.rules}.values())


def _chances(report: AnimalReport) -> dict[str, Any] | None:
    forecast = report.forecast
    moult = forecast.next_moult if forecast else None
    if forecast is None or moult is None:
        return None
    low, middle, high = (
        report.on + timedelta(days=round(count)) if count is not None else None
        for count in (moult.quantiles_days.get(level) for level in ("0.10", "0.50", "0.90"))
    )
    within = [(count, moult.within_days[count]) for count in SHOWN_DAYS if count in moult.within_days]
    return {
        "low": low,
        "middle": middle,
        "high": high,
        "within": within,
        "n_animals": moult.n_animals,
        "n_intervals": moult.n_intervals,
        "method": moult.method,
        "reasons": moult.reasons,
        "unseen": forecast.may_have_moulted_unseen,
    }


def picture(request: Request) -> Response:
    """Answer an animal's figure as SVG, for one width and light; it never changes under its address."""
    from nightround.web.guards import FIGURE_POLICY

    page = page_of(request)
    width, light = request.query_params.get("width", ""), request.query_params.get("light", "dark")
    if width not in {str(known) for known in figure.WIDTHS} or light not in figure.COLOURS:
        raise NotReadable("a width and a light that the pages use", got=f"{width!r}, {light!r}")
    report = page.desk.animal(request.path_params["code"], page.on)
    if not figure.dated_steps(report):
        raise NotReadable("an animal with a size to draw", got=report.code, todo="Measure it first")
    fan = page.desk.ahead(report.code, page.on).fan if request.query_params.get("ahead") == "yes" else ()
    state = len(page.desk.entries())
    drawn = request.app.state.figures.svg(report, state, int(width), light, fan)
    current = request.query_params.get("state") == f"{state}.{assets.build()}"
    headers = {"cache-control": assets.FOR_EVER.replace("public", "private") if current else "no-cache"}
    headers["content-security-policy"] = FIGURE_POLICY
    return Response(drawn, media_type="image/svg+xml", headers=headers)


def write(request: Request) -> Response:
    """Show the forms to write about one animal in detail."""
    page = page_of(request)
    found = page.desk.find(request.path_params["code"], page.on)
    opened = request.query_params.get("open", "")
    return _forms(page, found, opened, {}, {}, request.query_params.get("back", ""))


def _forms(
    page: Page, found: Any, opened: str, values: Mapping[str, str], faults: Mapping[str, str], back: str
) -> Response:
    back = back_to(back, page) if back else page.link(f"/animal/{code_path(found.code)}")
    return page.show(
        "writepart.html" if page.part else "write.html",
        422 if faults else 200,
        tab="/animals",
        animal=found,
        forms=FORMS,
        opened=opened,
        values=values,
        faults=faults,
        back=back,
    )


async def written(request: Request) -> Response:
    """Write a filled-in form; a grave one asks once more first."""
    fields = await fields_of(request)
    return await run_in_threadpool(_written, page_of(request), request.path_params["code"], fields)


def _written(page: Page, code: str, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    kind = fields.get("kind", "")
    if kind not in FORM_OF or not fields.get("key"):
        raise NotReadable("one of the forms of this page", got=repr(kind), todo="Open the page again")
    found = page.desk.find(code, page.on)
    if kind == "moulted" and fields.get("from"):
        fields = {**fields, "last_checked": fields["from"]}
    try:
        draft = draft_of_form(kind, found.code, fields, page.desk.journal.clock)
    except FormRefusal as refused:
        return _forms(page, found, kind, fields, refused.fields, fields.get("back", ""))
    if FORM_OF[kind].grave and fields.get("sure") != "yes":
        return _ask_again(page, found, FORM_OF[kind], fields)
    intention = intention_of_form(fields)
    written = page.desk.write([draft.with_key(intention)], intention=intention, device=DEVICE)
    page.room.rounds.lay_over(page.on, found.code, intention, [draft], written.numbers)
    return RedirectResponse(back_to(fields.get("back", ""), page), 303)


def _ask_again(page: Page, found: Any, form: Form, fields: dict[str, str]) -> Response:
    return page.show(
        "confirm.html",
        tab="/animals",
        heading=f"{found.code}: {form.heading.lower()}?",
        question=f"{form.grave} It can be undone in the journal.",
        action=page.link(f"/write/{code_path(found.code)}"),
        fields={name: text for name, text in fields.items() if name not in ("sure", "last_checked")},
        yes=f"Yes, {found.code} {form.heading.lower()}",
        back=page.link(f"/animal/{code_path(found.code)}"),
    )
