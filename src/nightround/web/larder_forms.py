"""The forms of the larder: what came, what was counted or died, and what can be bought."""

from __future__ import annotations

from collections.abc import Sequence

from nightround.web.forms import NOTE, UNKNOWN, Field, Form

_FEEDER = Field("feeder", "Feeder", hint="such as cricket, lateralis roach, fruit fly")
_SIZE = Field("size_mm", "Length of one in mm", numeric=True)
_SHAPES = (UNKNOWN, ("box", "box"), ("cylinder", "cylinder"), ("tapered", "tapered"))


def larder_forms(lots: Sequence[str]) -> tuple[Form, ...]:
    """Return the forms with the running lots to choose from."""
    lot = Field("lot", "Lot", tuple((code, code) for code in lots))
    bought = Form(
        "bought",
        "Bought",
        "Write the purchase",
        (
            _FEEDER,
            Field("number", "How many", numeric=True),
            _SIZE,
            Field("price", "Price", hint="with its currency, such as 4.50 EUR"),
            Field("from_whom", "From"),
            Field("code", "Code of the lot", hint="empty: one is made"),
            NOTE,
        ),
    )
    started = Form(
        "started",
        "Culture started",
        "Write the culture",
        (
            Field("feeder", "Feeder", start="fruit fly"),
            Field("code", "Code", hint="empty: one is made"),
            NOTE,
        ),
        hint="A culture of flies set up today: its flies come about three weeks later.",
    )
    if not lots:
        return bought, started, _supply()
    number = Field("number", "How many", numeric=True)
    counted = Form("counted", "Counted", "Write the count", (lot, number, _SIZE, NOTE))
    died = Form("died_off", "Died off", "Write it", (lot, number, NOTE))
    culled = Form("culled", "Culled", "Write it", (lot, number, NOTE))
    finished = Form("finished", "Finished", "Write it", (lot, NOTE), hint="Nothing is left of it.")
    return bought, started, counted, died, culled, finished, _supply()


def _supply() -> Form:
    return Form(
        "supply",
        "What a shop offers",
        "Write it",
        (
            Field("item", "What", (("feeder", "feeders"), ("home", "a home"))),
            Field("name", "Called", hint="such as crickets, small"),
            Field("from_whom", "From"),
            Field("feeder", "Feeder", hint="such as cricket; not for homes"),
            Field("size_low_mm", "Feeders from, mm long", numeric=True),
            Field("size_high_mm", "Feeders up to, mm long", numeric=True),
            Field("shape", "Shape of the home", _SHAPES),
            Field("inner_length_mm", "Inner length or diameter, mm", numeric=True),
            Field("inner_width_mm", "Inner width, mm", numeric=True),
            Field("inner_height_mm", "Inner height, mm", numeric=True),
            Field("gap_mm", "Widest opening, mm", numeric=True),
            Field("pack", "How many in a pack", numeric=True),
            Field("price", "Price of a pack", hint="a number, such as 3.50", numeric=True),
            Field("currency", "Currency", hint="such as EUR"),
            Field("lead_days", "Days from order to delivery", numeric=True),
            Field("delivery", "Days of delivery", hint="such as Tue, Wed"),
            Field("gone", "Still offered", (("", "yes"), ("yes", "no longer"))),
            NOTE,
        ),
        hint="Leave empty what you do not know: an unknown price is in no sum. The same name from the same "
        "seller takes the earlier word's place.",
    )
