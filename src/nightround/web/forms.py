"""The forms of the second level: for each kind of entry, the fields a keeper may fill in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

UNKNOWN = ("", "not known")


@dataclass(frozen=True)
class Field:
    """One field: `name` is the body's own; `choices` (value, words) make it a list to choose from."""

    name: str
    label: str
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    numeric: bool = False
    start: str = ""


@dataclass(frozen=True)
class Form:
    """One form. `days` tells how its day is asked: 'day', 'interval', or 'maybe' (may be left empty)."""

    kind: str
    heading: str
    send: str
    fields: tuple[Field, ...] = ()
    days: str = "day"
    hint: str = ""
    grave: str = ""


NOTE = Field("note", "Note")
_YES_NO = (UNKNOWN, ("yes", "yes"), ("no", "no"))

FORMS: tuple[Form, ...] = (
    Form(
        "offered",
        "Offered prey",
        "Write the offer",
        (
            Field("prey", "Prey", hint="such as cricket, roach, fruit flies"),
            Field("number", "How many", numeric=True),
            Field("prey_mm", "Prey length in mm", numeric=True),
            Field("prekilled", "Pre-killed", _YES_NO),
            Field(
                "outcome",
                "What became of it",
                (
                    ("", "not looked yet"),
                    ("taken", "taken"),
                    ("refused", "refused"),
                    ("uneaten", "still there"),
                    ("not_seen", "not seen"),
                ),
            ),
            NOTE,
        ),
    ),
    Form(
        "moulted",
        "Moulted",
        "Write the moult",
        (
            Field(
                "exuvia",
                "Shed skin",
                (UNKNOWN, ("kept", "kept"), ("lost", "lost or torn"), ("eaten", "eaten")),
            ),
            NOTE,
        ),
        days="interval",
        hint="If you did not see it happen, give the last day it had not moulted and the day you found it.",
    ),
    Form(
        "measured",
        "Measured",
        "Write the size",
        (
            Field(
                "item",
                "What",
                (
                    ("carapace_length", "carapace length"),
                    ("carapace_width", "carapace width"),
                    ("leg_span", "leg span, diagonal"),
                    ("body_length", "body length"),
                    ("mass", "mass"),
                ),
            ),
            Field("value", "Number", numeric=True),
            Field("unit", "Unit", (("mm", "mm"), ("cm", "cm"), ("in", "in"), ("g", "g"), ("oz", "oz"))),
            Field(
                "on",
                "Measured on",
                (UNKNOWN, ("live", "the live animal"), ("shed_skin", "the shed skin")),
                hint="A shed skin has the size from before that moult.",
            ),
            Field("posture", "Legs", (UNKNOWN, ("bent", "bent"), ("stretched", "stretched"))),
            NOTE,
        ),
    ),
    Form(
        "watered",
        "Watered",
        "Write the water",
        (
            Field("value", "How much", numeric=True),
            Field("unit", "Unit", (("ml", "ml"), ("fl oz", "fl oz"), ("tsp", "tsp"), ("tbsp", "tbsp"))),
            Field("where", "Where", hint="such as dish, side, corner"),
            NOTE,
        ),
    ),
    Form(
        "seen",
        "Seen",
        "Write the look",
        (
            Field("posture", "Posture or place", hint="such as at the entrance, in its retreat"),
            Field(
                "abdomen",
                "Abdomen",
                (
                    UNKNOWN,
                    ("shrunken", "shrunken"),
                    ("small", "small"),
                    ("normal", "normal"),
                    ("fat", "fat"),
                ),
            ),
            Field("dark_patch", "Dark or shiny patch", _YES_NO),
            Field("burrow_sealed", "Burrow or retreat sealed", _YES_NO),
            Field("moult_mat", "Moulting mat", _YES_NO),
            Field("on_its_back", "On its back", _YES_NO, hint="It may be moulting: no touch, no water."),
            Field("fangs", "Fangs", (UNKNOWN, ("white", "white"), ("red", "red"), ("black", "black"))),
            NOTE,
        ),
        hint="A look from outside is enough. Never dig for an animal.",
    ),
    Form("noted", "Note", "Write the note", (NOTE,)),
    Form(
        "died",
        "Died",
        "Write the death…",
        (Field("during_moult", "During a moult", _YES_NO), NOTE),
        days="interval",
        hint="When it was found later: the last day it was seen alive, and the day it was found.",
        grave="It leaves the round. Its records stay, and count in the survival evidence.",
    ),
    Form(
        "left",
        "Left the room",
        "Write that it left…",
        (
            Field(
                "how",
                "How",
                (
                    UNKNOWN,
                    ("sold", "sold"),
                    ("given", "given away"),
                    ("returned", "given back"),
                    ("lost", "lost"),
                ),
            ),
            NOTE,
        ),
        grave="It leaves the round alive. Its records stay.",
    ),
)
FORM_OF: Mapping[str, Form] = {form.kind: form for form in FORMS}
