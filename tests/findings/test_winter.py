"""Wintering: what the keeper said of it, the share of each interval, and its effect beside that of warmth.

PIRATA (Pirata subpiraticus, abstract): at 25 C and 10 h of light 62.7 d (sd 13.1) with 5 to 7 moults to
maturity in the summer generation, 160 d (sd 8.3) with 8 in the winter generation. An interval of the winter
generation is (160 / 8) / (62.7 / 6) = 1.91 times as long. How many animals there were is not in the abstract:
twenty of each are assumed here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from nightround.findings.clock_effects import q10_of, winter_of
from nightround.findings.clock_rows import rows_of
from nightround.findings.moult import ClockOdds, clock_odds, forecast
from nightround.foundation.when import When, between, on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Moulted, Moved, Wintering
from nightround.journal.kinds.surroundings import Reading
from nightround.journal.store import Journal
from nightround.journal.tables import read_tables, write_tables
from nightround.record.fold import fold
from nightround.record.make_histories import moult_histories
from nightround.record.model import Record
from nightround.science.clock.priors import COVARIATES
from nightround.science.parameters import pirata

SPRING, AUTUMN, END = date(2025, 5, 1), date(2025, 10, 1), date(2026, 4, 20)
EACH = 20
TRUE_RATIO = (pirata.WINTER_DAYS_TO_MATURITY_AT_25_C / 8) / (pirata.SUMMER_DAYS_TO_MATURITY_AT_25_C / 6)


def record_of(tmp_path: Path, drafts: Iterable[Draft], on: date = END) -> Record:
    """The record of a new room with these entries."""
    with Journal.create(tmp_path / "room.sqlite", time_zone="Europe/Lisbon") as journal:
        journal.append(list(drafts))
        return fold(journal.entries(), on, journal.clock)


def winter(about: str, day: date | When, state: str) -> Draft:
    """The keeper says that wintering begins or ends; about 'animal K1', 'place chamber', 'room'."""
    kind, _, code = about.partition(" ")
    when = on_day(day) if isinstance(day, date) else day
    return Draft(Ref(kind, code), when, Wintering(state=state))  # type: ignore[arg-type]


def life(code: str, born: date, total: float, moults: int, rng: np.random.Generator) -> list[Draft]:
    """An animal hatched here whose moults, of uneven intervals, bring it to maturity in so many days."""
    parts = np.exp(0.2 * rng.standard_normal(moults))
    days = np.cumsum(parts / parts.sum() * total)
    came = Arrived(taxon="Pirata subpiraticus", place="chamber", hatched=born.isoformat())
    dates = [born + timedelta(days=max(1, round(float(day)))) for day in days]
    return [
        Draft(Ref("animal", code), on_day(born), came),
        *(Draft(Ref("animal", code), on_day(day), Moulted()) for day in sorted(set(dates))),
    ]


def two_generations(winter_c: float, seed: int = 4) -> list[Draft]:
    """PIRATA's two generations in one chamber, with 25 C in summer and `winter_c` in winter."""
    rng = np.random.default_rng(seed)
    drafts = [winter("room", AUTUMN - timedelta(days=5), "begins")]
    for day in range((END - SPRING).days + 1):
        when = SPRING + timedelta(days=day)
        degrees = winter_c if when >= AUTUMN - timedelta(days=5) else 25.0
        drafts.append(
            Draft(Ref("place", "chamber"), on_day(when), Reading(temperature_c=degrees, statistic="mean"))
        )
    for number in range(EACH):
        summer = max(35.0, rng.normal(pirata.SUMMER_DAYS_TO_MATURITY_AT_25_C, 13.1))
        drafts += life(f"S{number:02d}", SPRING, summer, int(rng.integers(5, 8)), rng)
        long = rng.normal(pirata.WINTER_DAYS_TO_MATURITY_AT_25_C, 8.3)
        drafts += life(f"W{number:02d}", AUTUMN, long, 8, rng)
    return drafts


def odds_of_room(tmp_path: Path, drafts: list[Draft]) -> tuple[Record, ClockOdds]:
    """The record and its fit."""
    record = record_of(tmp_path, drafts)
    odds = clock_odds(record)
    assert odds is not None
    return record, odds


