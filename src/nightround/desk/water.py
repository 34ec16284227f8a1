"""The water of the room's homes at the desk: worked out once for each state of the journal, and kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from nightround.desk.kept import kept_or
from nightround.foundation.refusal import NoSuchThing, Refusal
from nightround.reports.water import AwayReport, Change, HomeWater, RecipeReport, WaterReport

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.findings.water.report import RoomWater
    from nightround.journal.entries import Entry
    from nightround.record.model import Home
    from nightround.reports.room import HistoryLine

LONGEST_AWAY_DAYS = 60
DRY_KINDS: frozenset[str] = frozenset(
    {
        "offered", "offer_seen", "leftovers_removed", "passed_over", "seen", "not_found", "drank", "filmed",
        "noted", "treated", "paired", "lot_begun", "lot_changed", "supply", "claim", "rule_set",
    }
)  # fmt: skip
"""Kinds that say nothing of any home, place or occupant: the homes' water stands while only they come."""


class Waters:
    """What the desk knows of the homes' water; `Desk` brings the rest."""

    def water(self: Desk, on: date | None = None) -> WaterReport:  # type: ignore[misc]
        """Return the water of all homes in use."""

        def work_out() -> WaterReport:
            from nightround.findings.water.report import water_report

            return water_report(record, _room_water(self, on), room=self.name, invented=self.invented)

        def answer(entries: list[Entry]) -> WaterReport:
            count, standing = self._answers.get(("water", record.on), (0, None))
            if standing is not None and not _telling(entries[count:]):
                told: WaterReport = standing
                return told
            if _held(self, record.on) is not None:
                return work_out()
            return kept_or("water", _telling(entries), record.on, WaterReport, work_out)

        with self.one_state():
            record = self.record(on)
            return self._once("water", record.on, answer)

    def home(self: Desk, code: str, on: date | None = None) -> HomeWater:  # type: ignore[misc]
        """Return one home's water with the usual changes of lid and openings, before they are made.

        Raises NoSuchThing for a code that is no home.
        """
        from nightround.findings.water.changes import changes
        from nightround.findings.water.report import home_water

        with self.one_state():
            record, home = self.record(on), _home_named(self, code, on)
            water = _room_water(self, on, home.code)

            def answer(_: list[Entry]) -> HomeWater:
                found = home_water(record, water, home.code)
                course = water.courses.get(home.code)
                return found if course is None else replace(found, changes=changes(water, course))

            return self._once(f"home {home.code}", record.on, answer)

    def what_if_home(  # type: ignore[misc]
        self: Desk, code: str, asked: Sequence[str], on: date | None = None
    ) -> tuple[Change, ...]:
        """Return what changes such as 'cover 80 %' or 'add 6 holes 3 mm' would do to one home."""
        from nightround.findings.water.changes import changes

        with self.one_state():
            home = _home_named(self, code, on)
            water = _room_water(self, on, home.code)
            course = water.courses.get(home.code)
            if course is None:
                lacking = ", ".join(water.described[home.code].missing) or "anything done to it"
                raise Refusal(
                    f"a home whose size, openings and substrate are on record, to work {home.code} out",
                    got=f"no word of {lacking}",
                    todo="Write down how it is made up",
                )
            return changes(water, course, asked)

    def home_history(self: Desk, code: str, on: date | None = None) -> list[HistoryLine]:  # type: ignore[misc]
        """Return what is on record of a home, in words, newest first; struck entries say why."""
        from nightround.desk.words import history_lines

        with self.one_state():
            home = _home_named(self, code, on)
            codes = {home.code, *home.codes}
            mine = [e for e in self.entries() if e.about.kind == "home" and e.about.code in codes]
            return history_lines(mine, self.record(on).entries, self.entries())

    def away(self: Desk, days: int, on: date | None = None) -> AwayReport:  # type: ignore[misc]
        """Return which homes dry first if nobody waters for so many days."""
        from nightround.findings.water.changes import away

        if not 1 <= days <= LONGEST_AWAY_DAYS:
            raise Refusal(f"1 to {LONGEST_AWAY_DAYS} days away", got=str(days))
        with self.one_state():
            record = self.record(on)
            return away(record, _room_water(self, on), days, room=self.name, invented=self.invented)


def vessel_catalogue() -> list[tuple[str, float]]:
    """Return generic vessels, no maker's, with their true inner volumes in millilitres."""
    from nightround.science.water.vessels import catalogue

    return [(name, 1000.0 * vessel.litres) for name, vessel in catalogue().items()]


def recipe_for(
    vessel: str, substrate: str, low_mm: float, high_mm: float, *, habit: str = "unknown"
) -> RecipeReport:
    """Return what a new home takes; no room is needed.

    Raises NotReadable for words that are no vessel or no substrate.
    """
    from nightround.findings.water.recipe import recipe_report

    return recipe_report(vessel, substrate, low_mm, high_mm, habit=habit)


def _telling(entries: Sequence[Entry]) -> list[Entry]:
    """The entries that may move a home's water; a correction may reach back to any entry, so it counts."""
    return [entry for entry in entries if entry.corrects is not None or entry.kind not in DRY_KINDS]


def _held(desk: Desk, on: date) -> RoomWater | None:
    """The day's water as worked out last, at this state of the journal or an earlier one."""
    held: RoomWater | None = desk._answers.get(("room_water", on), (-1, None))[1]
    return held


def _room_water(desk: Desk, on: date | None, also: str = "") -> RoomWater:
    """All homes followed ahead; `also` names one that is wanted even when nobody lives in it."""
    from nightround.findings.water.report import room_water

    record = desk.record(on)
    earlier = _held(desk, record.on)
    count = len(desk.entries())
    held_at = desk._answers.get(("room_water", record.on), (-1, None))[0]
    if earlier is not None and held_at == count and (not also or also in earlier.described):
        return earlier
    wanted = frozenset({also} if also else ()) | frozenset(earlier.described if earlier else ())
    water = room_water(record, earlier, also=wanted)
    desk._answers["room_water", record.on] = (count, water)
    return water


def _home_named(desk: Desk, code: str, on: date | None) -> Home:
    """The home of that code, in any spelling of upper and lower case."""
    homes = desk.record(on).homes
    for name, home in homes.items():
        if code.casefold() in {name.casefold(), *(other.casefold() for other in home.codes)}:
            return home
    near = [name for name in homes if code.casefold() in name.casefold()][:5]
    raise NoSuchThing(
        "a home on record",
        got=code,
        todo=f"Like it: {', '.join(near)}" if near else "Write down a home first",
    )
