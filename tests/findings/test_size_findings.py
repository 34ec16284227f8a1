"""The size staircase applied to a record: what a keeper wrote goes in, a size report comes out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest

from nightround.findings.size import CHANNEL_OF, SHORT_LEGS, channel_of, fit_room, sizes, sizes_for_clock
from nightround.foundation.clock import RoomClock
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.when import on_day
from nightround.record.histories import SizeReading
from nightround.record.model import Animal, Measurement, Moult, Record
from nightround.reports.forecast import QUANTILES
from nightround.reports.size import ReadingPoint
from nightround.science.size.priors import SPIDER_PRIORS

ON = date(2026, 11, 24)
KIND = "Aphonopelma inventum"  # invented


def ago(days: int) -> date:
    return ON - timedelta(days=days)


def reading(item: Any, value: float, days: int, on: Any = "live", posture: Any = None) -> Measurement:
    return Measurement(
        1000 - days, on_day(ago(days)), item, value, "g" if item == "mass" else "mm", on, posture
    )


def animal(
    code: str, *, moults: tuple[int, ...] = (), readings: tuple[Measurement, ...] = (), **facts: Any
) -> Animal:
    facts.setdefault("taxon", KIND)
    return Animal(
        code,
        arrived=on_day(ago(900)),
        moults=tuple(Moult(500 - days, on_day(ago(days))) for days in moults),
        measurements=readings,
        last_look=ON,
        **facts,
    )


def room(*animals: Animal) -> Record:
    return Record(ON, RoomClock("Europe/Berlin", time(4)), MappingProxyType({a.code: a for a in animals}))


def _day(point: ReadingPoint) -> date:
    assert point.day is not None
    return point.day


def grower(code: str, first_mm: float, **facts: Any) -> Animal:
    """Four skins, each 1.3 times the one before, the last moult 30 days ago."""
    days = (600, 400, 200, 30)
    skins = tuple(reading("carapace_length", first_mm * 1.3**k, d, "shed_skin") for k, d in enumerate(days))
    return animal(code, moults=days, readings=skins, **facts)


def test_a_staircase_comes_out_with_its_doubt_and_what_it_rests_on() -> None:
    """Skins of 4, 5.2, 6.8 and 8.8 mm: now about 11.4 mm, a step an instar, n counted.

    The next size holds another 30 % and, since it may be a mature female, as little as 5 %.
    """
    report = sizes(room(grower("K12", 4.0), grower("K07", 3.0)))["K12"]
    assert report.carapace_now is not None
    assert report.carapace_next is not None
    assert 11.4 == pytest.approx(report.carapace_now.value, rel=0.06)
    assert 12.5 < report.carapace_next.value < 14.9
    assert report.next_quantiles is not None
    assert report.next_quantiles["0.05"] < 11.4 * 1.05 < 11.4 * 1.3 < report.carapace_next.high
    assert (2, 8) == (report.carapace_now.n_animals, report.carapace_now.n_observations)
    assert OWN_RECORDS in report.carapace_now.sources
    assert [0, 1, 2, 3, 4] == [step.instar for step in report.steps]
    assert [True, True, True, True, False] == [step.measured for step in report.steps]
    assert [None, ago(600), ago(400), ago(200), ago(30)] == [step.began for step in report.steps]
    assert [4.0, 5.2] == pytest.approx([step.carapace_mm for step in report.steps[:2]], rel=0.02)
    assert report.next_size is not None
    assert ("carapace_length", "mm") == (report.next_size.kind, report.next_size.unit)
    assert list(QUANTILES) == list(report.next_size.quantiles)
    values = list(report.next_size.quantiles.values())
    assert sorted(values) == values
    assert report.next_quantiles == report.next_size.quantiles


def test_unknown_is_none_and_never_zero() -> None:
    """An animal never measured has no size, though its sister has; a skin's mass does not count."""
    mute = animal("K01", moults=(100,))
    skin = animal("K02", moults=(100,), readings=(reading("mass", 0.02, 100, "shed_skin"),))
    reports = sizes(room(grower("K12", 4.0), mute, skin))
    for code in ("K01", "K02"):
        report = reports[code]
        assert report.steps == ()
        given = (
            report.carapace_now,
            report.leg_span_now,
            report.body_now,
            report.carapace_next,
            report.mass_now,
        )
        assert (None,) * 5 == given
        assert report.next_size is None
    assert [None] == [point.carapace_mm for point in reports["K02"].readings]


