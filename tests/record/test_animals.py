"""Animals, batches, homes, places, lots and taxa as of a day."""

from datetime import date

from record.notebook import kinds, told


def day(text: str) -> date:
    return date.fromisoformat(text)


def test_an_animal_nobody_announced_exists_with_a_doubt(page: str) -> None:
    """Only a meal is known of K1.

    2026-01-05  animal K1  offered  prey=cricket; outcome=taken
    """
    record = told(page)
    assert (True, 1, ["never_announced"]) == (
        record.animals["K1"].here, len(record.animals["K1"].offers), kinds(record),
    )  # fmt: skip


def test_later_entries_change_sex_place_and_home(page: str) -> None:
    """The state at arrival is only where it began.

    2026-01-01  animal K1  arrived  taxon=A; sex=female; place=shelf A; home=H1; origin=captive_bred
    2026-02-01  animal K1  sexed  sex=male; how=exuvia
    2026-03-01  animal K1  moved  home=H2; place=shelf B
    """
    before, after = told(page, "2026-01-31").animals["K1"], told(page).animals["K1"]
    assert ("female", "", "shelf A", "H1") == (before.sex, before.sex_how, before.place, before.home)
    assert ("male", "exuvia", "shelf B", "H2") == (after.sex, after.sex_how, after.place, after.home)
    stays = [(s.place, s.home, s.first, s.last) for s in after.stays]
    assert [
        ("shelf A", "H1", day("2026-01-01"), day("2026-02-28")),
        ("shelf B", "H2", day("2026-03-01"), None),
    ] == stays


def test_an_arrival_written_after_the_meal_of_its_day_still_comes_first(page: str) -> None:
    """The list was typed in after the round.

    2026-01-01  animal K1  moved  home=H2
    2026-01-01  animal K1  arrived  home=H1
    """
    record = told(page)
    assert ("H2", []) == (record.animals["K1"].home, kinds(record))


def test_a_home_carries_its_place_to_whoever_is_in_it(page: str) -> None:
    """K1 stays on shelf A when its old home is moved away without it.

    2026-01-01  home H1  made_up  place=shelf A
    2026-01-01  home H2  made_up  place=shelf B
    2026-01-02  animal K1  arrived  home=H1
    2026-02-01  home H1  moved  place=shelf C
    2026-03-01  animal K1  moved  home=H2
    2026-04-01  home H1  moved  place=shelf D
    2026-05-01  animal K1  moved  place=shelf E
    """
    days = ("2026-01-02", "2026-02-01", "2026-03-01", "2026-04-01", "2026-05-01")
    places = [told(page, on).animals["K1"].place for on in days]
    assert ["shelf A", "shelf C", "shelf B", "shelf B", "shelf E"] == places
    record = told(page)
    assert ("shelf E", ("K1",), ()) == (
        record.homes["H2"].place, record.homes["H2"].occupants, record.homes["H1"].occupants,
    )  # fmt: skip


def test_animals_of_one_home_move_together(page: str) -> None:
    """A group lives in H1; K2 is taken to shelf B with its home, so K1 is there too.

    2026-01-01  animal K1  arrived  place=shelf A; home=H1
    2026-01-01  animal K2  arrived  home=H1
    2026-02-01  animal K2  moved  place=shelf B
    """
    record = told(page)
    assert (["shelf B", "shelf B"], ("K1", "K2")) == (
        [animal.place for animal in record.animals.values()],
        record.homes["H1"].occupants,
    )


def test_a_new_home_stands_where_the_animal_stood(page: str) -> None:
    """Rehoused without a word about the shelf: into a home that stands nowhere, then into one that does.

    2026-01-01  animal K1  arrived  place=shelf A; home=H1
    2026-02-01  animal K1  moved  home=H2
    2026-03-01  home H3  made_up  place=shelf B
    2026-03-02  animal K1  moved  home=H3
    """
    record = told(page)
    assert ["shelf A", "shelf A", "shelf B"] == [record.homes[code].place for code in ("H1", "H2", "H3")]
    assert "shelf B" == record.animals["K1"].place


