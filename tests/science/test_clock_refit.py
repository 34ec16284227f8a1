"""A fit that takes in a few entries gives what a whole new fit gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.clock_speed import largest_gap, without_last_moult
from nightround.science.clock.data import ClockData
from nightround.science.clock.draw import DrawnRoom, RoomShape, draw_room
from nightround.science.clock.fit import fit
from nightround.science.clock.forecast import forecast
from nightround.science.clock.part import part_of
from nightround.science.clock.refit import refit
from nightround.science.thermal import IntArray


@pytest.fixture(scope="module")
def drawn() -> DrawnRoom:
    return draw_room(np.random.default_rng(31), RoomShape(animals=60, taxa=6, late_share=0.3))


def moulted_often(data: ClockData) -> IntArray:
    """Animals that run and have two or more closed intervals."""
    running = data.intervals.animal[data.intervals.running]
    closed = np.bincount(data.intervals.animal[~data.intervals.running], minlength=data.animals)
    return np.asarray(running[closed[running] >= 2])


def test_one_moult_taken_in_equals_the_whole_fit(drawn: DrawnRoom) -> None:
    """Within 0.02 posterior sd for every row, and 0.003 in every chance of a moult."""
    whole = fit(drawn.data)
    said = forecast(whole, drawn.asked, drawn.on, drawn.expected)
    for animal in moulted_often(drawn.data)[[0, 7, 20]]:
        earlier = fit(without_last_moult(drawn.data, int(animal)))
        taken_in = refit(earlier, drawn.data)
        assert taken_in.points[0].theta.tolist() == earlier.points[0].theta.tolist(), "no new search"
        assert largest_gap(taken_in, whole) < 0.02
        now = forecast(taken_in, drawn.asked, drawn.on, drawn.expected)
        assert float(np.abs(now.within - said.within).max()) < 0.003


def test_an_evening_of_moults_one_by_one_stays_near_the_whole_fit(drawn: DrawnRoom) -> None:
    """Five moults taken in one after another: still within 0.05 sd of the whole fit."""
    animals = [int(animal) for animal in moulted_often(drawn.data)[[2, 5, 9, 14, 21]]]
    rooms = [drawn.data]
    for animal in animals:
        rooms.append(without_last_moult(rooms[-1], animal))
    running = fit(rooms[-1])
    for room in reversed(rooms[:-1]):
        running = refit(running, room)
    assert largest_gap(running, fit(drawn.data)) < 0.05


def test_nothing_new_changes_nothing(drawn: DrawnRoom) -> None:
    """Not one digit: the same day asked about again gives the same odds."""
    whole = fit(drawn.data)
    assert refit(whole, drawn.data) is whole


def test_a_room_with_another_animal_is_fitted_anew(drawn: DrawnRoom) -> None:
    """Numbers of animals mean nothing across rooms of other animals: the fit is a whole one."""
    data = drawn.data
    last = data.animals - 1
    rows = data.intervals
    keep = rows.animal != last
    smaller = replace(
        data,
        animal_taxon=data.animal_taxon[:last],
        animal_size_sd=data.animal_size_sd[:last],
        chance_last=data.chance_last[:last],
        stays=replace(
            data.stays,
            animal=data.stays.animal[data.stays.animal != last],
            place=data.stays.place[data.stays.animal != last],
            from_day=data.stays.from_day[data.stays.animal != last],
        ),
        intervals=rows.only(keep),
    )
    taken_in = refit(fit(smaller), data)
    assert taken_in.design.data.animals == data.animals
    assert largest_gap(taken_in, fit(data)) < 0.05


def test_a_part_holds_the_same_rows_and_moments(drawn: DrawnRoom) -> None:
    """Rows, days on the clock and shared moults of a part are those of the whole."""
    whole = fit(drawn.data).design
    chosen = np.zeros(drawn.data.animals, dtype=bool)
    chosen[[3, 11, 40]] = True
    part = part_of(whole, chosen)
    assert set(part.animals[part.design.animal]) == {3, 11, 40}
    assert np.array_equal(part.design.basis, whole.basis[part.rows])
    assert sum(family.rows.size for family in part.design.families) == part.rows.size
    both = part.design.node_past[part.design.node_past >= 0]
    assert np.array_equal(part.rows[both], whole.node_past[part.nodes][whole.node_past[part.nodes] >= 0])
