"""From the record to lives and curves: late entry, exits, sexes, worked by hand; properties on many rooms.

Every room here is invented. Days of care are counted by hand beside each test.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.findings.survival import by_age, by_care, since_maturing
from nightround.findings.survival_groups import curves_of
from nightround.findings.survival_lives import Life, room_lives
from nightround.reports.taxon import LifeCurve
from nightround.science.survival.data import ALIVE, DIED, LEFT, LOST
from record.notebook import told

BEGUN = date(2024, 1, 1)


def lives(text: str, on: str = "2026-12-31") -> dict[str, Life]:
    """The lives of a notebook's animals by code."""
    return {life.code: life for life in room_lives(told(text, on)).followed}


def curve(text: str, clock: str = "care", who: str = "all", on: str = "2026-12-31") -> LifeCurve:
    """One curve of a notebook's animals."""
    found = curves_of(tuple(lives(text, on).values()), "Testa una")
    return next(each for each in found if each.clock == clock and each.who == who)


HAND = """
    2024-01-01  animal A  arrived  taxon=Testa una
    2024-01-01  animal B  arrived  taxon=Testa una
    2024-01-01  animal C  arrived  taxon=Testa una
    2024-03-01  animal D  arrived  taxon=Testa una
    2024-03-01  animal D  died
    2024-04-10  animal A  died
    2024-05-30  animal C  left  how=sold
    2024-07-19  animal B  seen
"""


def test_a_room_worked_by_hand() -> None:
    """D dies on its day of arrival among four at risk, A on day 100 among three: 3/4, then 3/4 x 2/3."""
    found = curve(HAND)
    assert (4, 2, 1, 1, 0) == (found.n, found.deaths, found.alive, found.gone, found.lost)
    assert [(0.0, 4), (100.0, 3)] == [(point.days, point.at_risk) for point in found.points]
    assert [0.75, 0.5] == pytest.approx([point.survival for point in found.points])
    assert (0.0, 200.0, 200.0) == (found.from_days, found.to_days, found.oldest_days)
    assert "not enough yet: the median is open at both ends with 2 deaths" == found.median_words
    assert "1 alive, the oldest 0.5 years here" == found.words


def test_ages_enter_late() -> None:
    """Hatched 2024-01-01; aged 10, 20, 25, 40 days at arrival: at 30 three are watched, at 60 three again.

    2024-01-11  animal X  arrived  taxon=Testa una; hatched=2024-01-01
    2024-01-21  animal Y  arrived  taxon=Testa una; hatched=2024-01-01
    2024-01-26  animal Z  arrived  taxon=Testa una; hatched=2024-01-01
    2024-01-31  animal X  died
    2024-02-10  animal W  arrived  taxon=Testa una; hatched=2024-01-01
    2024-03-01  animal Z  died
    2024-03-21  animal W  seen
    2024-04-10  animal Y  seen
    """
    found = curve(test_ages_enter_late.__doc__ or "", "age")
    assert 25.0 == found.from_days
    steps = {point.days: point.survival for point in found.points}
    assert {25.0: 1.0, 30.0: 2 / 3, 60.0: 4 / 9} == pytest.approx(steps)


def test_those_sold_before_a_death_are_shown_with_half_and_twice_its_hazard() -> None:
    """C leaves on day 50, A dies on day 100 of two watched: hazard 1/2; C's share to live on is 1/4 or 0.71.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-01-01  animal B  arrived  taxon=Testa una
    2024-01-01  animal C  arrived  taxon=Testa una
    2024-02-20  animal C  left  how=given
    2024-04-10  animal A  died
    2024-06-01  animal B  seen
    """
    found = curve(test_those_sold_before_a_death_are_shown_with_half_and_twice_its_hazard.__doc__ or "")
    assert ((100.0, pytest.approx(1 - 1.75 / 3)),) == found.double
    assert ((100.0, pytest.approx(1 - (1 + 1 - 0.5**0.5) / 3)),) == found.half
    assert 0.5 == found.points[-1].survival


def test_how_each_life_ends() -> None:
    """Follow-up ends at the last sign of life; sold, lost and escaped are never deaths.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-02-01  animal A  seen
    2024-03-01  animal A  not_found
    2024-01-01  animal S  arrived  taxon=Testa una
    2024-02-01  animal S  left  how=sold
    2024-01-01  animal L  arrived  taxon=Testa una
    2024-02-01  animal L  left  how=lost
    2024-01-01  animal E  arrived  taxon=Testa una
    2024-01-20  animal E  seen
    2024-02-01  animal E  escaped
    2024-01-01  animal V  arrived  taxon=Testa una
    2024-01-20  animal V  seen
    2024-02-01/2024-02-10  animal V  died
    unknown  animal N  arrived  taxon=Testa una
    """
    text = test_how_each_life_ends.__doc__ or ""
    found = lives(text)
    day = {code: (life.alive_to, life.dead_by, life.fate) for code, life in found.items()}
    assert (date(2024, 2, 1), None, ALIVE) == day["A"]
    assert (date(2024, 2, 1), None, LEFT) == day["S"]
    assert (date(2024, 1, 1), None, LOST) == day["L"]
    assert (date(2024, 1, 20), None, LOST) == day["E"]
    assert (date(2024, 1, 31), date(2024, 2, 10), DIED) == day["V"]
    assert (("N", "Testa una", "the day it came is not known"),) == room_lives(told(text)).left_out


