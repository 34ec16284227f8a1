"""Marks of bites and hairs: known groups are marked by name alone, the rest stay unknown, never harmless."""

from __future__ import annotations

import pytest

from nightround.journal.kinds.knowledge import Named
from nightround.plans.hazards import hazard_of
from nightround.record.model import Taxon


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Phoneutria nigriventer", "medically significant"),  # Isbister 2005 and others, by group
        ("Hadronyche sp.", "medically significant"),
        ('Poecilotheria sp. "Highland"', "cramps"),  # Fuchs 2013; Hauke & Herzig
        ("Brachypelma hamorii", "Urticating hairs"),  # ophthalmologists' case reports; genus from memory
        ("GRAMMOSTOLA rosea", "Urticating hairs"),
    ],
)
def test_a_known_genus_is_marked_on_day_one(name, words):
    """A pasted name alone is enough for the mark; nobody has described the taxon yet."""
    assert words in hazard_of(name, None)


@pytest.mark.parametrize("name", ["", "Linothele fallax", "cf. something", "unknown"])
def test_no_mark_is_no_promise(name):
    """Of most groups nothing is known: the mark is empty, which the page shows as unknown."""
    assert "" == hazard_of(name, None)


def test_the_keepers_words_come_first():
    """What the keeper wrote about the taxon is shown as written."""
    taxon = Taxon("Brachypelma hamorii", described=Named(hazard="kicks hairs at every opening"))
    assert "kicks hairs at every opening" == hazard_of("Brachypelma hamorii", taxon)


def test_an_older_name_is_enough():
    """A taxon renamed since keeps the mark of any name it ever had."""
    assert "Urticating" in hazard_of(
        "Newgenus vagans", Taxon("Newgenus vagans", names=("Brachypelma vagans",))
    )
