"""Claims held against a record: the worked case (invented animals and numbers), names, growth, habits.

All animals, claims and numbers are invented; limits of verdicts are those of the science they rest on.
"""

from datetime import date

import pytest

from nightround.findings.claims import claims
from nightround.findings.claims_habit import claimed_habit, web_place
from nightround.findings.claims_names import best_match, near
from nightround.findings.claims_read import limits_of, said_words
from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds.knowledge import Claim
from record.notebook import told

TAXON = "Lanternia nocturna"


def judged(journal, on="2026-12-31"):
    """The verdicts on the one taxon's claims, in order of entry."""
    report = claims(told(journal, on), room="test", invented=True)
    return report.taxa[0].verdicts if report.taxa else ()


LIVES = f"""
    2026-01-01  taxon {TAXON}  claim  claim=life_span; low=12; high=20; unit=year; sense=typical; grade=C
    2026-01-01  taxon {TAXON}  claim  claim=life_span; low=6; high=7; unit=year; sense=typical; grade=D
    2026-01-01  taxon {TAXON}  claim  claim=life_span; low=4; high=4; unit=year; sense=typical; grade=D
    2022-06-01  animal F1  arrived  taxon={TAXON}; sex=female; hatched=2022-06-01
    2025-07-07  animal F1  died
    2024-04-20  animal F2  arrived  taxon={TAXON}; sex=female; hatched=2024-04-20
    2024-06-01  animal F3  arrived  taxon={TAXON}; sex=female; hatched=2024-06-01
    2024-08-01  animal F4  arrived  taxon={TAXON}; sex=female; hatched=2024-08-01
    2025-03-01  animal F5  arrived  taxon={TAXON}; hatched=2025-03-01
    2025-09-01  animal F6  arrived  taxon={TAXON}; hatched=2025-09-01
    2026-12-30  animal F2  seen
    2026-12-30  animal F3  seen
    2026-12-30  animal F4  seen
    2026-12-30  animal F5  seen
    2026-12-30  animal F6  seen
"""


def test_one_dead_at_three_years_and_five_young_ones_contradict_no_life_span():
    """One female dead at 3.1 years, five alive at up to 2.7: 12-20, 6-7 and 4 years all stand open."""
    found = judged(LIVES)
    assert ["no_evidence"] * 3 == [verdict.standing for verdict in found]
    assert all(verdict.against < 5 for verdict in found)
    assert 6 == found[0].counted


def test_what_would_settle_a_life_span_is_said_with_a_day():
    """Of 6-7 years: the day on which enough of those alive are past seven; deaths before six are told too."""
    verdict = judged(LIVES)[1]
    assert any("contradicted by" in words and "pass 7 years" in words for words in verdict.settle)
    assert any("die before 6 years" in words for words in verdict.settle)
    assert any("supported by" in words for words in verdict.settle)
    assert verdict.settle_day is not None
    assert date(2030, 4, 20) <= verdict.settle_day <= date(2033, 1, 1)


def test_the_dead_and_the_living_stand_behind_the_verdict():
    """The evidence names every animal: the dead one against, the living open, each with its age."""
    rows = {row.animal: row for row in judged(LIVES)[0].evidence}
    assert "against" == rows["F1"].speaks
    assert "died at 3.1 years" == rows["F1"].words
    assert "open" == rows["F2"].speaks
    assert "alive at 2.7 years" == rows["F2"].words
    assert rows["F1"].entries


def test_what_would_settle_it_does_settle_it():
    """When the animals the page asked for have outlived seven years, 6-7 years is contradicted."""
    grown = LIVES.replace("2026-12-30", "2032-12-30")
    assert "contradicted" == judged(grown, "2032-12-31")[1].standing


def test_two_claims_are_compared():
    """12-20 and 6-7 years cannot both hold; the page says so beside their verdicts."""
    report = claims(told(LIVES), room="test", invented=True)
    words = [pair.words for pair in report.taxa[0].compared]
    assert 3 == len(words)
    assert all("cannot both hold" in each for each in words)


SIZE = f"""
    2026-01-01  taxon {TAXON}  claim  claim=adult_span; high=9; unit=cm; sense=maximum; grade=C; source=a page
    2024-01-01  animal F1  arrived  taxon={TAXON}; sex=female
    2026-02-01  animal F1  moulted
    2026-03-01  animal F1  measured  item=leg_span; value=VALUE; unit=mm; on=live; posture=stretched
"""