def test_a_death_of_unknown_day_lies_between_the_last_sign_of_life_and_its_writing() -> None:
    """Seen on 1 Feb, its death written down on 5 May: it died in between.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-02-01  animal A  seen
    unknown  animal A  died  @written 2024-05-05
    """
    name = test_a_death_of_unknown_day_lies_between_the_last_sign_of_life_and_its_writing
    life = lives(name.__doc__ or "")["A"]
    assert (date(2024, 2, 1), date(2024, 5, 5)) == (life.alive_to, life.dead_by)


def test_found_again_it_is_watched_from_then() -> None:
    """While it was out, its death could not have been seen: it enters on the day it was found.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-02-01  animal A  escaped
    2024-06-01  animal A  found_again
    2024-07-01  animal A  seen
    """
    life = lives(test_found_again_it_is_watched_from_then.__doc__ or "")["A"]
    followed = by_care(life)
    assert followed is not None
    assert (152.0, 182.0, None, ALIVE) == (followed.entry, followed.left, followed.right, followed.fate)


def test_a_vague_hatching_widens_the_age_at_death() -> None:
    """Hatched within 30 days: age counts from the middle, death lies 15 days around; a vaguer one is no age.

    2024-03-01  animal A  arrived  taxon=Testa una; hatched=2024-01-01/2024-01-31
    2024-09-01  animal A  died
    2024-03-01  animal B  arrived  taxon=Testa una; hatched=2022-01-01/2023-06-30
    """
    found = lives(test_a_vague_hatching_widens_the_age_at_death.__doc__ or "")
    followed = by_age(found["A"])
    middle = date(2024, 1, 16)
    assert followed is not None and followed.right is not None
    age = (date(2024, 9, 1) - middle).days
    assert ((date(2024, 3, 1) - middle).days, age - 15, age + 15) == (
        followed.entry,
        followed.left,
        followed.right,
    )
    assert by_age(found["B"]) is None and by_care(found["B"]) is not None


SEXED = """
    2024-01-01  animal M  arrived  taxon=Testa una
    2024-06-01  animal M  sexed  sex=male; how=exuvia
    2024-10-01  animal M  matured  sex=male
    2025-03-01  animal M  died
    2024-01-01  animal F  arrived  taxon=Testa una; sex=female
    2024-12-01  animal F  seen
    2024-01-01  animal U  arrived  taxon=Testa una
    2024-02-01  animal U  died
"""


def test_a_sex_has_its_lives_from_the_day_it_was_known() -> None:
    """A male sexed on day 152 was not at risk as a male before; up to then he stands among the not sexed."""
    males, unsexed = curve(SEXED, who="males"), curve(SEXED, who="sex not known (yet)")
    assert (1, 1, 0) == (males.n, males.deaths, males.alive)
    assert (2, 1, 0) == (unsexed.n, unsexed.deaths, unsexed.alive)
    assert (1, 0, 1) == (curve(SEXED, who="females").n, curve(SEXED, who="females").deaths, 1)


def test_males_after_the_ultimate_moult_have_their_own_clock() -> None:
    """Mature on 1 Oct, dead on 1 March: 151 days, counted from maturing; others have no such clock."""
    found = lives(SEXED)
    followed = since_maturing(found["M"])
    assert followed is not None and (0.0, 151.0, 151.0) == (followed.entry, followed.left, followed.right)
    assert since_maturing(found["F"]) is None and since_maturing(found["U"]) is None


def test_under_three_animals_there_is_no_curve() -> None:
    """Two animals, one dead: no points, but who lives and how old.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-02-01  animal A  died
    2024-01-01  animal B  arrived  taxon=Testa una
    2024-12-31  animal B  seen
    """
    found = curve(test_under_three_animals_there_is_no_curve.__doc__ or "")
    assert not found.drawn and () == found.table
    assert "1 alive, the oldest 1.0 years here; no curve under three animals" == found.words
    assert found.median is None and "not enough yet: 1 death among 2 animals" == found.median_words


