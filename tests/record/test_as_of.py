"""What is known on a day: ended intervals, the room's own days, corrections, undo and redo."""

from datetime import date, time

import pytest

from nightround.foundation.clock import RoomClock
from nightround.record.fold import fold
from record.notebook import CLOCK, entries_of, kinds, told


def test_an_interval_counts_once_it_has_ended(page: str) -> None:
    """A moult found late is known from the last day of its interval.

    2026-01-01             animal K1  arrived  taxon=A
    2026-03-01/2026-03-04  animal K1  moulted
    """
    assert [0, 1] == [len(told(page, on).animals["K1"].moults) for on in ("2026-03-03", "2026-03-04")]


def test_written_later_is_known_on_the_day_it_is_about(page: str) -> None:
    """What happened in March and was written in June was true in March.

    2026-01-01  animal K1  arrived
    2026-03-01  animal K1  moulted  @written 2026-06-01
    """
    assert 1 == len(told(page, "2026-03-01").animals["K1"].moults)


def test_an_unknown_date_is_always_known_and_comes_first(page: str) -> None:
    """The arrival of unknown date does not take back the move of 2020.

    2020-01-01  animal K1  moved  home=H2
    unknown     animal K1  arrived  taxon=A; home=H1
    """
    record = told(page, "2020-01-01")
    assert ("A", "H2") == (record.animals["K1"].taxon, record.animals["K1"].home)
    assert ["H1"] == list(told(page, "2019-12-31").homes)


def test_a_death_of_unknown_date_comes_after_everything(page: str) -> None:
    """It is dead, and what was recorded of its life contradicts nothing.

    unknown     animal K1  died
    2026-01-01  animal K1  arrived
    2026-02-01  animal K1  moved  home=H2
    """
    record = told(page)
    assert ("dead", "H2", []) == (record.animals["K1"].status, record.animals["K1"].home, kinds(record))


def test_expected_climate_is_known_whichever_day_it_is_for(page: str) -> None:
    """A plan for July is known in May; a reading of July is not.

    2026-07-01  place shelf A  expected  temperature_c=27
    2026-07-01  place shelf A  reading  temperature_c=28
    """
    place = told(page, "2026-05-01").places["shelf A"]
    assert [27.0] == [reading.temperature_c for reading in place.expected]
    assert () == place.readings


@pytest.mark.parametrize(
    ("instant", "day"),
    [
        ("2026-03-29T03:59", "2026-03-28"),  # 23 hours after 2026-03-28T04:00: the night that lost an hour
        ("2026-03-29T04:00", "2026-03-29"),
        ("2026-10-25T03:59", "2026-10-24"),  # 25 hours: the night with an hour twice
        ("2026-10-25T04:00", "2026-10-25"),
    ],
)
def test_the_room_day_turns_at_four_on_daylight_saving_nights(instant: str, day: str) -> None:
    """Lisbon 2026: clocks go forward on 29 March and back on 25 October (EU directive 2000/84/EC)."""
    text = f"{instant}  animal K1  moulted"
    before = date.fromordinal(date.fromisoformat(day).toordinal() - 1)
    assert 0 == len(told(text, before.isoformat()).animals)
    assert 1 == len(told(text, day).animals["K1"].moults)


def test_another_room_turns_at_its_own_hour() -> None:
    """A room that turns at noon still counts 11:59 to the day before."""
    noon = RoomClock("America/Denver", time(12))
    entries = entries_of("2026-03-08T11:59  animal K1  moulted", noon)
    assert 1 == len(fold(entries, date(2026, 3, 7), noon).animals["K1"].moults)


def test_a_correction_replaces_on_every_day(page: str) -> None:
    """The first reading is gone even before the correction was written; the new one holds from its day.

    2026-01-01  animal K1  arrived
    2026-02-01  animal K1  measured  item=leg_span; value=50; unit=mm
    2026-02-03  animal K1  measured  item=leg_span; value=30; unit=mm  @corrects 2
    """
    assert [] == [m.value for m in told(page, "2026-02-02").animals["K1"].measurements]
    assert [30.0] == [m.value for m in told(page, "2026-02-03").animals["K1"].measurements]


def test_corrections_chain_and_the_last_word_stands(page: str) -> None:
    """Corrected twice, once through the correction and once through the first entry.

    2026-01-01  animal K1  arrived  taxon=A
    2026-01-01  animal K1  arrived  taxon=B  @corrects 1
    2026-01-01  animal K1  arrived  taxon=C  @corrects 2
    2026-01-01  animal K1  arrived  taxon=D  @corrects 1
    """
    record = told(page)
    assert ("D", (4,), []) == (record.animals["K1"].taxon, record.animals["K1"].entries, kinds(record))


