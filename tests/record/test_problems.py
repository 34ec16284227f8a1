"""Contradictions: each named with its entries, none where a keeper's record is merely incomplete."""

import pytest

from nightround.foundation.problem import Problem
from record.notebook import entries_of, kinds, told

ARRIVED = "2026-01-01  animal K1  arrived\n"

CASES: list[tuple[str, str, tuple[int, ...], str]] = [
    (
        "moult_after_death",
        "2026-02-01  animal K1  died\n2026-03-01  animal K1  moulted",
        (2, 3),
        "contradiction",
    ),
    ("after_death", "2026-02-01  animal K1  died\n2026-03-01  animal K1  seen", (2, 3), "contradiction"),
    ("died_twice", "2026-02-01  animal K1  died\n2026-03-01  animal K1  died", (2, 3), "contradiction"),
    (
        "moult_after_leaving",
        "2026-02-01  animal K1  left  how=sold\n2026-03-01  animal K1  moulted",
        (2, 3),
        "contradiction",
    ),
    ("after_leaving", "2026-02-01  animal K1  left\n2026-03-01  animal K1  died", (2, 3), "contradiction"),
    ("after_escape", "2026-02-01  animal K1  escaped\n2026-03-01  animal K1  seen", (2, 3), "doubt"),
    ("arrived_twice", "2026-02-01  animal K1  arrived", (1, 2), "contradiction"),
    ("before_arrival", "2025-12-01  animal K1  offered  outcome=taken", (1, 2), "doubt"),
    ("ended_before_arrival", "2025-12-01  animal K1  died", (1, 2), "contradiction"),
    (
        "moulted_twice",
        "2026-03-01  animal K1  moulted\n2026-03-04  animal K1  moulted",
        (2, 3),
        "contradiction",
    ),
    (
        "moults_overlap",
        "2026-03-01/2026-03-20  animal K1  moulted\n2026-03-10  animal K1  moulted",
        (2, 3),
        "doubt",
    ),
    (
        "mature_male_moulted",
        "2026-03-01  animal K1  matured  sex=male\n2026-05-01  animal K1  moulted",
        (2, 3),
        "doubt",
    ),
    (
        "sexes_differ",
        "2026-03-01  animal K1  sexed  sex=female; how=ventral\n2026-05-01  animal K1  sexed  sex=male",
        (2, 3),
        "doubt",
    ),
    ("outcome_of_no_offer", "2026-03-01  animal K1  offer_seen  outcome=taken", (2,), "doubt"),
    (
        "outcome_before_offer",
        "2026-03-05  animal K1  offered\n2026-03-01  animal K1  offer_seen  outcome=taken; offer=2",
        (2, 3),
        "contradiction",
    ),
    (
        "two_homes_at_once",
        "2026-03-05  animal K1  moved  home=H1\n2026-03-05  animal K1  moved  home=H2",
        (2, 3),
        "doubt",
    ),
    (
        "size_shrinks",
        "2026-03-01  animal K1  measured  item=leg_span; value=50; unit=mm\n"
        "2026-04-01  animal K1  measured  item=leg_span; value=35; unit=mm",
        (2, 3),
        "doubt",
    ),
    (
        "size_halves",
        "2026-03-01  animal K1  measured  item=leg_span; value=50; unit=mm\n"
        "2026-04-01  animal K1  measured  item=leg_span; value=25; unit=mm",
        (2, 3),
        "contradiction",
    ),
    (
        "smaller_after_moult",
        "2026-03-01  animal K1  measured  item=carapace_length; value=10; unit=mm; on=live\n"
        "2026-03-10  animal K1  moulted\n"
        "2026-04-01  animal K1  measured  item=carapace_length; value=9; unit=mm; on=live",
        (2, 4),
        "doubt",
    ),
    (
        "size_jumps",
        "2026-03-01  animal K1  measured  item=carapace_length; value=2; unit=mm; on=live\n"
        "2026-03-10  animal K1  moulted\n"
        "2026-04-01  animal K1  measured  item=carapace_length; value=25; unit=mm; on=live",
        (2, 4),
        "doubt",
    ),
    (
        "size_not_possible",
        "2026-03-01  animal K1  measured  item=leg_span; value=1500; unit=mm",
        (2,),
        "contradiction",
    ),
    (
        "mass_jumps",
        "2026-03-01  animal K1  measured  item=mass; value=2; unit=g\n"
        "2026-04-01  animal K1  measured  item=mass; value=40; unit=g",
        (2, 3),
        "doubt",
    ),
    (
        "skin_without_moult",
        "2026-03-01  animal K1  measured  item=carapace_length; value=2; unit=mm; on=shed_skin",
        (2,),
        "doubt",
    ),
    ("stock_take_disagrees", "2026-03-01  animal K1  stock_take  alive=false", (2,), "contradiction"),
    ("date_in_the_future", "2026-03-02  animal K1  seen  @written 2026-03-01", (2,), "contradiction"),
    ("date_in_the_future", "2026-03  animal K1  moulted  @written 2026-03-09", (2,), "doubt"),
    ("date_long_ago", "1026-03-02  animal K1  moulted", (2,), "contradiction"),
    ("date_not_readable", "2026-03-02  animal K1  moulted  last_checked=last week", (2,), "doubt"),
]


