"""The table of rules and the keeper's overrules."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightround.foundation.refusal import NotReadable
from nightround.plans.rules import RuleBook, read_value, rule_for, value_words
from nightround.plans.rules_page import rules_page
from nightround.plans.rules_table import RULES, SECTIONS
from nightround.record.model import Place, Rule
from plans.evening import KIND, animal, feeding, offer, record, round_of, row_of, rule, sized

GRADES = {"A", "B", "C", "D", "CP", "MEM", "choice"}


@pytest.mark.parametrize("key", RULES)
def test_every_rule_reads_its_own_default_and_names_source_and_grade(key: str) -> None:
    """A rule without a source says so."""
    rule_row = RULES[key]
    value = read_value(rule_row, rule_row.default)
    assert rule_row.grade in GRADES
    assert rule_row.source and rule_row.words
    if isinstance(value, float):
        assert rule_row.low <= value <= rule_row.high
    if rule_row.grade in ("CP", "MEM", "choice"):
        assert any(
            word in rule_row.source for word in ("common practice", "from memory", "chosen", "unknown")
        )


def test_sections_hold_every_rule_once() -> None:
    """The page shows the whole table."""
    assert list(RULES) == [each.key for _, rules in SECTIONS for each in rules]


def test_the_page_of_rules_is_the_table(project: Path) -> None:
    """docs/rules.md is printed by `python -m nightround.plans.rules_page`: print it again."""
    assert rules_page() == (project / "docs" / "rules.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("feed_adult_days", "10", 10.0),
        ("feed_adult_days", "2 weeks", 14.0),
        ("feed_adult_days", "never", None),
        ("premoult_odds", "40 %", 0.4),
        ("premoult_odds", "40%", 0.4),
        ("premoult_odds", "0.4", 0.4),
        ("small_below_span_mm", "4 cm", 40.0),
        ("small_below_span_mm", "2 in", 50.8),
        ("water_ml", "1 fl oz", 29.5735295625),  # NIST Handbook 44, appendix C: 1 gal = 231 cubic inches
        ("water_ml", "", None),
        ("quarantine_restarts", "No", False),
        ("prey_kind", "dubia roach", "dubia roach"),
        ("logger_clock", "Winter", "winter"),
        ("logger_fast_minutes", "4", 4.0),
        ("logger_fast_minutes", "-2.5 min", -2.5),
    ],
)
def test_values_are_read_as_keepers_write_them(key: str, text: str, value: object) -> None:
    """Numbers alone are in the rule's unit; units of both systems are understood."""
    assert value == read_value(RULES[key], text)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("feed_adult_days", "often"),
        ("logger_clock", "spring"),
        ("logger_fast_minutes", "4 days"),
        ("logger_fast_minutes", "721"),
        ("feed_adult_days", "0"),
        ("feed_adult_days", "-7"),
        ("feed_adult_days", "7 cm"),
        ("feed_adult_days", "1e9"),
        ("hardening_sling_days", "never"),
        ("quarantine_days", "never"),
        ("premoult_odds", "150 %"),
        ("prey_number", "1.5"),
        ("quarantine_restarts", "maybe"),
        ("water_ml", "about 10"),
        ("water_ml", "nan"),
    ],
)
def test_values_that_cannot_be_meant_are_refused(key: str, text: str) -> None:
    """Nothing is guessed, and no bound is passed by accident."""
    with pytest.raises(NotReadable):
        read_value(RULES[key], text)


def test_the_narrowest_overrule_wins() -> None:
    """All 10, room 'cellar' 11, shelf 12, taxon 13, animal 14 days; then without the narrower."""
    key = "feed_adult_days"
    rules = [
        rule(key, "14", "animal", "K12", 5),
        rule(key, "13", "taxon", KIND, 4),
        rule(key, "12", "place", "shelf A", 3),
        rule(key, "11", "place", "cellar", 2),
        rule(key, "10", number=1),
    ]
    places = {"shelf A": Place("shelf A", inside="cellar"), "cellar": Place("cellar")}
    one = animal(place="shelf A")
    for index, days in enumerate((14, 13, 12, 11, 10)):
        room = record(one, rules=tuple(rules[index:]), places=places)
        found = rule_for(room, key, one)
        assert days == found.number
        assert found.used.overruled and "own" == found.used.grade
    plain = rule_for(record(one), key, one)
    assert (14, "D", False) == (plain.number, plain.used.grade, plain.used.overruled)


