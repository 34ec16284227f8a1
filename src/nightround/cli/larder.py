"""The commands `larder` and `sunday`: feeders months ahead, and the week's errands."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.larder import LarderReport, LotNow, Range, SundayReport

WEEKS_SHOWN = 8
SHORT_SHOWN = 12
CULTURES_SHOWN, ORDERS_SHOWN, ERRANDS_SHOWN = 4, 12, 12


@click.command(short_help="Show feeders months ahead: need, stock, orders.")
@click.option(
    "--weeks", type=click.IntRange(4, 52), default=26, show_default=True, help="So many weeks ahead."
)
@reading_options
def larder(weeks: int, on: date | None, as_json: bool) -> None:
    """Show what prey the animals will ask for, what is in the house, and what to order by when.

    Needs come from drawn sizes and moults and your feeding rules; orders from what is written down as offered
    by shops. A price that nobody wrote is in no sum. Interrupted, the best plan found so far is shown.
    """
    with open_desk() as desk, _interruptible() as go_on:
        report = desk.larder(on, weeks=weeks, heard=partial(_heard, go_on, as_json))
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(report))
    return show_larder(report)


@click.command(short_help="Show the errands of a Sunday.")
@reading_options
def sunday(on: date | None, as_json: bool) -> None:
    """Show what to order, start, prepare, count and weigh for the week to come."""
    with open_desk() as desk, _interruptible() as go_on:
        report = desk.sunday(on, heard=partial(_heard, go_on, as_json))
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(report))
    return show_sunday(report)


@contextmanager
def _interruptible() -> Iterator[Callable[[], bool]]:
    """Turn the first Ctrl-C into the end of the search for better orders; a second one ends the program."""
    stopped: list[int] = []
    before = signal.getsignal(signal.SIGINT)

    def stop(number: int, _: object) -> None:
        stopped.append(number)
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, stop)
    try:
        with _own_output():
            yield lambda: not stopped
    finally:
        signal.signal(signal.SIGINT, before)
        if sys.stderr.isatty():
            click.echo("\r\x1b[K", err=True, nl=False)


@contextmanager
def _own_output() -> Iterator[None]:
    """Keep what the solver's library itself prints out of our output: it would spoil JSON."""
    sys.stdout.flush()
    kept = os.dup(1)
    try:
        os.dup2(2, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _heard(go_on: Callable[[], bool], quiet: bool, words: str) -> bool:
    if not quiet and sys.stderr.isatty():
        click.echo(f"\r\x1b[K{words[:1].upper()}{words[1:]} …", err=True, nl=False)
    return go_on()


def show_larder(report: LarderReport) -> None:
    """Print the plan: orders, what may be missing, need by week, lots."""
    from nightround.cli.screen import console, lines
    from nightround.cli.tables import heading

    shown = console()
    heading(shown, f"Larder, as known on {report.on.isoformat()}: {report.room}", report.invented)
    lines(shown, "To know", report.notices)
    _show_orders(shown, report)
    _show_need(shown, report)
    _show_lots(shown, report)
    short = [
        f"week from {each.week.isoformat()}, up to {both(each.upto_mm, 'mm')}: "
        f"{each.missing:.1f} missing, chance {each.chance:.0%}".replace("%", " %")
        for each in report.shortages[:SHORT_SHOWN]
    ]
    more = len(report.shortages) - SHORT_SHOWN
    lines(shown, "May be missing", [*short, *([f"{counted(more, 'more week')}: --json"] if more > 0 else [])])
    lines(shown, "When the right length is missing", report.instead if report.shortages else ())
    lines(shown, "How it is worked out", report.method)
    lines(shown, "Assumed", report.assumptions)
    lines(shown, "Beware", report.cautions)


def _show_orders(shown: Console, report: LarderReport) -> None:
    from nightround.cli.screen import lines, table

    cultures = [
        f"{counted(each.number, each.feeder + ' culture')} by {each.start_by.isoformat()}: {each.words}"
        for each in report.cultures[:CULTURES_SHOWN]
    ]
    more = sum(each.number for each in report.cultures[CULTURES_SHOWN:])
    cultures += [f"{counted(more, 'culture')} later: --json lists all"] if more else []
    lines(shown, "Start", cultures)
    if not report.orders:
        shown.print()
        shown.print("Nothing to order in these weeks." if report.animals else "No animal asks for anything.")
        return
    made = table(("order by", 10), ("comes", 10), ("what", None), ("packs", 9), ("cost", 12), title="Orders")
    for each in report.orders[:ORDERS_SHOWN]:
        cost = f"{each.cost} {each.currency}".strip() if each.cost else "unknown"
        made.add_row(each.order_by.isoformat(), each.arrives.isoformat(),
                     f"{each.name} ({each.size_words})", f"{each.packs} of {each.pack}", cost)  # fmt: skip
    shown.print()
    shown.print(made)
    if len(report.orders) > ORDERS_SHOWN:
        shown.print(f"{counted(len(report.orders) - ORDERS_SHOWN, 'later order')}: --json lists all.")
    sums = ", ".join(f"{total} {currency}".strip() for total, currency in report.costs)
    unpriced = f"; {counted(report.unpriced, 'pack')} of unknown price in no sum" if report.unpriced else ""
    if sums or unpriced:
        shown.print(f"Together {sums or 'unknown'}{unpriced}.")
    proven = (
        "not proven" if report.gap is None else f"at most {100 * report.gap:.1f} % of the next weeks' cost"
    )
    shown.print(f"What a better plan could save: {proven} ({report.done}).")


def _show_need(shown: Console, report: LarderReport) -> None:
    from nightround.cli.screen import table

    classes = [
        (at, each) for at, each in enumerate(report.classes) if any(need.high >= 0.5 for need in each.needed)
    ]
    if not report.animals and not report.unsized_animals and not any(report.batches):
        return
    columns = [("length", 14), *((week.strftime("%d %b"), None) for week in report.weeks[:WEEKS_SHOWN])]
    made = table(*columns, title="Prey needed a week: middle, and the range that holds four in five")
    for _, each in classes:
        made.add_row(each.words, *(ranged(need) for need in each.needed[:WEEKS_SHOWN]))
    for words, needs in (("pieces", report.pieces), ("size unknown", report.unsized)):
        if any(need.high >= 0.5 for need in needs):
            made.add_row(words, *(ranged(need) for need in needs[:WEEKS_SHOWN]))
    if any(report.batches):
        made.add_row("batches", *(f"{number:.0f}" for number in report.batches[:WEEKS_SHOWN]))
    shown.print()
    shown.print(made)


def ranged(need: Range) -> str:
    """Whole prey animals with the range that holds them four times in five."""
    low, middle, high = (f"{each:.0f}" for each in (need.low, need.middle, need.high))
    return middle if low == high else f"{middle} {low}–{high}"


def _show_lots(shown: Console, report: LarderReport) -> None:
    from nightround.cli.screen import lines

    lines(shown, "In the house", [lot_words(lot) for lot in report.lots])


def lot_words(lot: LotNow) -> str:
    """One lot in words: number, length, until when, and what that rests on."""
    number = "number not known" if lot.number is None else f"about {lot.number:.0f}"
    size = "length not known" if lot.size_mm is None else both(lot.size_mm, "mm")
    until = f", of use until {lot.outgrows.isoformat()}" if lot.outgrows else ""
    notes = "".join(f"; {words}" for words in lot.notes)
    return f"{lot.lot} ({lot.feeder or 'feeder not written'}): {number}, {size}{until}; {lot.basis}{notes}"


def show_sunday(report: SundayReport) -> None:
    """Print a Sunday's errands."""
    from nightround.cli.screen import console, lines
    from nightround.cli.tables import heading

    shown = console()
    heading(shown, f"Sunday, as known on {report.on.isoformat()}: {report.room}", report.invented)
    lines(shown, "To know", report.notices)
    for words, errands in report.sections:
        told = [
            each.title + (f", by {each.by.isoformat()}" if each.by != report.on else "") + f": {each.reason}"
            for each in errands[:ERRANDS_SHOWN]
        ]
        more = len(errands) - ERRANDS_SHOWN
        told += [f"{counted(more, 'more thing')}: --json lists all"] if more > 0 else []
        lines(shown, words, told or ["nothing"])
    lines(shown, "Beware", report.cautions)
