"""The moult forecast from histories and from a real journal: shape, words, and nothing from the future."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from nightround.findings.clock_climate import expected_climate, past_climate, spans
from nightround.findings.clock_rows import NEVER, rows_of
from nightround.findings.moult import clock_room, forecast
from nightround.findings.moult_report import METHOD, METHOD_PRIOR
from nightround.findings.size import ClockSize
from nightround.foundation.clock import RoomClock
from nightround.journal.store import Journal
from nightround.journal.tables.read import read_tables
from nightround.record.fold import fold
from nightround.record.histories import DailyClimate, MoultHistory, MoultWindow
from nightround.reports.forecast import QUANTILES, WITHIN_DAYS
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.fit import fit
from nightround.science.clock.forecast import forecast as clock_forecast

START = date(2026, 1, 1)


def on(days: int) -> date:
    """A day after the start."""
    return START + timedelta(days=days)


def history(code: str, moults: tuple[tuple[int, int], ...] = (), **changes: object) -> MoultHistory:
    """A plain history: arrived on day 0, looked at on day 200, at shelf A throughout."""
    plain = MoultHistory(
        animal=code,
        taxon="Grammostola sp.",
        group="tarantula",
        sex=None,
        hatched_first=None,
        hatched_last=None,
        under_watch=START,
        moults=tuple(MoultWindow(n, on(a), on(b)) for n, (a, b) in enumerate(moults)),
        last_look=on(200),
        ending="running",
        stays=(("shelf A", START, on(200)),),
        mature_since=None,
        legs_lost=(),
        taken=(),
        offered=(),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def warm(days: int = 201, temperature_c: float = 24.0) -> dict[str, DailyClimate]:
    """Shelf A at one temperature, read every day."""
    return {"shelf A": DailyClimate("shelf A", {on(d): temperature_c for d in range(days)}, {}, {})}


TODAY = on(200).toordinal()


def test_rows_open_close_and_wait() -> None:
    """Arrival of unknown phase, one closed interval found late, one running: three rows, in day numbers."""
    rows = rows_of(0, history("K1", ((50, 50), (110, 114))), TODAY)
    first, second, third = rows
    assert (NEVER, on(0).toordinal()) == (first.start, first.watched)
    assert (on(50).toordinal(),) * 2 == second.start == first.end
    assert (on(110).toordinal(), on(114).toordinal()) == second.end == third.start
    assert NO_DAY == second.watched
    assert (NEVER, on(200).toordinal()) == (third.end, third.looked)
    assert [0, 1, 2] == [row.instar for row in rows]
    assert [1.0, 1.0, 0.0] == [row.newcomer for row in rows]


def test_a_known_last_moult_before_arrival_is_a_late_entry() -> None:
    """The interval that ran at arrival is watched from arrival; nothing is invented before it."""
    rows = rows_of(0, history("K1", ((-40, -40), (30, 30))), TODAY)
    assert (2, on(0).toordinal()) == (len(rows), rows[0].watched)
    assert NO_DAY == rows[1].watched


def test_a_mature_male_waits_for_nothing() -> None:
    """After his ultimate moult a male has no running interval, so nothing is read from his waiting."""
    rows = rows_of(0, history("K1", ((50, 50),), sex="male", mature_since=on(50)), TODAY)
    assert all(row.end is not NEVER for row in rows)


def test_hatching_opens_the_first_interval() -> None:
    """A hatching known to a few days is an opening like a moult; one known to the year is not used."""
    hatched = history("K1", ((50, 50),), hatched_first=on(10), hatched_last=on(14), under_watch=on(10))
    assert (on(10).toordinal(), on(14).toordinal()) == rows_of(0, hatched, TODAY)[0].start
    vague = replace(hatched, hatched_first=on(-360), hatched_last=on(5))
    assert NEVER == rows_of(0, vague, TODAY)[0].start


def test_unmeasured_taxa_keep_their_doubt() -> None:
    """Without one reading of the taxon its sizes carry their doubt, shared by an animal's intervals."""
    sizes = {"K1": ClockSize("K1", (1.0, 1.2, 1.4), (0.6, 0.6, 0.6), 0, 0)}
    room = clock_room({"K1": history("K1", ((50, 50), (110, 110)))}, warm(), sizes, TODAY)
    assert room.data.taxon_size_sd[0] >= 0.5
    assert room.data.animal_size_sd[0] >= 0.5
    np.testing.assert_allclose(np.diff(room.data.intervals.log_size), 0.2)


