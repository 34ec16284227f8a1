"""What lies ahead of one animal, in the terminal: growth to come, and its next moult if it were warmer."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from nightround.cli.screen import console, lines, percent, table
from nightround.cli.tables import heading
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.ahead import AheadReport, WhatIf
    from nightround.reports.size import GrowthReport, MaturityToCome, SizeToCome

LEVELS = ("0.10", "0.50", "0.90")


def show_ahead(report: AheadReport, invented: bool) -> None:
    """Print growth to come and the what-if."""
    shown = console()
    heading(shown, f"{report.animal}, what lies ahead, as known on {report.on.isoformat()}", invented)
    if report.growth is None:
        lines(shown, "Growth to come", ["never measured, or no longer here: growth cannot be told"])
    else:
        _growth(shown, report, report.growth)
    if report.what_if is not None:
        _warmer(shown, report.what_if)


def _three(shown: Console, title: str, rows: list[tuple[str, ...]]) -> None:
    shown.print()
    shown.print(title, style="bold")
    found = table(("", None), ("1 in 10", 16), ("half", 16), ("9 in 10", 16))
    for row in rows:
        found.add_row(*row)
    shown.print(found)


def _growth(shown: Console, report: AheadReport, growth: GrowthReport) -> None:
    rows = [
        (f"{size.words} after {counted(moults, 'moult')}", *_sizes(size)) for moults, size in growth.after
    ]
    rows += [(f"leg span on {day.isoformat()}", *_sizes(size)) for day, size in growth.on_days]
    rows += [
        (f"spans {both(mm, 'mm')}", *(_day(report.on, days[level]) for level in LEVELS))
        for mm, days in growth.reached
    ]
    if growth.final is not None:
        rows.append(("carapace in the end", *_sizes(growth.final)))
    _three(shown, "Growth to come: one in ten below the first figure, nine in ten below the last", rows)
    basis = f"{counted(report.n_readings, 'reading')} of its own, {report.n_of_taxon} of its taxon"
    words = [_sex(report.on, each) for each in growth.maturity if each.chance >= 0.01]
    words.append(f"from {growth.draws} drawn futures; {basis}; {growth.method}")
    lines(shown, "Maturity, and what this rests on", [*words, *growth.assumptions])


def _sizes(size: SizeToCome) -> tuple[str, ...]:
    return tuple(both(size.quantiles[level], size.unit) for level in LEVELS)


def _day(on: date, count: float | None) -> str:
    if count is None:
        return "not reached"
    return "by now" if count <= 0.0 else (on + timedelta(days=round(count))).isoformat()


def _sex(on: date, each: MaturityToCome) -> str:
    words = f"as a {each.sex} ({percent(each.chance)}): mature now {percent(each.mature_now)}"
    words += f", with the next moult {percent(each.next_moult)}"
    if each.days is not None:
        words += "; matures by " + ", ".join(_day(on, each.days[level]) for level in LEVELS)
    if each.final_mm is not None:
        words += f"; in the end {both(each.final_mm['0.50'], 'mm')}"
    return words


def _warmer(shown: Console, told: WhatIf) -> None:
    rows = [
        (f"{row.words}, {both(row.mean_c, 'C')}", *(_day(told.on, row.days[lv]) for lv in LEVELS))
        for row in told.rows
    ]
    _three(shown, "The next moult, if every day to come were warmer or cooler", rows)
    words = [f"{row.words}: {row.beyond}" for row in told.rows if row.beyond]
    if told.records_low_c is not None and told.records_high_c is not None:
        low, high = both(told.records_low_c, "C"), both(told.records_high_c, "C")
        words.append(
            f"rests on {counted(told.n_intervals, 'interval')}, nine in ten between {low} and {high}"
        )
    else:
        words.append("no interval of this room has readings yet: published figures only")
    lines(shown, "What this rests on, and cautions", [*words, told.method, *told.cautions])
