"""The demo room: the same from one seed, readable by the journal and the record, and true to its truth."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from nightround import simulate
from nightround.foundation.clock import RoomClock, fixed
from nightround.foundation.refusal import Refusal
from nightround.journal.entries import Draft
from nightround.journal.kinds.animal import Moulted
from nightround.journal.store import Journal
from nightround.plans.rules import read_value
from nightround.plans.rules_table import RULES
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.simulate import Breaks, SimulatedRoom

END = date(2026, 3, 1)


@pytest.fixture(scope="module")
def demo() -> SimulatedRoom:
    """The demo room up to one fixed evening."""
    return simulate.room(1, end=END)


@pytest.fixture(scope="module")
def record(demo: SimulatedRoom, tmp_path_factory: pytest.TempPathFactory) -> Record:
    """The demo room written into a journal, read back and folded."""
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    with Journal.create(path, time_zone=demo.clock.zone_name, name=demo.name, invented=True) as journal:
        written = journal.append(demo.drafts)
        assert len(written.numbers) == len(demo.drafts)
        return fold(journal.entries(), END, demo.clock)


def bodies(demo: SimulatedRoom, kind: str) -> list[Draft]:
    """All drafts of a kind."""
    return [draft for draft in demo.drafts if draft.kind.name == kind]


def test_one_seed_tells_one_story(demo: SimulatedRoom) -> None:
    """The same seed, size and end give equal drafts and an equal truth; another seed gives others."""
    again = simulate.room(1, end=END)
    assert again.drafts == demo.drafts
    assert again.truth.animals == demo.truth.animals
    small = simulate.room(1, animals=20, years=0.5, end=END)
    assert simulate.room(2, animals=20, years=0.5, end=END).drafts != small.drafts


def test_it_ends_yesterday() -> None:
    """Without an end the last entries are of the evening before, so that tonight has something to ask."""
    clock = RoomClock("Europe/Paris")
    with fixed(clock.close_of(END) + timedelta(hours=12)):
        room = simulate.room(3, animals=10, years=0.3)
    assert room.end == END
    assert max(clock.day_of(draft.recorded) for draft in room.drafts if draft.recorded) == END


def test_entries_stand_in_the_order_of_writing(demo: SimulatedRoom) -> None:
    """Every draft carries the instant of writing, ascending, a key of its own, and refers only backwards."""
    written = [draft.recorded for draft in demo.drafts]
    assert None not in written
    assert written == sorted(written)  # type: ignore[type-var]
    assert len({draft.key for draft in demo.drafts}) == len(demo.drafts)
    for place, draft in enumerate(demo.drafts, start=1):
        for reference in (draft.corrects, getattr(draft.body, "offer", None)):
            assert reference is None or -place < reference < 0


def test_nothing_happened_after_it_was_written(demo: SimulatedRoom) -> None:
    """Only the weather forecast is about days to come."""
    for draft in demo.drafts:
        if draft.kind.name != "expected" and draft.when.last is not None and draft.recorded is not None:
            assert draft.when.last <= demo.clock.day_of(draft.recorded)


def test_the_room_is_as_described(demo: SimulatedRoom) -> None:
    """About 120 animals alive at once of 14 taxa and five groups, three years, most kinds of entry."""
    animals = demo.truth.animals.values()
    assert len(demo.truth.animals) == 150
    assert len({animal.taxon for animal in animals}) == 14
    assert len({kind.group for kind in demo.truth.taxa.values()}) == 5
    alive = [a for a in animals if a.left is None and (a.died is None or a.died > END)]
    assert 95 <= len(alive) <= 135
    first = min(draft.when.last for draft in demo.drafts if draft.kind.name == "reading" and draft.when.last)
    assert (END - first).days == 1095
    assert len({draft.kind.name for draft in demo.drafts}) >= 40


def test_every_recorded_moult_holds_the_true_day(demo: SimulatedRoom) -> None:
    """A moult found late is dated by an interval, and the true day lies in it."""
    widths = []
    for animal in demo.truth.animals.values():
        for day, number in zip(animal.moults, animal.recorded, strict=True):
            if number is None:
                continue
            draft = demo.drafts[number - 1]
            assert draft.about.code == animal.code and isinstance(draft.body, Moulted)
            assert draft.when.first is not None and draft.when.last is not None
            assert draft.when.first <= day <= draft.when.last
            widths.append((draft.when.last - draft.when.first).days)
    assert len(widths) > 400
    assert 0.15 < np.mean([width == 0 for width in widths]) < 0.6


def test_sizes_change_only_at_moults(demo: SimulatedRoom) -> None:
    """One size more than moults, each larger than the one before; intervals as many as sizes."""
    for animal in demo.truth.animals.values():
        assert len(animal.carapace_mm) == len(animal.moults) + 1
        assert list(animal.carapace_mm) == sorted(animal.carapace_mm)
        assert list(animal.moults) == sorted(animal.moults)
        assert len(animal.recorded) == len(animal.moults)


def test_males_stop_and_live_on(demo: SimulatedRoom) -> None:
    """A male's maturing moult is his last, and months may follow."""
    males = [a for a in demo.truth.animals.values() if a.sex == "male" and a.mature_moult is not None]
    assert len(males) > 15
    for male in males:
        assert male.mature_moult == len(male.moults) - 1
        assert male.intervals_days[-1] == float("inf")
    lived = [(m.died - m.moults[-1]).days for m in males if m.died is not None and not m.died_in_moult]
    assert 60 < np.median(lived) < 400


