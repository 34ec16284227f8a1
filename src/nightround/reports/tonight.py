"""Tonight: the round in walking order, each animal with its jobs, reasons and odds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from nightround.foundation.problem import Problem
from nightround.reports.larder import Errand

Action = Literal[
    "outcome",  # an earlier offer is still open: gone, still there, not seen?
    "leftovers",  # take uneaten prey out
    "look",  # look from outside: something does not fit
    "leave_alone",  # no prey and no disturbance; water goes on
    "offer",
    "wait",  # nothing to offer tonight, next offer on `until`
    "water",
    "feel",  # feel the substrate first: nothing of this home was measured
    "drink",
    "measure",
    "weigh",
    "weigh_home",  # the whole home, for its water
    "rehouse",
]


@dataclass(frozen=True, slots=True)
class RuleUsed:
    """The rule behind a job: its key and words, its value, whose it is, and how far it can be trusted."""

    rule: str
    value: str
    grade: str
    source: str
    overruled: bool = False
    words: str = ""


@dataclass(frozen=True, slots=True)
class OfferAdvice:
    """What to offer: always the least harmful reading where something is unknown.

    prey_mm   longest prey allowed, an upper bound and never a measured size (None: size unknown)
    """

    prey: str
    number: int
    prey_mm: float | None
    prekilled: bool
    size_words: str


@dataclass(frozen=True, slots=True)
class MoultOdds:
    """Chance of a moult within n days if not moulted up to `on`, and of one missed since the last look.

    signs   what appetite and signs said of it, in words: a run of refusals, a dark patch
    """

    within_7: float
    within_14: float
    within_30: float
    unseen: float
    n_animals: int
    n_intervals: int
    method: str
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Job:
    """One thing to do or to leave. `sureness` says in words how sure the reason is.

    rank   the smaller the more urgent; comparable across the round
    until  leave_alone: about when to look again; wait: day of the next offer (None: not known)
    """

    action: Action
    title: str
    reason: str
    why: tuple[str, ...] = ()
    rank: float = 0.0
    until: date | None = None
    offer: OfferAdvice | None = None
    open_offers: tuple[int, ...] = ()
    water_ml: float | None = None
    water_where: str = ""
    sureness: str = ""
    rules: tuple[RuleUsed, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TonightRow:
    """One animal of the round; `jobs` by rank, most urgent first.

    usual   what one tap does: offer writes `offered` with the outcome open, leave_alone writes `passed_over`,
            water writes `watered` (with `water_ml` when known), drink writes `drops_given`; None: nothing.
    water_note   what is known of its home's substrate where nothing is to be done about it
    hazard  what is known of its bite and hairs; '' means that nothing is known, never that it is harmless
    """

    animal: str
    taxon: str
    place: str
    home: str
    quarantined: bool
    hazard: str
    jobs: tuple[Job, ...]
    odds: MoultOdds | None
    days_since_moult: int | None
    days_since_offer: int | None
    last_look: date | None
    usual: Job | None
    water_note: str = ""

    @property
    def needs_hand(self) -> bool:
        """Whether anything is to be done for it tonight."""
        return any(job.action not in ("leave_alone", "wait") for job in self.jobs)


@dataclass(frozen=True, slots=True)
class TonightShelf:
    """One shelf of the walk."""

    place: str
    rows: tuple[TonightRow, ...]


@dataclass(frozen=True, slots=True)
class TonightReport:
    """The whole round of one evening. `invented` marks the demo room.

    errands   what plans ask for the room within the week: one job of the room, never one an animal
    """

    on: date
    room: str
    invented: bool
    shelves: tuple[TonightShelf, ...]
    problems: tuple[Problem, ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]  # how many animals have a job of each action
    errands: tuple[Errand, ...] = ()

    @property
    def ranked(self) -> tuple[tuple[TonightRow, Job], ...]:
        """All jobs of the round, most urgent first; quarantined animals after all others."""
        pairs = [(row, job) for shelf in self.shelves for row in shelf.rows for job in row.jobs]
        return tuple(sorted(pairs, key=lambda pair: (pair[0].quarantined, pair[1].rank, pair[0].animal)))
