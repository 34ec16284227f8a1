"""What holds for every round, whatever is on record: the promises that keep animals from harm."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.when import UNKNOWN, on_day
from nightround.plans.words import ASK_VET, HANDS_OFF, NO_DIGGING
from plans.evening import (
    ON,
    ago,
    animal,
    feeding,
    forecast,
    home,
    look,
    moult,
    offer,
    record,
    round_of,
    rule,
    sized,
)

days = st.integers(0, 500)
maybe_flag = st.sampled_from([None, True, False])
looks = st.builds(
    look, days, st.integers(1, 5000), on_its_back=maybe_flag, dark_patch=maybe_flag, burrow_sealed=maybe_flag,
    fangs=st.sampled_from([None, "white", "red", "black"]),
    abdomen=st.sampled_from([None, "shrunken", "normal", "fat"]),
)  # fmt: skip
offers = st.builds(
    offer, days, st.sampled_from([None, "taken", "refused", "uneaten", "not_seen"]), st.integers(1, 5000)
)


@st.composite
def moults(draw: Any) -> Any:
    """A moult seen on its day, or found late."""
    first = draw(days)
    until = draw(st.none() | st.integers(0, first))
    return moult(first, until, draw(st.integers(1, 5000)), draw(st.sampled_from([None, "kept", "lost"])))


def in_time(things: Any) -> Any:
    """A tuple in order of time, as the record keeps it."""
    return st.lists(things, max_size=6).map(
        lambda each: tuple(sorted(each, key=lambda x: (x.when.last, x.number)))
    )


@st.composite
def rooms(draw: Any) -> tuple[Any, list[Any], list[Any]]:
    """A room of a few animals in any state, with forecasts and sizes for some of them."""
    animals, forecasts, sizes = [], [], []
    for number in range(draw(st.integers(1, 4))):
        code = f"K{number}"
        animals.append(
            animal(
                code,
                status=draw(st.sampled_from(["alive", "alive", "alive", "dead", "left", "escaped"])),
                arrived=draw(st.sampled_from([UNKNOWN, on_day(ago(5)), on_day(ago(300))])),
                place=draw(st.sampled_from(["", "A", "B"])),
                home=draw(st.sampled_from(["", "H1"])),
                quarantined=draw(st.booleans()),
                with_sac=draw(st.booleans()),
                matured=draw(st.sampled_from([None, on_day(ago(100))])),
                sex=draw(st.sampled_from([None, "male", "female"])),
                moults=draw(in_time(moults())),
                offers=draw(in_time(offers)),
                looks=draw(in_time(looks)),
                passed_over=draw(st.sampled_from([(), (ON,), (ago(3),)])),
            )
        )
        if draw(st.booleans()):
            forecasts.append(
                forecast(
                    draw(st.floats(0.5, 900)), code, unseen=draw(st.floats(0, 1)),
                    level=draw(st.none() | st.floats(0, 1)), premoult=draw(st.none() | st.floats(0, 1)),
                )
            )  # fmt: skip
        if draw(st.booleans()):
            sizes.append(sized(code, span=draw(st.floats(3, 250)), body=draw(st.floats(1, 100))))
    homes = {"H1": home(draw(st.none() | st.floats(10, 600)))}
    odds = draw(st.sampled_from(["", "90 %", "5 %", "nonsense"]))
    room = record(*animals, homes=homes, rules=(rule("premoult_odds", odds),))
    return room, forecasts, sizes


@settings(max_examples=400)
@given(rooms())
def test_every_round_keeps_its_promises(drawn: Any) -> None:
    """Living animals once each with one feeding job, quarantine last, and no job where it could harm."""
    room, forecasts, sizes = drawn
    report = round_of(room, *forecasts, sizes=tuple(sizes))
    rows = [row for shelf in report.shelves for row in shelf.rows]
    assert sorted(each.code for each in room.living()) == sorted(row.animal for row in rows)
    state = [row.quarantined for row in rows]
    assert sorted(state) == state
    known_size = {each.animal for each in sizes}
    for row in rows:
        one = room.animals[row.animal]
        kind = feeding(row)
        jobs = {job.action: job for job in row.jobs}
        assert [job.rank for job in row.jobs] == sorted(job.rank for job in row.jobs)
        assert row.usual is None or row.usual.action in ("offer", "leave_alone", "water", "drink")
        assert row.usual is None or row.usual in row.jobs
        if "look" in jobs and "Took none" in " ".join((jobs["look"].reason, *jobs["look"].why)):
            assert kind != "leave_alone"
            assert {NO_DIGGING, ASK_VET} <= set(jobs["look"].cautions)
        if kind == "leave_alone":
            assert not {"rehouse", "weigh", "offer"} & set(jobs)
            if HANDS_OFF in jobs["leave_alone"].cautions:
                assert set(jobs) <= {"leave_alone", "look"}
        if kind == "offer":
            advice = jobs["offer"].offer
            assert advice is not None and advice.number >= 1
            assert not one.with_sac and ON not in one.passed_over
            if row.animal not in known_size:
                assert advice.prekilled and advice.prey_mm is None
            if one.moults and (ON - max(each.when.last for each in one.moults if each.when.last)).days <= 6:
                assert any(each.signs.fangs == "black" for each in one.looks)
        for job in row.jobs:
            assert job.title and job.reason and job.sureness
            assert "harmless" not in job.title + job.reason


@settings(max_examples=150)
@given(rooms())
def test_the_same_evening_gives_the_same_round(drawn: Any) -> None:
    """The round depends on the record, the forecast and the sizes, and on nothing else."""
    room, forecasts, sizes = drawn
    once = round_of(room, *forecasts, sizes=tuple(sizes))
    again = round_of(room, *reversed(forecasts), sizes=tuple(reversed(sizes)))
    assert once == again


@settings(max_examples=150)
@given(st.floats(3, 250), st.floats(0.1, 3.0))
def test_a_smaller_animal_never_gets_longer_prey(span: float, factor: float) -> None:
    """Prey grows with the animal, from pieces to crickets."""
    small, large = sorted((span, span * factor))
    lengths = []
    for value in (small, large):
        rows = round_of(record(animal()), sizes=(sized(span=value, body=value / 2.4),)).shelves[0].rows
        advice = next(job.offer for job in rows[0].jobs if job.offer is not None)
        lengths.append(advice.prey_mm or 0.0)
    assert lengths[0] <= lengths[1]


@settings(max_examples=150)
@given(st.floats(1, 400), st.integers(22, 400))
def test_a_nearer_moult_never_turns_leaving_alone_into_an_offer(median: float, elapsed: int) -> None:
    """If it is left alone at some odds, it is left alone at the odds of a moult in half that time."""
    one = animal(moults=(moult(elapsed),), offers=(offer(21),))

    def kind(days_to_go: float) -> str:
        return feeding(round_of(record(one), forecast(days_to_go)).shelves[0].rows[0])

    if kind(median) == "leave_alone":
        assert "leave_alone" == kind(median / 2)