def test_a_room_measured_in_leg_span_answers_in_leg_span() -> None:
    """Spans of 20 and 27 mm: the next size is a larger span; the carapace says what it assumes."""
    one = animal(
        "K12", moults=(100,),
        readings=tuple(
            reading("leg_span", mm, d, posture="stretched") for mm, d in ((20.0, 150), (27.0, 50))
        ),
    )  # fmt: skip
    report = sizes(room(one))["K12"]
    assert report.next_size is not None
    assert "leg_span" == report.next_size.kind
    assert 29.0 < report.next_size.quantiles["0.50"] < 42.0
    assert report.carapace_now is not None
    assert any("worked out from other parts" in words for words in report.carapace_now.assumptions)
    assert report.leg_span_now is not None
    assert not any("worked out" in words for words in report.leg_span_now.assumptions)
    assert "mm" == report.leg_span_now.unit


def test_the_dead_the_gone_and_mature_males_have_no_next_size() -> None:
    """Size now is kept for the evidence; a next size is given only where another moult can come here."""
    dead = grower("K01", 4.0, status="dead")
    gone = grower("K02", 4.0, status="left")
    done = grower("K03", 4.0, sex="male", matured=on_day(ago(20)))
    female = grower("K04", 4.0, sex="female", matured=on_day(ago(20)))
    reports = sizes(room(dead, gone, done, female))
    for code in ("K01", "K02", "K03"):
        assert reports[code].carapace_now is not None
        assert reports[code].carapace_next is None
        assert reports[code].next_size is None
        assert reports[code].next_quantiles is None
    assert reports["K04"].next_size is not None


def test_sizes_for_the_clock_have_one_entry_an_instar_for_every_animal() -> None:
    """Log carapace per instar with its sd, measured or not; the never measured are wide and say n = 0."""
    given = sizes_for_clock(
        room(grower("K12", 4.0), animal("K01", moults=(50,)), animal("X01", taxon="Other inventum"))
    )
    assert (5, 5) == (len(given["K12"].mean), len(given["K12"].sd))
    assert (2, 1) == (len(given["K01"].mean), len(given["X01"].mean))
    assert (4, 0, 0) == tuple(given[c].n_readings_of_animal for c in ("K12", "K01", "X01"))
    assert (4, 4, 0) == tuple(given[c].n_readings_of_taxon for c in ("K12", "K01", "X01"))
    assert given["K12"].sd[0] < 0.05 < given["K01"].sd[0]
    assert np.exp(given["K12"].mean[0]) == pytest.approx(4.0, rel=0.03)


def test_points_stand_on_the_staircase() -> None:
    """A span is drawn at the carapace it stands for under the fit, so near the smoothed step."""
    one = animal(
        "K12", moults=(100,),
        readings=(
            reading("carapace_length", 10.0, 100, "shed_skin"),
            reading("leg_span", 48.0, 150, posture="stretched"),
        ),
    )  # fmt: skip
    report = sizes(room(one))["K12"]
    span = next(point for point in report.readings if point.item == "leg_span")
    assert span.carapace_mm == pytest.approx(10.0, rel=0.1)
    assert 48.0 == span.value


def test_two_readings_that_cannot_both_be_true_leave_the_size_unknown() -> None:
    """A span of 20 and one of 2000 mm with one moult between: no size is given."""
    one = animal(
        "K12", moults=(100,), readings=(reading("leg_span", 20.0, 150), reading("leg_span", 2000.0, 50))
    )
    report = sizes(room(one))["K12"]
    assert report.leg_span_now is None
    assert report.next_size is None
    assert [20.0, 2000.0] == [point.value for point in report.readings]


