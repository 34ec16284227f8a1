"""What lies ahead of one animal: sizes, growth to come, and its next moult if it were warmer or cooler."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both, quantity, significant
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import parse_day
from nightround.foundation.wording import counted
from nightround.reports.ahead import AheadReport, WhatIf
from nightround.reports.room import AnimalReport
from nightround.reports.size import GrowthReport, MaturityToCome, SizeToCome
from nightround.web import assets, figure
from nightround.web.page import Page, code_path, page_of
from nightround.web.words import day_text, percent

LEVELS = ("0.10", "0.50", "0.90")
NOT_REACHED = "not in these futures"
_LONGEST_LOOK = timedelta(days=50 * 366)
_SPAN = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*([^\d\s].*?)\s*")


def ahead(request: Request) -> Response:
    """Answer what lies ahead of one animal: as a part to the page's own script, else as a page."""
    page = page_of(request)
    report = page.desk.animal(request.path_params["code"], page.on)
    asked = {name: request.query_params.get(name, "").strip() for name in ("span", "day")}
    faults: list[str] = []
    spans_mm, days = _read(asked, page.on, faults)
    told = page.desk.ahead(report.code, page.on, days=days, spans_mm=spans_mm)
    template = "ahead.html" if page.part else "aheadpage.html"
    context = ahead_context(page, report, told, asked)
    return page.show(
        template, 422 if faults else 200, tab="/animals", animal=report, faults=faults, **context
    )


def _read(asked: dict[str, str], on: date, faults: list[str]) -> tuple[tuple[float, ...], tuple[date, ...]]:
    """The span and the day that the form asks for; what cannot be read becomes a fault."""
    spans_mm: tuple[float, ...] = ()
    days: tuple[date, ...] = ()
    try:
        spans_mm = (_span(asked["span"]),) if asked["span"] else ()
    except NotReadable as fault:
        faults.append(f"Span: {fault}")
    try:
        day = parse_day(asked["day"]) if asked["day"] else None
        if day is not None and not on <= day <= on + _LONGEST_LOOK:
            raise NotReadable("a day to come, within fifty years", got=asked["day"])
        days = (day,) if day is not None else ()
    except NotReadable as fault:
        faults.append(f"Day: {fault}")
    return spans_mm, days


def _span(text: str) -> float:
    """A leg span in mm from a number with its unit: '80 mm', '3 in'."""
    found = _SPAN.fullmatch(text)
    if found is None:
        raise NotReadable("a leg span with its unit, such as 80 mm or 3 in", got=repr(text))
    value = quantity(found[1], found[2], "length").value
    if not 0.5 <= value <= 400.0:
        raise NotReadable("a leg span between half a millimetre and 40 cm", got=repr(text))
    return value


def ahead_context(
    page: Page, report: AnimalReport, told: AheadReport | None, asked: dict[str, str] | None = None
) -> dict[str, Any]:
    """Return what the template shows; without an answer yet the sizes, and where the rest comes from."""
    growth = told.growth if told else None
    return {
        **_size_context(page, report, told),
        "later": "" if told else page.link(f"/ahead/{code_path(report.code)}"),
        "growth": _growth(page, report, told, growth) if told and growth else None,
        "warmer": _warmer(page, told.what_if, report) if told and told.what_if else None,
        "asked": asked or {"span": "", "day": ""},
        "both": both,
        "span": span,
    }


def _size_context(page: Page, report: AnimalReport, told: AheadReport | None) -> dict[str, Any]:
    return {
        "sizes": _sizes(report),
        "size_methods": _size_methods(report),
        "figure": _figure(page, report, told),
    }


def _sizes(report: AnimalReport) -> list[dict[str, str]]:
    size = report.size
    if size is None:
        return []
    rows = (
        ("Carapace now", size.carapace_now),
        ("Leg span now", size.leg_span_now),
        ("Body now", size.body_now),
        ("Carapace after the next moult", size.carapace_next),
        ("Leg span after the next moult", size.leg_span_next),
    )
    return [_size_row(label, estimate) for label, estimate in rows if estimate is not None]


def _size_methods(report: AnimalReport) -> list[str]:
    size = report.size
    shown = (size.carapace_now, size.leg_span_now, size.body_now, size.carapace_next) if size else ()
    return sorted({estimate.method for estimate in shown if estimate is not None})


def _size_row(label: str, estimate: Estimate) -> dict[str, str]:
    basis = f"{counted(estimate.n_observations, 'reading')} of {counted(estimate.n_animals, 'animal')}"
    return {
        "label": label,
        "value": both(estimate.value, estimate.unit),
        "range": span(estimate.low, estimate.high, estimate.unit),
        "basis": basis if estimate.n_observations else "published figures only",
    }


def span(low: float, high: float, unit: str) -> str:
    """Return a range in one metric unit: '5.57 to 6.16 cm'."""
    if unit == "mm" and high >= 10:
        low, high, unit = low / 10, high / 10, "cm"
    return f"{significant(low)} to {significant(high)} {unit}"


def _figure(page: Page, report: AnimalReport, told: AheadReport | None) -> dict[str, Any] | None:
    steps = figure.dated_steps(report)
    if not steps:
        return None
    fan = told.fan if told is not None else ()
    state = f"{len(page.desk.entries())}.{assets.build()}"

    def address(width: int) -> str:
        query = {"width": str(width), "light": page.light, "state": state, "on": page.on.isoformat()}
        query |= {"ahead": "yes"} if fan else {}
        return f"/figure/{code_path(report.code)}?{urlencode(query)}"

    return {
        "narrow": address(figure.NARROW),
        "wide": address(figure.WIDE),
        "width": figure.NARROW,
        "height": figure.height_of(figure.NARROW),
        "words": figure.words_of(report, fan),
        "caption": figure.caption_of(report, fan),
        "steps": steps,
        "next_words": figure.next_words(report),
        "fan": figure.told_of(fan),
    }