CASES += [
    (
        "mass_falls",
        "2026-03-01  animal K1  measured  item=mass; value=2; unit=g\n2026-03-10  animal K1  moulted\n"
        "2026-04-01  animal K1  measured  item=mass; value=1; unit=g",
        (2, 4),
        "doubt",
    ),
    (
        "skin_before_moult",
        "2026-03-01  animal K1  measured  item=carapace_length; value=2; unit=mm; on=shed_skin\n"
        "2026-03-02  animal K1  moulted",
        (2,),
        "doubt",
    ),
]


@pytest.mark.parametrize(
    ("kind", "text", "numbers", "severity"), CASES, ids=[f"{case[0]}-{case[3]}" for case in CASES]
)
def test_each_contradiction_is_named_with_its_entries(
    kind: str, text: str, numbers: tuple[int, ...], severity: str
) -> None:
    """The arrival is entry 1; exactly one problem, which says what would settle it."""
    record = told(ARRIVED + text)
    assert [(kind, "animal K1", numbers, severity)] == [
        (problem.kind, problem.subject, problem.entries, problem.severity) for problem in record.problems
    ]
    assert record.problems[0].message.endswith(".") and record.problems[0].todo.endswith(".")


QUIET = [
    "2026-02-01  animal K1  died\n2026-03-01  animal K1  sexed  sex=male; how=ventral",
    "2026-02-01  animal K1  died\n2026-02-01  animal K1  seen",
    "2026-02-01/2026-02-09  animal K1  died\n2026-02-05  animal K1  seen",
    "2025-12-01  animal K1  moulted",
    "2025-12-01  animal K1  measured  item=leg_span; value=50; unit=mm",
    "2026-03-01  animal K1  moulted\n2026-03-09  animal K1  moulted",
    "2026-03-01  animal K1  matured  sex=male\n2026-03-01  animal K1  moulted",
    "2026-03-01  animal K1  matured  sex=female\n2027-03-01  animal K1  moulted",
    "2026-03-01  animal K1  measured  item=leg_span; value=50; unit=mm; posture=stretched\n"
    "2026-04-01  animal K1  measured  item=leg_span; value=28; unit=mm; posture=bent",
    "2026-03-01  animal K1  moved  home=nobody made it; place=nobody set it up",
    "2026-03-05T20:00  animal K1  moved  home=H1\n2026-03-05T20:10  animal K1  moved  home=H2",
    "2026-03-01  animal K1  stock_take  alive=true",
    "2027-03-02  place shelf A  expected  temperature_c=25  @written 2026-03-01",
    "2026-03-01T02:00  animal K1  seen  @written 2026-02-28",
    "2026-03-01  animal K1  offered\n2026-03-02  animal K1  offer_seen",
]


@pytest.mark.parametrize("text", QUIET)
def test_an_honest_record_raises_nothing(text: str) -> None:
    """Late news, unknown homes, bent legs and plans are no contradictions."""
    assert [] == kinds(told(ARRIVED + text))


def test_nothing_happens_before_hatching(page: str) -> None:
    """Hatched in June, yet it moulted and ate in May.

    2026-07-01  animal K1  arrived  hatched=2026-06
    2026-05-01  animal K1  moulted
    2026-05-02  animal K1  measured  item=leg_span; value=5; unit=mm
    """
    record = told(page)
    assert [("before_hatching", (1, 3)), ("moult_before_hatching", (1, 2))] == [
        (problem.kind, problem.entries) for problem in record.problems
    ]


