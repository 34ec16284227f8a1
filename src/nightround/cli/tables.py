"""The round and the forecast as terminal tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from nightround.cli.screen import console, day, days, lines, percent, table
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.forecast import AnimalForecast, ForecastReport
    from nightround.reports.tonight import Job, TonightReport, TonightRow

INVENTED = "Invented demo room: its keeper and its animals do not exist."

_COUNT_WORDS = {
    "outcome": "offers to look after",
    "leftovers": "leftovers to take out",
    "look": "to look at",
    "leave_alone": "to leave alone",
    "offer": "to feed",
    "wait": "not due yet",
    "water": "to water",
    "feel": "substrates to feel",
    "drink": "to give a drink",
    "measure": "to measure",
    "weigh": "to weigh",
    "weigh_home": "homes to weigh",
    "rehouse": "to rehouse",
}


def heading(shown: Console, title: str, invented: bool) -> None:
    """Print what a page is, and that it is invented when it is."""
    shown.print(title, style="bold")
    if invented:
        shown.print(INVENTED)


def show_tonight(report: TonightReport, *, everyone: bool, why: bool) -> None:
    """Print the round in walking order."""
    shown = console()
    heading(shown, f"Tonight, {report.on.isoformat()}: {report.room}", report.invented)
    counts = [f"{number} {_COUNT_WORDS.get(action, action)}" for action, number in report.counts if number]
    shown.print(", ".join(counts) or "Nothing to do.")
    resting = 0
    for shelf in report.shelves:
        rows = [row for row in shelf.rows if everyone or not _rests(row)]
        resting += len(shelf.rows) - len(rows)
        if rows:
            shown.print()
            shown.print(shelf.place or "no shelf on record", style="bold")
            shown.print(_round_table(rows, everyone, why))
    if resting:
        shown.print(f"\n{resting} more with nothing to do tonight: --all shows them.")
    _notes(shown, report)


def _rests(row: TonightRow) -> bool:
    return all(job.action == "wait" for job in row.jobs)


def _round_table(rows: Sequence[TonightRow], everyone: bool, why: bool) -> object:
    made = table(("animal", 9), ("what", None), ("moult in 14 d", 8))
    for row in rows:
        first = True
        for job in row.jobs:
            if job.action == "wait" and not everyone:
                continue
            code = (row.animal + ("*" if row.quarantined else "")) if first else ""
            odds = (percent(row.odds.within_14) if row.odds else "?") if first else ""
            made.add_row(code, job_words(job, why), odds)
            first = False
    return made


def job_words(job: Job, why: bool = True) -> str:
    """Return a job with its reason; with `why` also what else speaks for it, and its rules."""
    text = f"{job.title} - {job.reason}" if job.reason else job.title
    if not why:
        return text
    more = [*job.why, *([f"sure: {job.sureness}"] if job.sureness else [])]
    for used in job.rules:
        yours = ", yours" if used.overruled else ""
        more.append(f"rule {used.rule} = {used.value} ({used.source}, {used.grade}{yours})")
    return "\n".join([text, *(f"  {line}" for line in more)])


def _notes(shown: Console, report: TonightReport) -> None:
    rows = [row for shelf in report.shelves for row in shelf.rows]
    if any(row.quarantined for row in rows):
        shown.print("\n* in quarantine: after all others, with its own tools.")
    lines(shown, "Problems in the record", [f"{p.subject}: {p.message} {p.todo}" for p in report.problems])
    lines(
        shown,
        "For the room, this week",
        [f"{each.title}, by {each.by.isoformat()}: {each.reason}" for each in report.errands],
    )
    lines(shown, "To know", report.notices)
    lines(shown, "Cautions", report.cautions)


def show_forecast(report: ForecastReport, rows: Sequence[AnimalForecast]) -> None:
    """Print when each animal moults next, soonest first."""
    shown = console()
    heading(shown, f"Next moults, as known on {report.on.isoformat()}", False)
    made = table(
        ("animal", 9), ("taxon", None), ("last moult", 10), ("days since", 5), ("half by", 7),
        ("80 % from-to", 11), ("in 14 d", 6), ("rests on", 8),
    )  # fmt: skip
    for row in sorted(rows, key=_soonest):
        made.add_row(*_forecast_cells(row))
    shown.print(made)
    shown.print(
        f"Days are counted from {report.on.isoformat()}; 'half by' is the day by which half of such animals "
        "would have moulted, '80 %' holds the moult four times in five, '-' says it may never be reached. "
        "'Rests on' counts animals/intervals of its taxon; 0/0 is a published prior alone."
    )
    methods = Counter(row.next_moult.method for row in rows if row.next_moult)
    lines(
        shown,
        "Method",
        [f"{method} ({counted(number, 'animal')})" for method, number in methods.most_common()],
    )
    lines(shown, "To know", report.notices)


def _soonest(row: AnimalForecast) -> tuple[float, str]:
    half = row.next_moult.quantiles_days.get("0.50") if row.next_moult else None
    return (float("inf") if half is None else half, row.animal)


def _forecast_cells(row: AnimalForecast) -> tuple[str, ...]:
    known = (row.animal, row.taxon or "?", day(row.last_moult), days(row.days_since))
    moult = row.next_moult
    if moult is None:
        return (*known, "none", "", "", "mature" if _is_mature(row) else "")
    low, half, high = (moult.quantiles_days.get(level) for level in ("0.10", "0.50", "0.90"))
    rests = f"{moult.n_animals}/{moult.n_intervals}"
    return (
        *known,
        _reach(half),
        f"{_reach(low)} to {_reach(high)}",
        percent(moult.within_days.get(14)),
        rests,
    )


def _is_mature(row: AnimalForecast) -> bool:
    return row.mature is not None and row.mature["mature_now"] > 0.5


def _reach(number: float | None) -> str:
    return "-" if number is None else f"{number:.0f}"
