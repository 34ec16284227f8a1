"""Findings per taxon: counted by hand in invented rooms, intervals held to SciPy."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from nightround.findings.moult import ClockOdds, clock_odds
from nightround.findings.size import fit_room, sizes
from nightround.findings.survival_groups import batch_losses
from nightround.findings.taxon import fits_of, taxa_report, taxon_named, taxon_report
from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NoSuchThing
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.reports.size import SizeReport
from nightround.reports.taxon import Finding, TaxonReport
from nightround.simulate import room
from record.notebook import told


def report(text: str, name: str = "Testa una", on: str = "2026-12-31") -> TaxonReport:
    """The report of a notebook's taxon, without a moult clock."""
    record = told(text, on)
    return taxon_report(record, name, sizes(record), fits_of(record, None), room="r", invented=True)


def finding(of: TaxonReport, key: str) -> Finding:
    """One finding of a report."""
    return next(each for each in of.findings if each.key == key)


KEPT = """
    2024-01-01  animal A  arrived  taxon=Testa una; place=S; home=H1
    2024-01-01  animal B  arrived  taxon=Testa una; place=S; home=H2
    2024-01-01  animal C  arrived  taxon=Testa una; place=S; home=H3
    2024-01-01  home H1  made_up  shape=box; inner_length_mm=100; inner_width_mm=100; inner_height_mm=80
    2024-01-01  home H2  made_up  shape=box; inner_length_mm=100; inner_width_mm=100; inner_height_mm=80
    2024-02-01  animal A  offered  prey=cricket; outcome=taken
    2024-02-08  animal A  offered  prey=cricket; outcome=taken
    2024-02-15  animal A  offered  prey=cricket; outcome=refused
    2024-02-01  animal B  offered  prey=cricket; outcome=taken
    2024-02-08  animal B  offered  prey=cricket
    2024-02-08  animal B  passed_over  reason=fat
    2024-02-01  animal C  offered  prey=cricket; outcome=taken
    2024-02-08  animal C  offered  prey=cricket; outcome=uneaten
    2024-07-01  animal A  moved  home=H4
    2024-08-01  animal A  moved  place=T
    2024-12-31  animal A  seen
    2024-12-31  animal B  seen
    2024-12-31  animal C  died
"""


def test_appetite_counts_offers_of_known_outcome_only() -> None:
    """4 of 6 were taken; the open one and the one passed over are none; SciPy's exact 80 % without spread."""
    found = finding(report(KEPT), "appetite")
    assert found.estimate is not None
    assert (4 / 6, 3, 6) == (
        pytest.approx(found.estimate.value), found.estimate.n_animals, found.estimate.n_observations
    )  # fmt: skip
    exact = stats.binomtest(4, 6).proportion_ci(0.8, method="exact")
    assert found.estimate.low <= exact.low + 1e-9 and found.estimate.high >= exact.high - 1e-9


def test_moves_and_deaths_are_rates_of_animal_years() -> None:
    """One move and one death in 3 x 365 days; Garwood's exact 80 % interval by SciPy's chi-square."""
    of = report(KEPT)
    years = 3 * 365 / 365.25
    for key in ("moves", "deaths"):
        estimate = finding(of, key).estimate
        assert estimate is not None
        low, high = stats.chi2.ppf(0.1, 2) / 2, stats.chi2.ppf(0.9, 4) / 2
        expected = [1 / years, low / years, high / years]
        assert expected == pytest.approx([estimate.value, estimate.low, estimate.high])


def test_homes_are_summed_by_their_inner_size() -> None:
    """H1 and H2 are alike, H3 and H4 were never measured: unknown, not zero."""
    homes = {home.length_mm: home for home in report(KEPT, on="2024-12-31").homes}
    assert (2, 2, 182 + 366) == (homes[100.0].homes, homes[100.0].animals, homes[100.0].days)
    assert (2, 2, 366 + 31 + 153) == (homes[None].homes, homes[None].animals, homes[None].days)


