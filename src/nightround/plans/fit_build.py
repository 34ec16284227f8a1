"""What fit rules need to know of an animal: how it lives and climbs, and whether a fall is dangerous for it.

Who counts as heavy or light is from memory and a rule (`heavy_bodied`) that the keeper overrules; what is not
known counts as heavy, and as climbing any wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from nightround.plans.rules import RuleBook
from nightround.record.model import Animal, Record, Taxon
from nightround.reports.tonight import RuleUsed

HEAVY_HABITS: Final = ("ground", "burrower", "trapdoor", "tube")
# Words of a taxon's group, from memory. Atracid funnel-web spiders are heavy and not among them.
_HEAVY_GROUPS: Final = ("tarantula", "theraphosid", "trapdoor", "purseweb", "atypid", "atracid")
_LIGHT_GROUPS: Final[dict[str, tuple[str, ...]]] = {
    "web_builder": (
        "funnel-web-building", "curtain-web", "sheet-web-building", "diplurid", "ischnothelid", "euagrid",
    ),
    "wanderer": ("wandering spider", "wolf spider", "huntsman", "ctenid", "lycosid", "sparassid"),
}  # fmt: skip
HABIT_WORDS: Final[dict[str, str]] = {
    "ground": "ground dweller", "burrower": "burrower", "trapdoor": "trapdoor builder",
    "tree": "tree dweller",
    "web_builder": "web builder", "wanderer": "wanderer", "tube": "tube builder",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Build:
    """How an animal is built and lives, as far as on record; None is unknown.

    habit        ground, burrower, trapdoor, tree, web_builder, wanderer or tube
    climbs       smooth (clean glass), rough (needs grip) or poor (slips)
    heavy        whether its body is heavy for a fall
    group        the taxon's group, '' unknown
    heavy_rule   what says so
    """

    habit: str | None
    climbs: str | None
    heavy: bool | None
    group: str = ""
    heavy_rule: RuleUsed | None = None

    @property
    def light_web(self) -> bool:
        """Whether it is a light web-builder that slips on smooth walls, every part of it known."""
        return self.habit == "web_builder" and self.climbs == "poor" and self.heavy is False

    @property
    def webs_for_prey(self) -> bool:
        """Whether its web finds the prey, however large the home."""
        return self.habit == "web_builder"

    @property
    def drop_matters(self) -> bool:
        """Whether a fall is limited: for all but tree dwellers and those known to be light."""
        return self.habit != "tree" and self.heavy is not False

    @property
    def words(self) -> str:
        """The build in a few words."""
        body = {True: "heavy", False: "light", None: "of unknown build"}[self.heavy]
        return f"{HABIT_WORDS.get(self.habit or '', 'of unknown habit')}, {body}"


UNKNOWN_BUILD: Final = Build(None, None, None)


def build_of(record: Record, animal: Animal, book: RuleBook | None = None) -> Build:
    """Return the build of one animal. `book` saves reading the rules again when many are asked for."""
    book = book or RuleBook(record)
    return _build(record.taxon(animal.taxon) if animal.taxon else None, animal, book)


def build_of_taxon(record: Record, taxon: str, place: str = "", book: RuleBook | None = None) -> Build:
    """Return the build of a taxon, for batches and for animals to come."""
    return build_of(record, Animal("", taxon, place=place), book)


def _build(taxon: Taxon | None, animal: Animal, book: RuleBook) -> Build:
    described = taxon.described if taxon else None
    habit = described.habit if described else None
    group = described.group if described else ""
    rule = book.ask("heavy_bodied", animal)
    heavy = rule.yes if isinstance(rule.value, bool) else heavy_from_memory(habit, group)
    return Build(habit, described.climbs if described else None, heavy, group, rule.used)


def heavy_from_memory(habit: str | None, group: str) -> bool | None:
    """Return whether that habit and group are heavy-bodied, None when nothing says so."""
    said = group.lower()
    if any(word in said for word in _HEAVY_GROUPS) or habit in HEAVY_HABITS:
        return True
    if any(word in said for word in _LIGHT_GROUPS.get(habit or "", ())):
        return False
    return None
