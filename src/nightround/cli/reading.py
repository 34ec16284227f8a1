"""Commands that only read: tonight, animal, forecast, verify."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import json_option, open_desk, reading_options, room_option

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

if TYPE_CHECKING:
    from nightround.desk.desk import Desk


@click.command(short_help="Show the round of the evening.")
@click.option("--all", "everyone", is_flag=True, help="Also show animals that nothing is to be done for.")
@click.option("--why", is_flag=True, help="Also show the reasons and the rules behind each job.")
@reading_options
def tonight(everyone: bool, why: bool, on: date | None, as_json: bool) -> None:
    """Show the round of the evening: what each animal needs, in walking order."""
    with open_desk() as desk:
        report = desk.tonight(on)
        _keep(desk, report.on)
    if as_json:
        return _print_json(report)
    from nightround.cli.tables import show_tonight

    return show_tonight(report, everyone=everyone, why=why)


@click.command(short_help="Show all that is known of one animal.")
@click.argument("code")
@click.option(
    "--ahead", is_flag=True, help="Show instead its growth to come, and if it were warmer or cooler."
)
@reading_options
def animal(code: str, ahead: bool, on: date | None, as_json: bool) -> None:
    """Show one animal: what is known, tonight's advice, forecast, sizes and history."""
    with open_desk() as desk:
        if ahead:
            return _ahead(desk, code, on, as_json)
        report = desk.animal(code, on)
    if as_json:
        return _print_json(report)
    from nightround.cli.animal_sheet import show_animal

    return show_animal(report)


def _ahead(desk: Desk, code: str, on: date | None, as_json: bool) -> None:
    report = desk.ahead(code, on)
    if as_json:
        return _print_json(report)
    from nightround.cli.ahead_sheet import show_ahead

    return show_ahead(report, desk.invented)


@click.command(short_help="Forecast the next moults.")
@click.argument("codes", nargs=-1, metavar="[ANIMAL]...")
@reading_options
def forecast(codes: tuple[str, ...], on: date | None, as_json: bool) -> None:
    """Forecast the next moult of every living animal, or of those named."""
    with open_desk() as desk:
        wanted = {desk.find(code, on).code for code in codes}
        report = desk.forecast(on)
        _keep(desk, report.on)
    rows = tuple(row for row in report.animals if not codes or row.animal in wanted)
    if as_json:
        from nightround.cli.as_json import forecast_shape, print_json

        return print_json(forecast_shape(report.on, rows))
    from nightround.cli.tables import show_forecast

    return show_forecast(report, rows)


@click.command(short_help="Check that the journal is sound.")
@json_option
@room_option
def verify(as_json: bool) -> None:
    """Check the journal: the file, its guards, and every entry. Exit code 1 when anything is wrong."""
    with open_desk() as desk:
        report = desk.verify()
    if as_json:
        _print_json({"entries": report.entries, "clean": report.clean, "faults": report.faults})
    else:
        click.echo(f"{report.entries} entries, {'no faults' if report.clean else 'faults:'}")
    if not report.clean:
        for fault in report.faults:
            click.echo(fault, err=True)
        click.echo(
            "Wanted a sound journal. Keep this file as it is, and go back to a backup or an export.", err=True
        )
        raise click.exceptions.Exit(1)


def _keep(desk: Desk, on: date) -> None:
    """Keep today's forecasts that are due to be kept for the track record; another day's never."""
    if on == desk.today():
        desk.keep_forecasts()


def _print_json(report: object) -> None:
    from nightround.cli.as_json import plain, print_json

    print_json(plain(report))
