"""The claims page: what others say of each taxon, verdicts with what stands behind them, and the form."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from nightround.desk.claims import claim_draft
from nightround.desk.taps import FormRefusal
from nightround.foundation.refusal import NotReadable
from nightround.reports.claims import STANDING_WORDS
from nightround.web.forms import NOTE, UNKNOWN, Field, Form
from nightround.web.page import Page, fields_of, page_of, refuse_days_to_come
from nightround.web.round_page import DEVICE
from nightround.web.rounds import intention_of_form

PATH = "/claims"
SHOWN = 12
FORM = Form(
    "claim",
    "Write a claim",
    "Write the claim",
    (
        Field("taxon", "Taxon", hint="as you name it; a locality goes into quotes"),
        Field("as_written", "Spelling", (("", "ask about slips"), ("yes", "keep it as I write it"))),
        Field(
            "claim",
            "About",
            (
                ("adult_span", "adult leg span"),
                ("adult_carapace", "adult carapace"),
                ("life_span", "life span"),
                ("years_to_maturity", "years to maturity"),
                ("growth_class", "growth class"),
                ("habit", "habit"),
                ("venom", "venom"),
                ("temperature", "temperature"),
                ("humidity", "humidity"),
                ("other", "other"),
            ),
        ),
        Field("text", "In their words", hint="such as: reaches 20 cm; fast growing; tree-dwelling"),
        Field(
            "sense",
            "Sense",
            (UNKNOWN, ("maximum", "at most"), ("typical", "typical"), ("minimum", "at least")),
        ),
        Field("low", "From", numeric=True, hint="empty when only one number is claimed"),
        Field("high", "To", numeric=True),
        Field("unit", "Unit", hint="cm, mm, in; year, month"),
        Field("sex", "Of", (("", "either sex"), ("female", "females"), ("male", "males"))),
        Field("source", "Who says so", hint="a paper, a book, a page, a name"),
        Field(
            "grade",
            "Grade",
            (
                UNKNOWN,
                ("A", "peer-reviewed, official or veterinary"),
                ("B", "named expert, society or zoo"),
                ("C", "keepers' pages and vendors"),
                ("D", "unsigned pages"),
                ("CP", "common practice, no source"),
                ("MEM", "from memory"),
            ),
        ),
        NOTE,
    ),
    hint="What somebody states, not what you saw: what you saw is in your records already.",
)


def claims(request: Request) -> Response:
    """Show the claims, or those about one taxon."""
    return _claims(page_of(request), {}, {}, request.query_params.get("taxon", ""))


def _claims(page: Page, values: Mapping[str, str], faults: Mapping[str, str], taxon: str = "") -> Response:
    report = page.desk.claims(page.on, taxon=taxon)
    counts = {
        words: sum(verdict.standing == standing for each in report.taxa for verdict in each.verdicts)
        for standing, words in STANDING_WORDS.items()
    }
    return page.show(
        "claims.html",
        422 if faults else 200,
        tab="",
        report=report,
        only=taxon,
        counts={words: number for words, number in counts.items() if number},
        form=FORM,
        values=values,
        faults=faults,
        most=SHOWN,
        chance=chance,
    )


def chance(value: float) -> str:
    """A chance in words; the ends are never said to be certain."""
    if value > 0.99:
        return "over 99 %"
    return "under 1 %" if value < 0.01 else f"{100 * value:.0f} %"


async def write_claim(request: Request) -> Response:
    """Write a filled-in claim."""
    fields = await fields_of(request)
    return await run_in_threadpool(_write, page_of(request), fields)


def _write(page: Page, fields: dict[str, str]) -> Response:
    refuse_days_to_come(page)
    if fields.get("kind") != "claim" or not fields.get("key"):
        raise NotReadable(
            "the form of this page", got=repr(fields.get("kind", "")), todo="Open the page again"
        )
    intention = intention_of_form(fields)
    if not any(entry.intention == intention for entry in page.desk.entries()):
        try:
            draft = claim_draft(fields, page.desk.record(page.on))
        except FormRefusal as refused:
            return _claims(page, fields, refused.fields)
        page.desk.write([draft.with_key(intention)], intention=intention, device=DEVICE)
    return RedirectResponse(page.link(PATH), 303)
