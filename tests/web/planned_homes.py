"""A room whose animals outgrow their homes, to show its plan: sizes and moults written down, a shop."""

from __future__ import annotations

from datetime import timedelta

from nightround.desk.desk import Desk
from nightround.foundation.when import on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.animal import Arrived, Measured, Moulted, Moved
from nightround.journal.kinds.knowledge import Named
from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import MadeUp, Opening
from web.fixed_room import TUESDAY

VIAL = MadeUp(
    shape="cylinder", inner_length_mm=36.0, inner_height_mm=70.0, depth_low_mm=25.0, depth_high_mm=25.0
)
TANK = Supply(
    item="home", name="tank <b>", shape="box", inner_length_mm=381.0, inner_width_mm=203.0,
    inner_height_mm=254.0, gap_mm=0.0, price="30", currency="EUR", lead_days=3, from_whom="the invented shop",
)  # fmt: skip
GROUP = "funnel-web-building mygalomorphs"


def fill(desk: Desk) -> None:
    """Four animals in vials, three measured as they grew; one never; a tank for sale."""
    drafts = [
        Draft(Ref("taxon", "Invented webber"), on_day(TUESDAY - timedelta(days=400)),
              Named(group=GROUP, habit="web_builder", climbs="poor")),
        Draft(ROOM, on_day(TUESDAY), TANK),
    ]  # fmt: skip
    for number in range(4):
        one, home = Ref("animal", f"P{number}"), Ref("home", f"V{number}")
        came = on_day(TUESDAY - timedelta(days=380))
        drafts += [
            Draft(one, came, Arrived(taxon="Invented webber")),
            Draft(one, came, Moved(home=home.code, place="Shelf A")),
            Draft(home, came, VIAL),
            Draft(home, came, Opening(shape="hole", number=0, label="lid")),
        ]
        for step in range(4):
            day = on_day(TUESDAY - timedelta(days=360 - 100 * step - 5 * number))
            drafts.append(Draft(one, day, Moulted()))
            if number < 3:
                size = Measured(item="leg_span", value=12.0 * 1.35**step, unit="mm", on="live")
                drafts.append(Draft(one, day, size))
    desk.write(drafts)