def test_a_code_is_found_under_every_name_it_had(page: str) -> None:
    """K1 became K9, and its earlier meal was written under the new code.

    2026-01-01  animal K1  arrived  taxon=A
    2026-02-01  animal K9  offered  outcome=taken
    2026-03-01  animal K1  renamed  name=K9
    2026-04-01  animal K1  seen
    """
    record = told(page)
    assert (["K9"], ("K1", "K9"), (1, 2, 3, 4)) == (
        list(record.animals), record.animals["K9"].codes, record.animals["K9"].entries,
    )  # fmt: skip
    assert record.animals["K9"] is record.animal("K1")
    assert [] == kinds(record)


def test_a_code_given_away_may_be_used_again(page: str) -> None:
    """The second K1 is another animal.

    2026-01-01  animal K1  arrived  taxon=A
    2026-02-01  animal K1  renamed  name=K9
    2026-03-01  animal K1  arrived  taxon=B
    2026-04-01  animal K1  moulted
    """
    record = told(page)
    assert {"K1": ("B", 1), "K9": ("A", 0)} == {
        code: (animal.taxon, len(animal.moults)) for code, animal in record.animals.items()
    }
    assert [] == kinds(record)


def test_two_animals_that_claim_one_code_stay_apart(page: str) -> None:
    """K1 cannot become K2 while K2 is another animal.

    2026-01-01  animal K1  arrived
    2026-01-01  animal K2  arrived
    2026-02-01  animal K1  renamed  name=K2
    """
    record = told(page)
    assert (["K1", "K2"], ["two_claim_one_code"]) == (list(record.animals), kinds(record))
    assert (2, 3) == record.problems[0].entries


def test_taxa_follow_their_present_name_and_keep_every_other(page: str) -> None:
    """An animal bought under an old name, and one under a trade name, are of one taxon.

    2020-01-01  taxon Brachypelma smithi  named  group=tarantulas; other_names=red knee|painted
    2020-02-01  animal K1  arrived  taxon=Brachypelma smithi
    2020-02-01  animal K2  arrived  taxon=red knee
    2021-01-01  taxon Brachypelma smithi  renamed  name=Brachypelma hamorii
    2021-02-01  taxon Brachypelma hamorii  named  hazard=hairs
    """
    assert {"Brachypelma smithi"} == {a.taxon for a in told(page, "2020-12-31").animals.values()}
    record = told(page)
    assert {"Brachypelma hamorii"} == {animal.taxon for animal in record.animals.values()}
    taxon = record.taxa["Brachypelma hamorii"]
    assert {"Brachypelma smithi", "Brachypelma hamorii", "red knee", "painted"} == set(taxon.names)
    assert ("tarantulas", "hairs") == (taxon.group, taxon.described and taxon.described.hazard)
    assert taxon is record.taxon("painted")


def test_an_other_name_of_two_taxa_means_neither(page: str) -> None:
    """'bird eater' is listed twice; it is kept apart, with a doubt.

    2020-01-01  taxon A  named  other_names=bird eater|a
    2020-01-01  taxon B  named  other_names=bird eater|b
    2020-02-01  animal K1  arrived  taxon=bird eater
    """
    record = told(page)
    assert ("bird eater", ["name_of_two_taxa"]) == (record.animals["K1"].taxon, kinds(record))


def test_unknown_is_never_zero(page: str) -> None:
    """Nothing is known of legs, numbers and sizes that nobody wrote.

    2026-01-01  animal K1  arrived
    2026-01-02  animal K1  injured  injury=limps
    2026-01-01  batch B1  batch_begun  taxon=A
    2026-01-02  batch B1  batch_counted  dead=3
    2026-01-01  lot L1  lot_begun  feeder=crickets
    2026-01-02  lot L1  lot_changed  what=culled; number=5
    """
    record = told(page)
    assert (None, None, None, None) == (
        record.animals["K1"].legs_lost, record.batches["B1"].living, record.lots["L1"].number,
        record.animals["K1"].last_moult,
    )  # fmt: skip


