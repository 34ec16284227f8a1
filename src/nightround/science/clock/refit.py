"""Take a few new entries into a fit without searching for the hyperparameters again.

The points of the earlier fit stand. At each of them only the rows of the animals concerned are swept anew,
against the rest of the room as its messages left it; each point's weight then changes by what the new rows
say of it. What drifts apart over many entries is set right by the next full fit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nightround.science.clock.blocks import (
    Animals,
    Layout,
    Solved,
    eliminate_animals,
    level_doubt,
    make_layout,
    solve_above,
)
from nightround.science.clock.data import ClockData
from nightround.science.clock.design import CELLS, Design, make_design
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.clock.part import Part, joined, part_of
from nightround.science.clock.propagate import (
    Hyper,
    Messages,
    Propagated,
    Settled,
    Timing,
    cavities,
    first_messages,
    log_evidence,
    log_scales,
    settle,
    timing_of,
)
from nightround.science.thermal import BoolArray, FloatArray, IntArray

# More than this share of the animals concerned, or so many nats of news about the hyperparameters: fit anew.
MOST_CONCERNED: Final = 0.5
MOST_NEWS: Final = 1.0
_TOLERANCE: Final = 1e-2


def refit(fitted: ClockFit, data: ClockData) -> ClockFit:
    """Take in what differs between the fit's room and `data`; falls back to a full fit where it must.

    data   the same animals, taxa, places and climate; intervals may have closed, opened or been looked at
    """
    if not _same_room(fitted.design.data, data):
        return fit(data, warm=fitted)
    design = make_design(data)
    match = _match(fitted.design, design)
    concerned = np.zeros(data.animals, dtype=bool)
    concerned[design.animal[match.old_row < 0]] = True
    concerned[fitted.design.animal[match.lost]] = True
    if not concerned.any() and _same_columns(fitted.design, design):
        return fitted
    concerned |= _swayed(fitted, concerned)
    if concerned.mean() > MOST_CONCERNED:
        return fit(data, warm=fitted)
    layout = replace(make_layout(design), slope_news=fitted.slope_news)
    task = _Task(design, layout, part_of(design, concerned), match, fitted.coefficient_square)
    points = tuple(_point(task, point) for point in fitted.points)
    news = np.array(
        [new.log_evidence - old.log_evidence for new, old in zip(points, fitted.points, strict=True)]
    )
    news -= fitted.weight @ news
    if np.abs(news).max() > MOST_NEWS:
        return fit(data, warm=fitted)
    weight = fitted.weight * np.exp(news)
    weight /= weight.sum()
    moved = (weight - fitted.weight) @ fitted.hyper()
    return replace(
        fitted,
        design=design,
        points=points,
        weight=weight,
        mode=fitted.mode + moved,
        start=_carried(fitted.start, task, fitted.start.log_length),
    )


def _same_room(old: ClockData, new: ClockData) -> bool:
    """Whether animals, taxa and climate are the same, so that numbers and messages keep their meaning."""
    return (
        np.array_equal(old.animal_taxon, new.animal_taxon)
        and np.array_equal(old.taxon_group, new.taxon_group)
        and old.climate.first_day == new.climate.first_day
        and np.array_equal(old.climate.temperature_c, new.climate.temperature_c, equal_nan=True)
        and all(
            np.array_equal(a, b)
            for a, b in zip(vars(old.stays).values(), vars(new.stays).values(), strict=True)
        )
    )


def _same_columns(old: Design, new: Design) -> bool:
    return np.array_equal(old.basis, new.basis) and np.array_equal(old.basis_doubt, new.basis_doubt)


def _swayed(fitted: ClockFit, concerned: BoolArray) -> BoolArray:
    """Animals that news of their taxon may sway: an odd interval of theirs can be read in two ways [A].

    Such rows have messages of negative precision, and follow their taxon by more than the others do.
    """
    design = fitted.design
    taxa = np.zeros(design.data.taxa, dtype=bool)
    taxa[design.data.animal_taxon[concerned]] = True
    odd = np.zeros(concerned.size, dtype=bool)
    odd[design.animal[(fitted.start.precision < 0.0) & taxa[design.taxon]]] = True
    return odd


@dataclass(frozen=True)
class _Match:
    """Rows and nodes of the new design in the old one: -1 where new; `lost`: old rows that are gone."""

    old_row: IntArray
    old_node: IntArray
    lost: IntArray


def _match(old: Design, new: Design) -> _Match:
    """Rows with the same animal and days are the same row."""
    keys = [_keys(design) for design in (old, new)]
    place = {key: row for row, key in enumerate(keys[0])}
    old_row = np.array([place.get(key, -1) for key in keys[1]], dtype=np.int64)
    lost = np.setdiff1d(np.arange(old.count), old_row)
    past = {int(row): node for node, row in enumerate(old.node_past) if row >= 0}
    future = {int(row): node for node, row in enumerate(old.node_future) if row >= 0}
    old_node = np.full(new.nodes, -1)
    for node, (before, after) in enumerate(zip(new.node_past, new.node_future, strict=True)):
        found = past.get(int(old_row[before]), -1) if before >= 0 else -1
        old_node[node] = future.get(int(old_row[after]), -1) if found < 0 and after >= 0 else found
    return _Match(old_row, old_node, lost)


def _keys(design: Design) -> list[bytes]:
    rows = design.data.intervals
    columns = (
        rows.animal,
        rows.start_first,
        rows.start_last,
        rows.end_first,
        rows.end_last,
        rows.watched_from,
    )
    table = np.stack([*columns, np.where(rows.running, rows.looked, -1)], axis=1)[design.order]
    width = table.shape[1] * table.itemsize
    raw = np.ascontiguousarray(table).tobytes()
    return [raw[at : at + width] for at in range(0, len(raw), width)]


@dataclass(frozen=True)
class _Task:
    """What all points share."""

    design: Design
    layout: Layout
    part: Part
    match: _Match
    square: FloatArray


def _carried(old: Messages, task: _Task, log_length: FloatArray) -> Messages:
    """The old messages in the new order; rows and moults that are new say nothing yet."""
    row, node = task.match.old_row, task.match.old_node
    return Messages(
        _taken(old.precision, row, 1e-6),
        _taken(old.pull, row, 0.0),
        _taken(log_length, row, 0.0),
        _taken(old.forward, node, 1.0 / CELLS),
        _taken(old.backward, node, 1.0),
    )


def _taken(old: FloatArray, at: IntArray, otherwise: float) -> FloatArray:
    """Values at these places, `otherwise` where the place is -1."""
    out = np.full((at.size, *old.shape[1:]), otherwise)
    out[at >= 0] = old[at[at >= 0]]
    return out


def _point(task: _Task, point: Propagated) -> Propagated:
    """One setting of the hyperparameters: sweep the part against the rest, then tell all rows."""
    part = task.part
    hyper = Hyper.of(point.theta)
    timing = timing_of(part.design, hyper.log_q10, task.square)
    messages = _carried(point.messages, task, point.messages.log_length)
    mine = _first(task, hyper, messages, timing)
    rest = _rest(task, hyper, messages)

    variance = hyper.spreads.animal**2 + level_doubt(part.design, task.square)

    def solver(now: Messages) -> Solved:
        own = eliminate_animals(part.design, variance, part.design.basis, now.precision, now.pull)
        own = replace(own, inner=own.inner + rest.inner, inner_pull=own.inner_pull + rest.inner_pull)
        return solve_above(part.design, task.layout, hyper.spreads, part.design.basis, own)

    found = settle(part.design, hyper, timing, mine, solver, _TOLERANCE)
    return _spread(task, point, hyper, messages, rest, found, timing.extra)


def _first(task: _Task, hyper: Hyper, messages: Messages, timing: Timing) -> Messages:
    """Where the part's sweeps start: known rows as they were, new rows as in a first fit."""
    part = task.part
    fresh = first_messages(part.design, hyper, timing)
    known = task.match.old_row[part.rows] >= 0
    return Messages(
        np.where(known, messages.precision[part.rows], fresh.precision),
        np.where(known, messages.pull[part.rows], fresh.pull),
        timing.log_length,
        messages.forward[part.nodes],
        messages.backward[part.nodes],
    )


