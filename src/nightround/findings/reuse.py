"""Which entries a fit of sizes and moults must hear of, and how a standing forecast takes in the others.

An evening's taps are mostly offers, outcomes, water and looks. They change no moult, size or climate, so the
fit of the day stands; only `last look` moves. Everything else asks for a new fit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from nightround.journal.entries import Entry
from nightround.record.model import Record
from nightround.reports.forecast import AnimalForecast, ForecastReport

QUIET_KINDS: frozenset[str] = frozenset(
    {
        "offered", "offer_seen", "leftovers_removed", "passed_over", "seen", "not_found", "drank",
        "drops_given", "filmed", "noted", "treated", "paired", "watered", "misted", "weighed",
        "moisture_felt", "dish", "trouble", "cleaned", "opening", "lid_cover", "lot_begun", "lot_changed",
        "claim", "rule_set", "batch_counted", "stock_take",
    }
)  # fmt: skip
"""Kinds that move no moult, size, climate or life: the fit of the day stands."""


def asks_for_a_fit(entries: Iterable[Entry]) -> bool:
    """Whether one of these new entries could change the fit: anything but a plain entry of a quiet kind.

    A correction may reach back to any entry, so it always asks.
    """
    return any(entry.corrects is not None or entry.kind not in QUIET_KINDS for entry in entries)


def refreshed(report: ForecastReport, record: Record) -> ForecastReport | None:
    """Return the forecast with the looks of new quiet entries taken in; None when it must be worked out anew.

    A look on the report's own day leaves no day on which it could have moulted unseen. A look on an earlier
    day would need the fit, and so does an animal that came or went.
    """
    if report.on != record.on or [row.animal for row in report.animals] != [a.code for a in record.living()]:
        return None
    rows: list[AnimalForecast] = []
    for row in report.animals:
        look = record.animals[row.animal].last_look
        if look == row.last_look:
            rows.append(row)
        elif look == record.on:
            rows.append(replace(row, last_look=look, may_have_moulted_unseen=0.0))
        else:
            return None
    return replace(report, animals=tuple(rows))
