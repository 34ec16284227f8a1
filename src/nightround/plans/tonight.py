"""Tonight: the whole round, shelf by shelf, each animal with its jobs and reasons."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import get_args

from nightround.foundation.problem import Problem
from nightround.foundation.wording import counted
from nightround.plans.errands import due
from nightround.plans.feeding import feeding_job
from nightround.plans.hazards import hazard_of
from nightround.plans.housing import housing_jobs, measure_job
from nightround.plans.leftovers import leftovers_job, outcome_job
from nightround.plans.looking import look_job
from nightround.plans.moulting import Leave, leave_alone
from nightround.plans.moving import planned_moves
from nightround.plans.notices import notices
from nightround.plans.quarantine import quarantined
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation, sound
from nightround.plans.sizes import size_of
from nightround.plans.watering import fewer_to_feel, water_jobs, water_note
from nightround.plans.weighing import homes_to_weigh
from nightround.plans.words import CAUTIONS
from nightround.record.model import Record
from nightround.reports.forecast import ForecastReport
from nightround.reports.larder import Errand
from nightround.reports.size import SizeReport
from nightround.reports.tonight import Action, Job, MoultOdds, TonightReport, TonightRow, TonightShelf
from nightround.reports.water import WaterReport

NO_SHELF = "no shelf recorded"
QUARANTINE = "quarantine, last"
MOST_PROBLEMS = 5


def tonight(
    record: Record,
    forecast: ForecastReport,
    sizes: Mapping[str, SizeReport],
    *,
    room: str,
    invented: bool = False,
    water: WaterReport | None = None,
    errands: Sequence[Errand] = (),
) -> TonightReport:
    """Return the round of the record's day. `sizes` by animal code; a missing one counts as unknown.

    water     the homes' figures; without them substrates are felt by a plain interval
    errands   what plans of the larder and the homes ask for; those due within a week are shown
    """
    book = RuleBook(record)
    forecasts = {row.animal: row for row in forecast.animals if sound(row)}
    isolated = quarantined(record, book)
    homes = {home.home: home for home in water.homes} if water is not None else {}
    rows: list[TonightRow] = []
    situations: list[Situation] = []
    measures: list[tuple[int, Job]] = []
    for animal in record.living():
        s = Situation(
            record, book, animal, forecasts.get(animal.code), size_of(animal, sizes.get(animal.code)),
            animal.code in isolated, homes.get(animal.home),
        )  # fmt: skip
        situations.append(s)
        row, measure = _row(s)
        if measure is not None:
            measures.append((len(rows), measure))
        rows.append(row)
    rows = planned_moves(rows, situations, errands)
    _add_measures(rows, measures, int(book.ask("measure_per_round").number or 0))
    rows, later = fewer_to_feel(rows, int(book.ask("feel_homes_per_round").number or 0))
    most = int(book.ask("weigh_homes_per_round").number or 0)
    for index, job in homes_to_weigh(record, rows, homes, most):
        rows[index] = _with_job(rows[index], job)
    problems = _problems(record, book)
    return TonightReport(
        on=record.on,
        room=room,
        invented=invented,
        shelves=_shelves(record, rows),
        problems=problems[:MOST_PROBLEMS],
        notices=(
            *notices(record, forecast, book, isolated, len(problems) - MOST_PROBLEMS, situations, homes),
            *([f"{counted(later, 'more substrate')} to feel in the next rounds"] if later else ()),
        ),
        cautions=CAUTIONS,
        counts=_counts(rows),
        errands=due([each for each in errands if each.sort != "rehouse"], record.on),
    )


def jobs_of(s: Situation, leave: Leave | None) -> tuple[Job, ...]:
    """Return the jobs of one animal, most urgent first, with exactly one of offer, leave alone and wait."""
    found: list[Job | None] = [
        outcome_job(s),
        leftovers_job(s, leave),
        look_job(s, leave),
        feeding_job(s, leave),
        *water_jobs(s, leave),
        *housing_jobs(s, leave),
    ]
    return tuple(sorted((job for job in found if job is not None), key=lambda job: job.rank))


def _row(s: Situation) -> tuple[TonightRow, Job | None]:
    leave = leave_alone(s)
    jobs = jobs_of(s, leave)
    animal = s.animal
    row = TonightRow(
        animal=animal.code,
        taxon=animal.taxon,
        place=animal.place,
        home=animal.home,
        quarantined=s.quarantined,
        hazard=hazard_of(animal.taxon, s.taxon),
        jobs=jobs,
        odds=_odds(s),
        days_since_moult=s.days_since_moult,
        days_since_offer=s.days_since_offer,
        last_look=animal.last_look,
        usual=_usual(s, jobs),
        water_note="" if any(job.action in ("water", "feel") for job in jobs) else water_note(s),
    )
    asked = any(job.action == "measure" for job in jobs)
    return row, None if asked else measure_job(s, leave)


def _odds(s: Situation) -> MoultOdds | None:
    ahead = s.next_moult
    if ahead is None:
        return None
    within = [s.moult_within(days) for days in (7, 14, 30)]
    if any(chance is None for chance in within):
        return None
    seven, fourteen, thirty = (chance or 0.0 for chance in within)
    note = s.forecast.appetite if s.forecast is not None else None
    told = note.words if note is not None and (note.run >= 2 or note.signs) else ()
    return MoultOdds(
        seven, fourteen, thirty, s.unseen, ahead.n_animals, ahead.n_intervals, ahead.method, told
    )


def _usual(s: Situation, jobs: tuple[Job, ...]) -> Job | None:
    """Return what one tap does. Never an outcome, a sighting or a moult: those are evidence."""
    by_action = {job.action: job for job in reversed(jobs)}
    leave = by_action.get("leave_alone")
    if leave is not None and s.on not in s.animal.passed_over:
        return leave
    return next((by_action[action] for action in ("offer", "drink", "water") if action in by_action), None)


def _add_measures(rows: list[TonightRow], measures: list[tuple[int, Job]], most: int) -> None:
    """Ask for a few sizes only: unknown ones first, then the oldest, by code."""
    chosen = sorted(measures, key=lambda pair: (pair[1].rank, rows[pair[0]].animal))[: max(most, 0)]
    for index, job in chosen:
        rows[index] = _with_job(rows[index], job)


def _with_job(row: TonightRow, job: Job) -> TonightRow:
    return replace(row, jobs=tuple(sorted((*row.jobs, job), key=lambda each: each.rank)))


def _shelves(record: Record, rows: list[TonightRow]) -> tuple[TonightShelf, ...]:
    """Walk by the shelves' positions, then names; no shelf near the end; quarantined after everybody."""
    walk: dict[tuple[bool, str], list[TonightRow]] = {}
    for row in rows:
        walk.setdefault((row.quarantined, row.place), []).append(row)
    order = {place: walk_key(record, place) for _, place in walk}
    shelves = []
    for isolated, place in sorted(walk, key=lambda key: (key[0], order[key[1]])):
        inside = sorted(walk[(isolated, place)], key=lambda row: (row.home == "", row.home, row.animal))
        name = place or NO_SHELF
        if isolated and ((False, place) in walk or "quarantine" not in name.lower()):
            name = f"{name} ({QUARANTINE})"
        shelves.append(TonightShelf(name, tuple(inside)))
    return tuple(shelves)


def walk_key(record: Record, place: str) -> tuple[bool, float, str, str]:
    """Return the key that sorts places as they are walked: by position, then name; no place comes last."""
    described = record.places.get(place)
    position = described.position if described else None
    order = float("inf") if position is None else float(position)
    return (place == "", order, place.casefold(), place)


def _problems(record: Record, book: RuleBook) -> tuple[Problem, ...]:
    """Contradictions before doubts, each in the order of its newest entry."""
    return tuple(
        sorted(
            (*record.problems, *book.problems),
            key=lambda each: (each.severity != "contradiction", -max(each.entries, default=0), each),
        )
    )


def _counts(rows: list[TonightRow]) -> tuple[tuple[str, int], ...]:
    """How many animals have a job of each action, in the order of the contract's actions."""
    totals = Counter(action for row in rows for action in {job.action for job in row.jobs})
    return tuple((action, totals[action]) for action in get_args(Action) if totals[action])
