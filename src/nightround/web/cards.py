"""One card of the round: advice, the question about the last offer, buttons, and tonight's acts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from nightround.desk.taps import Tap, felt_tap, moult_tap, offer_tap, outcome_tap, water_tap
from nightround.foundation.quantities import both
from nightround.reports.tonight import Job, MoultOdds, TonightRow
from nightround.web.words import percent

LABELS = {
    "outcome": "Question",
    "leftovers": "Leftovers",
    "look": "Look",
    "leave_alone": "Leave alone",
    "offer": "Offer",
    "wait": "Wait",
    "water": "Water",
    "feel": "Feel first",
    "drink": "Drops",
    "measure": "Measure",
    "weigh": "Weigh",
    "weigh_home": "Weigh the home",
    "rehouse": "Rehouse",
}
# The word on the card is that of the first of these that it has.
VERDICTS = (
    ("leave_alone",),
    ("offer",),
    ("look", "leftovers"),
    ("water", "feel", "drink"),
    ("outcome",),
    ("wait",),
)
# Which kinds of entry, written tonight, settle a job for the evening.
SETTLED_BY = {
    "outcome": {"offer_seen"},
    "leftovers": {"leftovers_removed"},
    "offer": {"offered", "passed_over"},
    "water": {"watered", "misted", "dish", "drops_given"},
    "feel": {"moisture_felt", "watered"},
    "weigh_home": {"weighed"},
    "drink": {"drops_given", "watered", "dish", "drank"},
    "look": {"seen", "not_found", "moulted"},
}
# Until the round is worked out anew, a moult just tapped must not leave an offer standing.
KEPT_AFTER_A_MOULT = ("outcome", "leftovers", "water", "feel")
AFTER_A_MOULT = Job(
    "leave_alone",
    "Leave it alone: no prey, no disturbance",
    "Found moulted tonight; no prey until black fangs are seen",
)
# Kinds that end the animal's evening altogether.
ENDS_ALL = {"died", "left", "escaped"}
_HARDLY = 0.01
_PLAIN = re.compile(r"[^A-Za-z0-9]")
_CLAUSE_END = re.compile(r"[:.;(]|, ")


@dataclass(frozen=True, slots=True)
class Act:
    """One act of this evening about one animal; `laid_over`: the advice was worked out before it."""

    intention: str
    words: str
    kinds: frozenset[str]
    time: str = ""
    undoable: bool = False
    open_offers: tuple[int, ...] = ()
    uneaten: bool = False
    laid_over: bool = False


@dataclass(frozen=True, slots=True)
class Button:
    """One button of a card: what it sends and what it says."""

    value: str
    label: str
    key: str = ""
    main: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One job in words; `see`: what else to look at and mind, for a look."""

    label: str
    title: str
    reason: str
    until: date | None
    sureness: str
    see: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Odds:
    """The moult odds as words and as widths of three nested bars, in per cent."""

    words: str
    basis: str
    unseen: str
    widths: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Card:
    """Everything the template needs; `state` is hand, calm or done."""

    slug: str
    code: str
    taxon: str
    home: str
    quarantined: bool
    hazard: str
    hazard_short: str
    state: str
    verdict: str
    verdict_words: str
    lines: tuple[Line, ...]
    odds: Odds | None
    question: str
    answers: tuple[Button, ...]
    buttons: tuple[Button, ...]
    followups: tuple[Button, ...]
    acts: tuple[Act, ...]
    moult_form: bool
    water_note: str = ""


def slug(code: str) -> str:
    """Return a code as it may stand in an id: 'K 12' is 'K_20'-like, two codes never share one."""
    return _PLAIN.sub(lambda found: f"_{ord(found[0]):x}_", code)


def card_of(row: TonightRow, acts: Sequence[Act]) -> Card:
    """Return the card of one animal with what was done for it this evening."""
    kinds = frozenset().union(*(act.kinds for act in acts)) if acts else frozenset()
    tonights = {number for act in acts for number in act.open_offers}
    just_moulted = any(act.laid_over and "moulted" in act.kinds for act in acts)
    known = (*(job for job in row.jobs if job.action in KEPT_AFTER_A_MOULT), AFTER_A_MOULT)
    jobs = [job for job in (known if just_moulted else row.jobs) if not _settled(job, kinds, tonights)]
    question = next((job for job in jobs if job.action == "outcome"), None)
    verdict = _verdict(jobs) or ("leftovers" if _left_in(acts) else "")
    return Card(
        slug=slug(row.animal),
        code=row.animal,
        taxon=row.taxon,
        home=row.home,
        water_note=row.water_note,
        quarantined=row.quarantined,
        hazard=row.hazard,
        hazard_short=_CLAUSE_END.split(row.hazard, maxsplit=1)[0],
        state=_state(jobs, acts),
        verdict=verdict,
        verdict_words=LABELS.get(verdict, ""),
        lines=tuple(_line(job) for job in jobs if job.action != "outcome"),
        odds=_odds(row.odds) if row.odds and not just_moulted else None,
        question=(question.reason or question.title) if question else "",
        answers=_answers(row.animal, question.open_offers) if question else (),
        buttons=() if kinds & ENDS_ALL else tuple(_buttons(row, jobs, kinds)),
        followups=_followups(row.animal, acts),
        acts=tuple(acts),
        moult_form=row.last_look is None,
    )


