"""Filled-in forms of the larder into drafts; what is not written in them stays unknown."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation

import msgspec

from nightround.desk.jot_larder import new_code
from nightround.desk.taps import FormRefusal, draft_of_form
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.supplies import WEEKDAYS, Supply
from nightround.journal.kinds.surroundings import LotChanged
from nightround.record.model import Record

BEGINNINGS = {"bought": "bought", "started": "started"}
CHANGES = ("counted", "died_off", "culled", "finished")
FORM_NAMES = (*BEGINNINGS, *CHANGES, "supply")
_SEVERAL = re.compile(r"[\s,;/]+")


def larder_draft(name: str, fields: Mapping[str, str], record: Record) -> Draft:
    """Return the draft of a filled-in form of the larder. Raises FormRefusal with every fault."""
    if name == "supply":
        return _supply(fields, record)
    if name in BEGINNINGS:
        feeder = fields.get("feeder", "").strip()
        if not feeder:
            raise FormRefusal({"feeder": "Write which feeders."})
        code = fields.get("code", "").strip() or new_code(record, feeder)
        if code in record.lots:
            raise FormRefusal({"code": f"There is a lot {code} already. Leave it empty, or write another."})
        return draft_of_form("lot_begun", code, {**fields, "how": BEGINNINGS[name]}, record.clock, "lot")
    return _change(name, fields, record)


def _change(name: str, fields: Mapping[str, str], record: Record) -> Draft:
    lot = fields.get("lot", "").strip()
    if lot not in record.lots:
        raise FormRefusal({"lot": "Choose one of the lots in the house."})
    draft = draft_of_form("lot_changed", lot, {**fields, "what": name}, record.clock, "lot")
    body = draft.body
    assert isinstance(body, LotChanged)
    if name != "finished" and body.number is None and body.size_mm is None:
        raise FormRefusal({"number": "Write how many."})
    return draft


def _supply(fields: Mapping[str, str], record: Record) -> Draft:
    faults: dict[str, str] = {}
    if not fields.get("name", "").strip():
        faults["name"] = "Write what it is called there."
    if (price := fields.get("price", "").strip()) and not _is_price(price):
        faults["price"] = "Write a number alone, such as 3.50, or leave it empty if unknown."
    days = [word for word in _SEVERAL.split(fields.get("delivery", "").strip()) if word]
    short = [word[:3].title() for word in days]
    if any(day not in WEEKDAYS for day in short):
        faults["delivery"] = f"Write weekdays: {', '.join(WEEKDAYS)}."
    try:
        rest = {name: text for name, text in fields.items() if name != "delivery"}
        draft = draft_of_form("supply", "", {"name": "?", **rest} if faults else rest, record.clock, "room")
    except FormRefusal as refused:
        raise FormRefusal({**refused.fields, **faults}) from refused
    if faults:
        raise FormRefusal(faults)
    body = draft.body
    assert isinstance(body, Supply)
    return Draft(Ref("room"), draft.when, msgspec.structs.replace(body, delivery=tuple(short)))


def _is_price(text: str) -> bool:
    try:
        return Decimal(text).is_finite() and Decimal(text) >= 0
    except InvalidOperation:
        return False
