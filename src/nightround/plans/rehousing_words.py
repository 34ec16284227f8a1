"""What a plan of homes asks for, in words: preparations, errands, and the run sheet of a move."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from nightround.foundation.quantities import both
from nightround.foundation.refusal import NoSuchThing
from nightround.plans.hazards import hazard_of
from nightround.plans.rehousing_ways import depth_words
from nightround.record.model import Record
from nightround.reports.homes import HomesReport, Move, Preparation, RunSheet, ToBuy
from nightround.reports.larder import Errand

PREPARE_AHEAD_DAYS: Final = 7
"""Days before a move by which its home is made up, so that it settles and dries on top; chosen."""
ERRANDS_AHEAD_DAYS: Final = 42

CAUTIONS: Final = (
    "Not in premoult, while hardening, with a sac, or in the first two weeks after a move or arrival (CP)",
    "Work inside a larger tub, catch cup and lid at hand; keep hands out of its way and use a soft brush",
    "Any spider may bite and some are medically significant: after a bite, or hairs in eye or skin, seek "
    "medical advice",
    "Eye protection where hairs irritate, gloves for old substrate; wash hands after",
    "Local rules on keeping and moving animals come first; for a hurt animal ask a veterinarian",
)


def preparations_of(on: date, moves: Sequence[Move]) -> tuple[Preparation, ...]:
    """Return the homes to make up, each some days before its move."""
    return tuple(
        Preparation(
            move.to, max(move.day - timedelta(days=PREPARE_AHEAD_DAYS), on), move.animal, move.depth_mm,
            move.litres, move.checks,
        )
        for move in moves
    )  # fmt: skip


def errands_of(
    on: date, moves: Sequence[Move], preparations: Sequence[Preparation], bought: Sequence[ToBuy]
) -> tuple[Errand, ...]:
    """Return what is to do in the weeks to come: homes to order and to prepare, once each, and moves."""
    last = on + timedelta(days=ERRANDS_AHEAD_DAYS)
    found = [_order(on, each) for each in bought if (each.order_by or each.needed) <= last]
    alike: dict[tuple[str, date, float], list[Preparation]] = {}
    for each in preparations:
        if each.by <= last:
            alike.setdefault((each.home, each.by, each.depth_mm), []).append(each)
    found += [_prepare(on, group) for group in alike.values()]
    found += [_rehouse(on, move) for move in moves if move.day <= last]
    return tuple(sorted(found, key=lambda each: (each.by, each.title)))


def _order(on: date, each: ToBuy) -> Errand:
    seller = f" from {each.from_whom}" if each.from_whom else ""
    title = f"Buy {each.number} × {each.name}{seller}"
    cost = f"{each.cost} {each.currency}".strip() if each.cost else "price not known"
    return Errand("prepare", title, each.order_by or each.needed, f"needed {each.needed.isoformat()}; {cost}",
                  on, each.name, each.checks)  # fmt: skip


def _prepare(on: date, alike: Sequence[Preparation]) -> Errand:
    """One errand for homes of the same sort and day."""
    each, many = alike[0], len(alike)
    litres = f", about {both(1000 * each.litres, 'ml')}" if each.litres is not None else ""
    number, apiece = (f"{many} × ", " each") if many > 1 else ("", "")
    who = ", ".join(one.animal for one in alike)
    title = f"Prepare {number}{each.home} for {who}: {depth_words(each.depth_mm)}{litres}{apiece}"
    checks = tuple(dict.fromkeys(check for one in alike for check in one.checks))
    return Errand("prepare", title, each.by, "a move is planned in the week after", on, who, checks)


def _rehouse(on: date, move: Move) -> Errand:
    return Errand(
        "rehouse", f"Move {move.animal} into {move.to}", move.day + timedelta(days=13),
        "; ".join(move.reasons[:2]), on, move.animal, (CAUTIONS[0], CAUTIONS[1]),
    )  # fmt: skip


def still_asked(record: Record, errands: Sequence[Errand]) -> tuple[Errand, ...]:
    """Return the errands without those of animals that have moved, died or left since the plan.

    Whether homes were bought nobody writes down: what is to buy is asked for a week past its day.
    """
    return tuple(each for each in errands if not _settled(record, each))


def _settled(record: Record, errand: Errand) -> bool:
    animals = [record.animal(code.strip()) for code in errand.about.split(",")]
    known = [animal for animal in animals if animal is not None]
    if not known or len(known) < len(animals):
        return record.on > errand.by + timedelta(days=PREPARE_AHEAD_DAYS)

    def moved(first: date | None) -> bool:
        return first is not None and first > errand.made

    return all(not animal.here or any(moved(stay.first) for stay in animal.stays) for animal in known)


def run_sheet(record: Record, report: HomesReport, animal: str, number: int = 1) -> RunSheet:
    """Return the sheet for one move of the plan. Raises NoSuchThing when none is planned."""
    move = next((m for m in report.moves if m.animal == animal and m.number == number), None)
    if move is None:
        codes = ", ".join(dict.fromkeys(m.animal for m in report.moves)) or "nobody"
        raise NoSuchThing("a planned move", got=f"{animal}, move {number}", todo=f"Moves planned: {codes}")
    return RunSheet(
        move, report.room, report.invented, _not_tonight(), _ready(move), _steps(),
        _after(move), _cautions(record, move),
    )  # fmt: skip


def _not_tonight() -> tuple[str, ...]:
    return (
        "a fat dark abdomen, a mat, a sealed retreat, or refusals in a row: premoult",
        "fangs not yet black after a moult: hardening",
        "a sac, or a male that is to be paired",
        "less than two weeks since arrival or the last move",
        "nobody else is awake, or the room is in a hurry",
    )


def _ready(move: Move) -> tuple[str, ...]:
    litres = f", about {both(1000 * move.litres, 'ml')} loose" if move.litres is not None else ""
    return (
        f"{move.to}, made up: {depth_words(move.depth_mm)}{litres}, moist below and dry on top",
        "a tub larger and higher than both homes together, with a lid, standing on the floor",
        "a clear catch cup wider than its leg span with a card that covers it, and a second cup",
        f"leg span then about {both(move.span.middle_mm, 'mm')} "
        f"(8 in 10: {both(move.span.low_mm, 'mm')} to {both(move.span.high_mm, 'mm')})",
        "a long soft brush, a torch; water for the new home",
        *move.checks,
    )


def _steps() -> tuple[str, ...]:
    return (
        "Close doors and windows; everything that could hide it is off the table",
        "Set the new home into the tub, its lid beside it",
        "If the old vessel goes into the new home: open it inside the new home, close the new lid over both, "
        "and let it walk out by itself; take the vessel out on another evening, when it has left it",
        "If it does not: set the old home, closed, into the tub; put the catch cup over the animal, slide "
        "the card under, set the cup into the new home, and lift it when the animal has settled",
        "Never pull it out of a retreat or a burrow, never blow on it, never hurry it with a hard tool",
        "If it leaves the cup: lid on the tub, wait, cup again",
        "Close the new home, check every opening once more, then look for prey left in the old one",
    )


def _after(move: Move) -> tuple[str, ...]:
    return (
        f"Write down: {move.animal} moved to {move.to_home or 'its new home'}, and how that home is made up",
        "No prey for some days, water at once; no further move for two weeks",
        f"Clean {move.from_home}; used substrate away in a closed bag",
    )


def _cautions(record: Record, move: Move) -> tuple[str, ...]:
    hazard = hazard_of(move.taxon, record.taxon(move.taxon))
    return (*((hazard,) if hazard else ()), *CAUTIONS)
