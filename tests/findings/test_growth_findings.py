"""How a room's animals will grow, against the truth of the invented room and for what must stay unknown."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from nightround.findings.growth import RoomFutures, animal_futures, room_futures
from nightround.findings.moult import clock_odds, forecast
from nightround.findings.size import chance_last_for_clock, sizes
from nightround.foundation.refusal import Refusal
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.simulate import room
from nightround.simulate.truth import SimulatedRoom, TrueAnimal

AHEAD = 270


@pytest.fixture(scope="module")
def rooms(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[SimulatedRoom, Record, RoomFutures]]:
    """Two invented rooms of 100 animals on two days each, with the futures drawn from what was known then."""
    found = []
    for seed in (1, 2):
        invented = room(seed, animals=100, years=2.0, end=date(2026, 11, 20))
        folder: Path = tmp_path_factory.mktemp("rooms")
        journal = Journal.create(folder / f"{seed}.sqlite", time_zone="Europe/Paris")
        journal.append(invented.drafts)
        for back in (500, 300):
            record = fold(journal.entries(), invented.end - timedelta(days=back), journal.clock)
            odds = clock_odds(record)
            assert odds is not None
            found.append((invented, record, room_futures(record, odds)))
        journal.close()
    return found


def on_record(true: TrueAnimal, record: Record) -> bool:
    """Whether all of its moults by then are on record, and the last of them is known."""
    last = record.animals[true.code].last_moult
    known = last.when.last if last is not None else None
    return known is not None and all(day > record.on or day <= known for day in true.moults)


def test_sizes_nine_months_ahead_hold(rooms: list[tuple[SimulatedRoom, Record, RoomFutures]]) -> None:
    """80 % windows of the carapace 270 days ahead hold 70-92 % of the true ones, of animals alive then."""
    inside, moulted = [], 0
    for invented, record, futures in rooms:
        later = record.on + timedelta(days=AHEAD)
        for animal in record.living():
            true = invented.truth.animals.get(animal.code)
            if true is None or not on_record(true, record) or (true.died is not None and true.died <= later):
                continue
            outlook = futures.size_on(animal.code, later, "carapace_length")
            if outlook is None:
                continue
            size = true.carapace_mm[sum(day <= later for day in true.moults)]
            moulted += any(record.on < day <= later for day in true.moults)
            inside.append(outlook.quantiles["0.10"] <= size <= outlook.quantiles["0.90"])
    assert len(inside) > 100
    assert moulted > 60
    assert 0.70 <= float(np.mean(inside)) <= 0.92


def test_chances_of_maturity_are_right_on_average(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """Of animals whose moults are all on record, mean chance and true share of mature agree to 8 %."""
    said, truly = [], []
    for invented, record, _ in rooms:
        for code, report in sizes(record).items():
            true = invented.truth.animals.get(code)
            if true is None or report.mature is None or not record.animals[code].here:
                continue
            if on_record(true, record):
                said.append(report.mature["mature_now"])
                moults = sum(day <= record.on for day in true.moults)
                truly.append(true.mature_moult is not None and moults > true.mature_moult)
    assert len(said) > 100
    assert float(np.mean(truly)) == pytest.approx(float(np.mean(said)), abs=0.08)


def test_a_report_names_dates_sizes_and_both_sexes(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """A growing animal of unknown sex: three moults ahead, dates of spans, maturity by sex, a final size."""
    _, record, futures = rooms[0]
    reports = sizes(record)
    code = next(
        a.code for a in record.living()
        if a.sex is None and reports[a.code].mature and reports[a.code].mature["mature_now"] < 0.01
    )  # fmt: skip
    now = reports[code].leg_span_now
    assert now is not None
    day = record.on + timedelta(days=365)
    report = futures.report(code, days=(record.on, day), spans_mm=(1.0, now.value * 1.25, 5000.0))
    assert [1, 1, 2, 2, 3, 3] == [moults for moults, _ in report.after]
    today, next_year = (row.quantiles for _, row in report.on_days)
    assert now.value == pytest.approx(today["0.50"], rel=0.05)
    assert next_year["0.50"] > today["0.50"]
    already, soon, never = (days for _, days in report.reached)
    assert {"0.10": 0.0, "0.50": 0.0, "0.90": 0.0} == already
    assert soon["0.50"] is not None
    assert soon["0.50"] > 0.0
    assert {"0.10": None, "0.50": None, "0.90": None} == never
    assert ["female", "male"] == [row.sex for row in report.maturity]
    assert 1.0 == pytest.approx(sum(row.chance for row in report.maturity))
    for row in report.maturity:
        assert row.days is not None
        assert row.final_mm is not None
    assert report.final is not None
    assert report.final.quantiles["0.50"] > report.after[0][1].quantiles["0.50"]


def test_the_forecast_carries_maturity_by_sex(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """`mature` of every measured animal: chances in [0, 1], by the sexes it may be; never measured: null."""
    record = rooms[0][1]
    reports = sizes(record)
    rows = forecast(record, sizes=reports).animals
    assert any(row.mature is None for row in rows)
    for row in rows:
        assert row.mature == reports[row.animal].mature
        if row.mature is None:
            assert reports[row.animal].carapace_now is None
            continue
        assert {"mature_now", "chance_next_moult", "by_sex"} == set(row.mature)
        assert 0.0 <= row.mature["mature_now"] <= 1.0
        assert 0.0 <= row.mature["chance_next_moult"] <= 1.0
        assert 1.0 == pytest.approx(sum(each["chance"] for each in row.mature["by_sex"].values()))
        if record.animals[row.animal].mature_male:
            assert ["male"] == list(row.mature["by_sex"])
            assert 0.0 == row.mature["chance_next_moult"]


def test_the_clock_hears_of_males_that_may_have_gone_unnoticed(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """Chances below 1 for every animal, 0 for females and for males noted as mature."""
    record = rooms[0][1]
    chances = chance_last_for_clock(record)
    assert set(record.animals) == set(chances)
    assert all(0.0 <= chance < 1.0 for chance in chances.values())
    for code, chance in chances.items():
        if record.animals[code].sex == "female" or record.animals[code].mature_male:
            assert 0.0 == chance
    assert any(chance > 0.0 for chance in chances.values())


def test_what_is_not_there_is_refused_or_left_unknown(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """A code of no animal and a day gone by are refused; an animal never measured has no growth."""
    _, record, futures = rooms[0]
    with pytest.raises(Refusal, match="animal of the room"):
        futures.report("nobody")
    code = record.living()[0].code
    with pytest.raises(Refusal, match="days from"):
        futures.report(code, days=(record.on - timedelta(days=1),))
    reports = sizes(record)
    mute = next(a.code for a in record.living() if reports[a.code].carapace_now is None)
    report = futures.report(mute)
    assert ((), (), None) == (report.after, report.maturity, report.final)
    assert futures.size_on(mute, record.on) is None


def test_one_animal_alone_has_the_growth_it_has_in_the_room(
    rooms: list[tuple[SimulatedRoom, Record, RoomFutures]],
) -> None:
    """Drawn alone, sizes after two moults and the leg span in a year agree up to the drawing error."""
    _, record, futures = rooms[1]
    odds = clock_odds(record)
    assert odds is not None
    year = record.on + timedelta(days=365)
    told = [code for code in (a.code for a in record.living()) if futures.report(code, days=(year,)).on_days][
        :4
    ]
    assert 4 == len(told)
    for code in told:
        alone = animal_futures(record, odds, code).report(code, days=(year,))
        among = futures.report(code, days=(year,))
        for level in ("0.10", "0.50", "0.90"):
            pairs = [
                (alone.on_days[0][1], among.on_days[0][1]),
                *(
                    (one, other)
                    for (_, one), (_, other) in zip(alone.after[:4], among.after[:4], strict=True)
                ),
            ]
            for one, other in pairs:
                assert one.quantiles[level] == pytest.approx(other.quantiles[level], rel=0.12)
    with pytest.raises(Refusal, match="animal of the room"):
        animal_futures(record, odds, "nobody")