def test_shed_skins_measure_the_instar_before(demo: SimulatedRoom) -> None:
    """Carapaces of shed skins lie within 4 sd of 2 % (and a tenth of a millimetre) of the instar before."""
    errors = []
    for animal in demo.truth.animals.values():
        for moult, number in enumerate(animal.recorded):
            following = demo.drafts[number : number + 1] if number else ()
            for draft in following:
                if draft.about.code == animal.code and getattr(draft.body, "on", None) == "shed_skin":
                    read, true = draft.body.value, animal.carapace_mm[moult]  # type: ignore[attr-defined]
                    assert abs(read - true) <= 0.08 * true + 0.1
                    errors.append((read - true) / true)
    assert len(errors) > 150
    assert abs(np.mean(errors)) < 0.01


def test_the_room_is_cold_in_winter_and_warm_in_summer(demo: SimulatedRoom) -> None:
    """Room air: winter means 19 to 21 C, summer means 26 to 28 C, one failure below 17, one wave above 30."""
    air = demo.truth.temperature_c["spare room"]
    winter = np.mean([t for day, t in air.items() if day.month == 1])
    summer = np.mean([t for day, t in air.items() if day.month == 7])
    assert 19 <= winter <= 21
    assert 26 <= summer <= 28
    assert min(air.values()) < 17
    assert max(air.values()) > 30


def test_the_loggers_have_gaps(demo: SimulatedRoom) -> None:
    """One shelf has no logger at all; the others miss a battery's worth of days and some single ones."""
    days = Counter(
        draft.about.code
        for draft in bodies(demo, "reading")
        if draft.body.statistic == "mean"  # type: ignore[attr-defined]
    )
    assert "quarantine bench" not in days
    assert set(days) == {
        "shelf A",
        "shelf B",
        "shelf C",
        "shelf D",
        "warm cabinet",
        "sling drawer",
        "spare room",
    }
    for count in days.values():
        assert 1030 < count < 1096 - 23


def test_a_round_reports_what_was_seen_not_what_was_true(demo: SimulatedRoom) -> None:
    """The usual tap leaves the outcome open; a later look settles most, and the last evening's stay open."""
    offers = bodies(demo, "offered")
    open_at_first = [d for d in offers if d.body.outcome is None]  # type: ignore[attr-defined]
    assert len(open_at_first) > 0.8 * len(offers)
    outcomes = Counter(d.body.outcome for d in bodies(demo, "offer_seen"))  # type: ignore[attr-defined]
    assert set(outcomes) == {"taken", "refused", "uneaten", "not_seen"}
    assert outcomes["taken"] > 0.6 * outcomes.total()


