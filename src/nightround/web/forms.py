"""The forms of the second level: for each kind of entry, the fields a keeper may fill in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nightround.desk.rule_setting import rule_choices

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


RULE_CHOICES = rule_choices()
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
    Form(
        "moved",
        "Moved",
        "Write the move",
        (
            Field("home", "Into home", hint="empty: the home it has moves with it"),
            Field("place", "Onto shelf", hint="empty: the shelf stays as it is"),
            NOTE,
        ),
    ),
    Form(
        "quarantine",
        "Quarantine",
        "Write it",
        (
            Field("state", "Quarantine", (("begins", "begins"), ("ends", "ends"))),
            Field("reason", "Why"),
            NOTE,
        ),
        hint="In quarantine it comes last in the round, whatever its shelf.",
    ),
    Form(
        "wintering",
        "Wintering",
        "Write it",
        (
            Field("state", "Wintering", (("begins", "begins"), ("ends", "ends, or not wintered"))),
            Field("how", "How"),
            NOTE,
        ),
        hint="Kept cool, or by short days. Wintered animals may take much longer to the next moult.",
    ),
    Form(
        "sexed",
        "Sexed",
        "Write the sex",
        (
            Field("sex", "Sex", (("female", "female"), ("male", "male"))),
            Field(
                "how", "How", (UNKNOWN, ("exuvia", "shed skin"), ("ventral", "ventral"), ("mature", "mature"))
            ),
            NOTE,
        ),
    ),
    Form(
        "matured",
        "Mature",
        "Write that it is mature",
        (Field("sex", "Sex", (UNKNOWN, ("female", "female"), ("male", "male"))), NOTE),
        days="interval",
        hint="Write it when you saw the signs yourself. A mature male gets no moult forecast.",
    ),
    Form(
        "injured",
        "Injured",
        "Write the injury",
        (Field("injury", "What is hurt"), Field("legs_lost", "Legs lost", numeric=True), NOTE),
        hint="For an injury or illness ask a veterinarian.",
    ),
    Form("noted", "Note", "Write the note", (NOTE,)),
    Form(
        "rule_set",
        "Overrule a rule for it",
        "Write the rule",
        (
            Field("rule", "Rule", RULE_CHOICES),
            Field(
                "value",
                "Your figure",
                hint="such as 10, 2 weeks, 4 cm, 30 %, never; empty: the default again",
            ),
            Field("why", "Why"),
            NOTE,
        ),
        hint="For this animal only. For a shelf, a taxon or the whole room write a plain line.",
    ),
    Form(
        "escaped",
        "Escaped",
        "Write the escape",
        (Field("opening", "Through which opening", hint="empty if you do not know"), NOTE),
        days="interval",
        hint="Close doors and vents, keep children and pets out, look along walls and in warm dark corners. "
        "Cup it, never grab it. After a bite seek medical advice and call the local poison service.",
    ),
    Form("found_again", "Found again", "Write where", (Field("where", "Where"), NOTE)),
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
