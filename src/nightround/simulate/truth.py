"""What is true in the invented room, for comparing with what the findings say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from nightround.foundation.clock import RoomClock
from nightround.journal.entries import Draft
from nightround.simulate.life import Breaks
from nightround.simulate.taxa import SimulatedTaxon


@dataclass(frozen=True)
class TrueAnimal:
    """One animal's true life, also the part nobody saw and the part after the last entry.

    hatched          day it left its sac
    under_watch      first day from which its moults could be recorded
    moults           room day of every moult, ascending; from before its arrival to `Truth.known_to`
    carapace_mm      true carapace length of each instar: one more than moults
    intervals_days   true length of each interval in days at 25 C, the running one last (inf: it has stopped)
    mature_moult     index of the maturing moult in `moults` (None: not mature)
    recorded         position in `drafts` from 1 of each moult's entry, its number in a new journal, or None
    died             day of death; died_in_moult whether a moult killed it
    left             day it was sold, given or returned
    pace, growth     its own effect on log interval and on log step
    """

    code: str
    taxon: str
    sex: str
    hatched: date
    under_watch: date
    moults: tuple[date, ...]
    carapace_mm: tuple[float, ...]
    intervals_days: tuple[float, ...]
    mature_moult: int | None
    recorded: tuple[int | None, ...]
    died: date | None
    died_in_moult: bool
    left: date | None
    pace: float
    growth: float

    def next_moult(self, after: date) -> date | None:
        """Return the first true moult after a day; None when there is none up to `Truth.known_to`."""
        return next((day for day in self.moults if day > after), None)

    def carapace_on(self, day: date) -> float:
        """Return the true carapace length [mm] at the close of a day."""
        return self.carapace_mm[sum(moult <= day for moult in self.moults)]


@dataclass(frozen=True)
class TrueWater:
    """How the homes really dry.

    multiplier      of every home ever made up: its loss over what the physics says
    wetness         of surface and bottom of the homes in use, on the last evening
    lid_left        (home, days) whose lid lay open without a line about it; '' when it never came to it
    forgotten       (home, day) once watered without a line about it
    """

    multiplier: Mapping[str, float]
    wetness: Mapping[str, tuple[float, float]]
    lid_left: tuple[str, date | None, date | None]
    forgotten: tuple[str, date | None]


@dataclass(frozen=True)
class Truth:
    """Animals by code, taxa by present name, true daily means by place, what was planted to be a Problem."""

    animals: Mapping[str, TrueAnimal]
    taxa: Mapping[str, SimulatedTaxon]
    temperature_c: Mapping[str, Mapping[date, float]]
    breaks: Breaks
    known_to: date
    planted: tuple[str, ...]
    water: TrueWater


@dataclass(frozen=True)
class SimulatedRoom:
    """An invented room ready to be written into a new journal.

    drafts    ascending by the instant of writing (`recorded`), to be appended in one act
    end       last day with entries; `tonight` is the day after
    """

    name: str
    clock: RoomClock
    drafts: tuple[Draft, ...]
    end: date
    truth: Truth
