"""Which figure of a rule counts for which animal: the keeper's narrowest overrule, else the trade's default.

Order of narrowness: animal, taxon, place (a shelf before the room it stands in), whole room.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass, field

from nightround.foundation.problem import Problem
from nightround.foundation.quantities import UNITS, both, both_degrees, number, quantity
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import ROOM, Ref
from nightround.plans.rules_table import RULES, TradeRule
from nightround.record.model import Animal, Record, Rule
from nightround.reports.tonight import RuleUsed

Value = float | str | bool | None

_DIMENSION = {"days": "days", "length": "length", "volume": "volume", "temperature": "temperature",
              "degrees": "temperature"}  # fmt: skip
_MINUTES = ("min", "mins", "minute", "minutes")
_YES_NO = {"yes": True, "true": True, "on": True, "no": False, "false": False, "off": False}


@dataclass(frozen=True, slots=True)
class RuleValue:
    """A rule as it counts here: `value` is parsed (days, mm, ml, shares as 0–1); None is unknown or never.

    number   the value of a rule with a number, None when unknown or switched off
    """

    key: str
    value: Value
    used: RuleUsed
    number: float | None = field(init=False)

    def __post_init__(self) -> None:
        number = float(self.value) if isinstance(self.value, int | float) else None
        object.__setattr__(self, "number", number)

    @property
    def text(self) -> str:
        """The words ('' when unknown)."""
        return self.value if isinstance(self.value, str) else ""

    @property
    def yes(self) -> bool:
        """Whether a yes-or-no rule says yes."""
        return self.value is True


def rule_named(name: str) -> TradeRule:
    """Return the rule of that name. Raises NotReadable with the nearest names."""
    row = RULES.get(name.strip())
    if row is None:
        near = difflib.get_close_matches(name.strip(), RULES, n=3)
        todo = "Use one of: " + ", ".join(near) if near else "docs/rules.md lists the names"
        raise NotReadable("the name of a rule", got=repr(name), todo=todo)
    return row


def read_value(rule: TradeRule, text: str) -> Value:
    """Read a rule's value as a keeper writes it: '7', '2 weeks', '4 cm', '30 %', 'never', 'yes'.

    Raises NotReadable for anything that the rule cannot mean, with its bounds.
    """
    text = " ".join(text.strip().split())
    if rule.kind == "text" or not text:
        return _one_of(rule, text) if rule.choices and text else text or None
    if rule.kind == "yes_no":
        if text.lower() not in _YES_NO:
            raise NotReadable(f"yes or no for '{rule.key}'", got=repr(text))
        return _YES_NO[text.lower()]
    if text.lower() == "never" and rule.never:
        return None
    value = _number_with_unit(rule, text)
    if not rule.low <= value <= rule.high:
        wanted = f"'{rule.key}' between {rule.low:g} and {rule.high:g} {rule.unit}".rstrip()
        raise NotReadable(wanted, got=repr(text), todo="Write a value inside these bounds")
    if rule.kind == "count" and value != int(value):
        raise NotReadable(f"a whole number for '{rule.key}'", got=repr(text))
    return value


def _one_of(rule: TradeRule, text: str) -> str:
    if text.lower() not in rule.choices:
        raise NotReadable(f"{' or '.join(rule.choices)} for '{rule.key}'", got=repr(text))
    return text.lower()


def _number_with_unit(rule: TradeRule, text: str) -> float:
    head, _, tail = text.partition(" ")
    if not tail and head.endswith("%"):
        head, tail = head[:-1], "%"
    if rule.kind == "share" and tail == "%":
        return number(head) / 100
    if not tail:
        return number(head)
    if rule.kind == "minutes" and tail.lower() in _MINUTES:
        return number(head)
    dimension = _DIMENSION.get(rule.kind)
    unit = UNITS.get(tail.lower())
    if dimension is None or unit is None or unit.dimension != dimension:
        raise NotReadable(
            f"a number{' of ' + rule.unit if rule.unit else ''} for '{rule.key}'", got=repr(text)
        )
    if rule.kind == "degrees":
        return number(head) * float(unit.factor)
    return quantity(head, tail, unit.dimension).value


def value_words(rule: TradeRule, value: Value) -> str:
    """Write a parsed value in words, lengths and volumes in both unit systems."""
    if value is None:
        return "never" if rule.never else "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if rule.kind in ("length", "volume", "temperature"):
        return both(value, rule.unit)
    if rule.kind == "degrees":
        return both_degrees(value)
    if rule.kind == "share":
        return f"{value * 100:g} %"
    if rule.kind == "days":
        return f"{value:g} day" if value == 1 else f"{value:g} days"
    if rule.kind == "minutes":
        return f"{value:g} min"
    return f"{value:g}"


def _default(rule: TradeRule) -> RuleValue:
    value = read_value(rule, rule.default)
    words = value_words(rule, value)
    return RuleValue(rule.key, value, RuleUsed(rule.key, words, rule.grade, rule.source, words=rule.words))


_DEFAULTS: dict[str, RuleValue] = {key: _default(rule) for key, rule in RULES.items()}


class RuleBook:
    """All rules of one room as of the record's day. `problems` names overrules that cannot be read."""

    def __init__(self, record: Record) -> None:
        self._record = record
        self._overruled: dict[str, dict[Ref, RuleValue]] = {}
        faults: list[Problem] = []
        for (key, about), rule in self._latest().items():
            if not rule.value.strip():
                continue
            try:
                self._overruled.setdefault(key, {})[about] = self._overrule(rule)
            except NotReadable as refusal:
                faults.append(self._fault(rule, str(refusal)))
        self.problems: tuple[Problem, ...] = tuple(sorted(faults))

    def _latest(self) -> dict[tuple[str, Ref], Rule]:
        latest: dict[tuple[str, Ref], Rule] = {}
        for rule in sorted(self._record.rules, key=lambda rule: rule.number):
            latest[(rule.rule.strip(), rule.about)] = rule
        return latest

    def _overrule(self, rule: Rule) -> RuleValue:
        row = rule_named(rule.rule)
        value = read_value(row, rule.value)
        why = f": {rule.why.strip()}" if rule.why.strip() else ""
        source = f"your rule for {'the room' if rule.about.kind == 'room' else rule.about}{why}"
        used = RuleUsed(row.key, value_words(row, value), "own", source, True, row.words)
        return RuleValue(row.key, value, used)

    @staticmethod
    def _fault(rule: Rule, message: str) -> Problem:
        return Problem(
            kind="rule_not_readable",
            subject=str(rule.about),
            message=f"The rule set here cannot be used; the next wider one counts: {message}",
            todo="Set the rule again with a value that can be read, or with an empty value for the default",
            entries=(rule.number,),
            severity="doubt",
        )

    def ask(self, key: str, animal: Animal | None = None) -> RuleValue:
        """Return the rule as it counts for `animal` (None: the room). KeyError: not in the table."""
        here = self._overruled.get(key)
        if not here:
            return _DEFAULTS[key]
        for about in self._abouts(animal):
            if about in here:
                return here[about]
        return _DEFAULTS[key]

    def _abouts(self, animal: Animal | None) -> Iterator[Ref]:
        if animal is not None:
            for code in (animal.code, *animal.codes):
                yield Ref("animal", code)
            if animal.taxon:
                taxon = self._record.taxa.get(animal.taxon)
                for name in (animal.taxon, *(taxon.names if taxon else ())):
                    yield Ref("taxon", name)
            place, walked = animal.place, set[str]()
            while place and place not in walked:
                yield Ref("place", place)
                walked.add(place)
                described = self._record.places.get(place)
                place = described.inside if described else ""
        yield ROOM


def rule_for(record: Record, key: str, animal: Animal | None = None) -> RuleValue:
    """Return one rule as it counts for one animal, parsed, with whose it is. Ask a RuleBook for many.

    Raises NotReadable for a name that is not in the table.
    """
    return RuleBook(record).ask(rule_named(key).key, animal)