def test_counts_are_of_the_same_taxon() -> None:
    """n counts animals and closed intervals of the animal's own taxon, none of the others."""
    histories = {
        "K1": history("K1", ((50, 50), (110, 110))),
        "K2": history("K2", ((50, 50), (90, 90), (150, 150))),
        "K3": history("K3", ((50, 50),), taxon="Poecilotheria sp."),
    }
    room = clock_room(histories, warm(), {}, TODAY)
    assert {"Grammostola sp.": (2, 3)} == dict(room.counts)


def test_expected_climate_is_the_keepers_then_the_season_then_what_lasts() -> None:
    """A planned day is taken as planned; a season comes back after a year; else the last weeks go on."""
    swing = {on(d): 23.0 + 3.0 * np.sin(2 * np.pi * d / 365.25) for d in range(400)}
    planned = {on(402): 19.0}
    climate = {"shelf A": DailyClimate("shelf A", swing, {}, planned)}
    past = past_climate(("shelf A",), climate, START.toordinal(), on(399).toordinal())
    ahead = expected_climate(("shelf A",), climate, on(399).toordinal(), past)
    assert ahead.spread_c is not None
    assert (19.0, 0.3) == (ahead.temperature_c[0, 2], ahead.spread_c[0, 2])
    half_year = 180
    assert 23.0 + 3.0 * np.sin(2 * np.pi * (400 + half_year) / 365.25) == pytest.approx(
        float(ahead.temperature_c[0, half_year]), abs=0.3
    )
    short = past_climate(("shelf A",), warm(), START.toordinal(), TODAY)
    lasting = expected_climate(("shelf A",), warm(), TODAY, short)
    np.testing.assert_allclose(lasting.temperature_c[0, :100], 24.0)
    assert lasting.spread_c is not None
    assert lasting.spread_c[0, 0] < lasting.spread_c[0, 100]


def test_a_place_without_readings_is_not_given_any() -> None:
    """Neither the past nor the future of an unread place is filled in."""
    past = past_climate(("attic",), {}, START.toordinal(), TODAY)
    ahead = expected_climate(("attic",), {}, TODAY, past)
    assert np.isnan(past.temperature_c).all()
    assert np.isnan(ahead.temperature_c).all()


def test_gaps_are_named_in_words() -> None:
    """Runs of missing days are named by their ends."""
    days = [on(d).toordinal() for d in (0, 1, 2, 10)]
    assert "2026-01-01 to 2026-01-03, 2026-01-11" == spans(days)


def room_of(folder: Path, tables: dict[str, str]) -> Journal:
    """A fresh room with these plain tables taken in."""
    for name, text in tables.items():
        (folder / name).write_text(text, encoding="utf-8")
    clock = RoomClock("UTC")
    journal = Journal.create(folder / "room.journal", time_zone="UTC")
    journal.append(read_tables(folder, clock).drafts)
    return journal


ANIMALS = """animal,taxon,sex,arrived,arrived_as,hatched,place,home,note
K1,Grammostola sp.,,2026-01-01,captive_bred,,shelf A,,
K2,Grammostola sp.,,2026-01-01,captive_bred,,shelf B,,
K3,Grammostola sp.,male,2026-01-01,captive_bred,,shelf A,,
"""
ENTRIES = """when,animal,entry,item,value,unit,outcome,note
2026-02-01,K1,moulted,,,,,
2026-04-01,K1,moulted,,,,,
2026-06-20,K1,seen,,,,,
2026-06-20,K2,seen,,,,,
2026-03-01,K3,moulted,,,,,
2026-03-01,K3,matured,,,,,
"""


def climate_rows() -> str:
    """Shelf A read daily but for one week; shelf B never."""
    lines = ["when,place,temperature_c,humidity_percent"]
    for day in range(171):
        if not 100 <= day < 107:
            lines.append(f"{on(day)},shelf A,24.0,")
    return "\n".join(lines) + "\n"


def test_the_report_has_the_contracts_shape(tmp_path: Path) -> None:
    """Quantiles, horizons, counts, reasons and notices, with nulls where the contract says null."""
    journal = room_of(
        tmp_path, {"animals.csv": ANIMALS, "entries.csv": ENTRIES, "climate.csv": climate_rows()}
    )
    report = forecast(fold(journal.entries(), on(170), journal.clock))
    journal.close()
    assert ["K1", "K2", "K3"] == [animal.animal for animal in report.animals]
    first, second, third = report.animals
    assert third.next_moult is None
    assert first.next_moult is not None
    assert second.next_moult is not None
    assert list(QUANTILES) == list(first.next_moult.quantiles_days)
    assert list(WITHIN_DAYS) == list(first.next_moult.within_days)
    assert (1, 1) == (first.next_moult.n_animals, first.next_moult.n_intervals)
    assert METHOD == first.next_moult.method
    assert (date(2026, 4, 1), 80) == (first.last_moult, first.days_since)
    assert second.last_moult is None
    assert "last moult not known" in second.next_moult.reasons[0]
    assert any("shelf B" in notice and "calendar days" in notice for notice in report.notices)
    assert any("7 days without a temperature" in notice for notice in report.notices)


