"""Planned moves in the round: offered once their fortnight has come, in place of a home to prepare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from nightround.plans.housing import REHOUSE_RANK, may_be_moved
from nightround.plans.situation import Situation
from nightround.reports.larder import Errand
from nightround.reports.tonight import Job, TonightRow

FORTNIGHT_DAYS: Final = 14
MOST_FOR_HOMES: Final = 4
"""Lines of the round that are about homes at most: the Sunday page has them all; chosen for this program."""


def planned_moves(
    rows: Sequence[TonightRow], situations: Sequence[Situation], errands: Sequence[Errand]
) -> list[TonightRow]:
    """Return the rows with the moves that a plan of homes asks for, where it does no harm tonight.

    An animal whose move is planned for later is not asked for one now: its plan has been made. Rows and
    situations are of the same animals in the same order.
    """
    planned = {each.about: each for each in errands if each.sort == "rehouse"}
    return [
        _with_plan(row, s, planned[row.animal]) if row.animal in planned else row
        for row, s in zip(rows, situations, strict=True)
    ]


def _with_plan(row: TonightRow, s: Situation, errand: Errand) -> TonightRow:
    jobs = [job for job in row.jobs if job.action != "rehouse"]
    if errand.by - timedelta(days=FORTNIGHT_DAYS) < s.on and may_be_moved(s):
        jobs.append(_job(s, errand))
    return replace(row, jobs=tuple(sorted(jobs, key=lambda job: job.rank)))


def _job(s: Situation, errand: Errand) -> Job:
    return Job(
        action="rehouse",
        title=errand.title,
        reason=errand.reason,
        why=(f"Planned on {errand.made.isoformat()}; the run sheet is on the page Homes",),
        rank=REHOUSE_RANK,
        until=errand.by,
        sureness="drawn leg spans and moults; look first: not if anything looks like premoult",
        rules=(s.ask("settle_days").used,),
        cautions=errand.cautions,
    )


def for_the_round(errands: Sequence[Errand]) -> tuple[Errand, ...]:
    """Return what homes ask of the room, a few lines at most; moves stand with their animals."""
    asked = [each for each in errands if each.sort != "rehouse"]
    if len(asked) <= MOST_FOR_HOMES:
        return tuple(asked)
    rest = asked[MOST_FOR_HOMES - 1 :]
    more = Errand(
        "prepare", f"{len(rest)} more things for homes", min(each.by for each in rest),
        "the Sunday page lists them", rest[0].made,
    )  # fmt: skip
    return (*asked[: MOST_FOR_HOMES - 1], more)
