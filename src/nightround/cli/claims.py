"""The command `claims`: what others say of a taxon, held against the room's records."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from nightround.cli.options import open_desk, reading_options
from nightround.foundation.wording import counted, day_words

if TYPE_CHECKING:
    from rich.console import Console

    from nightround.reports.claims import ClaimsReport, TaxonClaims, Verdict

EVIDENCE_SHOWN = 8


@click.command(short_help="Hold claims against your records.")
@click.argument("taxon", required=False, default="")
@reading_options
def claims(taxon: str, on: date | None, as_json: bool) -> None:
    """Show each claim about TAXON (default: all) with its verdict, and what would settle it.

    A claim is written with its source and grade, on the page or in claims.csv. TAXON may be any name it ever
    had here; a slip of spelling is forgiven. With TAXON the animals behind each verdict are shown.
    """
    with open_desk() as desk:
        report = desk.claims(on, taxon=taxon)
    if as_json:
        from nightround.cli.as_json import plain, print_json

        return print_json(plain(report))
    return show_claims(report, whole=bool(taxon))


def show_claims(report: ClaimsReport, *, whole: bool) -> None:
    """Print the claims by taxon; `whole`: with the animals behind each verdict."""
    from nightround.cli.screen import console, lines
    from nightround.cli.tables import heading

    shown = console()
    heading(shown, f"Claims, as known on {report.on.isoformat()}: {report.room}", report.invented)
    if not any(taxon.verdicts for taxon in report.taxa):
        shown.print("No claim is on record here: write one on the page, or import claims.csv.")
    for taxon in report.taxa:
        _show_taxon(shown, taxon, whole)
    for group in () if whole else report.disputed:
        shown.print()
        shown.print(f"Disputed of {group.taxon}, held against all that are here", style="bold")
        for verdict in group.verdicts:
            _show_verdict(shown, verdict, whole=False)
    lines(shown, "How it is worked out", report.method)
    lines(shown, "Beware", report.cautions)


def _show_taxon(shown: Console, taxon: TaxonClaims, whole: bool) -> None:
    shown.print()
    shown.print(f"{taxon.taxon} ({counted(taxon.animals, 'animal')} on record)", style="bold")
    if taxon.names:
        shown.print(f"also {', '.join(taxon.names)}")
    if taxon.near:
        shown.print(
            f"differs by a slip of spelling only from: {', '.join(taxon.near)}. Rename the wrong one."
        )
    for verdict in taxon.verdicts:
        _show_verdict(shown, verdict, whole)
    for pair in taxon.compared:
        _under(shown, f"Compared, {pair.words}", 2)


def _show_verdict(shown: Console, verdict: Verdict, whole: bool) -> None:
    _under(shown, f"{verdict.mark} {verdict.standing_words.upper()}: {verdict.said}", 0)
    _under(shown, f"{verdict.words}{_numbers(verdict)}", 4)
    written = f"“{verdict.text}”, " if verdict.text and verdict.text not in verdict.said else ""
    _under(shown, f"claimed by: {written}{verdict.source} ({verdict.grade})", 4)
    if whole:
        for row in verdict.evidence[:EVIDENCE_SHOWN]:
            entries = ", ".join(str(number) for number in row.entries)
            _under(shown, f"{row.speaks}: {row.animal} {row.words}" + (f" [{entries}]" if entries else ""), 6)
        more = len(verdict.evidence) - EVIDENCE_SHOWN
        if more > 0:
            _under(shown, f"{counted(more, 'more animal')}: --json lists all", 6)
    for words in verdict.settle:
        _under(shown, f"would settle it: {words}", 4)
    if verdict.settle_day:
        _under(shown, f"at the earliest about {day_words(verdict.settle_day)}", 4)
    if whole:
        for words in verdict.assumptions:
            _under(shown, f"read so: {words}", 4)


def _numbers(verdict: Verdict) -> str:
    told = [
        f"e {value:.3g} {side}" for value, side in ((verdict.against, "against"), (verdict.support, "for"))
        if value is not None
    ]  # fmt: skip
    return f" ({', '.join(told)})" if told else ""


def _under(shown: Console, words: str, indent: int) -> None:
    from rich.padding import Padding

    shown.print(Padding(words, (0, 0, 0, indent)))
