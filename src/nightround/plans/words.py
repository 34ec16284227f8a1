"""Plain words for the round: days, chances, numbers of things, and the cautions that every round carries."""

from __future__ import annotations

from datetime import date

from nightround.foundation.wording import day_words

CAUTIONS: tuple[str, ...] = (
    "No spider here is called harmless. After a bite seek medical advice and call the local poison service; "
    "where no mark is shown, little or nothing is known of its bite.",
    "Irritating hairs pierce the eye: wear eye protection to open or clean homes of animals that have them.",
    "Feeders, cockroaches above all, can cause allergies.",
    "Heat mats and lamps burn and can start a fire: use a thermostat, always.",
    "Insecticide, flea treatment, smoke and nicotine kill spiders.",
    "Trade, licence, import and posting rules differ and change: ask the local authority.",
    "This is not veterinary advice: for illness, injury or a hard decision ask a veterinarian.",
)

NO_DIGGING = "Look from outside, with a dim light: do not dig, do not open a sealed retreat, do not prod."
ASK_VET = "This is a doubt, not a diagnosis: if it looks ill or hurt, ask a veterinarian."
HANDS_OFF = "Do not touch, turn, help, spray or move it, and do not move its home."


def percent(chance: float) -> str:
    """Write a chance as whole percent; small and large ones never become 0 or 100."""
    if chance < 0.01:
        return "under 1 %"
    if chance > 0.99:
        return "over 99 %"
    return f"{round(chance * 100)} %"


def count(number: int, one: str, many: str = "") -> str:
    """Write a number of things: '1 day', '3 days'."""
    return f"{number} {one}" if number == 1 else f"{number} {many or one + 's'}"


def things(number: int, name: str) -> str:
    """Write so many of a feeder: '1 cricket', '2 fruit flies (hydei)', '3 lateralis roaches'."""
    if number == 1:
        return f"1 {name}"
    head, bracket, rest = name.partition(" (")
    if head.endswith("fly"):
        head = head[:-1] + "ies"
    elif not head.endswith("s"):
        head += "es" if head.endswith(("ch", "sh", "x")) else "s"
    return f"{number} {head}{bracket}{rest}"


def ago(day: date, on: date) -> str:
    """Write how long ago a day was: 'today', 'yesterday', '12 days ago (12 Nov)'."""
    days = (on - day).days
    if days <= 0:
        return "today"
    if days == 1:
        return "yesterday"
    return f"{days} days ago ({day_words(day, on)})"
