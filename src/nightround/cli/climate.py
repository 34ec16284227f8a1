"""The command `climate`: the room's winters and summers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import Day, open_desk, reading_options
from nightround.foundation.refusal import NoSuchThing
from nightround.foundation.wording import counted, joined

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.foundation.estimate import Estimate
    from nightround.reports.climate import ClimateGap, ClimateReport, PlaceClimate, PlaceStretch, Winter

MONTHS_SHOWN = 13
EVENTS_SHOWN = 12


@click.command(short_help="Show the room's winters and summers.")
@click.option("--place", metavar="NAME", help="Only this place.")
@click.option("--since", type=Day(), metavar="DATE", help="Months, events and winters from this day on.")
@reading_options
def climate(place: str | None, since: date | None, on: date | None, as_json: bool) -> None:
    """Show the room's winters and summers, as far as they were read.

    Months by place, by how much shelves are warmer than the room, cold nights and heat waves with the animals
    they touched, days without readings, and what winters cost in thermal days. Days without a reading count
    for nothing.
    """
    with open_desk() as desk:
        report = narrowed(desk.climate(on), place, since)
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(report))
    return show_climate(report, months=place is not None or since is not None, since=since)


def narrowed(report: ClimateReport, place: str | None, since: date | None) -> ClimateReport:
    """Return the report of one place, or from one day on. Raises NoSuchThing with the places there are."""
    if place is not None:
        known = [each.place for each in report.places]
        named = next((name for name in known if name.casefold() == place.strip().casefold()), None)
        if named is None:
            todo = "Use one of: " + ", ".join(known) if known else "No place is on record yet"
            raise NoSuchThing("a place of this room", got=repr(place), todo=todo)
        report = replace(
            report,
            places=tuple(each for each in report.places if each.place == named),
            offsets=tuple(each for each in report.offsets if each.place == named),
            events=tuple(e for e in report.events if any(p.place == named for p in e.places)),
            coming=tuple(e for e in report.coming if any(p.place == named for p in e.places)),
            gaps=tuple(gap for gap in report.gaps if named in gap.places),
            winters=tuple(winter for winter in report.winters if winter.place == named),
        )
    if since is None:
        return report
    return replace(
        report,
        places=tuple(
            replace(each, months=tuple(month for month in each.months if month.last >= since))
            for each in report.places
        ),
        events=tuple(event for event in report.events if event.last >= since),
        gaps=tuple(gap for gap in report.gaps if gap.last >= since),
        winters=tuple(winter for winter in report.winters if winter.last >= since),
    )


def show_climate(report: ClimateReport, *, months: bool, since: date | None) -> None:
    """Print the room's climate as tables and sentences; `months`: of each place too."""
    from nightround.cli.screen import console, lines
    from nightround.cli.tables import heading

    shown = console()
    heading(shown, f"Climate, as known on {report.on.isoformat()}: {report.room}", report.invented)
    for words in report.words:
        shown.print(words)
    if report.places:
        _show_places(shown, report)
    for place in report.places if months else ():
        _show_months(shown, place, since)
    lines(shown, "Shelf offsets", [each.words for each in report.offsets])
    lines(shown, "Coming, as you expect", [event.words for event in report.coming])
    more = len(report.events) - EVENTS_SHOWN
    events = [event.words for event in report.events[:EVENTS_SHOWN]]
    if more > 0:
        events.append(f"{counted(more, 'earlier one')}: --since with an earlier day, or --json, shows them")
    lines(shown, "Cold nights and heat waves", events)
    short = [f"{counted(report.short_gaps, 'gap')} of a day or two beside these"] if report.short_gaps else []
    lines(shown, "Days without a reading", [*map(gap_words, report.gaps), *short])
    _show_winters(shown, report.winters)
    if report.places:
        lines(shown, "How it is worked out", [f"Ten degrees more: {q10_words(report.q10)}.", *report.method])
        lines(shown, "Assumed", report.assumptions)


