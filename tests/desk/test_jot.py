"""Plain lines into entries: what each way of saying it writes, and what is refused instead of guessed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from nightround.desk.desk import Desk
from nightround.desk.jot import understand
from nightround.foundation.when import between, on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds import animal as a
from nightround.journal.kinds import knowledge as k
from nightround.journal.kinds import surroundings as s
from nightround.journal.store import Journal
from nightround.record.model import Record

ON = date(2026, 11, 24)  # a Tuesday
ARRIVED = date(2026, 11, 1)


def animal(code: str) -> Ref:
    """An animal of the invented room."""
    return Ref("animal", code)


OPENING: list[Draft] = [
    Draft(animal("K12"), on_day(ARRIVED), a.Arrived(taxon="Poecilotheria metallica", place="shelf B")),
    Draft(animal("K07"), on_day(ARRIVED), a.Arrived(place="shelf B", home="H7")),
    Draft(animal("K09"), on_day(ARRIVED), a.Arrived(place="Rack 2, left")),
    Draft(animal("K13"), on_day(ARRIVED), a.Arrived()),
    Draft(animal("K12"), on_day(date(2026, 11, 20)), a.Offered(prey="roach", number=1, prey_mm=10.0)),
    Draft(animal("K12"), on_day(date(2026, 11, 23)), a.Offered(prey="cricket", number=2)),
    Draft(animal("K07"), on_day(date(2026, 11, 23)), a.Offered(prey="lateralis roach", number=1)),
    Draft(Ref("batch", "B1"), on_day(ARRIVED), s.BatchBegun(number=40)),
    Draft(Ref("home", "H3"), on_day(ARRIVED), s.MadeUp()),
    Draft(Ref("lot", "cricket 1"), on_day(ARRIVED), s.LotBegun(feeder="cricket", number=200)),
]
ROACH, CRICKETS, OTHER = 5, 6, 7
"""Entry numbers of the open offers above."""


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    """A small invented room as of a Tuesday."""
    room: Path = tmp_path_factory.mktemp("jot") / "room.sqlite"
    with Desk(Journal.create(room, time_zone="UTC")) as desk:
        desk.write(OPENING)
        yield desk.record(ON)


TUE, MON = on_day(ON), on_day(date(2026, 11, 23))
LENGTH: dict[str, Any] = {"value": 45.0, "unit": "mm", "written": "4.5", "written_unit": "cm"}
ML: dict[str, Any] = {"value": 10.0, "unit": "ml", "written": "10", "written_unit": "ml"}

CASES: list[tuple[str, str, Any, Body]] = [
    # outcomes: an open offer is answered, else a new one is told of
    ("K12 took 2 crickets", "K12", TUE, a.OfferSeen(outcome="taken", offer=CRICKETS)),
    ("k12 ate", "K12", TUE, a.OfferSeen(outcome="taken", offer=CRICKETS)),
    ("K12 refused", "K12", TUE, a.OfferSeen(outcome="refused", offer=CRICKETS)),
    ("K12 has refused it.", "K12", TUE, a.OfferSeen(outcome="refused", offer=CRICKETS)),
    ("K12: left uneaten", "K12", TUE, a.OfferSeen(outcome="uneaten", offer=CRICKETS)),
    ("K12 left 2 crickets uneaten", "K12", TUE, a.OfferSeen(outcome="uneaten", offer=CRICKETS)),
    ("K12 took the prey yesterday", "K12", MON, a.OfferSeen(outcome="taken", offer=CRICKETS)),
    ("yesterday: K12 took it", "K12", MON, a.OfferSeen(outcome="taken", offer=CRICKETS)),
    ("K12 refused the prey on fri", "K12", on_day(date(2026, 11, 20)),
     a.OfferSeen(outcome="refused", offer=ROACH)),
    ("K12 prey not seen", "K12", TUE, a.OfferSeen(outcome="not_seen", offer=CRICKETS)),
    ("K12 took 1 roach", "K12", TUE, a.OfferSeen(outcome="taken", offer=ROACH)),
    ("K12 took 1 roach 10 mm", "K12", TUE, a.OfferSeen(outcome="taken", offer=ROACH)),
    ("K07 took 1 roach", "K07", TUE, a.Offered(prey="roach", number=1, outcome="taken")),
    ("K07 took 1 lateralis roach", "K07", TUE, a.OfferSeen(outcome="taken", offer=OTHER)),
    ("K13 refused", "K13", TUE, a.Offered(outcome="refused")),
    ("K13 took 2 fruit flies", "K13", TUE, a.Offered(prey="fruit fly", number=2, outcome="taken")),
    ("K13 took a 10mm cricket", "K13", TUE,
     a.Offered(prey="cricket", number=1, prey_mm=10.0, outcome="taken")),
    ('K13 took 3 "red beetles"', "K13", TUE, a.Offered(prey="red beetles", number=3, outcome="taken")),
    ("K12 refused 1 mealworm on 3 nov", "K12", on_day(date(2026, 11, 3)),
     a.Offered(prey="mealworm", number=1, outcome="refused")),
    # offers: never an outcome of their own
    ("K13 offered 2 crickets", "K13", TUE, a.Offered(prey="cricket", number=2)),
    ("K13 fed", "K13", TUE, a.Offered()),
    ("K13 fed one small prekilled cricket 8 mm", "K13", TUE,
     a.Offered(prey="cricket", number=1, prey_mm=8.0, prekilled=True, note="small")),
    ("B1 offered 40 fruit flies", "B1", TUE, a.Offered(prey="fruit fly", number=40)),
    ("K13 skipped", "K13", TUE, a.PassedOver()),
    ("K13 passed over because premoult", "K13", TUE, a.PassedOver(reason="premoult")),
    ("K13 leftovers taken out", "K13", TUE, a.LeftoversRemoved()),
    # moults and their days
    ("K09 moulted today", "K09", TUE, a.Moulted()),
    ("K09 molted yesterday", "K09", MON, a.Moulted()),
    ("K09 shed on mon", "K09", MON, a.Moulted()),
    ("K09 moulted tue", "K09", TUE, a.Moulted()),
    ("K09 moulted wednesday", "K09", on_day(date(2026, 11, 18)), a.Moulted()),
    ("K09 moulted between mon and wed", "K09", between(date(2026, 11, 16), date(2026, 11, 18)), a.Moulted()),
    ("K09 moulted from sat to mon", "K09", between(date(2026, 11, 21), date(2026, 11, 23)), a.Moulted()),
    ("K09 moulted since sat", "K09", between(date(2026, 11, 21), ON), a.Moulted()),
    ("K09 moulted 3 days ago", "K09", on_day(date(2026, 11, 21)), a.Moulted()),
    ("K09 moulted a week ago", "K09", on_day(date(2026, 11, 17)), a.Moulted()),
    ("K09 moulted 2026-11-20", "K09", on_day(date(2026, 11, 20)), a.Moulted()),
    ("K09 moulted 2026-11-20/2026-11-22", "K09",
     between(date(2026, 11, 20), date(2026, 11, 22)), a.Moulted()),
    ("K09 moulted 2026-10", "K09", between(date(2026, 10, 1), date(2026, 10, 31)), a.Moulted()),
    ("K09 moulted 20 nov", "K09", on_day(date(2026, 11, 20)), a.Moulted()),
    ("K09 moulted dec 24", "K09", on_day(date(2025, 12, 24)), a.Moulted()),
    ("K09 moulted 29 feb", "K09", on_day(date(2024, 2, 29)), a.Moulted()),
    ("K09 moulted 24 december 2024", "K09", on_day(date(2024, 12, 24)), a.Moulted()),
    ("K09 moulted between 28 dec and 3 jan", "K09",
     between(date(2025, 12, 28), date(2026, 1, 3)), a.Moulted()),
    # no day: some day since it was last looked at (its arrival)
    ("K09 moulted", "K09", between(ARRIVED, ON), a.Moulted()),
    ("K09 moulted, exuvia kept", "K09", between(ARRIVED, ON), a.Moulted(exuvia="kept")),
    # sizes
    ("K12 span 4.5 cm", "K12", TUE, a.Measured(item="leg_span", **LENGTH)),
    ("K12 4.5cm span", "K12", TUE, a.Measured(item="leg_span", **LENGTH)),
    ("K12 measured leg span 4.5 cm stretched", "K12", TUE,
     a.Measured(item="leg_span", posture="stretched", **LENGTH)),
    ("K12 carapace 12.1 mm shed skin", "K12", TUE, a.Measured(
        item="carapace_length", on="shed_skin", value=12.1, unit="mm", written="12.1", written_unit="mm")),
    ("K12 weighs 3.2 g", "K12", TUE,
     a.Measured(item="mass", value=3.2, unit="g", written="3.2", written_unit="g")),
    ("H3 weighed 340 g", "H3", TUE, s.Weighed(value=340.0, unit="g", written="340", written_unit="g")),
    # water
    ("K12 watered 10 ml", "K12", TUE, s.Watered(**ML)),
    ("H3 watered 10 ml on the low side", "H3", TUE, s.Watered(where="low side", **ML)),
    ("H3 watered 10 ml back corner", "H3", TUE, s.Watered(where="back corner", **ML)),
    ("H3 felt damp below, dry on top", "H3", TUE, s.MoistureFelt(bottom="damp", surface="dry")),
    ("H3 felt dry", "H3", TUE, s.MoistureFelt(bottom="dry")),
    ("H3 lid half covered", "H3", TUE, s.LidCover(fraction=0.5)),
    ("H3 lid covered 80 %", "H3", TUE, s.LidCover(fraction=0.8)),
    ("H3 lid uncovered", "H3", TUE, s.LidCover(fraction=0.0)),
    ("H3 openings six 3 mm holes in the lid", "H3", TUE,
     s.Opening(shape="hole", number=6, width_mm=3.0, at="lid", label="lid holes")),
    ("H3 openings 12 holes of 2 mm low", "H3", TUE,
     s.Opening(shape="hole", number=12, width_mm=2.0, at="side_low", label="side holes")),
    ("K12 misted", "K12", TUE, s.Misted()),
    ("K12 drops", "K12", TUE, a.DropsGiven()),
    ("K12 drank from drops", "K12", TUE, a.Drank(how="drops")),
    ("K12 dish found dry", "K12", TUE, s.Dish(state="found_dry")),
    # looks
    ("K12 seen", "K12", TUE, a.Seen()),
    ("K12 on its back", "K12", TUE, a.Seen(on_its_back=True)),
    ("K12 seen, sealed, dark patch and fat abdomen", "K12", TUE,
     a.Seen(burrow_sealed=True, dark_patch=True, abdomen="fat")),
    ("K12 black fangs", "K12", TUE, a.Seen(fangs="black")),
    ("K12 abdomen 1.4 x carapace", "K12", TUE, a.Seen(abdomen_ratio=1.4)),
    ("K12 not seen", "K12", TUE, a.NotFound()),
    # where it is, what it is, how it ends
    ("K12 moved to H3", "K12", TUE, a.Moved(home="H3")),
    ("K12 moved to H3 on shelf B", "K12", TUE, a.Moved(home="H3", place="shelf B")),
    ("K12 moved to new home H99", "K12", TUE, a.Moved(home="H99")),
    ('K12 moved to "Rack 2, left"', "K12", TUE, a.Moved(place="Rack 2, left")),
    ("K12 female by exuvia", "K12", TUE, a.Sexed(sex="female", how="exuvia")),
    ("K12 mature male", "K12", TUE, a.Matured(sex="male")),
    ("K12 died yesterday in a moult", "K12", MON, a.Died(during_moult=True)),
    ("K12 found dead", "K12", between(ARRIVED, ON), a.Died()),
    ("K12 sold to Anna and Bo", "K12", TUE, a.Left(how="sold", to_whom="Anna and Bo")),
    ("K12 escaped yesterday", "K12", MON, a.Escaped()),
    ("K12 found again behind the heater, hungry", "K12", TUE,
     a.FoundAgain(where="behind the heater, hungry")),
    ("K12 lost 2 legs", "K12", TUE, a.Injured(injury="legs lost", legs_lost=2)),
    ("K12 wintered from 1 Nov", "K12", on_day(date(2026, 11, 1)), a.Wintering(state="begins")),
    ("K12 wintering begins", "K12", TUE, a.Wintering(state="begins")),
    ("K12 wintering ended yesterday", "K12", MON, a.Wintering(state="ends")),
    ("K12 was not wintered", "K12", TUE, a.Wintering(state="ends")),
    ("shelf B wintered since 1 Nov", "shelf B", on_day(date(2026, 11, 1)), a.Wintering(state="begins")),
    ("wintering begins on 1 Nov", "", on_day(date(2026, 11, 1)), a.Wintering(state="begins")),
    ("wintering ends", "", TUE, a.Wintering(state="ends")),
    ("K12 note took nothing, but looks well", "K12", TUE, a.Noted(note="took nothing, but looks well")),
    ("note the window stood open", "", TUE, a.Noted(note="the window stood open")),
    ("B1 counted 37 alive, 2 dead", "B1", TUE, s.BatchCounted(living=37, dead=2)),
    # places
    ("shelf B 19.5 C 60%", "shelf B", TUE,
     s.Reading(temperature_c=19.5, humidity_percent=60.0, statistic="reading", written="19.5 C, 60 %")),
    ("SHELF B 19.5°C", "shelf B", TUE, s.Reading(temperature_c=19.5, statistic="reading", written="19.5 °C")),
    ("shelf B humidity 60", "shelf B", TUE,
     s.Reading(humidity_percent=60.0, statistic="reading", written="60 %")),
    ("shelf B min 17 C", "shelf B", TUE, s.Reading(temperature_c=17.0, statistic="min", written="17 C")),
    ("shelf B 68 F", "shelf B", TUE, s.Reading(temperature_c=20.0, statistic="reading", written="68 F")),
    ("shelf B heating failed", "shelf B", TUE, s.Heat(state="failed")),
]  # fmt: skip


@pytest.mark.parametrize(("text", "about", "when", "body"), CASES, ids=[case[0] for case in CASES])
def test_what_one_line_writes(record: Record, text: str, about: str, when: object, body: Body) -> None:
    """Each way of saying it writes exactly this entry on exactly this day."""
    reading = understand(record, text, ON)
    assert () == reading.problems
    assert [(about, when, body)] == [(d.about.code, d.when, d.body) for d in reading.drafts]


PROBLEMS = [
    # words, and a piece of what must be said
    ("K99 refused", "got 'K99 refused'"),
    ("took 2 crickets", "the code of an animal"),
    ("K12", "what happened"),
    ("K12 danced", "got 'danced'"),
    ("K12 did not eat", "what happened"),
    ("K12 took 2 crikets", "Nearest: cricket"),
    ("K12 took 3 crickets", "open offer to K12: 2 cricket on 2026-11-23"),
    ("K12 took 1 roach 5 mm", "not of 5 mm"),
    ("K12 took 0 crickets", "got 0"),
    ("K12 took 2 crickets refused", "one outcome"),
    ("K13 prey not seen", "an open offer to K13"),
    ("K12 refused and", "nothing more"),
    ("K12, K12 refused", "each name once"),
    ("K09 moulted tomorrow", "got 'tomorrow'"),
    ("K09 moulted 2026-12-01", "a day up to 2026-11-24"),
    ("K09 moulted 11/10/2026", "order of day and month"),
    ("K09 moulted 10.11.2026", "order of day and month"),
    ("K09 moulted 2026-02-30", "a day that there is"),
    ("K09 moulted between mon", "two days"),
    ("K09 moulted last tue", "got 'last tue'"),
    ("K09 moulted yesterday, span 4.5 cm", "a day for everything"),
    ("K09 moulted on mon 20 nov", "2026-11-23 and 2026-11-20"),
    ("B1 moulted", "to be about animal"),
    ("K12 span 4.5", "with its unit"),
    ("K12 span 4,5 cm", "a decimal point"),
    ("K12 span about 4.5 cm", "got 'about 4.5 cm'"),
    ("K12 span 0 cm", "above nothing"),
    ("K12 4.5 cm", "what was measured"),
    ("K12 weighs 3 cm", "mass"),
    ("K12 watered 10", "with its unit"),
    ("H3 felt odd", "dry, damp or wet"),
    ("H3 lid covered 180 %", "up to 100 %"),
    ("H3 openings 6 holes", "how wide"),
    ("K12 moved to H98", "new home"),
    ("K12 fat abdomen, small abdomen", "one abdomen"),
    ("K12 left", "how an animal left"),
    ("K12 lost", "escaped"),
    ("K12 note", "the words of the note"),
    ("shelf B 19.5", "with its unit"),
    ("shelf B 19.5 C 21 C", "one temperature"),
    ("shelf B min 17 C 60%", "before every number"),
    ("shelf B 160%", "from 0 to 100"),
    ("shelf B took 2 crickets", "about animal"),
    ("K12 refused; K07 danced", "got 'danced'"),
]


@pytest.mark.parametrize(("text", "said"), PROBLEMS, ids=[text for text, _ in PROBLEMS])
def test_what_is_refused_instead_of_guessed(record: Record, text: str, said: str) -> None:
    """A line that is unclear gives a problem that says what would be clear, and no draft at all."""
    reading = understand(record, text, ON)
    assert [] == reading.drafts
    assert 1 == len(reading.problems)
    assert said in reading.problems[0].message


def test_several_in_one_line(record: Record) -> None:
    """The line of the manual, with several animals in one part and several things of one animal."""
    text = "K12, k09 and K13 refused; K07 took it, K13 drank\nshelf B min 17 C max 22 C"
    reading = understand(record, text, ON)
    assert () == reading.problems
    assert ["K12", "K09", "K13", "K07", "K13", "shelf B", "shelf B"] == [d.about.code for d in reading.drafts]


def test_a_line_answers_its_own_offer(record: Record) -> None:
    """An outcome after an offer in the same line is about that offer, not about an older open one."""
    reading = understand(record, "K12 offered 1 waxworm; K12 refused", ON)
    assert a.OfferSeen(outcome="refused", offer=-1) == reading.drafts[1].body
    two = understand(record, "K12 took 2 crickets; K12 refused; K12 took it", ON)
    assert [
        a.OfferSeen(outcome="taken", offer=CRICKETS),
        a.OfferSeen(outcome="refused", offer=ROACH),
        a.Offered(outcome="taken"),
    ] == [draft.body for draft in two.drafts]


def test_what_was_said_beyond_the_offer_is_kept(record: Record) -> None:
    """A size that the open offer does not have goes into the note: nothing said is dropped."""
    [draft] = understand(record, "K12 took 2 crickets 8 mm", ON).drafts
    assert isinstance(draft.body, a.OfferSeen)
    assert "8.0 mm" in draft.body.note


def test_only_deaths_and_departures_end_a_stay(record: Record) -> None:
    """What needs the second yes: died, sold; not an escape, for it may be found again."""
    items = understand(record, "K12 died today; K07 sold; K09 escaped today; K13 refused", ON).items
    assert [True, True, False, False] == [item.ends_a_stay for item in items]


def test_two_things_of_one_name_are_told_apart(tmp_path: Path) -> None:
    """A code that names an animal and a home is refused until the sort stands before it."""
    with Desk(Journal.create(tmp_path / "room", time_zone="UTC")) as desk:
        desk.write([
            Draft(animal("X1"), on_day(ARRIVED), a.Arrived(home="X1")),
            Draft(animal("x2"), on_day(ARRIVED), a.Arrived()),
            Draft(animal("X2"), on_day(ARRIVED), a.Arrived()),
        ])  # fmt: skip
        unclear = desk.understand("X1 watered 10 ml", ON)
        assert "animal X1 or home X1" in unclear.problems[0].message
        assert ["home"] == [d.about.kind for d in desk.understand("home X1 watered 10 ml", ON).drafts]
        assert ["x2"] == [d.about.code for d in desk.understand("x2 refused", ON).drafts]


OUTCOME_WORDS = {"took", "taken", "ate", "eaten", "refused", "rejected", "uneaten"}
WORDS = sorted(
    {word for text, *_ in CASES for word in text.split()}
    | {word for text, _ in PROBLEMS for word in text.split()}
    | {"K12", "K07", "shelf", "B", ",", ";", "and", "\n", '"', "new", "it", "2", "10", "mm"}
)


@given(st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join))
@example("K12 fed 2 crickets yesterday")
@example('K12 moved to new home "')
@example("since since since")
def test_no_words_make_it_fail_or_invent_an_outcome(record: Record, text: str) -> None:
    """Any order of its own words: no exception; an outcome only where its word was said; all or nothing."""
    reading = understand(record, text, ON)
    assert not (reading.problems and reading.drafts)
    spoken = {word.strip('.,:;"') for word in text.casefold().split()}
    for draft in reading.drafts:
        outcome = getattr(draft.body, "outcome", None)
        if outcome is not None:
            assert {"seen"} <= spoken if outcome == "not_seen" else OUTCOME_WORDS & spoken
        if isinstance(draft.body, a.Died):
            assert {"died", "dead"} & spoken
        if isinstance(draft.body, a.Moulted):
            assert {"moulted", "molted", "shed", "moult"} & spoken
        assert draft.when.last is not None and draft.when.last <= ON


@given(st.text(max_size=60))
def test_no_text_makes_it_fail(record: Record, text: str) -> None:
    """Any text at all is understood or answered with a problem."""
    reading = understand(record, text, ON)
    assert not (reading.problems and reading.drafts)


def test_everything_understood_can_be_written(tmp_path: Path) -> None:
    """Every case of the table, as one line, is taken by the journal and leaves it sound."""
    with Desk(Journal.create(tmp_path / "room", time_zone="UTC")) as desk:
        desk.write(OPENING)
        first = desk.record(ON)
        for text, *_ in CASES:
            desk.write(understand(first, text, ON).drafts)
        assert desk.verify().clean
        assert len(OPENING) + len(CASES) == desk.journal.last_number()


def test_every_example_of_the_document_is_understood(project: Path, tmp_path: Path) -> None:
    """docs/plain-lines.md shows nothing that would be refused."""
    text = (project / "docs" / "plain-lines.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```jot\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    with Desk(Journal.create(tmp_path / "room", time_zone="UTC")) as desk:
        desk.write(OPENING)
        found = {line: desk.understand(line, ON).problems for line in lines}
    assert len(lines) > 30
    assert {} == {line: problems for line, problems in found.items() if problems}


@pytest.mark.parametrize(
    ("words", "about", "rule"),
    [
        ("K12 rule feed_adult_days 3 weeks because it is old", animal("K12"),
         k.RuleSet(rule="feed_adult_days", value="3 weeks", why="it is old")),
        ("K12 rule prey_of_body 30 %", animal("K12"), k.RuleSet(rule="prey_of_body", value="30 %")),
        ("shelf B rule water_ground_days default", Ref("place", "shelf B"),
         k.RuleSet(rule="water_ground_days")),
        ("rule quarantine_days 40", Ref("room", ""), k.RuleSet(rule="quarantine_days", value="40")),
        ("rule feed_adult_days 21 for taxon Poecilotheria metallica because slow",
         Ref("taxon", "Poecilotheria metallica"), k.RuleSet(rule="feed_adult_days", value="21", why="slow")),
    ],
)  # fmt: skip
def test_a_rule_is_overruled_in_words(record: Record, words: str, about: Ref, rule: Body) -> None:
    """One animal, a shelf, a taxon or the whole room gets a figure of the keeper's own, with the reason."""
    (draft,) = understand(record, words, ON).drafts
    assert (about, rule) == (draft.about, draft.body)