def test_the_record_finds_what_was_planted(demo: SimulatedRoom, record: Record) -> None:
    """Each planted untidiness becomes a Problem; nothing else in the room is a contradiction."""
    kinds = Counter(problem.kind for problem in record.problems)
    assert set(demo.truth.planted) == {
        "size_halves",
        "sexes_differ",
        "moult_after_death",
        "stock_take_disagrees",
    }
    assert set(demo.truth.planted) <= set(kinds)
    contradictions = {problem.kind for problem in record.problems if problem.severity == "contradiction"}
    assert contradictions <= set(demo.truth.planted)
    assert kinds.total() <= 9


def test_the_record_counts_the_living_as_the_truth_does(demo: SimulatedRoom, record: Record) -> None:
    """Dead, left and living agree, but for a death nobody has found yet."""
    assert set(record.animals) == set(demo.truth.animals)
    for code, animal in demo.truth.animals.items():
        status = record.animals[code].status
        if animal.left is not None:
            assert status == "left"
        elif animal.died is None or animal.died > END:
            assert status == "alive"
        elif status != "dead":
            assert (END - animal.died).days < 90


def test_the_last_evening_leaves_something_to_do(record: Record) -> None:
    """Open outcomes, a moult just found, newcomers in quarantine, and somebody not seen for three weeks."""
    living = record.living()
    assert sum(bool(animal.open_offers) for animal in living) >= 5
    assert any(
        animal.last_moult and animal.last_moult.when.last and (END - animal.last_moult.when.last).days <= 3
        for animal in living
    )
    assert any(animal.quarantined for animal in living)
    assert any(animal.last_look and (END - animal.last_look).days >= 21 for animal in living)


def test_spiderlings_are_promoted_out_of_two_batches_of_one_sac(record: Record) -> None:
    """One mother, two batches, ten animals with their own codes, and no batch that grows."""
    batches = record.batches
    assert set(batches) == {"batch 1", "batch 2"}
    assert sorted(len(batch.promoted) for batch in batches.values()) == [5, 5]
    assert "batch_grew" not in {problem.kind for problem in record.problems}


def test_corrections_hold(demo: SimulatedRoom, record: Record) -> None:
    """The offer tapped twice is gone and the span without its point is replaced."""
    struck = next(draft for draft in demo.drafts if draft.kind.name == "struck")
    assert struck.corrects is not None
    assert -struck.corrects not in {o.number for o in record.animals[struck.about.code].offers}
    replaced = next(d for d in demo.drafts if d.corrects is not None and d.kind.name == "measured")
    assert replaced.corrects is not None
    wrong = demo.drafts[-replaced.corrects - 1].body.value  # type: ignore[attr-defined]
    values = [m.value for m in record.animals[replaced.about.code].measurements]
    assert wrong not in values
    assert pytest.approx(wrong / 10, rel=0.01) in values


def test_the_truth_answers_for_a_day(demo: SimulatedRoom) -> None:
    """The next moult lies after the day asked for, and the size on that day is that of the running instar."""
    for animal in demo.truth.animals.values():
        following = animal.next_moult(END)
        assert following is None or END < following <= demo.truth.known_to
        before = sum(day <= END for day in animal.moults)
        assert animal.carapace_on(END) == animal.carapace_mm[before]
    moulting = [a for a in demo.truth.animals.values() if a.next_moult(END) is not None]
    assert len(moulting) > 50


def test_an_escaped_animal_is_found_again(demo: SimulatedRoom, record: Record) -> None:
    """One escape through an opening by name, closed again; the animal is back and counted as here."""
    escape = next(draft for draft in demo.drafts if draft.kind.name == "escaped")
    assert escape.body.opening == "lid slit"  # type: ignore[attr-defined]
    found = next(draft for draft in demo.drafts if draft.kind.name == "found_again")
    assert found.about == escape.about
    assert record.animals[escape.about.code].status != "escaped"


def test_overruled_rules_are_rules(record: Record) -> None:
    """Every rule that the keeper overrules is in the table of rules and its value can be read."""
    assert len(record.rules) == 2
    for rule in record.rules:
        assert read_value(RULES[rule.rule], rule.value) is not None


@pytest.mark.parametrize("animals", [1, 7, 41])
@pytest.mark.parametrize("end", [date(2024, 2, 29), date(2026, 3, 29), date(2026, 10, 25)])
def test_rooms_of_any_size_can_be_told(animals: int, end: date) -> None:
    """Small rooms, a leap day, nights on which the clock changes: nothing is dated after its writing."""
    room = simulate.room(7, animals=animals, years=1.4, end=end)
    assert room.drafts
    for draft in room.drafts:
        if draft.kind.name != "expected" and draft.when.last is not None and draft.recorded is not None:
            assert draft.when.last <= room.clock.day_of(draft.recorded) <= end