def test_a_strike_voids_and_a_strike_of_the_strike_restores(page: str) -> None:
    """Undo, then redo: the moult of March is struck, the one of April is struck and restored.

    2026-01-01  animal K1  arrived
    2026-03-01  animal K1  moulted
    2026-04-01  animal K1  moulted
    unknown     animal K1  struck  @corrects 2
    unknown     animal K1  struck  @corrects 3
    unknown     animal K1  struck  @corrects 5
    """
    record = told(page)
    assert [3] == [moult.number for moult in record.animals["K1"].moults]
    assert [1, 3] == list(record.entries)


def test_striking_a_correction_brings_the_corrected_entry_back(page: str) -> None:
    """Undo of a correction is the entry as it was before.

    2026-03-01  animal K1  moulted
    2026-03-11  animal K1  moulted  @corrects 1
    unknown     animal K1  struck  @corrects 2
    """
    record = told(page)
    assert [1] == [moult.number for moult in record.animals["K1"].moults]


def test_a_strike_takes_earlier_corrections_along_but_not_later_ones(page: str) -> None:
    """The moult of K1 was struck after its correction, that of K2 corrected after its strike.

    2026-03-01  animal K1  moulted
    2026-03-01  animal K2  moulted
    2026-03-11  animal K1  moulted  @corrects 1
    unknown     animal K1  struck  @corrects 1
    unknown     animal K2  struck  @corrects 2
    2026-03-12  animal K2  moulted  @corrects 2
    """
    record = told(page)
    assert ["K2"] == list(record.animals)
    assert [6] == [moult.number for moult in record.animals["K2"].moults]


def test_an_import_is_taken_back_as_one_whatever_its_days(page: str) -> None:
    """All entries of one intention are void, the keeper's own stay; striking the taking-back restores them.

    2026-01-01  animal K1  arrived  @act list-1
    2026-01-01  animal K2  arrived  @act list-1
    2026-02-01  animal K3  arrived  @act tap-7
    2026-12-01  room  taken_back  intention=list-1
    """
    assert ["K3"] == list(told(page, "2026-06-01").animals)
    assert ["K1", "K2", "K3"] == list(told(page + "\n2026-12-02  room  struck  @corrects 4").animals)


def test_taking_back_an_act_takes_back_its_strikes_too(page: str) -> None:
    """One act struck the moult and wrote an animal; taken back, the moult stands and the animal is gone.

    2026-03-01  animal K1  moulted
    unknown     animal K1  struck  @corrects 1  @act tidy-up
    2026-01-01  animal K2  arrived  @act tidy-up
    unknown     room  taken_back  intention=tidy-up
    """
    record = told(page)
    assert ["K1"] == list(record.animals)
    assert [1] == [moult.number for moult in record.animals["K1"].moults]


def test_a_correction_of_nothing_is_a_problem_and_stands_by_itself(page: str) -> None:
    """Entry 9 is not there, and entry 2 cannot correct itself.

    2026-03-01  animal K1  moulted  @corrects 9
    2026-05-01  animal K1  moulted  @corrects 2
    """
    record = told(page)
    nothing = [problem.entries for problem in record.problems if problem.kind == "correction_of_nothing"]
    assert [(1,), (2,)] == nothing
    assert 2 == len(record.animals["K1"].moults)


def test_a_correction_may_move_an_entry_to_another_animal(page: str) -> None:
    """The moult was K2's, not K1's.

    2026-01-01  animal K1  arrived
    2026-01-01  animal K2  arrived
    2026-03-01  animal K1  moulted
    2026-03-01  animal K2  moulted  @corrects 3
    """
    animals = told(page).animals
    assert (0, 1) == (len(animals["K1"].moults), len(animals["K2"].moults))


def test_the_record_cannot_be_changed(page: str) -> None:
    """Views are shared between readers.

    2026-01-01  animal K1  arrived
    """
    record = told(page)
    with pytest.raises(TypeError):
        record.animals["K2"] = record.animals["K1"]  # type: ignore[index]
    with pytest.raises(AttributeError):
        record.animals["K1"].sex = "male"  # type: ignore[misc]


def test_an_empty_journal_is_an_empty_record() -> None:
    """Nothing is known, nothing is wrong."""
    record = fold([], date(2026, 1, 1), CLOCK)
    assert (0, 0, 0, None, ()) == (
        len(record.animals), len(record.places), record.last_number, record.last_recorded, record.problems,
    )  # fmt: skip
