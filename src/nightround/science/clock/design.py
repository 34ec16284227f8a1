"""Everything about a room that does not depend on the hyperparameters, sorted and indexed once.

Intervals are sorted by taxon, animal and time, so that sums over animals and taxa run over neighbouring rows.
They fall into families by what is known of their ends; each family has its own closed form (see `sites`).
A moult found late has five cells of days and is a *node* shared by the intervals on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np

from nightround.science.clock.data import NO_DAY, ClockData, Intervals
from nightround.science.clock.priors import (
    COVARIATE_UNKNOWN_MEAN,
    COVARIATE_UNKNOWN_SD,
    READ_PLACE,
    REFERENCE_LOG_SIZE,
    UNKNOWN_SIZE_SD,
    UNKNOWN_TAXON_SIZE_SD,
    UNREAD_PLACE,
    NormalPrior,
)
from nightround.science.clock.summing import Summing, make_summing
from nightround.science.thermal import (
    BoolArray,
    FloatArray,
    IntArray,
    Moments,
    Paths,
    Warmth,
    clock_at,
    locate,
    make_paths,
    prepare_warmth,
    thermal_table,
)

CELLS: Final = 5
# The first third of an interval is passed by all but one in ten thousand.
EARLY_WATCH: Final = 0.33
# A day is a small part of intervals longer than this, so that their windows are narrow (see `sites`).
SHORT_DAYS: Final = 15


class Kind(Enum):
    """Families of intervals."""

    WINDOW = "seen from moult to moult, both days known"
    WAITING = "running since a known day"
    WIDE = "an end was found late"
    LATE = "the last moult is known but the watch began later"
    RENEWAL = "the last moult before arrival is not known"


@dataclass(frozen=True)
class Family:
    """Intervals of one kind, with their moments on the animals' thermal clocks.

    rows [n]          rows of the sorted intervals
    start [n, g]      moments of the opening moult's cells (or of the first day of watch, for renewals)
    low, high [n, h]  moments of the closing moult's cells; for a running interval low is the end of the
    last look
    entry [n]         moment from which the interval was watched (LATE only)
    running [n]       whether the interval still runs
    start_node, end_node [n]   node shared with a neighbour; -1 where the day is known
    """

    kind: Kind
    rows: IntArray
    start: Moments
    low: Moments
    high: Moments
    entry: Moments
    running: BoolArray
    start_node: IntArray
    end_node: IntArray
    cells: tuple[int, int]


@dataclass(frozen=True)
class Design:
    """A room made ready: build with `make_design`.

    order [N]           sorted row -> row of the data
    taxon_start [J+1]   first sorted row of each taxon; animal_order, animal_bounds: animals sorted by taxon
    animal, taxon [N]   of each sorted row; animals and taxa are numbered as in the data
    basis [N, d]        1, centred log size, four covariates, share in each place without readings (filled
                        later)
    basis_doubt [N, d]  sd of what is unknown in each column
    taxon_size [J]      mean log size of each taxon less the reference, and taxon_size_sd [J]
    """

    data: ClockData
    warmth: Warmth
    paths: Paths
    order: IntArray
    animal: IntArray
    taxon: IntArray
    taxon_start: IntArray
    animal_order: IntArray
    animal_bounds: IntArray
    basis: FloatArray
    basis_doubt: FloatArray
    taxon_size: FloatArray
    taxon_size_sd: FloatArray
    places: IntArray
    span: tuple[Moments, Moments]
    families: tuple[Family, ...]
    node_past: IntArray
    node_future: IntArray
    summing: Summing

    @property
    def count(self) -> int:
        return int(self.order.size)

    def place_priors(self) -> list[NormalPrior]:
        """Priors of the log rates of the places lived in, about what their readings say."""
        return [UNREAD_PLACE if self.warmth.unread[place] else READ_PLACE for place in self.places]

    @property
    def nodes(self) -> int:
        return int(self.node_past.size)


def _taxon_sizes(rows: Intervals, taxon: IntArray, data: ClockData) -> tuple[FloatArray, FloatArray]:
    taxa = data.taxa
    known = np.isfinite(rows.log_size)
    count = np.bincount(taxon[known], minlength=taxa)
    total = np.bincount(taxon[known], weights=rows.log_size[known], minlength=taxa)
    mean = np.where(count > 0, total / np.maximum(count, 1), REFERENCE_LOG_SIZE)
    return mean - REFERENCE_LOG_SIZE, np.where(
        count > 0, data.taxon_size_sd, np.maximum(data.taxon_size_sd, UNKNOWN_TAXON_SIZE_SD)
    )


def _basis(
    rows: Intervals, taxon: IntArray, taxon_size: FloatArray, shares: FloatArray
) -> tuple[FloatArray, FloatArray]:
    last = 2 + rows.covariates.shape[1]
    basis, doubt = (np.zeros((rows.count, last + shares.shape[1])) for _ in range(2))
    # Warmer than the readings say: fewer recorded days at 25 C are needed.
    basis[:, last:] = -shares
    basis[:, 0] = 1.0
    known = np.isfinite(rows.log_size)
    centred = rows.log_size - REFERENCE_LOG_SIZE - taxon_size[taxon]
    basis[:, 1] = np.where(known, centred, 0.0)
    doubt[:, 1] = np.where(known, np.nan_to_num(rows.log_size_sd), UNKNOWN_SIZE_SD)
    seen = np.isfinite(rows.covariates)
    # A covariate known of no row at all is part of the residual: its coefficient says nothing here.
    unknown = ~seen & seen.any(axis=0)
    basis[:, 2:last] = np.where(seen, rows.covariates, np.where(unknown, COVARIATE_UNKNOWN_MEAN, 0.0))
    doubt[:, 2:last] = np.where(unknown, COVARIATE_UNKNOWN_SD, 0.0)
    return basis, doubt


def _sort(data: ClockData) -> tuple[IntArray, Intervals]:
    rows = data.intervals
    begun = np.where(rows.start_last == NO_DAY, rows.watched_from, rows.start_last)
    order = np.lexsort((rows.running, begun, rows.animal, data.animal_taxon[rows.animal]))
    return order, rows.only(order)


def _nodes(rows: Intervals) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Number the moults found late.

    Returns start_node, end_node [N] and past, future rows of each node [M].
    """
    count = rows.count
    start_wide = (rows.start_last != NO_DAY) & (rows.start_last > rows.start_first)
    end_wide = ~rows.running & (rows.end_last > rows.end_first)
    follows = np.zeros(count, dtype=bool)
    follows[1:] = (
        (rows.animal[1:] == rows.animal[:-1])
        & (rows.start_first[1:] == rows.end_first[:-1])
        & (rows.start_last[1:] == rows.end_last[:-1])
    )
    end_node = np.where(end_wide, np.cumsum(end_wide) - 1, -1)
    ends = int(end_wide.sum())
    own = start_wide & ~follows
    start_node = np.where(own, ends + np.cumsum(own) - 1, -1)
    shared = start_wide & follows
    start_node[shared] = end_node[np.flatnonzero(shared) - 1]
    past, future = np.full(ends + int(own.sum()), -1), np.full(ends + int(own.sum()), -1)
    past[end_node[end_wide]] = np.flatnonzero(end_wide)
    future[start_node[start_wide]] = np.flatnonzero(start_wide)
    return start_node, end_node, past, future


