"""The trial rooms on which plans are held against naive rules: one set of lives, nothing lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np
import pytest

from nightround.record.model import Record
from nightround.simulate.policies import (
    PACKS,
    VESSELS,
    Feeding,
    HomePolicy,
    Limits,
    MoveWanted,
    OrderPolicy,
    SameEveryWeek,
    Shape,
    Tally,
    TrialRoom,
    Vessel,
    View,
    WhenItLooksSmall,
    lives_of,
    naive,
    run_trial,
)
from nightround.simulate.policies.goods import FEEDERS
from nightround.simulate.policies.tubs import Larder

SMALL = Shape(animals=8, warm_up_weeks=20, weeks=26)


class TwoSpans:
    """A plain judge: floor of two leg spans, gaps under nine tenths of the carapace."""

    def limits(self, taxon: str, vessel: Vessel, depth_mm: float) -> Limits:
        """Any small animal, and floors of two spans."""
        return Limits(0.0, vessel.floor_mm / 2, 0.9 * vessel.gap_mm)

    def depth_mm(self, taxon: str, vessel: Vessel, low_span_mm: float, high_span_mm: float) -> float | None:
        """Two fifths of the height."""
        return 0.4 * vessel.size.height_mm


class Idle:
    """Moves nobody and orders nothing."""

    def moves(self, view: View) -> Sequence[MoveWanted]:
        """None."""
        return []

    def buys(self, view: View) -> Mapping[str, int]:
        """None."""
        return {}

    def orders(self, view: View) -> Mapping[str, int]:
        """None."""
        return {}


def idle(room: TrialRoom, mean_use: Mapping[str, float]) -> tuple[HomePolicy, OrderPolicy]:
    """Nothing is done."""
    return Idle(), Idle()


def view_of(
    spans: Mapping[str, float], vessel: str, *, week: int = 0, since: int = 100, pending: str = ""
) -> View:
    """A Sunday on which animals seem to span so much in one vessel, all of them ground dwellers."""

    def record() -> Record:
        raise AssertionError("naive rules read no record")

    lives = lives_of(1, SMALL)
    return View(
        lives.climate.first, week, record, dict.fromkeys(spans, ("Grammostola pulchripes", "ground")),
        dict.fromkeys(spans, VESSELS[vessel]), dict.fromkeys(spans, since), {},
        frozenset([pending] if pending else []), lambda code: spans[code], {}, {},
    )  # fmt: skip


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("make", [naive, idle])
def test_feeders_are_neither_lost_nor_made(seed: int, make: object) -> None:
    """In the house at the start and bought = fed, died, outgrown and left: to the last feeder."""
    tally = run_trial(seed, lives_of(seed, SMALL), TwoSpans(), make, SMALL)  # type: ignore[arg-type]
    assert tally.start + tally.bought == tally.fed + tally.wasted
    assert tally.left <= tally.wasted
    assert min(asdict(tally).values()) >= 0
    assert tally.fed > 0


def test_packs_are_what_is_bought_and_paid() -> None:
    """Feeders bought come in whole packs at their prices."""
    seed = 4
    room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
    room.warm()

    class OnePack:
        def orders(self, view: View) -> Mapping[str, int]:
            return {"crickets 5 mm": 1}

    room.run(SMALL.days, Idle(), OnePack())
    tally = room.close()
    # The last Sunday's order is still on its way; that of the warm-up's last came in the trial.
    of_trial = tally.bought - (SMALL.weeks - 1) * PACKS["crickets 5 mm"].number
    assert 0 <= of_trial <= sum(pack.number for pack in PACKS.values())
    assert tally.packs >= SMALL.weeks - 1
    assert tally.feeders_cost >= (SMALL.weeks - 1) * PACKS["crickets 5 mm"].price


def test_one_seed_has_the_same_lives_under_every_policy() -> None:
    """Who is kept, how long, and what is written of moults and sizes does not depend on what is planned."""
    seed, told = 5, []
    for make in (naive, idle):
        room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
        room.run(SMALL.days, *make(room, room.warm()))
        of_lives = [
            (entry.kind, entry.about, entry.when, entry.body)
            for entry in room.book.entries
            if entry.kind in ("moulted", "measured", "seen", "died", "matured", "reading")
        ]
        told.append((of_lives, room.tally.animal_days, room.tally.animal_weeks))
    assert told[0] == told[1]
    again = lives_of(seed, SMALL)
    assert np.array_equal(again.carapace_mm, lives_of(seed, SMALL).carapace_mm)
    assert not np.array_equal(again.carapace_mm, lives_of(seed + 1, SMALL).carapace_mm)


def test_the_warm_up_is_the_same_whatever_comes_after() -> None:
    """Both policies take over the same room: the same animals in the same homes, the same tubs and use."""
    seed, states = 6, []
    for _ in range(2):
        room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
        use = room.warm()
        homes = {dweller.code: dweller.home for dweller in room.dwellers.values()}
        states.append((use, homes, room.larder.stock(), room.book.entries))
    assert states[0] == states[1]
    assert sum(states[0][0].values()) > 0


def test_without_orders_the_animals_go_short() -> None:
    """Ordering nothing leads to days of shortage, and to more of them than a standing order."""
    for seed in (1, 2):
        lives = lives_of(seed, SMALL)
        nothing = run_trial(seed, lives, TwoSpans(), idle, SMALL)
        standing = run_trial(seed, lives, TwoSpans(), naive, SMALL)
        assert nothing.shortage_days > standing.shortage_days
        assert nothing.moves == 0 < standing.packs


def test_moves_wait_for_calm_animals() -> None:
    """No animal is moved in premoult or while hardening, whatever the policy wants."""
    seed = 7
    lives = lives_of(seed, SMALL)
    room = TrialRoom(seed, lives, TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)

    class Restless:
        def moves(self, view: View) -> Sequence[MoveWanted]:
            return [MoveWanted(code, "low 400", 60.0) for code in view.living]

        def buys(self, view: View) -> Mapping[str, int]:
            return {}

    room.warm()
    before = len(room.book.entries)
    room.run(SMALL.days, Restless(), Idle())
    index_of = {dweller.code: index for index, dweller in room.dwellers.items()}
    moved = [entry for entry in room.book.entries[before:] if entry.kind == "moved"]
    assert len(moved) == room.tally.moves > 20
    for entry in moved:
        assert entry.when.last is not None
        assert lives.calm[index_of[entry.about.code], lives.climate.column(entry.when.last)]
    assert room.tally.waited_days > 0


def test_a_home_is_lived_in_by_one() -> None:
    """No vessel holds two animals, and an emptied one is used again before another is bought."""
    seed = 8
    room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
    room.run(SMALL.days, *naive(room, room.warm()))
    here = [room.dwellers[index].home for index in room.lives.here(SMALL.days - 1)]
    assert len(here) == len(set(here))
    free = [code for codes in room.homes.free.values() for code in codes]
    assert not set(free) & set(here)
    assert len(free) == len(set(free))


def test_rehoused_when_it_looks_small() -> None:
    """Every four weeks, under two spans of floor as it seems, one size up; not just moved, not twice."""
    rule = WhenItLooksSmall(TwoSpans())
    seen = {"cramped": 61.0, "roomy": 59.0}
    assert [m.animal for m in rule.moves(view_of(seen, "low 120"))] == ["cramped"]
    assert [m.vessel for m in rule.moves(view_of(seen, "low 120"))] == ["low 200"]
    assert rule.moves(view_of(seen, "low 120", week=2)) == []
    assert rule.moves(view_of(seen, "low 120", since=13)) == []
    assert rule.moves(view_of(seen, "low 120", pending="cramped")) == []
    assert rule.moves(view_of({"giant": 300.0}, "low 400")) == []


def test_the_same_order_every_week_adds_up_to_the_mean_use() -> None:
    """Over a year the standing order buys what the first weeks used, to within a pack, in an even rhythm."""
    use = {"crickets 5 mm": 9.0, "fruit flies": 75.0}
    rule = SameEveryWeek(use)
    weeks = [rule.orders(view_of({}, "low 120", week=week)) for week in range(52)]
    for name, mean in use.items():
        got = sum(order.get(name, 0) for order in weeks) * PACKS[name].number
        assert abs(got - 52 * mean) <= PACKS[name].number
        packs = [order.get(name, 0) for order in weeks]
        assert max(packs) - min(packs) <= 1


def test_feeders_grow_by_thermal_time() -> None:
    """Crickets need 555.6 degree-days over 16.2 C from hatching to adult (Gryllus bimaculatus, published)."""
    larder = Larder(1)
    tub = larder.arrive(PACKS["crickets 3 mm"], 0, 0)
    tub.share, tub.growth, tub.dying = 0.0, 1.0, 0.0
    days = 0
    while tub.share < 1.0:
        larder.day(days, 28.2)
        days += 1
    assert days == round(555.6 / 12.0 + 0.5)
    assert tub.length_mm == pytest.approx(FEEDERS["field cricket"].adult_mm)


def test_a_meal_is_what_the_rule_allows() -> None:
    """Half a body at most alive, several small instead of one, tiny prey for anybody, nothing otherwise."""
    rule = Feeding()
    assert rule.number(20.0, 10.0) == 1
    assert rule.number(20.0, 10.1) == 0
    assert rule.number(20.0, 4.0) == 2
    assert rule.number(20.0, 2.6) == 3
    assert rule.number(40.0, 2.6) == 0
    assert rule.number(4.5, 2.6) == 2
    assert rule.number(4.5, 2.8) == 0
    assert rule.number(2.0, 25.0) == 1
    assert rule.number(6.0, 2.6) == 2


def test_what_is_written_is_a_record_without_faults() -> None:
    """The keeper's book folds into a record without problems, and growth can be drawn from it."""
    seed = 9
    room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
    room.run(SMALL.days, *naive(room, room.warm()))
    record = room.book.record(room.day)
    assert record.problems == ()
    assert len(record.living()) == len(room.lives.here(SMALL.days - 1))
    assert all(record.homes[animal.home].body is not None for animal in record.living())
    assert len(record.supplies) == len(VESSELS) + len(PACKS)