def test_deaths_found_later_widen_the_band_and_fall_on_their_last_day() -> None:
    """The same room with A's death found up to 40 days later: the curve falls then, the band starts before.

    2024-01-01  animal A  arrived  taxon=Testa una
    2024-01-01  animal B  arrived  taxon=Testa una
    2024-01-01  animal C  arrived  taxon=Testa una
    2024-04-10/2024-05-20  animal A  died
    2024-09-01  animal B  seen
    2024-09-01  animal C  seen
    """
    text = test_deaths_found_later_widen_the_band_and_fall_on_their_last_day.__doc__ or ""
    vague, exact = curve(text), curve(text.replace("2024-04-10/2024-05-20", "2024-05-20"))
    assert 1 == vague.vague and "Turnbull" in vague.method and "product limit" in exact.method
    assert [140.0] == [point.days for point in vague.points[1:]]
    assert vague.points[-1].survival == pytest.approx(2 / 3) == exact.points[-1].survival
    inside = [point for point in vague.table if 100.0 < point.days < 140.0]
    same = {point.days: point for point in exact.table}
    assert inside
    for point in inside:
        other = same[point.days]
        assert 1.0 == point.survival
        assert point.low is not None and other.low is not None and point.low < other.low


FATES = ("died", "sold", "lost", "escaped", "seen")
life_rows = st.lists(
    st.tuples(st.integers(0, 400), st.integers(0, 500), st.sampled_from(FATES), st.integers(0, 30)),
    min_size=1,
    max_size=9,
)


def page_of(rows: list[tuple[int, int, str, int]]) -> str:
    """A notebook of animals: came, days followed, fate, days by which it was found later."""
    lines = []
    for number, (came, days, fate, late) in enumerate(rows):
        first, end = BEGUN + timedelta(days=came), BEGUN + timedelta(days=came + days)
        lines.append(f"{first}  animal A{number}  arrived  taxon=Testa una")
        if fate == "died":
            when = f"{end}/{end + timedelta(days=late)}" if late else f"{end}"
            lines.append(f"{when}  animal A{number}  died")
        elif fate in ("sold", "lost"):
            lines.append(f"{end}  animal A{number}  left  how={fate}")
        else:
            lines.append(f"{end}  animal A{number}  {fate}")
    return "\n".join(lines)


@settings(max_examples=60, deadline=None)
@given(rows=life_rows)
def test_counts_and_curves_of_any_room(rows: list[tuple[int, int, str, int]]) -> None:
    """Each animal is counted once by its fate; curves fall from 1 and stay inside their band."""
    found = curve(page_of(rows))
    fates = [fate for _, _, fate, _ in rows]
    lost = fates.count("lost") + fates.count("escaped")
    expected = (len(rows), fates.count("died"), fates.count("seen"), fates.count("sold"), lost)
    assert expected == (found.n, found.deaths, found.alive, found.gone, found.lost)
    assert not (found.drawn and len(rows) < 3)
    known = [p for p in found.points if p.survival is not None]
    values = [1.0, *(p.survival for p in known if p.survival is not None)]
    assert all(a >= b - 1e-12 for a, b in zip(values, values[1:], strict=False))
    for p in known:
        assert p.low is not None and p.survival is not None and p.high is not None
        assert 0.0 <= p.low <= p.survival <= p.high <= 1.0


@settings(max_examples=40, deadline=None)
@given(rows=life_rows)
def test_an_animal_that_left_never_counts_as_dead(rows: list[tuple[int, int, str, int]]) -> None:
    """With every death turned into a sale no curve falls anywhere."""
    sold = [(came, days, "sold" if fate == "died" else fate, late) for came, days, fate, late in rows]
    for found in curves_of(tuple(lives(page_of(sold)).values()), "Testa una"):
        assert 0 == found.deaths and not found.drawn


@settings(max_examples=40, deadline=None)
@given(rows=life_rows, at=st.integers(0, 900))
def test_later_entries_change_nothing(rows: list[tuple[int, int, str, int]], at: int) -> None:
    """As of a day, a notebook and the same without its later lines say the same."""
    on = (BEGUN + timedelta(days=at)).isoformat()
    lines = page_of(rows).splitlines()
    known = [line for line in lines if line.split("  ")[0].split("/")[-1] <= on]
    all_, fewer = lives("\n".join(lines), on), lives("\n".join(known), on)
    assert all_ == fewer
    assert curves_of(tuple(all_.values()), "t") == curves_of(tuple(fewer.values()), "t")


@settings(max_examples=20, deadline=None)
@given(rows=life_rows)
def test_a_later_day_of_the_question_adds_no_follow_up(rows: list[tuple[int, int, str, int]]) -> None:
    """Without new entries the curves of a year later are the same: nobody lives on by not being looked at."""
    page = page_of(rows)
    assert lives(page, "2027-01-01") == lives(page, "2028-01-01")