def test_climate_is_that_of_read_days_where_they_stood() -> None:
    """Forty days read at 20.0 to 23.9 C at S; days at unread places are told, never filled."""
    days = [date(2024, 1, 2) + timedelta(days=n) for n in range(40)]
    readings = [
        f"{day}  place S  reading  temperature_c={20 + n / 10}; statistic=mean" for n, day in enumerate(days)
    ]
    text = "\n".join(["2024-01-01  animal A  arrived  taxon=Testa una; place=S", *readings,
                      "2024-03-01  animal A  seen"])  # fmt: skip
    found = finding(report(text), "temperature")
    assert found.estimate is not None
    values = [20 + n / 10 for n in range(40)]
    assert (1, 40) == (found.estimate.n_animals, found.estimate.n_observations)
    assert np.quantile(values, [0.5, 0.1, 0.9]) == pytest.approx(
        [found.estimate.value, found.estimate.low, found.estimate.high]
    )
    assert "34 % of 61 animal-days were not read" in found.words


BATCH = """
    2024-01-01  batch b1  batch_begun  taxon=Testa una; number=20
    2024-02-01  batch b1  batch_counted  dead=3
    2024-03-01  batch b1  batch_counted  living=15
    2024-01-01  batch b2  batch_begun  taxon=Testa una
    2024-03-01  batch b2  batch_counted  living=9; dead=1
    2024-01-01  batch b3  batch_begun  taxon=Testa una; number=30
"""


def test_spiderling_losses_stand_over_what_a_batch_began_with() -> None:
    """Of 20, 3 dead and 2 missing: 15 to 25 %; Clopper and Pearson by SciPy. No start, no count: no share."""
    found = {row.batch: row for row in batch_losses(told(BATCH), "Testa una").batches}
    one = found["b1"]
    assert (20, 3, 2, 0.15, 0.25) == (one.started, one.lost, one.unknown, one.share_low, one.share_high)
    low = stats.binomtest(3, 20).proportion_ci(0.95, method="exact").low
    high = stats.binomtest(5, 20).proportion_ci(0.95, method="exact").high
    assert (low, high) == pytest.approx((one.low, one.high))
    assert ("its start was not counted", None) == (found["b2"].words, found["b2"].share_low)
    assert ("not counted since it began", None) == (found["b3"].words, found["b3"].unknown)


def test_more_counted_than_began_is_no_share() -> None:
    """A batch of 5 of which 8 live was miscounted: said so, and left out of the sum.

    2024-01-01  batch b1  batch_begun  taxon=Testa una; number=5
    2024-03-01  batch b1  batch_counted  living=8
    """
    found = batch_losses(told(test_more_counted_than_began_is_no_share.__doc__ or ""), "Testa una")
    assert "more were counted than the 5" in found.batches[0].words and 0 == found.counted


def test_what_is_missing_is_said_and_never_a_number() -> None:
    """Of one animal without any reading every finding says what it lacks."""
    of = report("2024-01-01  animal A  arrived  taxon=Testa una")
    assert all(each.estimate is None and each.missing for each in of.findings)
    assert "0 of 3 moults measured on both sides of the moult" == finding(of, "growth_ratio").missing
    assert "0 of 3 intervals with both moults on record" == finding(of, "intermoult_25").missing
    assert () == of.homes and 0 == of.losses.counted


MATURING = """
    2024-01-01  animal M0  arrived  taxon=Testa una; sex=male; hatched=2024-01-01
    2024-01-01  animal M1  arrived  taxon=Testa una; sex=male; hatched=2024-01-01
    2024-01-01  animal M2  arrived  taxon=Testa una; sex=male; hatched=2024-01-01
    2024-01-01  animal M3  arrived  taxon=Testa una; sex=male; hatched=2024-01-01
    2024-10-27  animal M0  matured
    2024-12-06  animal M1  matured
    2025-02-04  animal M2  matured
    2025-03-01  animal M3  seen
    2026-01-01  animal M9  arrived  taxon=Testa una; sex=male; hatched=2023-01-01
    2026-01-01  animal M9  matured
"""


