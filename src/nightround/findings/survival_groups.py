"""Which curves a taxon or a group has: by clock, sex and origin; and spiderling losses of its batches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from nightround.findings.survival import CLOCK_OF, curve_of, while_not_sexed, while_sexed
from nightround.findings.survival_lives import Life
from nightround.foundation.wording import counted
from nightround.journal.kinds.surroundings import BatchCounted
from nightround.record.model import Batch, Record
from nightround.reports.taxon import BatchLoss, BatchLosses, Clock, LifeCurve
from nightround.science.survival.counts import losses, together

SEXES: Final = {"female": "females", "male": "males"}
ORIGINS: Final = {
    "captive_bred": "captive bred",
    "captive_hatched": "captive hatched",
    "wild_collected": "wild collected",
    "long_term_captive": "long-term captive",
}
_WHOLE_LIVES: Final[tuple[Clock, ...]] = ("age", "care")


def curves_of(lives: Sequence[Life], taxa: str) -> tuple[LifeCurve, ...]:
    """All curves of some lives; only those by age and by time in the room stand there even when empty."""
    found = [*_whole(lives, taxa), *_by_sex(lives, taxa), *_by_origin(lives, taxa), *_males(lives, taxa)]
    return tuple(curve for curve in found if curve.n or curve.who == "all")


def _whole(lives: Sequence[Life], taxa: str) -> Iterator[LifeCurve]:
    for clock in _WHOLE_LIVES:
        yield curve_of(clock, "all", taxa, map(CLOCK_OF[clock], lives))


def _by_sex(lives: Sequence[Life], taxa: str) -> Iterator[LifeCurve]:
    for clock in _WHOLE_LIVES:
        for sex, who in SEXES.items():
            yield curve_of(clock, who, taxa, (while_sexed(life, clock) for life in lives if life.sex == sex))
        who = "sex not known (yet)"
        if any(life.sex is not None for life in lives):
            yield curve_of(clock, who, taxa, (while_not_sexed(life, clock) for life in lives))


def _by_origin(lives: Sequence[Life], taxa: str) -> Iterator[LifeCurve]:
    known = {life.origin for life in lives} & set(ORIGINS)
    if len({life.origin for life in lives}) < 2:
        return
    for clock in _WHOLE_LIVES:
        for origin in sorted(known, key=str):
            some = (CLOCK_OF[clock](life) for life in lives if life.origin == origin)
            yield curve_of(clock, ORIGINS[str(origin)], taxa, some)


def _males(lives: Sequence[Life], taxa: str) -> Iterator[LifeCurve]:
    yield curve_of("mature", "males after the ultimate moult", taxa, map(CLOCK_OF["mature"], lives))


def batch_losses(record: Record, taxon: str) -> BatchLosses:
    """Losses of a taxon's batches among all they began with; nothing of those never counted."""
    rows = [_batch(record, batch) for _, batch in sorted(record.batches.items()) if batch.taxon == taxon]
    told = [row for row in rows if row.started is not None and row.unknown is not None]
    of = losses(
        np.array([row.lost for row in told], dtype=np.float64),
        np.array([row.started for row in told], dtype=np.float64),
        np.array([row.unknown for row in told], dtype=np.float64),
    )
    shares = {
        row.batch: tuple(float(each[at]) for each in (of.share_low, of.share_high, of.low, of.high))
        for at, row in enumerate(told)
    }
    shown = tuple(_with_shares(row, shares[row.batch]) if row.batch in shares else row for row in rows)
    all_ = together(of)
    return BatchLosses(
        shown, all_.batches, all_.started, all_.lost, all_.unknown, all_.share_low, all_.share_high,
        all_.low, all_.high, _together_words(len(rows), all_.batches),
    )  # fmt: skip


def _together_words(batches: int, told: int) -> str:
    if not batches:
        return "no batch on record"
    if not told:
        return "not enough yet: count a batch's start and, later, how many live"
    if told < 3:
        return f"from {counted(told, 'batch', 'batches')}: how batches differ is told from three on"
    return f"from {counted(told, 'batch', 'batches')}; the interval allows for batches that differ"


def _batch(record: Record, batch: Batch) -> BatchLoss:
    """Counts of one batch: dead are added up over its counts; whoever is missing is of unknown fate."""
    bodies = [
        entry.body
        for number in batch.entries
        if (entry := record.entries.get(number)) is not None and isinstance(entry.body, BatchCounted)
    ]
    lost = sum(body.dead or 0 for body in bodies)
    left = sum(body.left or 0 for body in bodies)
    promoted = len(batch.promoted)
    day = max((day for day, _, _ in batch.counts), default=None)
    started, living = batch.started_with, batch.living
    unknown: int | None = None
    words = ""
    if not bodies:
        words = "not counted since it began"
    elif started is None or started == 0:
        words, started = "its start was not counted", None
    elif living is None:
        words = "how many live was not counted"
    else:
        unknown = started - living - lost - left - promoted
        if unknown < 0:
            words = f"more were counted than the {started} it began with: count again, or strike one count"
            unknown = None
    return BatchLoss(batch.code, started, lost, unknown, promoted, left, day, None, None, None, None, words)


def _with_shares(row: BatchLoss, shares: tuple[float, ...]) -> BatchLoss:
    share_low, share_high, low, high = shares
    return replace(row, share_low=share_low, share_high=share_high, low=low, high=high)