def _settled(job: Job, kinds: frozenset[str], tonights: set[int]) -> bool:
    if kinds & ENDS_ALL:
        return True
    if job.action == "outcome" and job.open_offers and tonights.issuperset(job.open_offers):
        return True
    # A meal offered or passed over settles what was to be decided about prey, whatever the advice was.
    if job.action in ("wait", "offer") and kinds & SETTLED_BY["offer"]:
        return True
    return bool(kinds & SETTLED_BY.get(job.action, set()))


def needs_hand(job: Job) -> bool:
    """Whether a job asks for a tap this evening; a measuring or a new home may be due for weeks."""
    return job.action in SETTLED_BY


def _state(jobs: Sequence[Job], acts: Sequence[Act]) -> str:
    if any(needs_hand(job) for job in jobs) or _left_in(acts):
        return "hand"
    return "done" if acts else "calm"


def _verdict(jobs: Sequence[Job]) -> str:
    for wanted in VERDICTS:
        for job in jobs:
            if job.action in wanted:
                return job.action
    return jobs[0].action if jobs else ""


def _line(job: Job) -> Line:
    return Line(
        LABELS.get(job.action, job.action),
        job.title,
        job.reason,
        job.until if job.action == "leave_alone" else None,
        job.sureness,
        (*job.why, *job.cautions) if job.action == "look" else (),
    )


def _odds(odds: MoultOdds) -> Odds:
    within = (odds.within_7, odds.within_14, odds.within_30)
    told = list(zip(within, (7, 14, 30), strict=True))
    if odds.within_30 < _HARDLY:
        told = told[-1:]
    elif odds.within_7 > 1 - _HARDLY:
        told = told[:1]
    words = " · ".join(f"{percent(chance)} in {count} d" for chance, count in told)
    animals = "animal" if odds.n_animals == 1 else "animals"
    likeness = f"{odds.n_animals} {animals}" if odds.n_animals else "no records of this taxon yet"
    basis = "; ".join((*odds.signs, likeness))
    unseen = f"{percent(odds.unseen)} that it has moulted unseen" if odds.unseen >= 0.05 else ""
    seven, fourteen, thirty = (round(100 * chance) for chance in within)
    return Odds(words, basis, unseen, (seven, fourteen, thirty))


def _answers(code: str, offers: tuple[int, ...]) -> tuple[Button, ...]:
    told = (("gone", "Gone", "g"), ("still", "Still there", "s"), ("refused", "Refused", "r"),
            ("unseen", "Not seen", "n"))  # fmt: skip
    return tuple(Button(outcome_tap(do, code, offers).text(), label, key) for do, label, key in told)


def _buttons(row: TonightRow, jobs: Sequence[Job], kinds: frozenset[str]) -> list[Button]:
    code = row.animal
    buttons = [button for job in _usual_first(row, jobs) for button in _buttons_of(job, code)]
    if any(job.action in ("offer", "leave_alone") for job in jobs) and "passed_over" not in kinds:
        buttons.append(Button(Tap("passed", code).text(), "Passed over", "p"))
    if row.last_look is not None and "moulted" not in kinds:
        buttons.append(Button(moult_tap(code, row.last_look).text(), "Moulted", "m"))
    if buttons and row.usual is not None and row.usual in jobs:
        first = buttons[0]
        buttons[0] = Button(first.value, first.label, "o", main=row.usual.action != "leave_alone")
    return buttons


def _usual_first(row: TonightRow, jobs: Sequence[Job]) -> list[Job]:
    return sorted(jobs, key=lambda job: job is not row.usual)


def _buttons_of(job: Job, code: str) -> list[Button]:
    match job.action:
        case "offer" if job.offer is not None:
            return [Button(offer_tap(job, code).text(), "Offered as advised", "o")]
        case "water":
            amount = f" {both(job.water_ml, 'ml')}" if job.water_ml is not None else ""
            return [Button(water_tap(job, code).text(), f"Watered{amount}", "w")]
        case "feel":
            told = (("dry", "Dry below"), ("damp", "Damp"), ("wet", "Wet"))
            amount = f" {both(job.water_ml, 'ml')}" if job.water_ml is not None else ""
            return [
                *(Button(felt_tap(bottom, code).text(), label) for bottom, label in told),
                Button(water_tap(job, code).text(), f"Watered{amount}", "w"),
            ]
        case "drink":
            return [Button(water_tap(job, code).text(), "Drops given", "w")]
        case "leftovers":
            return [Button(Tap("out", code).text(), "Leftovers out", "l")]
        case "look":
            return [
                Button(Tap("seen", code).text(), "Seen, alive", "v"),
                Button(Tap("notseen", code).text(), "Not found", "b"),
            ]
    return []


def _followups(code: str, acts: Sequence[Act]) -> tuple[Button, ...]:
    offers = tuple(number for act in acts for number in act.open_offers)
    buttons: list[Button] = []
    if offers:
        told = (("gone", "Took it"), ("refused", "Refused it"), ("still", "Not eaten"))
        buttons += [Button(outcome_tap(do, code, offers).text(), label) for do, label in told]
    if _left_in(acts):
        buttons.append(Button(Tap("out", code).text(), "Leftovers out", "l", main=True))
    return tuple(buttons)


def _left_in(acts: Sequence[Act]) -> bool:
    """Whether prey was found uneaten this evening and nobody took it out yet."""
    removed = any("leftovers_removed" in act.kinds for act in acts)
    return any(act.uneaten for act in acts) and not removed