def test_a_kind_said_to_reach_nine_cm_with_a_female_of_fourteen_and_a_half():
    """9 cm against 14.5 cm on a stretched leg span, 4.8 sd of a 10 % measuring error: contradicted."""
    (verdict,) = judged(SIZE.replace("VALUE", "145"))
    assert "contradicted" == verdict.standing
    assert verdict.chance > 0.99
    assert "adult leg span: at most 90.0 mm (3.54 in)" == verdict.said or "9.00 cm" in verdict.said
    assert verdict.evidence[0].entries == (4,)


@pytest.mark.parametrize("value", ["80", "90", "97"])
def test_a_span_within_its_measuring_error_contradicts_no_maximum(value):
    """A reading of 9.7 cm with 10 % error may be an animal of 9: no verdict, but what would settle it."""
    (verdict,) = judged(SIZE.replace("VALUE", value))
    assert "no_evidence" == verdict.standing
    assert any("one reading of about" in words for words in verdict.settle)


def test_a_room_without_measurements_says_so():
    """No size is invented for animals that nobody measured."""
    (verdict,) = judged(SIZE.rsplit("\n", 2)[0])
    assert "no_evidence" == verdict.standing
    assert 0 == verdict.counted
    assert "no animal that could speak was measured" == verdict.words


WEBS = f"""
    2026-01-01  taxon {TAXON}  claim  claim=habit; text=tree-dwelling; grade=C
    2024-01-01  animal W1  arrived  taxon={TAXON}
    2024-01-01  animal W2  arrived  taxon={TAXON}
    2024-01-01  animal W3  arrived  taxon={TAXON}
    2026-02-01  animal W1  seen  web=sheet on the substrate
    2026-02-02  animal W1  seen  web=burrow lined
    2026-02-01  animal W2  seen  web=on the ground
"""


def test_a_tree_dwelling_habit_is_held_against_where_the_webs_are():
    """Two animals with webs on the ground contradict 'nine in ten in trees' (e 37); many looks count once."""
    (verdict,) = judged(WEBS)
    assert "contradicted" == verdict.standing
    assert pytest.approx(37.0) == verdict.against
    assert 2 == verdict.counted
    assert (6 - 1, 6) == verdict.evidence[0].entries


def test_webs_in_the_branches_do_not_contradict_it():
    """Webs up in branches are as the claim says; three animals are not yet enough to support it."""
    up = WEBS.replace("sheet on the substrate", "between branches").replace(
        "burrow lined", "up under the lid"
    )
    (verdict,) = judged(up.replace("on the ground", "funnel behind cork bark, high"))
    assert "no_evidence" == verdict.standing


@pytest.mark.parametrize(
    ("web", "place"),
    [("under cork on the soil", "down"), ("between two branches", "up"), ("new web", None), ("no web", None),
     ("from the ground up to the lid", None), ("lined burrow", "down")],
)  # fmt: skip
def test_where_a_web_is(web, place):
    """Plain words of a look: above, on the ground, or not told."""
    assert place == web_place(web)


def test_a_habit_in_words():
    """Tree-dwelling is up; 'ground or trees' names none."""
    assert ["up", "down", None] == [
        claimed_habit(words) for words in ("Tree-dwelling", "obligate burrower", "ground or trees")
    ]


def test_venom_is_never_decided_here():
    """A claim about venom gets no verdict, and the advice to see a doctor."""
    (verdict,) = judged(f"    2026-01-01  taxon {TAXON}  claim  claim=venom; text=like a bee sting; grade=D")
    assert "not_decided" == verdict.standing
    assert "medical advice" in verdict.words


def test_a_claim_that_cannot_be_read_says_what_is_wrong():
    """A life span in parsecs is no fault of the page: the verdict says what was wanted."""
    (verdict,) = judged(f"    2026-01-01  taxon {TAXON}  claim  claim=life_span; high=3; unit=parsec")
    assert "not_decided" == verdict.standing
    assert "years" in verdict.words


def test_males_that_mature_late_contradict_fast_growth():
    """'Fast' (1-3 years): two males still moulting at four years cannot have been mature at three."""
    journal = f"""
    2026-01-01  taxon {TAXON}  claim  claim=growth_class; text=fast; grade=C
    2020-01-01  animal M1  arrived  taxon={TAXON}; sex=male; hatched=2020-01-01
    2020-01-01  animal M2  arrived  taxon={TAXON}; sex=male; hatched=2020-01-01
    2024-02-01  animal M1  moulted
    2024-03-01  animal M2  moulted
    """
    (verdict,) = judged(journal)
    assert "contradicted" == verdict.standing
    assert any("1 to 3 years" in words for words in verdict.assumptions)