def _growth(page: Page, report: AnimalReport, told: AheadReport, growth: GrowthReport) -> dict[str, Any]:
    rows = [_after_row(moults, size) for moults, size in growth.after]
    rows += [_sized(f"leg span on {day.isoformat()}", size) for day, size in growth.on_days]
    for mm, days in growth.reached:
        if days["0.10"] is not None and days["0.90"] == 0.0:
            continue
        cells = [_day_cell(page, days[level]) for level in LEVELS]
        rows.append({"label": f"spans {both(mm, 'mm')}", "note": "", "cells": cells})
    if growth.final is not None:
        rows.append(_sized("carapace in the end", growth.final))
    moult = report.forecast.next_moult if report.forecast else None
    waits = ""
    if moult is not None:
        waits = f", waits on {counted(moult.n_intervals, 'interval')} of {counted(moult.n_animals, 'animal')}"
    basis = f"{growth.draws} drawn futures; sizes on {counted(told.n_readings, 'reading')} of its own"
    return {
        "rows": rows,
        "sexes": [_sex(page, each) for each in growth.maturity if each.chance >= 0.01],
        "basis": f"{basis} and {counted(told.n_of_taxon, 'reading')} of its taxon{waits}",
        "method": growth.method,
        "assumptions": growth.assumptions,
    }


def _after_row(moults: int, size: SizeToCome) -> dict[str, Any]:
    after = "the next moult" if moults == 1 else f"{moults} moults"
    row = _sized(f"{size.words} after {after}", size)
    return {**row, "note": f"if so many come: {percent(size.chance)}" if size.chance < 0.985 else ""}


def _sized(label: str, size: SizeToCome) -> dict[str, Any]:
    cells = [_unbroken(both(size.quantiles[level], size.unit)) for level in LEVELS]
    return {"label": label, "note": "", "cells": cells}


def _unbroken(words: str) -> str:
    """A size that breaks between its two units only."""
    metric, between, us = words.partition(" (")
    return metric.replace(" ", "\u00a0") + between + us.replace(" ", "\u00a0")


def _day_cell(page: Page, count: float | None) -> Any:
    if count is None:
        return NOT_REACHED
    return "by now" if count <= 0.0 else page.day(page.on + timedelta(days=round(count)))


def _sex(page: Page, each: MaturityToCome) -> dict[str, str]:
    heading = f"As a {each.sex}:" if each.chance > 0.99 else f"As a {each.sex} ({percent(each.chance)}):"
    said = [f"mature now {percent(each.mature_now)}, with the next moult {percent(each.next_moult)}"]
    if each.days is not None:
        when = [_plain_day(page, each.days[level]) for level in LEVELS]
        said.append(
            f"matures one time in ten by {when[0]}, half the time by {when[1]}, nine in ten by {when[2]}"
        )
    if each.carapace_mm is not None:
        said.append(f"carapace then {_range(each.carapace_mm)}")
    if each.final_mm is not None:
        said.append(f"in the end {_range(each.final_mm)}")
    return {"heading": heading, "words": "; ".join(said) + "."}


def _plain_day(page: Page, count: float | None) -> str:
    return (
        "never in these futures"
        if count is None
        else day_text(page.on + timedelta(days=round(count)), page.on)
    )


def _range(sizes: dict[str, float]) -> str:
    return f"{both(sizes['0.50'], 'mm')}, four times in five {span(sizes['0.10'], sizes['0.90'], 'mm')}"


def _warmer(page: Page, told: WhatIf, report: AnimalReport) -> dict[str, Any]:
    rows = [
        {
            "now": row.shift_c == 0.0,
            "shift": row.words,
            "mean": _unbroken(f"{row.mean_c:.1f} °C ({row.mean_c * 1.8 + 32.0:.0f} °F)"),
            "beyond": row.beyond,
            "days": [_moult_cell(page, row.days[level]) for level in LEVELS],
            "within_30": row.within_30,
        }
        for row in told.rows
    ]
    return {"rows": rows, "basis": _warmth_basis(told, report.place), "cautions": told.cautions}


def _moult_cell(page: Page, count: float | None) -> Any:
    return "may never" if count is None else page.day(page.on + timedelta(days=round(count)))


def _warmth_basis(told: WhatIf, place: str) -> str:
    """What the table rests on, in words."""
    words = []
    if not told.read:
        words.append(f"{place or 'Its place'} has no readings, so this starts from an assumed temperature.")
    if told.records_low_c is not None and told.records_high_c is not None:
        low, high = told.records_low_c, told.records_high_c
        words.append(
            f"It rests on {counted(told.n_intervals, 'interval')} of this room, nine in ten of them between"
            f" {both(low, 'C')} and {both(high, 'C')}; more than a degree outside, it is an extrapolation."
        )
    else:
        words.append("No interval of this room has temperature readings yet: published figures only.")
    words.append(
        f"Ten degrees (18 °F) more make growth {significant(told.q10, 2)} times as fast here"
        f" ({significant(told.q10_low, 2)} to {significant(told.q10_high, 2)}, four times in five)."
        f" Method: {told.method}."
    )
    return " ".join(words)
