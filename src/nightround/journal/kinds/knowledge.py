"""Entries about taxa and claims, about the room's rules, and about other entries."""

from __future__ import annotations

from typing import Literal

from nightround.journal.kinds.animal import Sex
from nightround.journal.kinds.base import Body, Kind

ClaimKind = Literal[
    "adult_span", "adult_carapace", "life_span", "years_to_maturity", "growth_class", "habit", "venom",
    "temperature", "humidity", "other",
]  # fmt: skip


class Named(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A taxon as the keeper names it: group, habit, other names. Names with sp. or cf. are names too.

    climbs   smooth: climbs clean glass; rough: needs grip; poor: slips (unknown when None)
    hazard   irritating hairs, medically significant bite …: in words, always shown
    """

    group: str = ""
    habit: Literal["ground", "burrower", "trapdoor", "tree", "web_builder", "wanderer", "tube"] | None = None
    other_names: tuple[str, ...] = ()
    hazard: str = ""
    law: str = ""
    climbs: Literal["smooth", "rough", "poor"] | None = None


class Renamed(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """The subject's name gives way to `name`; every name ever used stays findable."""

    name: str
    reason: str = ""


class Claim(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What somebody states about a taxon, with its source and grade."""

    claim: ClaimKind = "other"
    text: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    sense: Literal["maximum", "typical", "minimum"] | None = None
    sex: Sex | None = None
    source: str = ""
    grade: Literal["own", "A", "B", "C", "D", "CP", "MEM"] | None = None


class RuleSet(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """The keeper overrules a rule of the trade here; an empty value returns to the default."""

    rule: str
    value: str = ""
    why: str = ""


class StockTake(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What should be true today; a disagreement becomes a problem."""

    alive: bool | None = None
    place: str = ""
    home: str = ""
    number: int | None = None


class Struck(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """The entry that this one corrects is void (undo, or a mistake)."""

    why: str = ""


class TakenBack(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """All entries of one intention (an import, usually) are void."""

    intention: str
    why: str = ""


KINDS: tuple[Kind, ...] = (
    Kind("named", Named, ("taxon",), "taxon described", item="group"),
    Kind("renamed", Renamed, ("taxon", "animal", "home", "place"), "renamed", item="name"),
    Kind("claim", Claim, ("taxon",), "claim recorded", item="claim"),
    Kind("rule_set", RuleSet, ("room", "taxon", "animal", "place"), "rule overruled", "rule", "value"),
    Kind("stock_take", StockTake, ("room", "animal", "batch", "home", "lot"), "stock-take", value="number"),
    Kind("struck", Struck, ("room", "animal", "batch", "home", "place", "lot", "taxon"), "struck out", "why"),
    Kind("taken_back", TakenBack, ("room",), "import taken back", item="intention"),
)