def test_a_male_bought_mature_says_nothing_of_when_males_mature():
    """Bought mature at a year and a half: chosen for being mature, so no evidence against three to seven."""
    journal = f"""
    2026-01-01  taxon {TAXON}  claim  claim=years_to_maturity; low=3; high=7; unit=year; sense=typical
    2025-07-01  animal M1  arrived  taxon={TAXON}; sex=male; hatched=2024-01-01
    2025-07-03  animal M1  matured  sex=male
    """
    (verdict,) = judged(journal)
    assert 0 == verdict.counted
    assert pytest.approx(1.0) == verdict.against
    assert "it may have been mature when it came" == verdict.evidence[0].words
    raised = (
        journal.replace("2025-07-01  animal", "2024-01-05  animal")
        + """
    2025-06-20  animal M1  moulted
    """
    )
    assert "against" == judged(raised)[0].evidence[0].speaks


def test_females_count_from_when_their_sex_was_known():
    """Sexed at four years: she speaks of 6 to 7 years, not of 3 to 4: the young died unsexed."""
    journal = f"""
    2026-01-01  taxon {TAXON}  claim  claim=life_span; low=LOW; high=HIGH; unit=year; sex=female
    2018-01-01  animal F1  arrived  taxon={TAXON}; hatched=2018-01-01
    2022-01-01  animal F1  sexed  sex=female
    2026-12-01  animal F1  seen
    """
    assert 0 == judged(journal.replace("LOW", "3").replace("HIGH", "4"))[0].counted
    later = judged(journal.replace("LOW", "6").replace("HIGH", "7"))[0]
    assert 1 == later.counted
    assert "against" == later.evidence[0].speaks


def test_a_longest_life_falls_to_one_animal_surely_older():
    """Bought in 2015 of unknown age and alive in 2026: surely older than ten years, whatever it was then."""
    journal = f"""
    2026-01-01  taxon {TAXON}  claim  claim=life_span; high=HIGH; unit=year; sense=maximum
    2015-06-01  animal F1  arrived  taxon={TAXON}
    2026-12-01  animal F1  seen
    """
    assert "contradicted" == judged(journal.replace("HIGH", "10"))[0].standing
    (open_,) = judged(journal.replace("HIGH", "15"))
    assert "no_evidence" == open_.standing
    assert date(2030, 5, 31) <= open_.settle_day <= date(2030, 7, 2)


def test_localities_are_kept_apart_and_slips_are_found():
    """A misspelt epithet is near; another locality, or sp. beside a species, is not."""
    names = ['Chilobrachys sp. "Kaeng Krachan"', 'Chilobrachys sp. "Vietnam"', "Chilobrachys huahini", TAXON]
    assert () == near(names[0], names[1:])
    assert (names[0],) == near('Chilobrachys sp. "Kaeng Krachen"', names)
    assert TAXON == best_match("lanternia nocturna", names)
    assert TAXON == best_match("Lanternia noctuna", names)
    assert names[0] == best_match("Chilobrachys sp “Kaeng Krachan”", names)
    assert None is best_match("Chilobrachys sp.", names)


def test_a_misspelt_taxon_is_pointed_out():
    """A claim entered under a slip of the pen names the taxon that was meant."""
    journal = LIVES + "    2026-01-01  taxon Lanternia noctuna  claim  claim=life_span; high=9; unit=year"
    near_names = {taxon.taxon: taxon.near for taxon in claims(told(journal), room="", invented=True).taxa}
    assert (TAXON,) == near_names["Lanternia noctuna"]


@pytest.mark.parametrize(
    ("claim", "said"),
    [(Claim(claim="adult_span", high=9, unit="cm", sense="maximum"), "adult leg span: at most 9"),
     (Claim(claim="life_span", low=12, high=20, unit="year"), "life span: typically 12 to 20 years"),
     (Claim(claim="life_span", low=4, high=4, unit="years"), "life span: typically 4 years"),
     (Claim(claim="years_to_maturity", low=25, unit="year", sense="typical", sex="female"),
      "years to maturity of females: typically 25 years and more")],
)  # fmt: skip
def test_a_claim_in_words(claim, said):
    """Numbers are written with both unit systems, and the sense in words."""
    assert said_words(claim, limits_of(claim)).startswith(said)


def test_crossed_ends_are_refused():
    """From 20 to 12 years is a slip."""
    with pytest.raises(NotReadable):
        limits_of(Claim(claim="life_span", low=20, high=12, unit="year"))
