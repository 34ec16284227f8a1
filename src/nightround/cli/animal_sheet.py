"""One animal's sheet in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nightround.cli.screen import console, day, days, lines, percent, table
from nightround.cli.tables import heading, job_words
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.foundation.estimate import Estimate
    from nightround.foundation.when import When
    from nightround.reports.forecast import AnimalForecast
    from nightround.reports.room import AnimalReport
    from nightround.reports.size import SizeReport

_STATUS = {"alive": "", "escaped": "escaped", "dead": "died", "left": "left the room"}
_SHOWN_HISTORY = 30


def show_animal(report: AnimalReport) -> None:
    """Print everything the animal's page shows."""
    shown = console()
    status = _STATUS.get(report.status, report.status)
    title = f"{report.code}, {report.taxon or 'taxon unknown'}{f' ({status})' if status else ''}"
    heading(shown, title, report.invented)
    if report.names:
        shown.print("also called " + ", ".join(report.names))
    where = ", ".join(filter(None, [report.place, report.home])) or "place unknown"
    shown.print(f"{where}; as known on {report.on.isoformat()}")
    facts = table(("", 18), ("", None))
    facts.show_header = False
    for label, words in (
        *report.facts,
        ("Bite and hairs", report.hazard or "nothing on record (not: harmless)"),
    ):
        facts.add_row(label, words)
    shown.print(facts)
    if report.tonight:
        lines(shown, "Tonight", [job_words(job) for job in report.tonight.jobs])
    _forecast(shown, report.forecast)
    _size(shown, report.size)
    _history(shown, report)
    lines(shown, "Problems in the record", [f"{p.message} {p.todo}" for p in report.problems])
    lines(shown, "Cautions", report.cautions)


def _forecast(shown: Console, row: AnimalForecast | None) -> None:
    if row is None:
        return
    words = [
        f"last moult {day(row.last_moult)}, {days(row.days_since)} days ago; last look {day(row.last_look)}"
    ]
    words.append(f"may have moulted unseen: {percent(row.may_have_moulted_unseen)}")
    moult = row.next_moult
    if moult is not None:
        chances = ", ".join(
            f"{within} d {percent(moult.within_days[within])}"
            for within in (7, 14, 30, 90)
            if within in moult.within_days
        )
        words.append(f"moults within {chances}")
        words.append(
            f"{counted(moult.n_animals, 'animal')}, {counted(moult.n_intervals, 'interval')}; {moult.method}"
        )
        words += moult.reasons
    lines(shown, "Next moult", words)


def _size(shown: Console, size: SizeReport | None) -> None:
    if size is None:
        return
    named = {
        "carapace now": size.carapace_now,
        "leg span now": size.leg_span_now,
        "carapace after the next moult": size.carapace_next,
        "leg span after the next moult": size.leg_span_next,
    }
    lines(shown, "Size", [f"{name} {_estimate(value)}" for name, value in named.items() if value is not None])


def _estimate(value: Estimate) -> str:
    low, high = both(value.low, value.unit), both(value.high, value.unit)
    of = f"{counted(value.n_animals, 'animal')}, {counted(value.n_observations, 'reading')}"
    rests = f"{of}; {value.method}"
    return f"{both(value.value, value.unit)}, {value.level:.0%} within {low} to {high} ({rests})"


def _history(shown: Console, report: AnimalReport) -> None:
    words = [
        f"{_when(line.when)}: {line.words}{f' - {line.note}' if line.note else ''}"
        f"{f' [struck: {line.struck}]' if line.struck else ''}"
        for line in report.history[:_SHOWN_HISTORY]
    ]
    left = len(report.history) - _SHOWN_HISTORY
    lines(shown, "History, newest first", words + ([f"… and {left} earlier"] if left > 0 else []))


def _when(when: When) -> str:
    if when.instant is not None:
        return f"{when.instant:%Y-%m-%d %H:%M}"
    return when.text().replace("/", " to ") or "day unknown"
