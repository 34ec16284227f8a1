"""The command `homes`: who moves into which home when, what to buy and to prepare, and how a move is done."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.homes import HomesReport, Move, RunSheet, Window


@click.command(short_help="Show who moves into which home, and when.")
@click.option(
    "--months", type=click.IntRange(2, 36), default=18, show_default=True, help="So many months ahead."
)
@click.option("--move", "animal", metavar="ANIMAL", help="The run sheet for the next move of one animal.")
@reading_options
def homes(months: int, animal: str | None, on: date | None, as_json: bool) -> None:
    """Show which homes do not fit tonight, the moves to come, and what to buy and to prepare.

    Moves come from drawn leg spans and your rules, joint over the homes there are and those written down as
    for sale. What is not on record is named and not planned. Interrupted, the best plan so far is shown.
    """
    with open_desk() as desk:
        heard = None if as_json else _heard
        answer: object
        if animal is not None:
            desk.homes(on, months=months, heard=heard)
            answer = desk.run_sheet(animal, on=on)
        else:
            answer = desk.homes(on, months=months, heard=heard)
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(answer))
    return _print(answer)


def _heard(words: str) -> None:
    click.echo(f"{words[:1].upper()}{words[1:]} …", err=True)


def _print(answer: object) -> None:
    from nightround.cli.screen import console
    from nightround.reports.homes import RunSheet

    shown = console()
    if isinstance(answer, RunSheet):
        return show_sheet(shown, answer)
    return show_homes(shown, answer)  # type: ignore[arg-type]


def show_homes(shown: Console, report: HomesReport) -> None:
    """Print verdicts, moves, shopping and preparations."""
    from nightround.cli.screen import lines
    from nightround.cli.tables import heading

    heading(shown, f"Homes, as known on {report.on.isoformat()}: {report.room}", report.invented)
    lines(shown, "To know", report.notices)
    wrong = [f"{fit.animal} in {fit.home or '?'}: {fit.headline}" for fit in report.fits if fit.fits is False]
    unknown = [each for each in report.fits if each.fits is None]
    if unknown:
        wrong.append(
            f"not known of {counted(len(unknown), 'animal')}: {', '.join(f.animal for f in unknown)}"
        )
    lines(shown, "Homes that do not fit tonight", wrong)
    _show_moves(shown, report)
    lines(shown, "To buy", [buy_words(each) for each in report.to_buy])
    lines(shown, "Costs", cost_words(report))
    lines(shown, "To prepare", [prepare_words(each) for each in report.preparations])
    lines(shown, "Middle homes skipped", [f"{c.animal}: {c.skips}" for c in report.courses if c.skips])
    lines(shown, "Not planned", [f"{c.animal}: {c.unplanned}" for c in report.courses if c.unplanned])
    lines(shown, "Batches", report.batches)
    lines(shown, "How it is worked out", report.method)
    lines(shown, "Assumed", report.assumptions)
    lines(shown, "Cautions", report.cautions)


def _show_moves(shown: Console, report: HomesReport) -> None:
    from nightround.cli.screen import table

    shown.print()
    if not report.moves:
        shown.print(f"No move is planned until {report.until.isoformat()}.")
        return
    made = table(
        ("who", 6), ("fortnight from", 11), ("from", 9), ("into", None), ("outgrown 10, 50, 90 %", 21),
        title=f"{counted(len(report.moves), 'move')} until {report.until.isoformat()}",
    )  # fmt: skip
    for move in report.moves:
        made.add_row(move.animal, move.day.isoformat(), move.from_home, into_words(move),
                     window_words(move.outgrows))  # fmt: skip
    shown.print(made)
    shown.print(
        f"{report.misfit_weeks:.0f} animal-weeks expected in homes that do not fit, "
        f"{report.stay_weeks:.0f} if nobody moved ({counted(report.planned, 'animal')} planned)."
    )


def into_words(move: Move) -> str:
    """The home it moves into, and whether it is to be bought."""
    how = " (to buy)" if move.buy else "" if move.to_home else " (free by then)"
    return f"{move.to}{how}, {both(move.depth_mm, 'mm')} of substrate"


def window_words(window: Window | None) -> str:
    """The days on which the home it leaves is outgrown, in one, five and nine of ten draws."""
    if window is None:
        return "not by size"
    days = (window.early, window.middle, window.late)
    return ", ".join("later" if day is None else f"{day:%Y-%m}" for day in days)


def buy_words(each: object) -> str:
    """One line of the shopping list."""
    from nightround.reports.homes import ToBuy

    assert isinstance(each, ToBuy)
    by = f", order by {each.order_by.isoformat()}" if each.order_by else ", days to delivery not known"
    seller = f" from {each.from_whom}" if each.from_whom else ""
    cost = f"{each.cost} {each.currency}".strip() if each.cost else "price not known"
    checks = f" ({'; '.join(each.checks)})" if each.checks else ""
    return f"{each.number} × {each.name}{seller}, needed {each.needed.isoformat()}{by}: {cost}{checks}"


def prepare_words(each: object) -> str:
    """One line of the list of homes to make up."""
    from nightround.reports.homes import Preparation

    assert isinstance(each, Preparation)
    litres = f", {both(1000 * each.litres, 'ml')}" if each.litres is not None else ""
    return (
        f"by {each.by.isoformat()}: {each.home} for {each.animal}, {both(each.depth_mm, 'mm')} deep{litres}"
    )


def cost_words(report: HomesReport) -> list[str]:
    """The sums by currency, and what is in none."""
    told = [f"{total} {currency}".strip() for currency, total in report.costs]
    if report.unpriced:
        told.append(f"{counted(report.unpriced, 'home')} without a price, in no sum")
    return told


def show_sheet(shown: Console, sheet: RunSheet) -> None:
    """Print the run sheet of one move."""
    from nightround.cli.screen import lines, percent
    from nightround.cli.tables import heading

    move = sheet.move
    heading(shown, f"Move {move.animal} ({move.taxon}) into {move.to}: {sheet.room}", sheet.invented)
    shown.print(
        f"Planned in the fortnight from {move.day.isoformat()}; chance that premoult or hardening "
        f"puts it off: {percent(move.put_off)}"
    )
    lines(shown, "Why", move.reasons)
    lines(shown, "Not tonight if", sheet.not_tonight)
    lines(shown, "Have ready", sheet.ready)
    lines(shown, "Do", sheet.steps)
    lines(shown, "Afterwards", sheet.after)
    lines(shown, "Cautions", sheet.cautions)