def _edges(first: IntArray, last: IntArray, cells: int) -> FloatArray:
    """Edges of equal cells from the start of the first day to the end of the last [n, cells + 1]."""
    return np.asarray(first[:, None] + (last + 1 - first)[:, None] * np.linspace(0.0, 1.0, cells + 1))


def _kinds(rows: Intervals, start_node: IntArray, end_node: IntArray) -> dict[Kind, BoolArray]:
    unknown = rows.start_last == NO_DAY
    # A watch that began early in the interval tells nothing by beginning: survival to it was certain.
    until = np.where(rows.running, rows.looked, rows.end_first)
    unseen_part = (rows.watched_from - rows.start_last) / np.maximum(until - rows.start_last, 1)
    late = ~unknown & (rows.watched_from != NO_DAY) & (unseen_part > EARLY_WATCH)
    wide = ~unknown & ~late & ((start_node >= 0) | (end_node >= 0))
    plain = ~unknown & ~late & ~wide
    return {
        Kind.WINDOW: plain & ~rows.running,
        Kind.WAITING: plain & rows.running,
        Kind.WIDE: wide,
        Kind.LATE: late,
        Kind.RENEWAL: unknown,
    }


def _parts(
    kind: Kind, chosen: BoolArray, rows: Intervals, node: tuple[IntArray, IntArray]
) -> list[BoolArray]:
    """Split so that no row carries cells it does not need, and short intervals apart from long ones."""
    if kind is Kind.WINDOW:
        short = rows.end_first - rows.start_first < SHORT_DAYS
        return [chosen & short, chosen & ~short]
    if kind is not Kind.WIDE:
        return [chosen]
    late_start, late_end = node[0] >= 0, node[1] >= 0
    closed = chosen & ~rows.running
    parts = [closed & (late_start == start) & (late_end == end) for start in (0, 1) for end in (0, 1)]
    return [*parts, *(chosen & rows.running & (late_start == start) for start in (0, 1))]