def test_everything_says_it_is_invented(demo: SimulatedRoom) -> None:
    """The room's name, and everybody animals come from or go to."""
    assert demo.name == "Invented demo room"
    people = {
        text
        for draft in demo.drafts
        for text in (getattr(draft.body, "from_whom", ""), getattr(draft.body, "to_whom", ""))
        if text and text != "a shop"
    }
    assert people
    assert all("invented" in text for text in people)


def test_no_hazard_is_called_harmless(demo: SimulatedRoom) -> None:
    """Every taxon's label sends to a doctor and says what is unknown."""
    for kind in demo.truth.taxa.values():
        assert "medical advice" in kind.hazard
        assert "harmless" not in kind.hazard


def test_breaks_reach_the_truth() -> None:
    """A tenth of the moults unrecorded: fewer entries for as many moults; another Q10: other moult counts."""
    settings = {"animals": 80, "years": 1.5, "end": END}
    whole = simulate.room(5, **settings)  # type: ignore[arg-type]
    broken = simulate.room(5, breaks=Breaks(unrecorded=0.5), **settings)  # type: ignore[arg-type]

    def share(room: SimulatedRoom) -> float:
        seen = [
            number is not None
            for animal in room.truth.animals.values()
            for day, number in zip(animal.moults, animal.recorded, strict=True)
            if animal.under_watch < day < END - timedelta(days=40)
        ]
        return sum(seen) / len(seen)

    assert share(whole) > 0.8
    assert share(broken) < 0.65 * share(whole)


def test_season_errors_and_q10_change_lives() -> None:
    """Season beyond warmth and a higher Q10 make winter moults rarer; t errors make other lives."""
    plain = simulate.moult_room(9, animals=400)
    slow = simulate.moult_room(9, animals=400, breaks=Breaks(q10=4.0))
    seasonal = simulate.moult_room(9, animals=400, breaks=Breaks(season=0.25))
    tailed = simulate.moult_room(9, animals=400, breaks=Breaks(t_errors=True))

    def winter_share(room: simulate.MoultRoom) -> float:
        months = [window.last.month for history in room.histories for window in history.moults]
        return sum(month in (12, 1, 2) for month in months) / len(months)

    assert winter_share(slow) < 0.85 * winter_share(plain)
    assert winter_share(seasonal) < 0.85 * winter_share(plain)
    assert tailed.histories != plain.histories


def test_moult_histories_hold_the_next_true_moult() -> None:
    """Windows ascend, end by the last look, and the next true moult lies after the room's day."""
    room = simulate.moult_room(4, animals=200)
    assert simulate.moult_room(4, animals=200) == room
    for history in room.histories:
        ends = [window.last for window in history.moults]
        assert ends == sorted(ends)
        assert history.last_look is not None and all(end <= history.last_look for end in ends)
        following = room.next_moult[history.animal]
        assert following is None or following > room.on


def test_a_room_for_benchmarks_has_about_the_entries_wanted() -> None:
    """The years follow from the number of entries, within 20 %."""
    room = simulate.room(1, animals=400, entries=60_000, end=END)
    assert len(room.drafts) == pytest.approx(60_000, rel=0.2)


def test_a_room_of_nobody_is_refused() -> None:
    """No animals or no time is refused by name."""
    with pytest.raises(Refusal, match="at least one animal"):
        simulate.room(1, animals=0)
    with pytest.raises(Refusal, match="30 days"):
        simulate.room(1, years=0.01)


def test_a_room_can_be_written_in_another_zone(tmp_path: Path) -> None:
    """Any clock's zone serves; all drafts go into one journal in one act."""
    clock = RoomClock("Pacific/Auckland")
    room = simulate.room(2, animals=5, years=0.2, end=END, clock=clock)
    with Journal.create(tmp_path / "far.sqlite", time_zone=clock.zone_name) as journal:
        journal.append(room.drafts)
        assert journal.last_number() == len(room.drafts)