def test_a_batch_gives_animals_away_by_promotion(page: str) -> None:
    """Fifty began, ten were found dead, one was promoted and inherits what its batch knew.

    2026-01-01  batch B1  batch_begun  taxon=A; number=50; hatched=2025-12-01; place=shelf A
    2026-02-01  batch B1  batch_counted  living=40; dead=10
    2026-03-01  animal K1  hatched  batch=B1
    2026-03-02  batch B1  offered  prey=springtails
    """
    record = told(page)
    batch, animal = record.batches["B1"], record.animals["K1"]
    assert (50, 39, ("K1",), 1) == (batch.started_with, batch.living, batch.promoted, len(batch.offers))
    assert ("A", "B1", day("2025-12-01"), "shelf A", day("2026-03-01")) == (
        animal.taxon, animal.batch, animal.hatched.last, animal.place, animal.promoted.last,
    )  # fmt: skip


def test_a_sac_begins_the_batch_that_it_names(page: str) -> None:
    """K1 guards a sac until it is opened; its batch needs no other entry.

    2026-01-01  animal K1  arrived  taxon=A
    2026-02-01  animal K1  sac  step=laid
    2026-04-01  animal K1  sac  step=opened; living=80; batch=B1
    """
    assert [True, False] == [told(page, on).animals["K1"].with_sac for on in ("2026-03-01", "2026-04-01")]
    batch = told(page).batches["B1"]
    assert ("A", 80, 80, "sac of K1") == (batch.taxon, batch.started_with, batch.living, batch.source)


def test_leaving_is_not_death_and_coming_back_is_no_contradiction(page: str) -> None:
    """Lent for a pairing and returned.

    2026-01-01  animal K1  arrived  place=shelf A
    2026-02-01  animal K1  left  how=given
    2026-03-01  animal K1  arrived  place=shelf B
    """
    assert "left" == told(page, "2026-02-28").animals["K1"].status
    back = told(page)
    assert ("alive", "shelf B", []) == (back.animals["K1"].status, back.animals["K1"].place, kinds(back))
    assert [("shelf A", day("2026-02-01")), ("shelf B", None)] == [
        (stay.place, stay.last) for stay in back.animals["K1"].stays
    ]


def test_an_escaped_animal_is_back_where_it_was(page: str) -> None:
    """Out for two days.

    2026-01-01  animal K1  arrived  home=H1; place=shelf A
    2026-02-01  animal K1  escaped  opening=lid
    2026-02-03  animal K1  found_again
    """
    assert (False, ()) == (
        told(page, "2026-02-02").animals["K1"].here,
        told(page, "2026-02-02").homes["H1"].occupants,
    )
    back = told(page)
    assert ("alive", "H1", ("K1",), []) == (
        back.animals["K1"].status, back.animals["K1"].home, back.homes["H1"].occupants, kinds(back),
    )  # fmt: skip


def test_homes_keep_their_openings_by_label_and_share_water(page: str) -> None:
    """The second entry of the lid replaces the first; closing the side takes it away.

    2026-01-01  home H1  made_up  shape=box; lid_cover_fraction=0.5
    2026-01-01  home H1  opening  shape=hole; number=12; width_mm=2; label=lid
    2026-01-01  home H1  opening  shape=hole; number=4; width_mm=2; label=side
    2026-01-02  animal K1  arrived  home=H1
    2026-02-01  home H1  opening  shape=mesh; number=1; width_mm=40; label=lid
    2026-02-01  home H1  opening  number=0; label=side
    2026-02-02  home H1  lid_cover  fraction=0.8
    2026-02-03  home H1  watered  value=20; unit=ml
    2026-02-04  animal K1  watered
    2026-02-05  home H1  weighed  value=812; unit=g
    2026-02-06  home H1  moisture_felt  surface=dry
    2026-02-07  home H1  trouble  what=mites
    """
    record = told(page)
    home, animal = record.homes["H1"], record.animals["K1"]
    assert [("lid", "mesh")] == [(opening.label, opening.shape) for opening in home.openings]
    assert 0.8 == home.lid_cover_fraction
    assert ((day("2026-02-03"), 20.0), (day("2026-02-04"), None)) == home.watered
    assert (day("2026-02-03"), day("2026-02-04")) == animal.watered
    assert ((day("2026-02-05"), 812.0),) == home.weighed
    assert ((day("2026-02-06"), "dry", None),) == home.felt
    assert ((day("2026-02-07"), "mites"),) == home.troubles


