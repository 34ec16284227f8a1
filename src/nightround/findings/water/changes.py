"""What a change of lid or openings would do, and which homes dry first while nobody waters."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from nightround.findings.water.course import AHEAD_DAYS, Course, courses
from nightround.findings.water.describe import AT_WORDS
from nightround.findings.water.figures import chance_dry, loss_estimate, until_dry
from nightround.findings.water.report import RoomWater
from nightround.foundation.refusal import NotReadable
from nightround.foundation.wording import counted
from nightround.record.model import Record
from nightround.reports.water import Away, AwayReport, Change
from nightround.science.water.openings import Opening
from nightround.science.water.ventilation import Ventilation

# What is shown for every home before it is done.
USUAL: Final = ("cover 50 %", "cover 80 %", "add 6 holes 3 mm")
_COVER: Final = re.compile(r"^(?:cover|covered)\s+(\d+(?:\.\d+)?)\s*%?(?:\s+of the lid)?$")
_ADD: Final = re.compile(
    r"^add\s+(\d+)\s+holes?\s+(?:of\s+)?(\d+(?:\.\d+)?)\s*mm(?:\s+(?:in the\s+)?(lid|high|low))?$"
)
_WHERE: Final = {"lid": "lid", "high": "side_high", "low": "side_low"}


def changed(air: Ventilation, words: str, wall_mm: float = 2.0) -> tuple[str, Ventilation]:
    """Read 'cover 80 %' or 'add 6 holes 3 mm low' and return it in full words, with the home so changed."""
    text = " ".join(words.lower().split())
    cover, add = _COVER.match(text), _ADD.match(text)
    if cover and float(cover[1]) <= 100.0:
        share = float(cover[1]) / 100.0
        return f"{share:.0%} of the lid covered", air.covered(share)
    if add and 0 < int(add[1]) <= 1000 and 0.1 <= float(add[2]) <= 100.0:
        at = _WHERE[add[3] or "lid"]
        number, width = int(add[1]), float(add[2])
        opening = Opening("hole", number, width, thickness_mm=wall_mm, at=at)  # type: ignore[arg-type]
        return f"{counted(number, 'more hole')} of {width:g} mm {AT_WORDS[at]}", air.with_openings(opening)
    raise NotReadable(
        "a change such as 'cover 80 %' or 'add 6 holes 3 mm'",
        got=repr(words),
        todo="Holes go into the lid unless 'low' or 'high' is said",
    )


def changes(water: RoomWater, course: Course, asked: Sequence[str] = USUAL) -> tuple[Change, ...]:
    """The home's loss and days until dry after each change, with the same members and weather."""
    air = course.described.air
    if air is None:
        return ()
    made = [changed(air, words) for words in asked]
    alike = [other for other in made if other[1] != air]
    again = courses(
        [course.described] * len(alike),
        [course.calibrated] * len(alike),
        water.air,
        AHEAD_DAYS,
        [vent for _, vent in alike],
    )
    now = float(course.lost_ml[0].mean())
    return tuple(
        Change(
            label,
            loss_estimate(after.lost_ml[0], course.calibrated),
            float(after.lost_ml[0].mean()) / now if now > 0.0 else 1.0,
            until_dry(after, 0),
            until_dry(after, 1),
        )
        for (label, _), after in zip(alike, again, strict=True)
    )


def away(record: Record, water: RoomWater, days: int, *, room: str, invented: bool = False) -> AwayReport:
    """Homes by the chance that their bottom is dry when the keeper is back; those not described last."""
    rows = []
    for code, each in sorted(water.described.items()):
        course = water.courses.get(code)
        home = each.home
        living = tuple(one for one in home.occupants if one in record.animals and record.animals[one].here)
        if course is None:
            rows.append(Away(code, home.place, living, None, None, "no figures: feel it before you leave"))
            continue
        bottom, surface = chance_dry(course, 1, days), chance_dry(course, 0, days)
        known = course.calibrated.n_weighings > 1 or course.calibrated.n_felt > 0
        told = f"bottom dry by then: {bottom:.0%}, surface {surface:.0%}"
        rows.append(
            Away(
                code, home.place, living, bottom, surface, told if known else f"{told}; never weighed or felt"
            )
        )
    rows.sort(key=lambda row: (row.bottom is None, -(row.bottom or 0.0), -(row.surface or 0.0), row.home))
    return AwayReport(record.on, room, invented, days, tuple(rows))