def test_age_at_maturity_counts_those_not_mature_yet() -> None:
    """Mature at 300, 340 and 400 days, one not by 425: the median is 340, who came mature is none."""
    found = finding(report(MATURING), "age_at_maturity_male")
    assert found.estimate is not None
    assert (340.0, 4, 3) == (
        found.estimate.value, found.estimate.n_animals, found.estimate.n_observations
    )  # fmt: skip
    females = finding(report(MATURING), "age_at_maturity_female")
    assert females.estimate is None and "0 of 3" in females.missing


def test_a_name_is_found_in_any_spelling_of_case_and_others_are_refused() -> None:
    """Upper and lower case do not matter; an unknown taxon is refused with the way to the list."""
    record = told(KEPT)
    assert "Testa una" == taxon_named(record, "testa  UNA")
    with pytest.raises(NoSuchThing, match="a taxon of this room"):
        taxon_named(record, "Testa altera")


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Record, dict[str, SizeReport], ClockOdds]:
    """An invented room of 40 animals over two years with its fits."""
    told_room = room(3, animals=40, years=2.0, end=date(2026, 11, 20))
    path = tmp_path_factory.mktemp("taxon") / "room.sqlite"
    journal = Journal.create(path, time_zone=told_room.clock.zone_name)
    journal.append(told_room.drafts)
    record = fold(journal.entries(), told_room.end, RoomClock(told_room.clock.zone_name))
    journal.close()
    odds = clock_odds(record)
    assert odds is not None
    return record, sizes(record), odds


def test_growth_and_intervals_are_those_of_the_fits(
    fitted: tuple[Record, dict[str, SizeReport], ClockOdds],
) -> None:
    """The growth ratio is the fit's own step; the interval agrees with the room's own bare intervals."""
    record, of_sizes, odds = fitted
    lines = taxa_report(record, room="r", invented=True).taxa
    name = max(lines, key=lambda line: line.moults).name
    of = taxon_report(record, name, of_sizes, fits_of(record, odds), room="r", invented=True)
    growth, interval = finding(of, "growth_ratio").estimate, finding(of, "intermoult_25").estimate
    assert growth is not None and interval is not None
    fit = fit_room(record).fit
    row = next(i for i, h in enumerate(fit_room(record).histories) if h.taxon == name)
    at = int(fit.data.taxon_of_animal[row])
    step = fit.coefficient_mean[at, fit.coefficient_names.index("step")]
    assert math.exp(step) == pytest.approx(growth.value)
    assert growth.low < growth.value < growth.high
    logs = odds.fitted.interval_logs()[0]
    rows = odds.room.data.animal_taxon[odds.room.data.intervals.animal] == odds.room.taxa.index(name)
    assert np.exp(np.median(logs[rows])) == pytest.approx(interval.value, rel=0.25)
    assert odds.room.counts[name] == (interval.n_animals, interval.n_observations)


def test_every_number_has_its_n_range_method_and_source(
    fitted: tuple[Record, dict[str, SizeReport], ClockOdds],
) -> None:
    """Of all taxa of a room: low <= value <= high, a level, a method, a source, and animals behind it."""
    record, of_sizes, odds = fitted
    shown = 0
    for line in taxa_report(record, room="r", invented=True).taxa:
        of = taxon_report(record, line.name, of_sizes, fits_of(record, odds), room="r", invented=True)
        for each in of.findings:
            assert (each.estimate is None) == bool(each.missing)
            if each.estimate is None:
                continue
            shown += 1
            estimate = each.estimate
            assert estimate.low <= estimate.value <= estimate.high
            assert 0.5 < estimate.level < 1.0 and estimate.method and estimate.sources
            assert estimate.n_animals > 0
        assert of.cautions and of.method
    assert shown > 30
