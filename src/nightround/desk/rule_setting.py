"""The keeper overrules a rule of the trade: what a form or a line means, checked before it is written."""

from __future__ import annotations

from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds.knowledge import RuleSet
from nightround.plans.rules import read_value, rule_named, value_words
from nightround.plans.rules_table import RULES

DEFAULT = "default"


def rule_choices() -> tuple[tuple[str, str], ...]:
    """Return every rule's name with its words and its figure, for a list to choose from."""
    return tuple(
        (key, f"{rule.words} ({rule.applies_to}): {value_words(rule, read_value(rule, rule.default))}")
        for key, rule in RULES.items()
    )


def rule_set(name: str, value: str, why: str = "") -> RuleSet:
    """Return the overrule of one rule; 'default' takes one back. Raises NotReadable with the bounds."""
    rule = rule_named(name)
    value = "" if value.strip().casefold() == DEFAULT else value.strip()
    if value:
        read_value(rule, value)
    return RuleSet(rule=rule.key, value=value, why=why.strip())


def rule_words(body: RuleSet) -> str:
    """Return an overrule in words, with the figure it replaces."""
    rule = RULES.get(body.rule.strip())
    if rule is None:
        return f"rule {body.rule} set to {body.value or 'its default'}"
    usual = value_words(rule, read_value(rule, rule.default))
    if not body.value.strip():
        return f"rule {rule.key} ({rule.words}) back to its default, {usual}"
    try:
        own = value_words(rule, read_value(rule, body.value))
    except NotReadable:
        own = f"{body.value!r}, which cannot be read"
    return f"rule {rule.key} ({rule.words}): {own} instead of {usual}"
