"""What counts as a look that would have noticed a moult, and what as a sign of life: one table, with reasons.

A look ends the time in which a moult may have gone unseen; a sign of life ends the time in which a death may.
Kinds that are not listed are neither: water, drops and open offers are given without looking at the animal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nightround.journal.kinds.animal import Left, Measured, Moved, Sac, Seen, Sexed
from nightround.journal.kinds.knowledge import StockTake

Test = Callable[[Any], bool]


def _always(body: Any) -> bool:
    return True


def _never(body: Any) -> bool:
    return False


def shed_skin(body: Measured) -> bool:
    """Whether a shed skin was measured: said in `on`, or by a note that consists of these words."""
    if body.on is not None or not body.note:
        return body.on == "shed_skin"
    parts = body.note.replace("|", ";").split(";")
    return any(part.strip().casefold() in ("shed skin", "exuvia") for part in parts)


def _measured_animal(body: Measured) -> bool:
    if body.on is None and body.item in ("carapace_length", "carapace_width"):
        return False
    return not shed_skin(body)


def _saw_itself(body: Seen) -> bool:
    signs = (body.posture, body.abdomen, body.abdomen_ratio, body.dark_patch, body.on_its_back, body.fangs)
    return not body.burrow_sealed or any(sign not in (None, "") for sign in signs)


def _open_burrow(body: Seen) -> bool:
    return not body.burrow_sealed


def _handled_on_sexing(body: Sexed) -> bool:
    return body.how.casefold() in ("ventral", "mature", "palps", "hooks")


def _new_home(body: Moved) -> bool:
    return bool(body.home)


def _sac_beside_her(body: Sac) -> bool:
    return body.step != "opened"


def _handed_over(body: Left) -> bool:
    return body.how in ("sold", "given", "returned")


def _counted_alive(body: StockTake) -> bool:
    return body.alive is True


@dataclass(frozen=True, slots=True)
class LookRule:
    """Whether an entry of this kind counts as a look, as a sign of life, and why.

    late   the day that counts is the last of an interval instead of the first, which is certain
    """

    look: Test
    life: Test
    why: str
    late: bool = False


LOOK_RULES: dict[str, LookRule] = {
    "arrived": LookRule(_always, _always, "unpacked by hand"),
    "hatched": LookRule(_always, _always, "taken out of its batch by hand"),
    "moulted": LookRule(_always, _always, "found moulted, by the last day of the interval", True),
    "measured": LookRule(_measured_animal, _measured_animal, "the animal itself was measured, not its skin"),
    "sexed": LookRule(_handled_on_sexing, _handled_on_sexing, "seen from below or mature, not by its skin"),
    "matured": LookRule(_always, _always, "seen to be mature"),
    "seen": LookRule(_open_burrow, _saw_itself, "looked at; a sealed burrow hides a moult and a death"),
    "drank": LookRule(_always, _always, "watched while drinking"),
    "moved": LookRule(_new_home, _new_home, "handled; moving the shelf its home stands on is no look"),
    "paired": LookRule(_always, _always, "watched with its mate"),
    "sac": LookRule(_sac_beside_her, _sac_beside_her, "seen with the sac; opening it happens elsewhere"),
    "treated": LookRule(_always, _always, "handled"),
    "injured": LookRule(_always, _always, "looked at closely"),
    "filmed": LookRule(_always, _always, "the clip shows it"),
    "found_again": LookRule(_always, _always, "caught by hand"),
    "leftovers_removed": LookRule(_always, _never, "searched its home with tongs: a shed skin would be seen"),
    "cleaned": LookRule(_always, _never, "searched its home: a shed skin would be seen"),
    "died": LookRule(_always, _never, "the body was looked at: no moult was completed before death"),
    "left": LookRule(_handed_over, _handed_over, "packed by hand; a lost animal was not"),
    "stock_take": LookRule(_never, _counted_alive, "counted as alive, without looking for a skin"),
}

OUTCOME_LOOKS: dict[str, tuple[bool, bool]] = {
    "taken": (True, True),  # life on the day of the offer, a look on the day the outcome was seen
    "refused": (True, True),  # seen to turn it down
    "uneaten": (True, False),  # prey found, the animal perhaps not
    "not_seen": (False, False),
}
"""Outcome of an offer → (look, sign of life)."""