def test_a_better_home_policy_is_counted_as_better() -> None:
    """The largest homes for all have fewer weeks of small ones than moving nobody: the count can tell."""
    seed = 10
    lives = lives_of(seed, Shape(animals=8, warm_up_weeks=20, weeks=52))
    shape = Shape(animals=8, warm_up_weeks=20, weeks=52)

    class Largest:
        def __init__(self) -> None:
            self.done: set[str] = set()

        def moves(self, view: View) -> Sequence[MoveWanted]:
            new = [code for code in view.living if code not in self.done]
            self.done.update(new)
            return [MoveWanted(code, "tall 400", 60.0) for code in new]

        def buys(self, view: View) -> Mapping[str, int]:
            return {}

    def knowing(room: TrialRoom, mean_use: Mapping[str, float]) -> tuple[HomePolicy, OrderPolicy]:
        return Largest(), Idle()

    counted: list[Tally] = [run_trial(seed, lives, TwoSpans(), make, shape) for make in (knowing, idle)]
    assert counted[0].small_weeks < counted[1].small_weeks


def test_a_home_bought_ahead_is_paid_and_used() -> None:
    """A home bought ahead stands on record as empty, is paid once, and the next move takes it."""
    seed = 11
    room = TrialRoom(seed, lives_of(seed, SMALL), TwoSpans(), warm_up=7 * SMALL.warm_up_weeks)
    room.warm()

    class Ahead:
        def __init__(self) -> None:
            self.asked = 0

        def moves(self, view: View) -> Sequence[MoveWanted]:
            self.asked += 1
            return [MoveWanted(next(iter(view.living)), "tall 300", 60.0)] if self.asked == 2 else []

        def buys(self, view: View) -> Mapping[str, int]:
            return {"tall 300": 1} if self.asked == 1 else {}

    owned = sum(vessel.name == "tall 300" for vessel in room.homes.vessel.values())
    room.run(SMALL.days, Ahead(), Idle())
    tally = room.close()
    assert tally.homes_bought == 1
    assert tally.homes_cost == VESSELS["tall 300"].price
    assert tally.moves == 1
    assert sum(vessel.name == "tall 300" for vessel in room.homes.vessel.values()) == owned + 1
    empty = [home for home in room.book.record(room.day).homes.values() if not home.occupants]
    assert all(home.body is not None for home in empty)
