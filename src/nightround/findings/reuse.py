"""Which entries a fit of sizes and moults must hear of, and how a standing forecast takes in the others.

An evening's taps are mostly offers, outcomes, water and looks. They change no moult, size or climate, so the
fits of the day stand: the clock's, and that of appetite, which rests on completed intervals. What the taps
say of an animal's own running interval is weighed anew, for the animals they are about.

| entry | what it moves |
|---|---|
| offered with an outcome, offer_seen, seen | the animal's odds (appetite, signs), its last look |
| leftovers_removed, drank, cleaned, filmed, treated, paired | its last look |
| open offer, passed_over, water, drops, dish, notes, rules, lots, claims | nothing |
| everything else, every correction, a look dated before the day | asks for a fit |
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from nightround.journal.entries import Entry
from nightround.record.model import Record
from nightround.reports.forecast import AnimalForecast, ForecastReport
from nightround.reports.size import SizeReport

if TYPE_CHECKING:
    from nightround.findings.moult import ClockOdds

QUIET_KINDS: frozenset[str] = frozenset(
    {
        "offered", "offer_seen", "leftovers_removed", "passed_over", "seen", "not_found", "drank",
        "drops_given", "filmed", "noted", "treated", "paired", "watered", "misted", "weighed",
        "moisture_felt", "dish", "trouble", "cleaned", "opening", "lid_cover", "lot_begun", "lot_changed",
        "supply", "claim", "rule_set", "batch_counted", "stock_take",
    }
)  # fmt: skip
"""Kinds that move no moult, size, climate or life: the fits of the day stand."""

TELLING_KINDS: frozenset[str] = frozenset({"offered", "offer_seen", "seen"})
"""Quiet kinds that say something of an animal's appetite or signs."""


def asks_for_a_fit(entries: Iterable[Entry]) -> bool:
    """Whether one of these new entries could change the fit: anything but a plain entry of a quiet kind.

    A correction may reach back to any entry, so it always asks.
    """
    return any(entry.corrects is not None or entry.kind not in QUIET_KINDS for entry in entries)


def told_about(record: Record, entries: Iterable[Entry]) -> frozenset[str]:
    """Return the animals, by the code they have now, of whose appetite or signs these new entries tell."""
    telling = {entry.number for entry in entries if _tells(entry)}
    if not telling:
        return frozenset()
    first = min(telling)
    return frozenset(
        animal.code
        for animal in record.living()
        if any(number in telling for number in _newest(animal.entries, first))
    )


def _tells(entry: Entry) -> bool:
    """An offer whose outcome is open or was not seen tells nothing."""
    if entry.kind not in TELLING_KINDS:
        return False
    return entry.kind == "seen" or getattr(entry.body, "outcome", None) not in (None, "not_seen")


def _newest(numbers: tuple[int, ...], first: int) -> tuple[int, ...]:
    """The numbers from `first` on, of ascending ones."""
    return numbers[bisect_left(numbers, first) :]


def refreshed(
    report: ForecastReport,
    record: Record,
    told: frozenset[str] = frozenset(),
    odds: ClockOdds | None = None,
    sizes: Mapping[str, SizeReport] | None = None,
) -> tuple[ForecastReport, ClockOdds | None] | None:
    """Return the forecast with new quiet entries taken in, and the odds behind it; None: work it out anew.

    told    animals whose appetite or signs the new entries tell of: they are weighed anew with the fits
            behind `odds`; without these there is nothing to weigh with
    A look on the report's own day leaves no day on which it could have moulted unseen. A look on an earlier
    day would need the fit, and so does an animal that came or went.
    """
    if report.on != record.on or [row.animal for row in report.animals] != [a.code for a in record.living()]:
        return None
    looks = {row.animal: record.animals[row.animal].last_look for row in report.animals}
    looked = {row.animal for row in report.animals if looks[row.animal] != row.last_look}
    if any(looks[code] != record.on for code in looked):
        return None
    if odds is None:
        if told:
            return None
        return replace(report, animals=tuple(_looked_at(row, record, looked) for row in report.animals)), None
    from nightround.findings.moult import odds_again
    from nightround.findings.moult_report import animal_forecast

    changed = told | looked
    again = odds_again(record, odds, changed)
    if again is None:
        return None
    pages = sizes or {}
    rows = tuple(
        animal_forecast(record, again, row.animal, pages.get(row.animal)) if row.animal in changed else row
        for row in report.animals
    )
    return replace(report, animals=rows), again


def _looked_at(row: AnimalForecast, record: Record, looked: set[str]) -> AnimalForecast:
    """The row of an animal that was seen on the report's day, or as it was."""
    if row.animal not in looked:
        return row
    return replace(row, last_look=record.on, may_have_moulted_unseen=0.0)