def test_pirata_at_one_temperature(tmp_path: Path) -> None:
    """Over five rooms of twenty animals each the ratio comes out as published; Q10 stays near 2.5.

    The mean of the five log ratios lies within two and a half of its errors of 1.91's, each within 20 %.
    Sizes are not told (carapaces overlap between instars, says the abstract).
    """
    assert TRUE_RATIO == pytest.approx(1.91, abs=0.005)
    found = []
    for seed in range(1, 6):
        (tmp_path / str(seed)).mkdir()
        _, odds = odds_of_room(tmp_path / str(seed), two_generations(25.0, seed))
        effect = winter_of(odds.fitted)
        assert effect is not None
        found.append(effect.ratio.log_mean)
        assert effect.ratio.range[0] > 1.3
        assert abs(q10_of(odds.fitted).log_mean - math.log(2.5)) < 0.4
        assert effect.n_wintered == 8 * EACH
        assert 5 * EACH <= effect.n_not <= 7 * EACH
    off = np.array(found) - math.log(TRUE_RATIO)
    assert abs(off.mean()) < 2.5 * off.std(ddof=1) / math.sqrt(5)
    assert np.abs(off).max() < math.log(1.2)


def test_where_winter_is_also_cold_the_two_cannot_be_told_apart(tmp_path: Path) -> None:
    """At 19 C in winter a higher Q10 means a smaller effect of wintering: negative correlation, both wide.

    The notices say both, with the correlation.
    """
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    alike = winter_of(odds_of_room(tmp_path / "one", two_generations(25.0))[1].fitted)
    record, odds = odds_of_room(tmp_path / "two", two_generations(19.0))
    cold = winter_of(odds.fitted)
    assert alike is not None and cold is not None
    assert alike.correlation is not None and cold.correlation is not None
    assert cold.correlation < -0.5
    assert abs(alike.correlation) < 0.35
    assert cold.ratio.log_sd > 1.25 * alike.ratio.log_sd
    assert q10_of(odds.fitted).log_sd > 0.25
    notice = next(words for words in forecast(record).notices if words.startswith("Wintering"))
    assert "can hardly be told apart" in notice
    assert f"{8 * EACH} intervals of wintering" in notice


def test_a_room_without_a_word_of_wintering_knows_nothing_of_it(tmp_path: Path) -> None:
    """No share is known, the coefficient stays at its prior, and no notice speaks of it."""
    drafts = [draft for draft in two_generations(25.0) if not isinstance(draft.body, Wintering)]
    record, odds = odds_of_room(tmp_path, drafts)
    assert np.isnan(odds.room.data.intervals.covariates[:, 1]).all()
    assert winter_of(odds.fitted) is None
    at = 4
    assert odds.fitted.points[0].solved.gamma[at] == pytest.approx(COVARIATES["winter"].mean)
    assert not any(words.startswith("Wintering") for words in forecast(record).notices)


def shares(record: Record, code: str) -> list[float]:
    """The share of wintering of each interval of an animal, by time."""
    return [row.winter for row in rows_of(0, moult_histories(record)[code], record.on.toordinal())]


def keeper(*said: Draft, moves: Iterable[Draft] = ()) -> list[Draft]:
    """Two animals hatched on 1 March 2025 that moulted in June and December, and what was said of them."""
    drafts = list(said)
    for code in ("K1", "K2"):
        came = Arrived(taxon="T", place="shelf A", hatched="2025-03-01")
        drafts.append(Draft(Ref("animal", code), on_day(date(2025, 3, 1)), came))
        drafts += [
            Draft(Ref("animal", code), on_day(day), Moulted())
            for day in (date(2025, 6, 1), date(2025, 12, 1))
        ]
    return [*drafts, *moves]


def test_the_share_of_an_interval(tmp_path: Path) -> None:
    """From 1 November on: 31 of 184 days of the second interval, all of the running one."""
    record = record_of(tmp_path, keeper(winter("animal K1", date(2025, 11, 1), "begins")), date(2026, 1, 10))
    first, second, running = shares(record, "K1")
    assert math.isnan(first)  # the half year before the first word begins in May
    assert second == pytest.approx(31 / 184, abs=0.01)
    assert 1.0 == running


