"""Histories for science: windows, late entry, censoring, stays, instars and daily climate."""

from datetime import date

import pytest

from nightround.record.fold import fold
from nightround.record.histories import MoultHistory, SizeHistory
from nightround.record.make_histories import daily_climate, moult_histories, size_histories
from record.notebook import CLOCK, entries_of, told


def day(text: str) -> date:
    return date.fromisoformat(text)


def moults(text: str, on: str = "2026-12-31") -> MoultHistory:
    return moult_histories(told(text, on))["K1"]


def sizes(text: str) -> SizeHistory:
    return size_histories(told(text))["K1"]


def test_a_moult_history_with_late_entry_and_a_running_interval(page: str) -> None:
    """It arrived with a moult the seller knew of, moulted once more, and was last looked at on 1 May.

    2025-11-20  animal K1  moulted
    2026-01-01  animal K1  arrived  taxon=A; sex=female; place=shelf A; hatched=2025-06
    2026-03-01/2026-03-04  animal K1  moulted
    2026-03-10  animal K1  offered  outcome=taken
    2026-03-20  animal K1  offered  outcome=refused
    2026-03-30  animal K1  offered
    2026-04-02  animal K1  passed_over
    2026-05-01  animal K1  seen
    2026-06-01  animal K1  watered
    """
    history = moults(page, "2026-07-01")
    windows = [(w.first, w.last) for w in history.moults]
    assert [(day("2025-11-20"),) * 2, (day("2026-03-01"), day("2026-03-04"))] == windows
    assert (day("2026-01-01"), day("2026-05-01"), "running") == (
        history.under_watch, history.last_look, history.ending,
    )  # fmt: skip
    assert (day("2025-06-01"), day("2025-06-30"), "A", "female") == (
        history.hatched_first, history.hatched_last, history.taxon, history.sex,
    )  # fmt: skip
    assert (day("2026-03-10"),) == history.taken
    assert ((day("2026-03-10"), "taken"), (day("2026-03-20"), "refused")) == history.offered
    assert (
        ("", day("2025-06-01"), day("2025-12-31")),
        ("shelf A", day("2026-01-01"), day("2026-07-01")),
    ) == history.stays


@pytest.mark.parametrize(
    ("moult", "window"),
    [
        ("2026-03-10  animal K1  moulted", ("2026-03-10", "2026-03-10")),
        ("2026-03-10  animal K1  moulted  last_checked=2026-03-06", ("2026-03-07", "2026-03-10")),
        ("2026-03-01/2026-03-10  animal K1  moulted  last_checked=2026-03-06", ("2026-03-07", "2026-03-10")),
        ("2026-03-01/2026-03-10  animal K1  moulted  last_checked=2026-02-01", ("2026-03-01", "2026-03-10")),
        ("2026-03  animal K1  moulted", ("2026-03-01", "2026-03-31")),
    ],
)
def test_windows_of_moults(moult: str, window: tuple[str, str]) -> None:
    """A single day stays that day, however long nobody had looked, unless the keeper says when that was."""
    history = moults("2025-01-01  animal K1  arrived\n" + moult)
    assert [window] == [(w.first.isoformat(), w.last.isoformat()) for w in history.moults]


def test_not_before_is_the_last_look_before_the_moult(page: str) -> None:
    """Seen on the 1st and on the 10th, the day it moulted; found late the second time.

    2026-03-01  animal K1  seen
    2026-03-10  animal K1  seen
    2026-03-10  animal K1  moulted
    2026-05-05/2026-05-09  animal K1  moulted
    """
    record = told(page)
    assert [day("2026-03-01"), day("2026-05-04")] == [m.not_before for m in record.animals["K1"].moults]


def test_the_end_ends_the_interval(page: str) -> None:
    """Dead in February: nothing after it is a look, a stay or a moult.

    2026-01-01  animal K1  arrived  place=shelf A
    2026-02-01/2026-02-05  animal K1  died
    2026-03-01  animal K1  seen
    2026-03-02  animal K1  moulted
    """
    history = moults(page)
    assert ("died", day("2026-02-05"), ()) == (history.ending, history.last_look, history.moults)
    assert (("shelf A", day("2026-01-01"), day("2026-02-05")),) == history.stays


@pytest.mark.parametrize(
    ("kind", "ending"), [("died", "died"), ("left  how=sold", "left"), ("escaped", "escaped")]
)
def test_sold_is_censored_and_not_dead(kind: str, ending: str) -> None:
    """Every way to end has its own word."""
    assert ending == moults(f"2026-01-01  animal K1  arrived\n2026-02-01  animal K1  {kind}").ending


def test_stays_follow_the_home_without_gaps_or_overlaps(page: str) -> None:
    """Into a home, the home onto another shelf, out of the room for a month.

    2026-01-01  home H1  made_up  place=shelf A
    2026-01-01  animal K1  arrived  home=H1
    2026-02-01  home H1  moved  place=shelf B
    2026-03-01  animal K1  left
    2026-04-01  animal K1  arrived  place=shelf C
    """
    assert (
        ("shelf A", day("2026-01-01"), day("2026-01-31")),
        ("shelf B", day("2026-02-01"), day("2026-03-01")),
        ("", day("2026-03-02"), day("2026-03-31")),
        ("shelf C", day("2026-04-01"), day("2026-06-01")),
    ) == moults(page, "2026-06-01").stays


