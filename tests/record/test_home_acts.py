"""What was done to a home, in order of time, also when it was written of the animal or batch in it."""

from datetime import date

from nightround.journal.kinds.surroundings import MadeUp, MoistureFelt, Watered, Weighed
from record.notebook import told


def numbers(page: str, home: str = "H1", on: str = "2026-12-31") -> list[int]:
    """Entry numbers of a home's acts."""
    return [act.number for act in told(page, on).homes[home].acts]


def test_acts_stand_in_order_of_time_not_of_writing(page: str) -> None:
    """A weighing of May written last comes between the making up and the watering of June.

    2026-04-01  home H1  made_up  shape=box
    2026-06-01  home H1  watered  value=10
    2026-05-01  home H1  weighed  value=500; written=500; written_unit=g
    """
    acts = told(page).homes["H1"].acts
    assert [1, 3, 2] == [act.number for act in acts]
    assert [MadeUp, Weighed, Watered] == [type(act.body) for act in acts]


def test_water_of_an_animal_is_an_act_of_the_home_it_was_in_on_that_day(page: str) -> None:
    """K1 lived in H1 until it moved to H2.

    2026-04-01  animal K1  arrived  home=H1
    2026-04-02  animal K1  watered  value=10
    2026-04-03  animal K1  moisture_felt  bottom=damp
    2026-04-05  animal K1  moved  home=H2
    2026-04-06  animal K1  watered  value=20
    """
    record = told(page)
    assert ([2, 3], [5]) == tuple([act.number for act in record.homes[code].acts] for code in ("H1", "H2"))
    assert isinstance(record.homes["H1"].acts[1].body, MoistureFelt)
    assert ((date(2026, 4, 2), 10.0),) == record.homes["H1"].watered


def test_water_of_a_batch_is_an_act_of_its_home(page: str) -> None:
    """A batch in H1.

    2026-04-01  batch B1  batch_begun  taxon=T; number=40; home=H1
    2026-04-02  batch B1  watered  value=3
    2026-04-03  batch B1  moisture_felt  surface=dry
    """
    assert [2, 3] == numbers(page)


def test_struck_and_later_entries_are_no_acts(page: str) -> None:
    """A struck watering is gone; an entry of June is not known in May.

    2026-04-01  home H1  made_up  shape=box
    2026-04-01  home H1  watered  value=10
    2026-04-02  home H1  struck  @corrects 2
    2026-06-01  home H1  watered  value=20
    """
    assert [1] == numbers(page, on="2026-05-31")
    assert [1, 4] == numbers(page, on="2026-06-01")


def test_an_act_of_unknown_day_is_none(page: str) -> None:
    """Nobody knows which water it was before or after.

    2026-04-01  home H1  made_up  shape=box
    unknown     home H1  watered  value=10
    """
    assert [1] == numbers(page)


def test_times_of_one_day_order_its_acts(page: str) -> None:
    """Weighed at nine, watered at ten, though written the other way round.

    2026-04-01T22:00+01:00  home H1  watered  value=10
    2026-04-01T21:00+01:00  home H1  weighed  value=500; written=500; written_unit=g
    """
    assert [2, 1] == numbers(page)
