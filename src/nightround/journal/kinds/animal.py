"""Entries about an animal (or, where it makes sense, about a batch of them)."""

from __future__ import annotations

from typing import Literal

from nightround.journal.kinds.base import Amount, Body, Kind

Sex = Literal["female", "male"]
Origin = Literal["captive_bred", "captive_hatched", "wild_collected", "long_term_captive", "unknown"]
Outcome = Literal["taken", "refused", "uneaten", "not_seen"]
MeasuredItem = Literal["carapace_length", "carapace_width", "leg_span", "body_length", "mass"]


class Arrived(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """An animal came into the room: its state at arrival. `hatched` is an ISO date or interval text."""

    taxon: str = ""
    sex: Sex | None = None
    origin: Origin | None = None
    hatched: str = ""
    place: str = ""
    home: str = ""
    from_whom: str = ""
    price: str = ""
    papers: str = ""


class Hatched(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """An animal was promoted out of a batch of this room (its `when` is the day it got its own code)."""

    taxon: str = ""
    batch: str = ""
    hatched: str = ""
    place: str = ""
    home: str = ""
    sex: Sex | None = None


class Offered(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Prey was offered. `outcome` None means open: nobody has looked yet."""

    prey: str = ""
    number: int | None = None
    prey_mm: float | None = None
    prekilled: bool | None = None
    outcome: Outcome | None = None
    found: str = ""  # the day the outcome was seen, ISO text, when it is not the day of the offer


class OfferSeen(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What became of an earlier offer; `offer` is that entry's number, None the animal's last open one."""

    outcome: Outcome | None = None
    offer: int | None = None


class LeftoversRemoved(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Uneaten prey or remains were taken out."""

    prey: str = ""
    number: int | None = None


class PassedOver(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Not fed by the keeper's choice: never a refusal."""

    reason: str = ""


class Moulted(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It moulted on this day, or in this interval when the moult was found later."""

    exuvia: Literal["kept", "lost", "eaten"] | None = None
    last_checked: str = ""  # the last day it had surely not moulted, ISO text, when the keeper says so


class Measured(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A size or mass. On the shed skin it is the size of the instar before that moult."""

    item: MeasuredItem
    on: Literal["live", "shed_skin"] | None = None
    posture: Literal["bent", "stretched"] | None = None


class Sexed(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Its sex was determined; how: exuvia, ventral, mature."""

    sex: Sex
    how: str = ""


class Matured(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Seen to be mature (its ultimate moult, for a male)."""

    sex: Sex | None = None


class Seen(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A look that found it alive, with the signs that were seen; None means not looked for."""

    posture: str = ""
    abdomen: Literal["shrunken", "small", "normal", "fat"] | None = None
    abdomen_ratio: float | None = None  # abdomen width over carapace width
    dark_patch: bool | None = None
    on_its_back: bool | None = None
    web: str = ""
    burrow_sealed: bool | None = None
    moult_mat: bool | None = None
    fangs: Literal["white", "red", "black"] | None = None


class NotFound(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A look that did not find it (in its retreat, perhaps): no sign of life, no sign of death."""


class Drank(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It was seen to drink; how: drops or dish."""

    how: str = ""


class DropsGiven(Amount, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Drops were put on web or wall for it to drink."""

    where: str = ""


class Moved(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It was moved into another home, or its home onto another place."""

    home: str = ""
    place: str = ""


class Quarantine(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Quarantine began or ended."""

    state: Literal["begins", "ends"] = "begins"
    reason: str = ""


class Wintering(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Wintering (kept cool, or by short days) began or ended; `ends` alone says: not wintered from here on.

    About an animal, or about a place or the whole room: then of whoever lives there.
    """

    state: Literal["begins", "ends"] = "begins"
    how: str = ""


class Paired(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It was put together with a mate."""

    mate: str = ""


class Sac(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """An egg sac was laid, pulled or opened; counts as found on opening. `batch` names what hatched."""

    step: Literal["laid", "pulled", "opened", "eaten"] = "laid"
    eggs: int | None = None
    living: int | None = None
    dead: int | None = None
    batch: str = ""


class Treated(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Something was done for its health; for illness ask a veterinarian."""

    treatment: str = ""


class Injured(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It was hurt or lost limbs."""

    injury: str = ""
    legs_lost: int | None = None


class Filmed(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A clip or photo; the file stays where it is."""

    shows: str = ""
    file: str = ""


class Escaped(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It got out; the opening that failed, if known."""

    opening: str = ""


class FoundAgain(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """An escaped animal was found; alive unless a `died` entry says otherwise."""

    where: str = ""


class Died(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It died; `when` is when (an interval when found later)."""

    last_seen_alive: str = ""
    during_moult: bool | None = None
    cause: str = ""


class Left(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """It left the room alive: sold, given or lost. It is censored, never dead."""

    how: Literal["sold", "given", "lost", "returned"] | None = None
    to_whom: str = ""


class Noted(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """Words only."""


KINDS: tuple[Kind, ...] = (
    Kind("arrived", Arrived, ("animal",), "came into the room", item="taxon"),
    Kind("hatched", Hatched, ("animal",), "promoted out of a batch", item="batch"),
    Kind("offered", Offered, ("animal", "batch"), "prey offered", "prey", "number", "outcome"),
    Kind("offer_seen", OfferSeen, ("animal", "batch"), "what became of an offer", outcome="outcome"),
    Kind("leftovers_removed", LeftoversRemoved, ("animal", "batch"), "leftovers taken out", "prey", "number"),
    Kind("passed_over", PassedOver, ("animal", "batch"), "not fed by choice", item="reason"),
    Kind("moulted", Moulted, ("animal",), "moulted", item="exuvia"),
    Kind("measured", Measured, ("animal",), "measured", "item", "value"),
    Kind("sexed", Sexed, ("animal",), "sex determined", item="sex"),
    Kind("matured", Matured, ("animal",), "mature", item="sex"),
    Kind("seen", Seen, ("animal",), "seen alive", item="posture"),
    Kind("not_found", NotFound, ("animal",), "looked for and not seen"),
    Kind("drank", Drank, ("animal",), "seen drinking", item="how"),
    Kind("drops_given", DropsGiven, ("animal", "batch"), "drops given", "where", "value", dimension="volume"),
    Kind("moved", Moved, ("animal", "batch", "home"), "moved", item="home"),
    Kind("quarantine", Quarantine, ("animal", "batch"), "quarantine", item="state"),
    Kind("wintering", Wintering, ("animal", "place", "room"), "wintering", item="state"),
    Kind("paired", Paired, ("animal",), "paired", item="mate"),
    Kind("sac", Sac, ("animal",), "egg sac", item="step"),
    Kind("treated", Treated, ("animal", "batch"), "treated", item="treatment"),
    Kind("injured", Injured, ("animal",), "injured", item="injury", value="legs_lost"),
    Kind("filmed", Filmed, ("animal", "batch", "home", "taxon", "room"), "filmed", item="shows"),
    Kind("escaped", Escaped, ("animal", "batch"), "escaped", item="opening"),
    Kind("found_again", FoundAgain, ("animal",), "found again", item="where"),
    Kind("died", Died, ("animal",), "died", item="cause"),
    Kind("left", Left, ("animal",), "left the room", item="how"),
    Kind(
        "noted", Noted, ("animal", "batch", "home", "place", "lot", "taxon", "room"), "noted"
    ),
)  # fmt: skip
