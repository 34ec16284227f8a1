"""The page of rules, written from the table of rules so that the two cannot drift apart."""

from __future__ import annotations

from nightround.plans import moulting
from nightround.plans.feeding import LARGER_PREY_FROM_MM, SMALL_PREY
from nightround.plans.rules import read_value, value_words
from nightround.plans.rules_table import SECTIONS, TradeRule

_HEAD = """# The rules behind tonight's round

Written from the table in `nightround.plans.rules_table`; a test compares the two.

Every rule can be overruled by a `rule_set` entry about the whole room, a place, a taxon or one animal.
The narrowest counts: animal before taxon before place (a shelf before the room it stands in) before the
whole room. On the page: *More…* on the animal's card, *Overrule a rule for it*. In plain lines:
`K12 rule feed_adult_days 21`, `shelf B rule …`, `rule …` for the whole room, `rule … for taxon …`.
An empty value (in words: `default`) takes an overrule back. Values are written as `7`, `2 weeks`, `4 cm`,
`30 %`, `18 C`, `65 F`, `yes`, and `never` where a rule may be switched off. A value that cannot be read, or
lies outside the bounds, becomes a problem of the record, and the next wider rule counts.

Grades: **A** peer-reviewed, official or veterinary · **B** named expert, society or zoo · **C** keepers'
pages and vendors · **D** unsigned pages · **CP** common practice, no source · **MEM** from memory ·
**choice** chosen for this program, no source. Only A and B have an author; everything else is a default to
overrule. Where figures disagree, or size or habit is unknown, the default is the one that harms least:
smaller prey, a later offer, a longer rest after a moult.
"""

_PREY = """
## Which prey

The longest prey is the smallest of the limits for the lengths that are known, each at the low end of its
doubt. A body length that is not longer than the carapace is left out. Unknown size: small and pre-killed.
Prey is also pre-killed under `live_prey_from_body_mm`, from `watch_odds` on, after a streak of refusals put
down to a coming moult, and where nothing says how near a moult is.

| longest prey allowed | what is named | grade of the figure |
|---|---|---|
"""


def rules_page() -> str:
    """Return the whole page as Markdown."""
    parts = [_HEAD]
    for title, rules in SECTIONS:
        parts.append(f"\n## {title}\n\n")
        parts.append("| rule | what it says | default | bounds | for | grade and source | other figures |\n")
        parts.append("|---|---|---|---|---|---|---|\n")
        parts += [_row(rule) for rule in rules]
    parts.append(_PREY + _prey_rows())
    parts.append("\n## When it is left alone\n\n" + _docstring(moulting.__doc__))
    parts.append(_TAPS)
    return "".join(parts)


def _row(rule: TradeRule) -> str:
    default = value_words(rule, read_value(rule, rule.default))
    cells = (
        f"`{rule.key}`",
        rule.words,
        default,
        _bounds(rule),
        rule.applies_to,
        f"{rule.grade}: {rule.source}",
        rule.disputed,
    )
    return "| " + " | ".join(cells) + " |\n"


def _bounds(rule: TradeRule) -> str:
    if rule.choices:
        return " or ".join(rule.choices)
    if rule.kind in ("text", "yes_no"):
        return "any words" if rule.kind == "text" else "yes or no"
    ends = f"{value_words(rule, rule.low)} to {value_words(rule, rule.high)}"
    return ends + " or never" if rule.never else ends


def _prey_rows() -> str:
    rows = [f"| under {SMALL_PREY[0][0]:g} mm | a small pre-killed piece | CP |\n"]
    for index, (mm, prey, grade) in enumerate(SMALL_PREY):
        end = SMALL_PREY[index + 1][0] if index + 1 < len(SMALL_PREY) else LARGER_PREY_FROM_MM
        rows.append(f"| {mm:g} to under {end:g} mm | {prey} | {grade} |\n")
    named = "`prey_kind`, else the kind it took last, else a cricket"
    rows.append(f"| from {LARGER_PREY_FROM_MM:g} mm | {named} | CP |\n")
    return "".join(rows)


def _docstring(text: str | None) -> str:
    return (text or "").partition("\n\n")[2]


_TAPS = """
"Leave alone" means no prey and no disturbance; water goes on, gently and away from the animal. Odds are
those of an animal that has not moulted yet; the chance that it has moulted unseen is separate, and when it
reaches `unseen_odds` the job is to look from outside first, and nothing is offered before. Looks are from
outside: no rule ever asks for digging or for opening a sealed retreat.

## What one tap does

| usual job | what the tap writes |
|---|---|
| offer | `offered`, outcome open: never an outcome |
| leave alone | `passed_over`, which is never a refusal; after it there is nothing more to tap |
| water | `watered` with the millilitres of the job, without an amount when they are unknown |
| drink | `drops_given` |

Outcomes, looks, leftovers, moults, feeling a substrate, weighing, measuring and rehousing are never the usual
tap: they are evidence or work that somebody must have seen or done.

## Water, feeling and drinking

Three things, kept apart:
1. a home that was weighed or felt since it was made up goes by its own figures: millilitres, or "not
   before" a day and no job, unless it may be dry already (`feel_odds`): then it is felt by the interval
   as well;
2. a home that nobody weighed or felt is felt first: by a plain interval since it was last watered or felt
   (`water_..._days`), or where the physics says that it may be dry by now, but not on the day after it
   was felt. At most `feel_homes_per_round` a round, the most likely dry first; felt dry below, it is
   watered as last time;
3. drinking goes by `drink_days` and `drink_sling_days`; a dish is due at once when it was found dry, and
   sooner than by the days when it has likely dried up (as open water 10 mm deep, or as fast as the home
   lets water out, whichever is slower). No figure of the substrate puts it off.
"""


if __name__ == "__main__":
    print(rules_page(), end="")