def test_a_batch_gives_no_more_than_it_has(page: str) -> None:
    """Two hatched, three got a code, and a later count finds four.

    2026-01-01  batch B1  batch_begun  number=2
    2026-02-01  animal K1  hatched  batch=B1
    2026-02-01  animal K2  hatched  batch=B1
    2026-02-02  animal K3  hatched  batch=B1
    2026-03-01  batch B1  batch_counted  living=4
    """
    record = told(page)
    assert ["batch_grew", "batch_used_up"] == kinds(record)
    assert 4 == record.batches["B1"].living


def test_stock_takes_of_every_sort(page: str) -> None:
    """The room holds two, the home one, the batch forty, the lot ten; each was counted otherwise.

    2026-01-01  animal K1  arrived  home=H1; place=shelf A
    2026-01-01  animal K2  arrived
    2026-01-01  batch B1  batch_begun  number=40
    2026-01-01  lot L1  lot_begun  number=10
    2026-02-01  room  stock_take  number=3
    2026-02-01  home H1  stock_take  number=2
    2026-02-01  batch B1  stock_take  number=39
    2026-02-01  lot L1  stock_take  number=9
    2026-02-01  animal K1  stock_take  home=H2; place=shelf A
    2026-02-02  room  stock_take  number=2
    """
    record = told(page)
    assert [(9,), (7,), (6,), (8,), (5,)] == [problem.entries for problem in record.problems]
    assert {"stock_take_disagrees"} == set(kinds(record))


def test_one_mass_among_many_that_no_carapace_carries() -> None:
    """Thirty of one taxon weigh as the cube of their carapace, within a few percent; one a third of that."""
    pages = [
        f"2026-01-01  animal K{n}  arrived  taxon=A\n"
        f"2026-01-02  animal K{n}  measured  item=carapace_length; value={5 + n / 10}; unit=mm; on=live\n"
        f"2026-01-02  animal K{n}  measured  item=mass; "
        f"value={(0.33 if n == 7 else 1 + n % 5 / 50) * (5 + n / 10) ** 3 / 500}; unit=g"
        for n in range(30)
    ]
    problems = told("\n".join(pages)).problems
    assert [("mass_does_not_fit", "animal K7", (23, 24))] == [
        (p.kind, p.subject, p.entries) for p in problems
    ]
    assert [] == kinds(told("\n".join(pages[5:15])))  # too few to say


def test_feeders_that_were_not_there(page: str) -> None:
    """Ten crickets, twelve culled.

    2026-01-01  lot L1  lot_begun  number=10
    2026-01-02  lot L1  lot_changed  what=culled; number=12
    """
    record = told(page)
    assert (["lot_used_up"], 0) == (kinds(record), record.lots["L1"].number)


def _lone(year: int) -> list[Problem]:
    dates = (f"2012-{month:02}-{day:02}" for month in range(1, 13) for day in range(1, 11))
    days = "\n".join(f"{date}  animal K1  seen" for date in dates)
    text = f"2012-01-01  animal K1  arrived\n{days}\n{year}-12-28  animal K1  died"
    return list(told(text, "2015-01-01").problems)


def test_one_date_long_after_everything_else_is_a_doubt() -> None:
    """A death a year after the study ended, as in the crab data; in the study's own year it is none."""
    assert ["date_alone"] == [problem.kind for problem in _lone(2013)]
    assert [] == _lone(2012)


def test_a_wrong_year_is_named_on_the_day_it_is_written_and_counts_for_nothing_else(page: str) -> None:
    """Written in 2026 for 2062: the keeper hears of it at once, the animal knows nothing of it.

    2026-01-01  animal K1  arrived  @written 2026-01-01
    2062-03-01  animal K1  moulted  @written 2026-03-01
    """
    assert [[], ["date_in_the_future"]] == [kinds(told(page, on)) for on in ("2026-02-28", "2026-03-01")]
    assert ((), 1) == (told(page).animals["K1"].moults, len(entries_of(page)) - 1)


def test_every_problem_comes_once_and_in_order(page: str) -> None:
    """Problems are sorted values without repeats, whatever the order of writing.

    2026-01-01  animal K2  arrived
    2026-02-01  animal K2  arrived
    2026-02-01  animal K1  seen
    """
    problems = told(page).problems
    assert sorted(set(problems)) == list(problems)
    assert ["arrived_twice", "never_announced"] == [problem.kind for problem in problems]