def test_no_history_at_all_says_so(tmp_path: Path) -> None:
    """One animal just arrived: wide odds from the published prior, n = 0, and the words for it."""
    alone = "\n".join(ANIMALS.splitlines()[:2]) + "\n"
    journal = room_of(tmp_path, {"animals.csv": alone})
    report = forecast(fold(journal.entries(), on(2), journal.clock))
    journal.close()
    moult = report.animals[0].next_moult
    assert moult is not None
    assert (0, 0, METHOD_PRIOR) == (moult.n_animals, moult.n_intervals, moult.method)
    assert moult.within_days[7] < 0.5 < moult.within_days[365]


def test_an_empty_room_has_no_forecast(tmp_path: Path) -> None:
    """A room without animals is answered, not refused."""
    journal = Journal.create(tmp_path / "room.journal", time_zone="UTC")
    assert () == forecast(fold(journal.entries(), START, journal.clock)).animals
    journal.close()


def test_deleting_later_entries_changes_no_digit(tmp_path: Path, shared_data: Path) -> None:
    """Real records (crab-2012): the forecast of a day is the same from a journal that ends on that day."""
    day = date(2012, 11, 1)
    clock = RoomClock("UTC")
    drafts = read_tables(shared_data / "crab-2012", clock).drafts
    earlier = [draft for draft in drafts if draft.when.last is None or draft.when.last <= day]
    assert len(earlier) < len(drafts)
    reports = []
    for name, chosen in (("whole", drafts), ("cut", earlier)):
        journal = Journal.create(tmp_path / f"{name}.journal", time_zone="UTC")
        journal.append(chosen)
        reports.append(forecast(fold(journal.entries(), day, journal.clock)))
        journal.close()
    assert reports[0] == reports[1]
    assert 100 < len(reports[0].animals)


@st.composite
def odd_histories(draw: st.DrawFn) -> dict[str, MoultHistory]:
    """Histories as odd as real records get: unknown arrivals, overlapping windows, moults before arrival."""
    found = {}
    for index in range(draw(st.integers(1, 5))):
        code = f"K{index}"
        firsts = draw(st.lists(st.integers(-400, 195), max_size=5, unique=True))
        widths = draw(st.lists(st.integers(0, 40), min_size=len(firsts), max_size=len(firsts)))
        ends = [min(first + width, 199) for first, width in zip(firsts, widths, strict=True)]
        windows = sorted(zip(firsts, ends, strict=True), key=lambda window: (window[1], window[0]))
        watch = draw(st.one_of(st.none(), st.integers(-300, 200)))
        look = draw(st.one_of(st.none(), st.integers(-300, 260)))
        hatched = draw(st.one_of(st.none(), st.integers(-500, 100)))
        place = draw(st.sampled_from(["shelf A", "attic", ""]))
        found[code] = history(
            code,
            tuple(windows),
            taxon=draw(st.sampled_from(["Grammostola sp.", "Atypus sp.", ""])),
            sex=draw(st.sampled_from([None, "female", "male"])),
            under_watch=None if watch is None else on(watch),
            last_look=None if look is None else on(look),
            hatched_first=None if hatched is None else on(hatched),
            hatched_last=None if hatched is None else on(hatched + 3),
            mature_since=draw(st.sampled_from([None, on(100)])),
            ending=draw(st.sampled_from(["running", "running", "died"])),
            stays=draw(st.sampled_from([(), ((place, on(0), on(200)),)])),
            legs_lost=draw(st.sampled_from([(), ((on(120), 1),)])),
        )
    return found


# Without shrinking: each example is a fit, and the first failure says enough.
@settings(max_examples=40, phases=[Phase.explicit, Phase.generate])
@given(histories=odd_histories())
def test_odd_records_get_finite_odds(histories: dict[str, MoultHistory]) -> None:
    """Whatever the dates say, every running animal gets odds between 0 and 1 and rising quantiles."""
    room = clock_room(histories, warm(), {}, TODAY)
    result = clock_forecast(fit(room.data), room.asked, room.on, room.expected)
    for values in (result.within, result.unseen, result.cumulative):
        assert np.isfinite(values).all()
        assert np.all((values >= 0.0) & (values <= 1.0))
    assert np.all(np.diff(np.nan_to_num(result.quantile_days, nan=1e9), axis=1) >= 0.0)
    running = {code for code, found in histories.items() if found.ending == "running"}
    males = {code for code, found in histories.items() if found.sex == "male" and found.mature_since}
    assert running - males == {room.codes[index] for index in room.asked}
