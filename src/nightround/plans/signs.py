"""Signs seen since the last moult: the latest word on each sign counts, and silence says nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.record.model import Animal, Look


@dataclass(frozen=True, slots=True)
class Signs:
    """Days of the latest look that showed a sign, None when it did not or nobody looked.

    back          on its back, and nothing since says that this is over
    back_over     it was seen on its back, a later look no longer says so, and no moult is on record
    soft_fangs    white or red fangs since the moult, and not black since
    black_fangs   black fangs since the moult
    """

    back: date | None = None
    back_over: date | None = None
    soft_fangs: date | None = None
    black_fangs: date | None = None
    dark_patch: date | None = None
    moult_mat: date | None = None
    sealed: date | None = None
    fat: date | None = None
    shrunken: date | None = None


NO_SIGNS = Signs()


def signs_of(animal: Animal, moulted_on: date | None) -> Signs:
    """Return the signs of `animal` since its last moult. Its looks stand in order of time."""
    looks: list[Look] = []
    for look in reversed(animal.looks):
        day = look.when.last
        if day is not None and moulted_on is not None and day < moulted_on:
            break
        if day is not None and _counts(look, day, animal, moulted_on):
            looks.append(look)
    if not looks:
        return NO_SIGNS
    looks.sort(key=lambda look: (look.when.last or date.min, look.number))
    back, back_over = _on_its_back(animal, looks)
    soft, black = _fangs(animal, looks, moulted_on)
    return Signs(
        back, back_over, soft, black,
        _latest(looks, "dark_patch", True), _latest(looks, "moult_mat", True),
        _latest(looks, "burrow_sealed", True), _latest(looks, "abdomen", "fat"),
        _latest(looks, "abdomen", "shrunken"),
    )  # fmt: skip


def _counts(look: Look, day: date, animal: Animal, moulted_on: date | None) -> bool:
    """Whether a look is later than the moult; on the day itself the later entry is the later look."""
    if moulted_on is None or day > moulted_on:
        return True
    return day == moulted_on and all(
        look.number > moult.number for moult in animal.moults if moult.when.last == moulted_on
    )


def _latest(looks: list[Look], sign: str, wanted: object) -> date | None:
    for look in reversed(looks):
        value = getattr(look.signs, sign)
        if value is not None:
            return look.when.last if value == wanted else None
    return None


def _on_its_back(animal: Animal, looks: list[Look]) -> tuple[date | None, date | None]:
    seen = [look for look in looks if look.signs.on_its_back is not None]
    if not seen or not seen[-1].signs.on_its_back:
        was = next((look for look in reversed(seen) if look.signs.on_its_back), None)
        return None, was.when.last if was else None
    day = seen[-1].when.last
    if day is None:
        return None, None
    later_look = any(look.when.last is not None and look.when.last > day for look in looks)
    later_meal = any(
        offer.outcome == "taken" and offer.when.first is not None and offer.when.first > day
        for offer in animal.offers
    )
    return (None, day) if later_look or later_meal else (day, None)


def _fangs(animal: Animal, looks: list[Look], moulted_on: date | None) -> tuple[date | None, date | None]:
    """Return days of soft and of black fangs, the latest word only; soft ones count without a moult too."""
    seen_that_day = any(
        moult.when.last == moulted_on and not moult.when.is_interval for moult in animal.moults
    )
    for look in reversed(looks):
        if look.signs.fangs is None:
            continue
        if look.signs.fangs != "black":
            return look.when.last, None
        # Black fangs on the very day of a moult seen that day are the old ones.
        if look.when.last != moulted_on or not seen_that_day:
            return None, look.when.last
    return None, None