def _show_places(shown: Console, report: ClimateReport) -> None:
    """The table of the year: one row a place, and below it what the rows cannot say."""
    from nightround.cli.screen import lines, table

    made = table(
        ("place", None), ("animals", 7), ("read", 6), ("mean", 6), ("swing", 6), ("coldest about", 10),
        ("lowest", 6), ("highest", 7), title="The year, °C; lowest and highest of the last 12 months",
    )  # fmt: skip
    for place in report.places:
        made.add_row(*_year_cells(place))
    shown.print(made)
    notes = [f"{each.place}: {each.wave_words}" for each in report.places if each.wave_words]
    lines(shown, "Of the year's wave", notes)


def _year_cells(place: PlaceClimate) -> tuple[str, ...]:
    wave = place.wave
    lows = [c for day in place.course for c in (day.low_c, day.mean_c) if c is not None]
    highs = [c for day in place.course for c in (day.high_c, day.mean_c) if c is not None]
    return (
        place.place,
        str(place.animals),
        str(place.days_known),
        "?" if wave is None else f"{wave.mean.value:.1f}",
        "?" if wave is None else f"{wave.swing.value:.1f}",
        "?" if wave is None or wave.coldest is None else wave.coldest.isoformat(),
        _degrees(min(lows, default=None)),
        _degrees(max(highs, default=None)),
    )


def _show_months(shown: Console, place: PlaceClimate, since: date | None) -> None:
    from nightround.cli.screen import table

    shown.print()
    if place.first is None or place.last is None:
        shown.print(f"{place.place}: no reading yet.")
        return
    read = f"{place.first.isoformat()} to {place.last.isoformat()}"
    shown.print(f"{place.place}: {counted(place.days_known, 'day')} read, {read}", style="bold")
    title = "°C; 'cold' and 'hot' are days past the thresholds"
    if any(month.hours_under or month.hours_over for month in place.months):
        title += ", in brackets the hours that a logger read past them"
    made = table(
        ("month", None), ("lowest", 7), ("mean", 7), ("highest", 7), ("read", 6), ("cold", 5), ("hot", 5),
        ("thermal days", 8), title=title,
    )  # fmt: skip
    for month in place.months if since is not None else place.months[-MONTHS_SHOWN:]:
        made.add_row(*_cells(month))
    shown.print(made)


def _cells(month: PlaceStretch) -> tuple[str, ...]:
    return (
        f"{month.first:%Y-%m}",
        _degrees(month.low_c),
        _degrees(month.mean_c),
        _degrees(month.high_c),
        f"{month.known}/{month.days}",
        _past(month.under, month.hours_under) if month.known else "?",
        _past(month.over, month.hours_over) if month.known else "?",
        f"{month.thermal_days:.0f}" if month.known else "?",
    )


def _past(days: int, hours: int | None) -> str:
    """Days past a threshold, and the hours of them where loggers read hours."""
    return f"{days} ({hours} h)" if hours else str(days)


def _degrees(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


def gap_words(gap: ClimateGap) -> str:
    """Return a gap in words, with what was estimated of it."""
    from nightround.foundation.quantities import both

    to = "to now" if gap.running else f"to {gap.last.isoformat()}"
    days = counted((gap.last - gap.first).days + 1, "day")
    words = f"{gap.first.isoformat()} {to} ({days}): {joined(gap.places)}"
    for place, read in gap.read:
        words += f"; {place} was read on {read} of them"
    for place, told in gap.told:
        words += f"; estimate of {place}: {both(told.value, 'C')} ({told.low:.1f} to {told.high:.1f} °C,"
        words += f" {told.method})"
    return words


def q10_words(q10: Estimate) -> str:
    """Return Q10 in words: how much faster, and what it rests on."""
    return (
        f"{q10.value:.1f} times as fast ({q10.low:.1f} to {q10.high:.1f} four times in five), from"
        f" {counted(q10.n_observations, 'interval')}: {q10.method}"
    )


def _show_winters(shown: Console, winters: tuple[Winter, ...]) -> None:
    from nightround.cli.screen import lines

    told = []
    for winter in winters:
        words = winter.words
        if winter.animals:
            first = [f"{each.animal} {each.later.value:.0f} days" for each in winter.animals[:3]]
            words += f". Next moults later by it: {', '.join(first)}"
            if len(winter.animals) > len(first):
                words += f" and {counted(len(winter.animals) - len(first), 'more animal')}"
        told.append(words)
    lines(shown, "Winters", told)