def test_a_shelf_that_stands_in_itself_is_no_trap() -> None:
    """The place 'A' is recorded as standing inside 'A'."""
    one = animal(place="A")
    room = record(one, places={"A": Place("A", inside="A")}, rules=(rule("water_ml", "5"),))
    assert 5 == rule_for(room, "water_ml", one).number


def test_an_empty_value_gives_way_to_the_wider_rule() -> None:
    """K12 had 3 days, then nothing: the kind's 9 days count."""
    key = "feed_adult_days"
    rules = (
        rule(key, "9", "taxon", KIND, 1),
        rule(key, "3", "animal", "K12", 2),
        rule(key, "", "animal", "K12", 3),
    )
    one = animal()
    assert 9 == rule_for(record(one, rules=rules), key, one).number


def test_the_latest_of_two_words_on_one_thing_counts() -> None:
    """First 3 days for K12, later 5."""
    rules = (
        rule("feed_adult_days", "5", "animal", "K12", 9),
        rule("feed_adult_days", "3", "animal", "K12", 2),
    )
    assert 5 == rule_for(record(animal(), rules=rules), "feed_adult_days", animal()).number


def test_a_bad_overrule_becomes_a_problem_and_the_default_counts() -> None:
    """Rule 17 says 'often': the juvenile is still fed weekly, and the keeper is told."""
    rules = (rule("feed_juvenile_days", "often", number=17),)
    room = record(animal(offers=(offer(6),)), rules=rules)
    report = round_of(room, sizes=(sized(span=60),))
    assert "wait" == feeding(report.shelves[0].rows[0])
    problem = report.problems[0]
    assert ("rule_not_readable", (17,), "doubt") == (problem.kind, problem.entries, problem.severity)
    assert "'often'" in problem.message


def test_an_unknown_rule_names_its_neighbours() -> None:
    """A slip of the pen in the name of a rule."""
    book = RuleBook(record(animal(), rules=(rule("feed_adult_day", "9", number=4),)))
    assert "feed_adult_days" in book.problems[0].message
    with pytest.raises(NotReadable, match="feed_adult_days"):
        rule_for(record(), "feed_adult_day")


def test_why_and_whose_a_rule_is_are_shown() -> None:
    """The keeper's reason stands beside the rule."""
    rules = (Rule(3, rule("x", "1", "animal", "K12").about, "feed_unknown_days", "3", "it is thin"),)
    used = next(each for job in row_of(animal(), rules=rules).jobs for each in job.rules if each.overruled)
    assert ("own", "your rule for animal K12: it is thin", "3 days") == (used.grade, used.source, used.value)


def test_lengths_are_shown_in_both_unit_systems() -> None:
    """25 mm is 0.98 in (exactly 25.4 mm to the inch, NIST SP 811)."""
    assert "2.5 cm (0.98 in)" == value_words(RULES["sling_below_span_mm"], 25.0)


@pytest.mark.parametrize(
    ("key", "text", "value", "words"),
    [
        ("cold_night_c", "18 C", 18.0, "18.0 °C (64.4 °F)"),
        ("cold_night_c", "64.4 F", 18.0, "18.0 °C (64.4 °F)"),
        ("heat_wave_c", "31", 31.0, "31.0 °C (87.8 °F)"),
        ("cold_drop_c", "9 F", 5.0, "5.0 °C (9.0 °F)"),
        ("cold_drop_c", "4", 4.0, "4.0 °C (7.2 °F)"),
        ("cold_night_c", "never", None, "never"),
    ],
)
def test_temperatures_and_differences_in_both_units(
    key: str, text: str, value: float | None, words: str
) -> None:
    """A temperature is shifted from Fahrenheit, a difference between two is only scaled."""
    read = read_value(RULES[key], text)
    assert value == (None if read is None else pytest.approx(read))
    assert words == value_words(RULES[key], read)
