"""Some animals of a room as a room of their own; taxa, groups and places are numbered as in the whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from nightround.science.clock.data import ClockData
from nightround.science.clock.design import Design, Family
from nightround.science.clock.summing import make_summing
from nightround.science.thermal import BoolArray, FloatArray, IntArray, Moments, Stays


@dataclass(frozen=True)
class Part:
    """A part of a design, and where in the whole its pieces lie.

    animals [a], rows [n], nodes [m]   of the whole, in order
    """

    design: Design
    animals: IntArray
    rows: IntArray
    nodes: IntArray


def part_of(whole: Design, chosen: BoolArray) -> Part:
    """Take the rows of the chosen animals [A] out of a design."""
    keep = chosen[whole.animal]
    rows = np.flatnonzero(keep)
    new_row = np.cumsum(keep) - 1
    # A moult found late is shared by rows of one animal, so it is in the part with both or with none.
    owner = np.where(whole.node_past >= 0, whole.node_past, whole.node_future)
    in_part = keep[owner]
    nodes = np.flatnonzero(in_part)
    new_node = np.cumsum(in_part) - 1

    def renumber(old: IntArray, new: IntArray) -> IntArray:
        return np.asarray(np.where(old >= 0, new[old], -1) if new.size else old)

    families = tuple(
        _family(family, keep, new_row, lambda node: renumber(node, new_node))
        for family in whole.families
        if keep[family.rows].any()
    )
    taxon = whole.taxon[rows]
    animals = np.flatnonzero(chosen)
    data = _data(whole, animals, rows)
    order = np.argsort(data.animal_taxon, kind="stable")
    design = replace(
        whole,
        data=data,
        order=np.arange(rows.size),
        animal=data.intervals.animal,
        animal_order=order,
        animal_bounds=np.searchsorted(data.animal_taxon[order], np.arange(data.taxa + 1)),
        taxon=taxon,
        taxon_start=np.searchsorted(taxon, np.arange(whole.data.taxa + 1)),
        basis=whole.basis[rows],
        basis_doubt=whole.basis_doubt[rows],
        span=(_moments(whole.span[0], rows, 1), _moments(whole.span[1], rows, 1)),
        families=families,
        node_past=renumber(whole.node_past[nodes], new_row),
        node_future=renumber(whole.node_future[nodes], new_row),
        summing=make_summing(data.intervals.animal, taxon, data.animal_taxon, data.taxa),
    )
    return Part(design, animals, rows, nodes)


def _data(whole: Design, animals: IntArray, rows: IntArray) -> ClockData:
    """The animals' own data, in the order of the sorted rows."""
    data = whole.data
    number = np.full(data.animals, -1)
    number[animals] = np.arange(animals.size)
    stays = np.flatnonzero(number[data.stays.animal] >= 0)
    intervals = data.intervals.only(whole.order[rows])
    return replace(
        data,
        animal_taxon=data.animal_taxon[animals],
        animal_size_sd=data.animal_size_sd[animals],
        chance_last=data.chance_last[animals],
        stays=Stays(number[data.stays.animal[stays]], data.stays.place[stays], data.stays.from_day[stays]),
        intervals=replace(intervals, animal=number[intervals.animal]),
    )


def _family(
    family: Family, keep: BoolArray, new_row: IntArray, renumber: Callable[[IntArray], IntArray]
) -> Family:
    at = np.flatnonzero(keep[family.rows])
    return Family(
        family.kind,
        new_row[family.rows[at]],
        _moments(family.start, at, family.cells[0]),
        _moments(family.low, at, family.cells[1]),
        _moments(family.high, at, family.cells[1]),
        _moments(family.entry, at, 1),
        family.running[at],
        renumber(family.start_node[at]),
        renumber(family.end_node[at]),
        family.cells,
    )


def _moments(moments: Moments, at: IntArray, cells: int) -> Moments:
    """The moments of the rows `at`, each with its cells."""
    places = (at[:, None] * cells + np.arange(cells)).ravel()
    return Moments(moments.stay[places], moments.column[places], moments.part[places])


def joined(whole: FloatArray, part: FloatArray, rows: IntArray) -> FloatArray:
    """A copy of the whole with the part's rows in place."""
    out = whole.copy()
    out[rows] = part
    return out