def _family(
    kind: Kind,
    chosen: BoolArray,
    rows: Intervals,
    node: tuple[IntArray, IntArray],
    paths: Paths,
    warmth: Warmth,
) -> Family:
    at = np.flatnonzero(chosen)
    start_node, end_node = node[0][at], node[1][at]
    running = np.asarray(rows.running[at])
    cells = (CELLS if np.any(start_node >= 0) else 1, CELLS if np.any(end_node >= 0) else 1)
    columns = warmth.exponent.shape[1] + 1

    def moments(days: FloatArray) -> Moments:
        return locate(
            paths, np.repeat(rows.animal[at], days.shape[1]), days.ravel(), warmth.first_day, columns
        )

    known = rows.start_last[at] != NO_DAY
    first = np.where(known, rows.start_first[at], rows.watched_from[at])
    last = np.where(known, rows.start_last[at], rows.watched_from[at])
    start_edges = _edges(first, last, cells[0])
    start = (start_edges[:, 1:] + start_edges[:, :-1]) / 2.0
    start[start_node < 0, 0] = first[start_node < 0] + np.where(known[start_node < 0], 0.5, 0.0)
    after_look = rows.looked[at].astype(np.float64) + 1.0
    edges = _edges(
        np.where(running, 0, rows.end_first[at]), np.where(running, 0, rows.end_last[at]), cells[1]
    )
    narrow = ~running & (end_node < 0)
    low, high = edges[:, :-1].copy(), edges[:, 1:].copy()
    high[narrow, 0] = rows.end_last[at][narrow] + 1.0
    low[running] = after_look[running, None]
    high[running] = after_look[running, None]
    entry = np.maximum(rows.watched_from[at], first).astype(np.float64)
    return Family(
        kind,
        at,
        moments(start),
        moments(low),
        moments(high),
        moments(entry[:, None]),
        running,
        start_node,
        end_node,
        cells,
    )


def _span_moments(rows: Intervals, paths: Paths, warmth: Warmth) -> tuple[Moments, Moments]:
    """Begin and end of each interval, taken at the middle of late-found days."""
    known = rows.start_last != NO_DAY
    begin = np.where(known, (rows.start_first + rows.start_last + 1) / 2.0, rows.watched_from)
    end = np.where(rows.running, rows.looked + 1.0, (rows.end_first + rows.end_last + 1) / 2.0)
    columns = warmth.exponent.shape[1] + 1
    return (
        locate(paths, rows.animal, begin, warmth.first_day, columns),
        locate(paths, rows.animal, np.maximum(end, begin + 0.5), warmth.first_day, columns),
    )