def _rest(task: _Task, hyper: Hyper, messages: Messages) -> Animals:
    """All animals eliminated, the concerned ones silent."""
    precision, pull = messages.precision.copy(), messages.pull.copy()
    precision[task.part.rows] = pull[task.part.rows] = 0.0
    variance = hyper.spreads.animal**2 + level_doubt(task.design, task.square)
    return eliminate_animals(task.design, variance, task.design.basis, precision, pull)


def _spread(
    task: _Task,
    point: Propagated,
    hyper: Hyper,
    messages: Messages,
    rest: Animals,
    found: Settled,
    extra: FloatArray,
) -> Propagated:
    """Put the part back into the room and find every row's linear predictor."""
    design, part, old = task.design, task.part, task.match.old_row
    messages = Messages(
        joined(messages.precision, found.messages.precision, part.rows),
        joined(messages.pull, found.messages.pull, part.rows),
        joined(messages.log_length, found.messages.log_length, part.rows),
        joined(messages.forward, found.messages.forward, part.nodes),
        joined(messages.backward, found.messages.backward, part.nodes),
    )
    own, who = found.solved.levels[0], part.animals
    animals = Animals(
        rest.prior,
        joined(rest.precision, own.precision, who),
        joined(rest.pull, own.pull, who),
        joined(rest.lever, own.lever, who),
        own.inner,
        own.inner_pull,
    )
    solved = solve_above(design, task.layout, hyper.spreads, design.basis, animals)
    scale = joined(point.log_scale[old], log_scales(part.design, found), part.rows)
    return Propagated(
        point.theta,
        log_evidence(design, solved, scale, messages),
        solved,
        messages,
        *cavities(solved, messages),
        joined(point.extra[old], extra, part.rows),
        scale,
        point.gradient,
        found.sweeps,
    )