def test_one_moult_written_twice_counts_once(page: str) -> None:
    """Found by both keepers: the windows agree on the 4th.

    2026-01-01  animal K1  arrived
    2026-03-02/2026-03-04  animal K1  moulted
    2026-03-04  animal K1  moulted
    2026-06-01  animal K1  moulted
    """
    windows = [(w.first, w.last) for w in moults(page).moults]
    assert [(day("2026-03-04"),) * 2, (day("2026-06-01"),) * 2] == windows
    assert 3 == sizes(page).n_instars


def test_readings_stand_on_their_instar(page: str) -> None:
    """A shed skin is the instar before its moult, an animal measured on that day the one after.

    2026-01-01  animal K1  arrived
    2026-01-02  animal K1  measured  item=leg_span; value=20; unit=mm
    2026-03-01  animal K1  moulted
    2026-03-01  animal K1  measured  item=carapace_length; value=5; unit=mm; on=shed_skin
    2026-03-01  animal K1  measured  item=leg_span; value=28; unit=mm; on=live
    2026-06-01/2026-06-09  animal K1  moulted
    2026-06-05  animal K1  measured  item=leg_span; value=29; unit=mm; on=live
    2026-06-08  animal K1  measured  item=carapace_length; value=6.5; unit=mm; note=shed skin
    2026-07-01  animal K1  measured  item=carapace_length; value=6.6; unit=mm; on=shed_skin
    2026-07-02  animal K1  measured  item=carapace_length; value=8.4; unit=mm; on=live
    2026-07-03  animal K1  matured  sex=female
    2026-07-04  animal K1  injured  legs_lost=2
    """
    history = sizes(page)
    assert [
        (0, "leg_span", None), (0, "carapace_length", "shed_skin"), (1, "leg_span", "live"),
        (1, "leg_span", "live"), (1, "carapace_length", "shed_skin"), (1, "carapace_length", "shed_skin"),
        (2, "carapace_length", "live"),
    ] == [(r.instar, r.item, r.on) for r in history.readings]  # fmt: skip
    assert (3, 2, 2) == (history.n_instars, history.mature_instar, history.legs_lost)


def test_a_male_seen_mature_on_the_day_of_its_moult_matured_with_it(page: str) -> None:
    """The mature instar begins with that moult.

    2026-03-01  animal K1  moulted
    2026-03-01  animal K1  matured  sex=male
    """
    assert (2, 1) == (sizes(page).n_instars, sizes(page).mature_instar)


def test_a_skin_written_the_day_before_its_moult_belongs_to_it(page: str) -> None:
    """As in one record of the crab data, where the moult stands a day after its skin.

    2012-07-01  animal K1  moulted
    2012-08-22  animal K1  measured  item=carapace_length; value=3.1; unit=mm; note=shed skin
    2012-08-23  animal K1  moulted
    """
    assert [1] == [r.instar for r in sizes(page).readings]


def test_a_carapace_that_may_be_of_skin_or_animal_is_not_used(page: str) -> None:
    """Measured on the day of the moult without saying on what.

    2026-01-01  animal K1  arrived
    2026-03-01  animal K1  moulted
    2026-03-01  animal K1  measured  item=carapace_length; value=5; unit=mm
    2026-03-09  animal K1  measured  item=carapace_length; value=7; unit=mm
    """
    assert [7.0] == [r.value for r in sizes(page).readings]
    assert ["skin_or_animal"] == [problem.kind for problem in told(page).problems]


def test_a_day_has_one_mean_and_missing_days_stay_missing(page: str) -> None:
    """A mean wins over readings, readings over minimum and maximum; a month's mean holds for its days.

    2026-01-01  place shelf A  reading  temperature_c=20; humidity_percent=60
    2026-01-01T21:00  place shelf A  reading  temperature_c=30; statistic=reading
    2026-01-02T09:00  place shelf A  reading  temperature_c=21; statistic=reading
    2026-01-02T21:00  place shelf A  reading  temperature_c=25
    2026-01-04  place shelf A  reading  temperature_c=18; statistic=min
    2026-01-04  place shelf A  reading  temperature_c=28; statistic=max
    2026-01-05  place shelf A  reading  temperature_c=18; statistic=min
    2026-02  place shelf A  reading  temperature_c=19
    2026-03/2026-04  place shelf A  reading  temperature_c=22
    2026-07-01  place shelf A  expected  temperature_c=25
    2026-07-01  place shelf A  expected  temperature_c=27
    """
    climate = daily_climate(told(page))["shelf A"]
    january = {d: t for d, t in climate.temperature_c.items() if d.month == 1}
    assert {day("2026-01-01"): 20.0, day("2026-01-02"): 23.0, day("2026-01-04"): 23.0} == january
    assert 3 + 28 == len(climate.temperature_c)
    assert {day("2026-01-01"): 60.0} == climate.humidity_percent
    assert {day("2026-07-01"): 27.0} == climate.expected_c


def test_a_reading_after_midnight_belongs_to_the_evening_before() -> None:
    """01:30 is before the turn at 04:00."""
    record = fold(
        entries_of("2026-01-03T01:30  place shelf A  reading  temperature_c=20; statistic=reading"),
        date(2026, 1, 3), CLOCK,
    )  # fmt: skip
    assert {day("2026-01-02"): 20.0} == daily_climate(record)["shelf A"].temperature_c


def test_a_moult_of_unknown_date_has_no_window(page: str) -> None:
    """It is counted in the animal's history, but science cannot place it.

    unknown     animal K1  moulted
    2026-03-01  animal K1  moulted
    """
    assert (2, 1) == (len(told(page).animals["K1"].moults), len(moults(page).moults))
