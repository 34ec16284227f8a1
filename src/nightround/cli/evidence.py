"""The command `evidence`: what the room's records say of its taxa, with what they rest on."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.taxon import LifeCurve, TaxaReport, TaxonReport


@click.command(short_help="Show life spans and findings per taxon.")
@click.argument("taxon", required=False)
@reading_options
def evidence(taxon: str | None, on: date | None, as_json: bool) -> None:
    """Show what the records say: without a TAXON the list of taxa, with one its curves and findings.

    Every number stands with its range and with how many animals it rests on; what cannot be told yet says
    what is missing. An animal that was sold or given is never counted as dead.
    """
    answer: TaxaReport | TaxonReport
    with open_desk() as desk:
        answer = desk.taxa(on) if taxon is None else desk.taxon(taxon, on)
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(answer))
    return _print(answer)


def _print(answer: TaxaReport | TaxonReport) -> None:
    from nightround.cli.screen import console
    from nightround.reports.taxon import TaxonReport

    shown = console()
    if isinstance(answer, TaxonReport):
        return show_taxon(shown, answer)
    return show_taxa(shown, answer)


def show_taxa(shown: Console, report: TaxaReport) -> None:
    """Print the list of taxa."""
    from nightround.cli.screen import table
    from nightround.cli.tables import heading
    from nightround.desk.taxon_words import oldest

    heading(shown, f"Taxa, as known on {report.on.isoformat()}: {report.room}", report.invented)
    if not report.taxa:
        shown.print("No animal and no batch is on record on this day.")
        return
    made = table(
        ("taxon", None), ("kept", 4), ("alive", 5), ("died", 4), ("left", 4), ("lost", 4), ("moults", 6),
        ("oldest alive", 18),
    )  # fmt: skip
    for line in report.taxa:
        numbers = (line.animals, line.alive, line.deaths, line.gone, line.lost, line.moults)
        made.add_row(line.name or "taxon unknown", *map(str, numbers), oldest(line))
    shown.print(made)


def show_taxon(shown: Console, report: TaxonReport) -> None:
    """Print one taxon: findings, curves, losses, homes."""
    from nightround.cli.screen import lines
    from nightround.cli.tables import heading
    from nightround.desk import taxon_words as words

    name = report.line.name or "taxon unknown"
    heading(shown, f"{name}, as known on {report.on.isoformat()}: {report.room}", report.invented)
    line = report.line
    shown.print(
        f"{counted(line.animals, 'animal')} kept: {line.alive} alive, {line.deaths} dead, {line.gone} sold "
        f"or given, {line.lost} lost or escaped; {counted(line.batches, 'batch', 'batches')}. Oldest alive: "
        f"{words.oldest(line)}."
    )
    found = [each for each in report.findings if each.estimate is not None]
    missing = [each for each in report.findings if each.estimate is None]
    told = ["; ".join([f"{f.name}: {words.told(f)}", *f.words, words.basis(f)]) for f in found]
    lines(shown, "Findings", told)
    lines(shown, "Not enough yet", [f"{f.name}: {f.missing}" for f in missing])
    for curve in report.curves:
        _show_curve(shown, curve)
    lines(shown, f"All {line.group}", [_short(curve) for curve in report.group_curves])
    lines(shown, "Spiderling losses", [f"{row.batch}: {words.loss(row)}" for row in report.losses.batches])
    lines(
        shown, "Homes lived in",
        [f"{words.home(home)}: {counted(home.animals, 'animal')}, {counted(home.days, 'day')}"
         for home in report.homes],
    )  # fmt: skip
    lines(shown, "Ages worked back from size (95 %)", report.worked_back)
    lines(shown, "In no curve", report.left_out)
    lines(shown, "How it is counted", report.method)
    lines(shown, "Assumed", report.assumptions)
    lines(shown, "Cautions", (*filter(None, (report.hazard,)), *report.cautions))


def _short(curve: LifeCurve) -> str:
    from nightround.desk import taxon_words as words

    return f"{words.title(curve)}: {words.counts(curve)}; {curve.words}" + (
        f"; {words.median(curve)}" if curve.drawn else ""
    )


def _show_curve(shown: Console, curve: LifeCurve) -> None:
    from nightround.cli.screen import table
    from nightround.desk import taxon_words as words

    shown.print()
    shown.print(f"Survival: {words.title(curve)}", style="bold")
    shown.print(f"{words.counts(curve)}; {curve.words}")
    if not curve.drawn:
        return
    shown.print("; ".join(filter(None, (words.median(curve), words.begins(curve), words.changed(curve)))))
    made = table(("reached", 16), ("of them live (95 %)", None), ("watched", 8))
    for point in curve.table:
        made.add_row(words.amount(point.days, "day"), words.share(point), str(point.at_risk))
    shown.print(made)
    shown.print(f"Method: {curve.method}", style="dim")