def test_places_lots_and_rules(page: str) -> None:
    """Heat fails and is back, feeders are counted, a rule is overruled and given back.

    2026-01-01  place shelf A  place_set_up  sort=shelf; position=2; inside=room
    2026-01-02  place shelf A  heat  state=failed
    2026-01-01  lot L1  lot_begun  feeder=crickets; number=100; size_mm=5
    2026-01-08  lot L1  lot_changed  what=died_off; number=30
    2026-01-09  lot L1  lot_changed  what=counted; number=60; size_mm=8
    2026-01-01  room  rule_set  rule=offer_interval; value=10 day
    2026-01-02  animal K1  rule_set  rule=offer_interval; value=5 day
    2026-01-03  room  rule_set  rule=offer_interval
    """
    record = told(page)
    shelf, lot = record.places["shelf A"], record.lots["L1"]
    assert (2, "room", day("2026-01-02")) == (shelf.position, shelf.inside, shelf.heat_failed)
    assert (60, 8.0, False) == (lot.number, lot.size_mm, lot.finished)
    assert [("animal K1", "5 day")] == [(str(rule.about), rule.value) for rule in record.rules]


def test_an_outcome_closes_the_offer_it_names_or_the_latest_open_one(page: str) -> None:
    """Two offers are open; one look names the older, the next means the newer.

    2026-01-01  animal K1  arrived
    2026-01-02  animal K1  offered  prey=cricket; number=2
    2026-01-05  animal K1  offered  prey=roach
    2026-01-06  animal K1  offer_seen  outcome=refused; offer=2
    2026-01-07  animal K1  offer_seen  outcome=taken
    2026-01-08  animal K1  offered  prey=roach
    """
    offers = told(page).animals["K1"].offers
    assert [("refused", 4), ("taken", 5), (None, None)] == [
        (offer.outcome, offer.seen_by) for offer in offers
    ]
    assert [6] == [offer.number for offer in told(page).animals["K1"].open_offers]
    assert [2, 3] == [offer.number for offer in told(page, "2026-01-05").animals["K1"].open_offers]


def test_an_outcome_still_finds_its_offer_after_a_correction(page: str) -> None:
    """The offer was of roaches; the look named the first entry.

    2026-01-01  animal K1  arrived
    2026-01-02  animal K1  offered  prey=cricket
    2026-01-03  animal K1  offer_seen  outcome=taken; offer=2
    2026-01-02  animal K1  offered  prey=roach  @corrects 2
    """
    offers = told(page).animals["K1"].offers
    assert [(4, "roach", "taken", day("2026-01-03"))] == [
        (o.number, o.prey, o.outcome, o.seen_on) for o in offers
    ]


def test_an_outcome_known_at_once_was_seen_on_the_day_found(page: str) -> None:
    """Taken, as seen two days later; one whose outcome nobody saw is a look at nothing.

    2026-01-01  animal K1  arrived
    2026-01-05  animal K1  offered  outcome=taken; found=2026-01-07
    2026-01-09  animal K1  offered  outcome=not_seen
    """
    animal = told(page).animals["K1"]
    assert (day("2026-01-07"), day("2026-01-05")) == (animal.last_look, animal.last_life)
