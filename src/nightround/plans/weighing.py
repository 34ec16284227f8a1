"""Which homes to put on the scale tonight: a few, where it would say most of the water."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nightround.foundation.wording import counted
from nightround.plans.words import ago
from nightround.record.model import Record
from nightround.reports.tonight import Job, TonightRow
from nightround.reports.water import HomeWater

WEIGH_RANK = 80.0
# A home that was weighed this lately has hardly lost anything since (common practice, no source).
LEAST_DAYS = 5


def homes_to_weigh(
    record: Record, rows: Sequence[TonightRow], homes: Mapping[str, HomeWater], most: int
) -> list[tuple[int, Job]]:
    """Return (row, job) of at most `most` homes: those begun to be weighed first, then the thirstiest.

    Never a home whose animal is to be left alone, is in quarantine or would be disturbed: a scale moves it.
    """
    found = []
    for index, row in enumerate(rows):
        home = homes.get(row.home)
        if home is None or home.calibration is None or row.quarantined or not _first(row, home):
            continue
        if any(job.action in ("leave_alone", "look", "outcome") for job in row.jobs):
            continue
        more = home.calibration.more_to_ten
        last = home.last_weighed[0] if home.last_weighed else None
        begun = last is not None and more is not None and 0 < more <= 3
        if not begun or last is None or (record.on - last).days < LEAST_DAYS:
            continue
        found.append((more or 0, -(record.on - last).days, index, home))
    chosen = sorted(found, key=lambda each: each[:3])[: max(most, 0)]
    return [(index, _job(record, home)) for *_, index, home in chosen]


def _first(row: TonightRow, home: HomeWater) -> bool:
    return not home.occupants or min(home.occupants) == row.animal


def _job(record: Record, home: HomeWater) -> Job:
    calibration = home.calibration
    assert calibration is not None and home.last_weighed is not None
    more = calibration.more_to_ten or 0
    return Job(
        action="weigh_home",
        title=f"Weigh home {home.home}, before any water",
        reason=f"{counted(more, 'more weighing')} would bring its loss to ±10 %",
        why=(f"last weighed {ago(home.last_weighed[0], record.on)}; {calibration.words}",),
        rank=WEIGH_RANK,
        sureness=f"from {counted(calibration.n_weighings, 'weighing')} so far",
        cautions=("Carry it level and slowly; not if the animal is about to moult",),
    )
