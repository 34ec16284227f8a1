"""Write docs/record.md from the record's own tables: looks, outcomes and kinds of problems."""

from pathlib import Path

from nightround.record.looks import LOOK_RULES, OUTCOME_LOOKS
from nightround.record.problem_kinds import PROBLEM_KINDS

PAGE = Path(__file__).resolve().parent.parent / "docs" / "record.md"

OPENING = """\
# The record: what is true on a day

Written by `tools/write_record.py` from the record itself: change that, then run it again.

`fold(entries, on, clock)` reads the journal up to the close of one day of the room and says what was true.

- An entry is known once its `when` has ended, whenever it was written. An interval counts on its last day, an
  unknown date always, and `expected` climate whichever day it is for.
- A correction takes the place of the entry it names, on every day. A strike voids its entry and the
  corrections of it written before the strike; a strike of a strike brings it back. `taken_back` voids a whole
  import.
- Within a day, arrivals come first and deaths and departures last; between them the order is that of writing,
  save that entries with a known time of day keep that order.
- A moult dated by an interval is a window. One dated by a single day stays that day, however long nobody had
  looked, unless `last_checked` says when that was.
- A shed skin is the instar before its moult. An animal measured on the day of a moult has moulted.
- A home carries its place to whoever is in it; one that stands nowhere yet takes the place of the animal
  that moves in. Water for a home is water for its occupants, and back.
- What was done to a home or found in it stands in `Home.acts` in order of time: made up, openings, lid
  cover, water, weighings, felt moisture, dish, trouble, cleaning. What was written of an animal or batch is
  an act of the home it was in on that day. An act of unknown day is none. Days of water, weighings and felt
  moisture are read off the acts. For the home's water ([water.md](water.md)) a home made up anew starts
  afresh.
- A lot of feeders keeps what was written of it with its days (`Lot.acts`); feeders that were offered are not
  taken off. What can be bought is the latest word of each item, name and seller (`Record.supplies`), until it
  is gone; a price that is no number is unknown.
- Wintering is what the keeper said of an animal, else of its place, else of the room: each word holds until
  the next. That it began says that there was none before, for half a year at most; *ends* alone says that
  there is none from then on. Days of which nothing was said are unknown.
- Entries dated after the day they were written on are never used before their day comes; they are named as a
  problem as soon as they are written.
"""

LOOKS = """
## What counts as a look, and as a sign of life

A look would have noticed a moult: the interval without one runs to the last look, not to today. A sign of
life is the same for death. Kinds that are not listed are neither: water is given and prey is offered without
looking.

| entry | why it counts, with its exceptions |
|---|---|
"""

OUTCOMES = """
| outcome of an offer | look | sign of life |
|---|---|---|
"""

PROBLEMS = """
## Problems

A problem names the entries that disagree and what would settle it. Nothing is mended silently: where the
record has to choose, the row says what it does.

| kind | what it means |
|---|---|
"""


def record_page() -> str:
    """Return the page as the code has it now."""
    looks = "".join(f"| `{kind}` | {rule.why} |\n" for kind, rule in LOOK_RULES.items())
    words = {True: "yes", False: "no"}
    outcomes = "".join(
        f"| {name} | {words[look]} | {words[life]} |\n" for name, (look, life) in OUTCOME_LOOKS.items()
    )
    problems = "".join(f"| `{kind}` | {meaning} |\n" for kind, meaning in PROBLEM_KINDS.items())
    return OPENING + LOOKS + looks + OUTCOMES + outcomes + PROBLEMS + problems


if __name__ == "__main__":
    PAGE.write_text(record_page(), encoding="utf-8")