def place_shares(places: IntArray, paths: Paths, warmth: Warmth, span: tuple[Moments, Moments]) -> FloatArray:
    """Share of each interval's warmth that came from each place, at the usual Q10 [N, len(places)]."""
    table = thermal_table(warmth, float(np.log(2.5))).elapsed
    if places.size == 1 or paths.is_first.all():
        return np.asarray(paths.place[span[0].stay][:, None] == places, dtype=np.float64)
    shares = np.empty((span[0].stay.size, places.size))
    for index, place in enumerate(places):
        own = np.zeros_like(table)
        own[place] = table[place]
        begin, end = (clock_at(paths, own, warmth.first_day, moments) for moments in span)
        shares[:, index] = end - begin
    return np.asarray(shares / np.maximum(shares.sum(axis=1, keepdims=True), 1e-9))


def make_design(data: ClockData) -> Design:
    """Sort, classify and index a room; needed once, whatever the hyperparameters."""
    order, rows = _sort(data)
    taxon = data.animal_taxon[rows.animal]
    warmth = prepare_warmth(data.climate)
    paths = make_paths(data.stays, data.animals)
    taxon_size, taxon_size_sd = _taxon_sizes(rows, taxon, data)
    lived_in = np.unique(paths.place)
    span = _span_moments(rows, paths, warmth)
    shares = place_shares(lived_in, paths, warmth, span)
    basis, doubt = _basis(rows, taxon, taxon_size, shares)
    start_node, end_node, past, future = _nodes(rows)
    kinds = _kinds(rows, start_node, end_node)
    families = tuple(
        _family(kind, part, rows, (start_node, end_node), paths, warmth)
        for kind, chosen in kinds.items()
        for part in _parts(kind, chosen, rows, (start_node, end_node))
        if part.any()
    )
    span = _span_moments(rows, paths, warmth)
    animal_order = np.argsort(data.animal_taxon, kind="stable")
    numbers = np.arange(data.taxa + 1)
    return Design(
        data,
        warmth,
        paths,
        order,
        rows.animal,
        taxon,
        np.searchsorted(taxon, numbers),
        animal_order,
        np.searchsorted(data.animal_taxon[animal_order], numbers),
        basis,
        doubt,
        taxon_size,
        taxon_size_sd,
        lived_in,
        span,
        families,
        past,
        future,
        make_summing(rows.animal, taxon, data.animal_taxon, data.taxa),
    )


@dataclass(frozen=True)
class Timed:
    """A family's lengths under one Q10, as logs of days at 25 C: low, high [n, g, h], entry [n, g]."""

    log_low: FloatArray
    log_high: FloatArray
    log_entry: FloatArray


def log_length(length: FloatArray) -> FloatArray:
    """Log of a length; nothing and less than nothing are as good as nothing."""
    return np.log(np.maximum(length, 1e-15))


def time_families(design: Design, log_q10: float) -> tuple[tuple[Timed, ...], FloatArray, FloatArray]:
    """Lengths of all families.

    By row: log-variance from missing days, elapsed.
    """
    table = thermal_table(design.warmth, log_q10)
    first_day, paths = table.first_day, design.paths

    def at(moments: Moments, cells: int) -> FloatArray:
        return clock_at(paths, table.elapsed, first_day, moments).reshape(-1, cells)

    timed = []
    for family in design.families:
        start = at(family.start, family.cells[0])
        low, high = at(family.low, family.cells[1]), at(family.high, family.cells[1])
        log_low = log_length(low[:, None, :] - start[:, :, None])
        log_high = log_length(high[:, None, :] - start[:, :, None])
        log_high[family.running] = np.inf
        log_entry = log_length(at(family.entry, 1) - start) if family.kind is Kind.LATE else log_low[:, :, 0]
        timed.append(Timed(log_low, log_high, log_entry))
    begin, end = (clock_at(paths, table.elapsed, first_day, moments) for moments in design.span)
    elapsed = np.maximum(end - begin, 1e-9)
    doubt = np.zeros_like(elapsed)
    if table.doubtful[:, -1].any():
        begin_doubt, end_doubt = (clock_at(paths, table.doubtful, first_day, m) for m in design.span)
        doubt = np.minimum(np.abs(end_doubt - begin_doubt) / elapsed, 1.0)
    return tuple(timed), doubt**2, elapsed
