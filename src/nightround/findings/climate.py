"""The room's winters and summers: the science of climate applied to the record, as of its day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from nightround.findings import climate_offsets, climate_winters
from nightround.findings.climate_events import coming_of, events_of, gaps_of
from nightround.findings.climate_hours import with_hours
from nightround.findings.climate_offsets import room_offsets
from nightround.findings.climate_places import place_reports
from nightround.findings.climate_tables import residents, room_tables
from nightround.findings.climate_winters import winters_of
from nightround.findings.clock_effects import FOUR_IN_FIVE
from nightround.foundation.estimate import Estimate
from nightround.foundation.sources import OWN_RECORDS
from nightround.record.make_histories import daily_climate, moult_histories
from nightround.record.model import LoggedDay, Record
from nightround.reports.climate import (
    ClimateEvent,
    ClimateGap,
    ClimateReport,
    LoggerFile,
    ShelfOffset,
    Thresholds,
    Winter,
)
from nightround.reports.forecast import WarmthEffect
from nightround.science.climate.lost import Q10Law
from nightround.science.clock.priors import HYPER
from nightround.science.parameters import lierig

METHOD: Final = (
    "Months, weeks and events: what was read; a day without a reading counts for nothing.",
    "A night's cold is the day's lowest reading, or its mean where no lowest was read: it was no warmer.",
    "A year's wave: mean and swing by least squares, errors that remember from day to day.",
)
ASSUMED: Final = (
    "Readings are taken as they are: a logger in the sun or on a heat mat tells of itself, not of the shelf.",
)


def prior_warmth() -> WarmthEffect:
    """Return what is published of warmth, for a room whose own moults say nothing yet."""
    prior = HYPER["log_q10"]
    return WarmthEffect(prior.mean, prior.sd, 0, 0)


def climate(
    record: Record,
    thresholds: Mapping[str, Thresholds],
    *,
    warmth: WarmthEffect | None = None,
    room: str,
    invented: bool = False,
) -> ClimateReport:
    """Return the room's climate as of the record's day.

    thresholds   by place; a place without any has no cold nights and no heat waves
    warmth       what the room's moults say of Q10 (None: the published prior)
    """
    warmth = warmth or prior_warmth()
    law = Q10Law(warmth.log_mean, warmth.log_sd)
    days, histories = daily_climate(record), moult_histories(record)
    tables, lived = room_tables(record, days), residents(histories)
    offsets: list[ShelfOffset] = []
    events: list[ClimateEvent] = []
    coming: list[ClimateEvent] = []
    found_gaps: list[ClimateGap] = []
    winters: list[Winter] = []
    short = 0
    for table in tables:
        told, mean, sd = room_offsets(table)
        gaps, few = gaps_of(table, told, mean, sd)
        offsets += told
        found_gaps += gaps
        short += few
        events += events_of(record, table, thresholds, lived)
        coming += coming_of(record, table, thresholds, lived)
        winters += winters_of(record, table, thresholds, histories, law, warmth.n_intervals)
    return ClimateReport(
        on=record.on,
        room=room,
        invented=invented,
        places=with_hours(record, place_reports(record, tables, days, thresholds, warmth.log_mean)),
        offsets=tuple(offsets),
        events=tuple(sorted(events, key=lambda event: event.first, reverse=True)),
        coming=tuple(sorted(coming, key=lambda event: event.first)),
        gaps=tuple(sorted(found_gaps, key=lambda gap: gap.first, reverse=True)),
        short_gaps=short,
        winters=tuple(sorted(winters, key=lambda winter: (-winter.first.toordinal(), -winter.lost.value))),
        q10=_q10(warmth),
        logger_files=logger_files(record),
        words=_words(sum(len(each.temperature_c) for each in days.values()), len(record.places)),
        method=(*METHOD, climate_offsets.METHOD + ".", climate_winters.METHOD + "."),
        assumptions=(*ASSUMED, *climate_offsets.ASSUMED, *climate_winters.ASSUMED),
    )


def _q10(warmth: WarmthEffect) -> Estimate:
    middle, reach = warmth.log_mean, FOUR_IN_FIVE * warmth.log_sd
    method = "moult clock, the room's own intervals and the published prior" if warmth.n_intervals else (
        "published prior only"
    )  # fmt: skip
    return Estimate(
        float(np.exp(middle)), float(np.exp(middle - reach)), float(np.exp(middle + reach)),
        "times as fast in 10 °C (18 °F) more", warmth.n_animals, warmth.n_intervals, method, 0.8,
        (OWN_RECORDS, lierig.SOURCE) if warmth.n_intervals else (lierig.SOURCE,),
    )  # fmt: skip


def _words(readings: int, places: int) -> tuple[str, ...]:
    if readings:
        return ()
    if not places:
        return ("No place is on record yet: write where animals stand, then a reading such as"
                " 'shelf A 23.5 C'.",)  # fmt: skip
    return ("No place has a reading yet: take in a logger's file, or write one such as 'shelf A 23.5 C'.",)


def logger_files(record: Record) -> tuple[LoggerFile, ...]:
    """Return the files that were taken in, by place and name, with the days they gave."""
    found: dict[tuple[str, str], list[LoggedDay]] = {}
    for name, place in record.places.items():
        for logged in place.logged:
            found.setdefault((name, logged.file), []).append(logged)
    return tuple(
        LoggerFile(
            place,
            file,
            min(each.day for each in days),
            max(each.day for each in days),
            len({each.day for each in days}),
            max(each.recorded for each in days),
        )
        for (place, file), days in sorted(found.items())
    )