def test_the_fit_of_one_record_is_made_once() -> None:
    """Size reports and the clock's sizes of one record share a fit; another record has its own."""
    record = room(grower("K12", 4.0))
    assert fit_room(record) is fit_room(record)
    other = replace(record, on=ON)
    assert fit_room(other) is not fit_room(record)


def test_an_empty_room_has_no_sizes() -> None:
    """No animals: nothing, without a fault."""
    assert {} == sizes(room())
    assert {} == sizes_for_clock(room())


def test_every_kind_of_measurement_has_its_channel() -> None:
    """Every entry of the table names a channel; a skin's mass and body length have none."""
    for (item, shed, posture), name in CHANNEL_OF.items():
        given = SizeReading(0, item, 1.0, "shed_skin" if shed else None, posture, None)
        assert name == channel_of(given)
        assert SPIDER_PRIORS.channels[SPIDER_PRIORS.channel_index(name)].part == item
    for item in ("mass", "body_length"):
        assert channel_of(SizeReading(0, item, 1.0, "shed_skin", None, None)) is None


def test_a_span_of_missing_or_regrowing_legs_is_not_taken_for_the_span() -> None:
    """Spans read after legs were lost, up to the second moult after, are shown but leave every answer alone.

    Before the loss and from the third moult on they count. That whole legs take about three moults to grow
    back is common practice, no source.
    """
    moults, lost = (600, 400, 250, 120, 30), ((ago(500), 2),)
    whole = (reading("leg_span", 40.0, 550), reading("leg_span", 90.0, 20))
    short = (reading("leg_span", 22.0, 450), reading("leg_span", 31.0, 300), reading("leg_span", 45.0, 200))
    given = room(animal("K12", moults=moults, readings=whole + short, injuries=lost, legs_lost=2))
    without = room(animal("K12", moults=moults, readings=whole, injuries=lost, legs_lost=2))
    assert 5 == len(sizes(given)["K12"].readings)
    assert [True, False, False, False, True] == [
        point.carapace_mm is not None for point in sorted(sizes(given)["K12"].readings, key=_day)
    ]
    found, expected = sizes(given)["K12"].leg_span_now, sizes(without)["K12"].leg_span_now
    assert found is not None
    assert expected is not None
    assert (expected.value, expected.low, expected.high) == (found.value, found.low, found.high)
    assert SHORT_LEGS in found.assumptions
    assert SHORT_LEGS not in expected.assumptions


def test_a_carapace_read_after_legs_were_lost_counts() -> None:
    """Only spans are doubtful: the carapace of an injured animal is as good as any."""
    skin = reading("carapace_length", 8.0, 100)
    injured = sizes(room(animal("K12", readings=(skin,), injuries=((ago(200), 1),), legs_lost=1)))["K12"]
    unhurt = sizes(room(animal("K12", readings=(skin,))))["K12"]
    assert injured.carapace_now is not None
    assert unhurt.carapace_now is not None
    assert unhurt.carapace_now.value == injured.carapace_now.value


def test_mass_within_an_instar_is_not_growth() -> None:
    """An animal that doubles its mass between two moults has not grown in carapace by the cube root of two.

    Mass swings with feeding (exponent 3 across instars, about 2 within one: STRAUSDATA): the carapace that
    was measured stays, within 2 %, and so does the leg span.
    """
    skin = reading("carapace_length", 12.0, 150)
    light, heavy = (
        sizes(room(animal("K12", moults=(200,), readings=(skin, reading("mass", mass, 20)))))["K12"]
        for mass in (2.0, 4.0)
    )
    for part in ("carapace_now", "leg_span_now"):
        before, after = getattr(light, part), getattr(heavy, part)
        assert before.value == pytest.approx(after.value, rel=0.02)
    assert heavy.mass_now is not None
    assert light.mass_now is not None
    assert heavy.mass_now.value > light.mass_now.value