def test_of_an_animal_that_nobody_spoke_of_nothing_is_known(tmp_path: Path) -> None:
    """Its neighbour's wintering says nothing of it: unknown, not 0; in the clock it is integrated out."""
    record = record_of(tmp_path, keeper(winter("animal K1", date(2025, 11, 1), "begins")), date(2026, 1, 10))
    assert [True] * 3 == [math.isnan(share) for share in shares(record, "K2")]
    odds = clock_odds(record)
    assert odds is not None
    design = odds.fitted.design
    unknown = np.isnan(design.data.intervals.covariates[design.order, 1])
    assert unknown.any() and not unknown.all()
    assert (design.basis_doubt[unknown, 3] > 0.0).all()
    assert (design.basis_doubt[~unknown, 3] == 0.0).all()


def test_never_wintered_is_said_by_an_end_without_a_beginning(tmp_path: Path) -> None:
    """'Not wintered' for the room makes 0 of what comes after it, for every animal, not of what was."""
    record = record_of(tmp_path, keeper(winter("room", date(2025, 5, 31), "ends")), date(2026, 1, 10))
    for code in ("K1", "K2"):
        first, second, running = shares(record, code)
        assert math.isnan(first)
        assert (0.0, 0.0) == (second, running)


def test_a_place_winters_whoever_stands_there_and_the_animal_itself_goes_first(tmp_path: Path) -> None:
    """K2 moves to the cellar and is wintered with it; of K1 the opposite was said."""
    cellar = Draft(Ref("animal", "K2"), on_day(date(2025, 12, 1)), Moved(place="cellar"))
    said = (
        winter("room", date(2025, 2, 1), "ends"),
        winter("place cellar", date(2025, 11, 15), "begins"),
        winter("place shelf A", date(2025, 11, 15), "begins"),
        winter("animal K1", date(2025, 3, 2), "ends"),
    )
    record = record_of(tmp_path, keeper(*said, moves=[cellar]), date(2026, 1, 10))
    assert [0.0, 0.0, 0.0] == shares(record, "K1")
    first, second, running = shares(record, "K2")
    assert (0.0, 1.0) == (first, running)
    assert 0.0 < second < 0.2


def test_days_before_the_first_word_are_known_for_half_a_year_only(tmp_path: Path) -> None:
    """That wintering began in November 2026 says nothing of the winter before."""
    record = record_of(tmp_path, keeper(winter("room", date(2026, 11, 1), "begins")), date(2026, 11, 20))
    spans = moult_histories(record)["K1"].wintered
    assert [
        (date(2026, 5, 2), date(2026, 10, 31), False),
        (date(2026, 11, 1), date(2026, 11, 20), True),
    ] == list(spans)
    assert all(math.isnan(share) for share in shares(record, "K1")[:2])


def test_uncertain_days_and_later_days(tmp_path: Path) -> None:
    """A beginning between two days counts from the first, an end to the last; days to come are unknown."""
    said = (
        winter("animal K1", between(date(2025, 10, 1), date(2025, 10, 8)), "begins"),
        winter("animal K1", between(date(2025, 11, 1), date(2025, 11, 8)), "ends"),
    )
    record = record_of(tmp_path, keeper(*said), date(2025, 11, 30))
    known = [span for span in moult_histories(record)["K1"].wintered if span[2]]
    assert [(date(2025, 10, 1), date(2025, 11, 8), True)] == known
    (tmp_path / "early").mkdir()
    early = record_of(tmp_path / "early", keeper(*said), date(2025, 9, 1))
    assert () == early.winterings


def test_wintering_goes_out_into_the_tables_and_comes_back(tmp_path: Path) -> None:
    """Of an animal, a place and the room, with a day and an interval."""
    said = [
        winter("animal K1", SPRING, "begins"),
        winter("place shelf A", between(SPRING, AUTUMN), "ends"),
        winter("room", AUTUMN, "begins"),
    ]
    came = Draft(Ref("animal", "K1"), on_day(SPRING), Arrived(place="shelf A"))
    with Journal.create(tmp_path / "room.sqlite", time_zone="Europe/Lisbon") as journal:
        journal.append([came, *said])
        write_tables(journal.entries(), tmp_path / "out", journal.clock)
        back = read_tables(tmp_path / "out", journal.clock)
    assert () == back.refusals
    found = {(draft.about, draft.when.text(), draft.body) for draft in back.drafts}
    assert {(draft.about, draft.when.text(), draft.body) for draft in said} <= found
