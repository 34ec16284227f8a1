"""The command `water`: what each home holds, when it is dry, and what to pour."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.foundation.estimate import Estimate
    from nightround.reports.water import (
        AwayReport,
        Change,
        HomeWater,
        RecipeReport,
        UntilDry,
        WaterReport,
    )

SMALL_CHANCE = 0.05


@click.command(short_help="Show what the homes' water needs.")
@click.argument("home", required=False)
@click.option("--away", type=int, metavar="DAYS", help="Which homes dry first if nobody waters so long.")
@click.option(
    "--if", "asked", multiple=True, metavar="CHANGE", help="'cover 80 %' or 'add 6 holes 3 mm [low]'."
)
@click.option("--recipe", metavar="MIX", help="What a new home takes, such as 'coir 70, sand 30'.")
@click.option(
    "--vessel", metavar="VESSEL", help="For --recipe: 'tank 10 gal', 'vial 20 dram', '30 x 20 x 20 cm'."
)
@click.option("--depth", metavar="DEPTH", help="For --recipe: '8 cm', or '8-12 cm' for a slope.")
@reading_options
def water(
    home: str | None,
    away: int | None,
    asked: tuple[str, ...],
    recipe: str | None,
    vessel: str | None,
    depth: str | None,
    on: date | None,
    as_json: bool,
) -> None:
    """Show the water of every home, or of one: millilitres tonight, or not before which day.

    A home that nobody weighed or felt says so: feel first. Drinking is another thing: no plan lengthens it.
    """
    if recipe is not None:
        return _recipe(recipe, vessel, depth, as_json)
    if asked and home is None:
        raise click.UsageError("--if needs the home: nightround water H12 --if 'cover 80 %'")
    with open_desk() as desk:
        answer: object
        if home is not None and asked:
            answer = desk.what_if_home(home, asked, on)
        elif home is not None:
            answer = desk.home(home, on)
        else:
            answer = desk.water(on) if away is None else desk.away(away, on)
    return _print(answer, as_json)


def _print(answer: object, as_json: bool) -> None:
    """Print an answer of the desk, as JSON or in words."""
    from nightround.reports.water import AwayReport, HomeWater, RecipeReport, WaterReport

    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(answer))
    match answer:
        case WaterReport():
            show_water(answer)
        case HomeWater():
            show_home(answer)
        case AwayReport():
            show_away(answer)
        case RecipeReport():
            show_recipe(answer)
        case tuple():
            _show_changes(_screen(), answer)
    return None


def _screen() -> Console:
    from nightround.cli.screen import console

    return console()


def _recipe(recipe: str, vessel: str | None, depth: str | None, as_json: bool) -> None:
    """No room is needed for a recipe."""
    if vessel is None or depth is None:
        raise click.UsageError("--recipe needs --vessel and --depth")
    from nightround.desk.make_up import read_depth
    from nightround.desk.water import recipe_for

    low, high = read_depth(depth)
    _print(recipe_for(vessel, recipe, low, high), as_json)


def show_water(report: WaterReport) -> None:
    """Print all homes in use by place."""
    from nightround.cli.screen import lines, table
    from nightround.cli.tables import heading

    shown = _screen()
    heading(shown, f"Water, as known on {report.on.isoformat()}: {report.room}", report.invented)
    if not report.homes:
        shown.print("No home is on record with anybody in it: write down how one is made up to begin.")
        return
    shown.print("80 % ranges; '?' not known, '60+' later than looked ahead")
    for place, homes in groupby(report.homes, key=lambda home: home.place):
        made = table(
            ("home", 6), ("who", 8), ("tonight", None), ("bottom dry in days", 12),
            ("ml a day", 16), ("rests on", 13), title=place or "no place on record",
        )  # fmt: skip
        for home in homes:
            made.add_row(*_cells(home))
        shown.print(made)
    lines(shown, "To know", list(report.notices))
    told = list(
        dict.fromkeys(words for home in report.homes for words in home.assumed if " at " not in words)
    )
    lines(shown, "Assumed, in all these figures", told)


def _cells(home: HomeWater) -> tuple[str, ...]:
    loss = home.loss_now
    return (
        home.home,
        " ".join(home.occupants),
        tonight_words(home),
        days_words(home.bottom),
        "?" if loss is None else range_words(loss),
        home.basis,
    )


def tonight_words(home: HomeWater) -> str:
    """What to do tonight, and where; and the chance that it is dry already where that is not small."""
    told = f"{home.dose.title}, {home.dose.where}" if home.dose.where else home.dose.title
    if home.bottom is None or home.bottom.dry_now < SMALL_CHANCE:
        return told
    return f"{told}; dry already: {home.bottom.dry_now:.0%}"


def days_words(until: UntilDry | None) -> str:
    """The middle and the 80 % range of the days until dry: '9 (4–15)'."""
    if until is None:
        return "?"
    told = [
        "60+" if day is None else f"{day:.0f}"
        for day in (until.days["0.5"], until.days["0.1"], until.days["0.9"])
    ]
    return f"{told[0]} ({told[1]}–{told[2]})"


def range_words(estimate: Estimate) -> str:
    """An estimate and its range with two digits."""
    from nightround.foundation.quantities import significant

    value, low, high = (significant(each, 2) for each in (estimate.value, estimate.low, estimate.high))
    return f"{value} ({low}–{high})"


def show_home(home: HomeWater) -> None:
    """Print one home in detail."""
    from nightround.cli.screen import lines, table

    shown = _screen()
    shown.print(f"Home {home.home}, {home.place or 'no place on record'}", style="bold")
    facts = [
        f"in it: {', '.join(home.occupants) or 'nobody'}",
        *(words for words in (home.vessel, home.openings, home.substrate) if words),
        *([f"made up {home.made_up.isoformat()}"] if home.made_up else []),
        *([f"last watered {home.last_watered.isoformat()}"] if home.last_watered else []),
        *([f"last weighed {home.last_weighed[0].isoformat()}: {both(home.last_weighed[1], 'g', 4)}"]
          if home.last_weighed else []),
    ]  # fmt: skip
    for words in facts:
        shown.print(words)
    shown.print(f"\n{home.dose.title}", style="bold")
    shown.print(home.dose.reason)
    if home.calibration is None or home.loss_now is None:
        lines(shown, "Not on record", list(home.missing))
        return
    shown.print(f"Loses {range_words(home.loss_now)} ml a day now; {home.calibration.words}.")
    lines(shown, "Does not fit, so it does not count", [each.words for each in home.calibration.questioned])
    made = table(
        ("day", None), ("surface", 16), ("bottom", 16), title="Wetness to come, 0 dry to 1 drained (10–90 %)"
    )
    for day in home.course[:: 7 if len(home.course) > 15 else 1]:
        ends = [f"{mid:.2f} ({low:.2f}–{high:.2f})" for low, mid, high in (day.surface, day.bottom)]
        made.add_row(day.day.isoformat(), *ends)
    shown.print(made)
    lines(
        shown,
        "Kept moist, ml a day",
        [f"{month:%Y-%m}: {range_words(each)}" for month, each in home.loss_months],
    )
    _show_changes(shown, home.changes)
    lines(shown, "Assumed", list(home.assumed))


def _show_changes(shown: Console, changes: tuple[Change, ...]) -> None:
    from nightround.cli.screen import lines

    told = [
        f"{change.label}: {range_words(change.loss_ml_day)} ml a day, {change.share:.0%} of now;"
        f" bottom dry in {days_words(change.bottom)} days"
        for change in changes
    ]
    lines(shown, "If it were changed", told)


def show_away(report: AwayReport) -> None:
    """Print which homes dry first."""
    from nightround.cli.screen import table
    from nightround.cli.tables import heading

    shown = _screen()
    title = f"{counted(report.days, 'day')} away from {report.on.isoformat()}: {report.room}"
    heading(shown, title, report.invented)
    made = table(("home", None), ("place", None), ("who", None), ("dry bottom", 7), ("dry surface", 8),
                 ("rests on", None), title="Driest first; nobody waters")  # fmt: skip
    for home in report.homes:
        chances = ["?" if each is None else f"{each:.0%}" for each in (home.bottom, home.surface)]
        made.add_row(home.home, home.place or "?", " ".join(home.occupants), *chances, home.words)
    shown.print(made)


def show_recipe(made: RecipeReport) -> None:
    """Print what a new home takes."""
    from nightround.cli.screen import lines

    shown = _screen()
    shown.print(f"{made.vessel}: {both(1000 * made.vessel_litres, 'ml')} inside", style="bold")
    lines(shown, f"{both(1000 * made.substrate_litres, 'ml')} of substrate, loose",
          [f"{name}: {both(1000 * litres, 'ml')}" for name, litres in made.litres])  # fmt: skip
    shown.print(f"Water to add: {both(made.water_to_add_ml, 'ml')}")
    shown.print(f"Mass to expect above the empty vessel: {both(made.full_g, 'g')}")
    lines(shown, "Assumed", list(made.assumed))
    lines(shown, "Sources", list(made.sources))