@pytest.mark.parametrize(
    "words",
    ["K12 rule feed_adult_dys 21", "K12 rule feed_adult_days 9000", "K12 rule feed_adult_days", "rule",
     "rule feed_adult_days 21 for taxon Nobody knows", "K12 rule feed_adult_days soon"],
)  # fmt: skip
def test_a_rule_that_cannot_be_is_not_written(record: Record, words: str) -> None:
    """A name, a figure or a taxon that the room does not know is refused, and says what would do."""
    reading = understand(record, words, ON)
    assert [] == reading.drafts
    assert 1 == len(reading.problems)


def test_an_escape_names_the_opening_that_failed(record: Record) -> None:
    """The opening is evidence for every home of that sort."""
    (draft,) = understand(record, "K12 escaped yesterday through the vent", ON).drafts
    assert a.Escaped(opening="the vent") == draft.body
    assert on_day(date(2026, 11, 23)) == draft.when


def test_premoult_is_no_observation(record: Record) -> None:
    """The signs are evidence, the word for what they mean is not: the refusal names the signs."""
    (problem,) = understand(record, "K12 premoult", ON).problems
    assert "fat abdomen" in problem.message
    assert 2 == len(understand(record, "K12 fat abdomen, dark patch; K07 moult mat", ON).drafts)
