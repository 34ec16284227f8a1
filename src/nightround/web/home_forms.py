"""The forms of a home: water, weighings, felt moisture, dish, lid and openings."""

from __future__ import annotations

from collections.abc import Mapping

from nightround.web.forms import NOTE, UNKNOWN, Field, Form

_FELT = (UNKNOWN, ("dry", "dry"), ("damp", "damp"), ("wet", "wet"))
_VOLUMES = (("ml", "ml"), ("fl oz", "fl oz"), ("tsp", "tsp"), ("tbsp", "tbsp"))
_COVERS = (("0", "nothing"), ("0.25", "a quarter"), ("0.5", "half"), ("0.75", "three quarters"),
           ("0.8", "80 %"), ("0.9", "90 %"), ("1", "all of it"))  # fmt: skip
_AT = (("lid", "in the lid"), ("side_high", "high in the side"), ("side_low", "low in the side"))
_SHAPES = (("hole", "holes"), ("slot", "slots"), ("mesh", "mesh"), ("perforated", "perforated plate"))

HOME_FORMS: tuple[Form, ...] = (
    Form(
        "watered",
        "Watered",
        "Write the water",
        (
            Field("value", "How much", numeric=True),
            Field("unit", "Unit", _VOLUMES),
            Field("where", "Where", hint="such as side, back corner, deep end, all over"),
            NOTE,
        ),
    ),
    Form(
        "moisture_felt",
        "Felt",
        "Write how it felt",
        (Field("bottom", "Below", _FELT), Field("surface", "On top", _FELT), NOTE),
        hint="A finger down the side of the substrate, away from the animal. Never dig for an animal.",
    ),
    Form(
        "weighed",
        "Weighed",
        "Write the mass",
        (
            Field("value", "Mass of the whole home", numeric=True),
            Field("unit", "Unit", (("g", "g"), ("kg", "kg"), ("oz", "oz"), ("lb", "lb"))),
            NOTE,
        ),
        hint="With lid and animal, before any water. Carry it level; not if the animal is about to moult.",
    ),
    Form("misted", "Misted", "Write it",
         (Field("value", "How much, if you know", numeric=True), Field("unit", "Unit", _VOLUMES), NOTE)),
    Form(
        "dish",
        "Drinking dish",
        "Write it",
        (
            Field("state", "Dish", (("filled", "filled"), ("found_dry", "found dry"))),
            Field("value", "It holds", numeric=True),
            Field("unit", "Unit", _VOLUMES),
            NOTE,
        ),
        hint="Drinking is not substrate water: no plan lengthens the days between drinks.",
    ),
    Form("lid_cover", "Lid covered", "Write the cover",
         (Field("fraction", "Covered from now on", _COVERS), NOTE)),
    Form(
        "opening",
        "Opening changed",
        "Write the opening",
        (
            Field("shape", "What", _SHAPES),
            Field("number", "How many, 0 when closed", numeric=True),
            Field("width_mm", "Width or diameter in mm", numeric=True),
            Field("length_mm", "Length in mm, not for holes", numeric=True),
            Field("at", "Where", _AT),
            Field("label", "Name, to change this one later", hint="such as lid holes, front mesh"),
            NOTE,
        ),
        hint="As it is from now on. One of the same name, or of the same sort at that side, is replaced.",
    ),
    Form(
        "trouble",
        "Mould, mites, flood",
        "Write it",
        (Field("what", "What", (("mould", "mould"), ("mites", "mites"), ("flooded", "flooded"))), NOTE),
    ),
    Form("cleaned", "Cleaned", "Write it", (NOTE,)),
    Form("noted", "Note", "Write the note", (NOTE,)),
)  # fmt: skip
HOME_FORM_OF: Mapping[str, Form] = {form.kind: form for form in HOME_FORMS}
