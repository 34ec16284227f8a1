"""The last look and the last sign of life, kind by kind."""

from datetime import date

import pytest

from nightround.journal.kinds import KINDS
from nightround.record.looks import LOOK_RULES, OUTCOME_LOOKS
from record.notebook import told

LOOK, LIFE, BOTH, NEITHER = (True, False), (False, True), (True, True), (False, False)


@pytest.mark.parametrize(
    ("entry", "counts"),
    [
        ("seen", BOTH),
        ("seen  burrow_sealed=true", NEITHER),
        ("seen  burrow_sealed=true; posture=at the entrance", LIFE),
        ("not_found", NEITHER),
        ("passed_over", NEITHER),
        ("watered", NEITHER),
        ("misted", NEITHER),
        ("drops_given", NEITHER),
        ("dish  state=filled", NEITHER),
        ("moisture_felt  surface=dry", NEITHER),
        ("offered", NEITHER),
        ("offered  outcome=taken", BOTH),
        ("offered  outcome=refused", BOTH),
        ("offered  outcome=uneaten", LOOK),
        ("offered  outcome=not_seen", NEITHER),
        ("leftovers_removed", LOOK),
        ("cleaned", LOOK),
        ("moulted", BOTH),
        ("measured  item=leg_span; value=40; unit=mm", BOTH),
        ("measured  item=mass; value=4; unit=g", BOTH),
        ("measured  item=carapace_length; value=4; unit=mm; on=live", BOTH),
        ("measured  item=carapace_length; value=4; unit=mm; on=shed_skin", NEITHER),
        ("measured  item=carapace_length; value=4; unit=mm", NEITHER),
        ("measured  item=leg_span; value=40; unit=mm; note=shed skin", NEITHER),
        ("sexed  sex=male; how=ventral", BOTH),
        ("sexed  sex=male; how=exuvia", NEITHER),
        ("moved  home=H2", BOTH),
        ("moved  place=shelf B", NEITHER),
        ("treated", BOTH),
        ("left  how=sold", BOTH),
        ("left  how=lost", NEITHER),
        ("died", LOOK),
        ("quarantine", NEITHER),
        ("wintering", NEITHER),
        ("noted", NEITHER),
        ("stock_take  alive=true", LIFE),
        ("stock_take  alive=false", NEITHER),
    ],
)
def test_what_counts_as_a_look_and_as_life(entry: str, counts: tuple[bool, bool]) -> None:
    """Each kind on the tenth day after an arrival on the first."""
    animal = told(f"2026-01-01  animal K1  arrived  home=H1\n2026-01-10  animal K1  {entry}").animals["K1"]
    tenth = date(2026, 1, 10)
    assert counts == (animal.last_look == tenth, animal.last_life == tenth)


def test_every_row_names_a_kind_and_a_reason() -> None:
    """The table cannot drift from the kinds, and says why."""
    assert [] == [kind for kind in LOOK_RULES if kind not in KINDS]
    assert [] == [kind for kind, rule in LOOK_RULES.items() if len(rule.why) < 5]
    assert {"taken", "refused", "uneaten", "not_seen"} == set(OUTCOME_LOOKS)


def test_a_look_at_some_time_in_an_interval_is_sure_only_on_its_first_day() -> None:
    """Seen at some time between the 5th and the 9th; a moult found in those days was looked at on the 9th."""
    arrived = "2026-01-01  animal K1  arrived\n2026-01-05/2026-01-09  animal K1  "
    looks = [told(arrived + kind).animals["K1"].last_look for kind in ("seen", "moulted")]
    assert [date(2026, 1, 5), date(2026, 1, 9)] == looks


def test_a_look_after_death_does_not_count(page: str) -> None:
    """It died on the 10th; the sighting of the 20th is a contradiction, not a look.

    2026-01-01  animal K1  arrived
    2026-01-10  animal K1  died
    2026-01-20  animal K1  seen
    """
    animal = told(page).animals["K1"]
    assert (date(2026, 1, 10), date(2026, 1, 10)) == (animal.last_look, animal.last_life)


def test_the_last_life_may_stand_in_the_entry_of_the_death(page: str) -> None:
    """Found dead in March, last seen alive on 20 January.

    2026-01-01  animal K1  arrived
    2026-01-21/2026-03-01  animal K1  died  last_seen_alive=2026-01-20
    """
    animal = told(page).animals["K1"]
    assert (date(2026, 1, 21), date(2026, 1, 20)) == (animal.last_look, animal.last_life)


def test_cleaning_a_home_is_a_look_at_whoever_is_in_it(page: str) -> None:
    """K1 was in H1, K2 was not.

    2026-01-01  animal K1  arrived  home=H1
    2026-01-01  animal K2  arrived  home=H2
    2026-01-10  home H1  cleaned
    """
    animals = told(page).animals
    assert [date(2026, 1, 10), date(2026, 1, 1)] == [animals[code].last_look for code in ("K1", "K2")]
