"""The round as the pages hold it: one evening's report, and what was done since it was worked out."""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

from nightround.desk.words import words_of
from nightround.reports.tonight import TonightReport, TonightRow
from nightround.web.cards import Act, Card, card_of
from nightround.web.words import when

if TYPE_CHECKING:
    from nightround.desk.desk import Desk

TAP = "tap-"
"""What the intention of every act of the page begins with: such an act can be undone where it stands."""

SLOW_ANSWER_SECONDS = 0.4
_KEPT_ROUNDS = 6
_NEWEST_OF_AN_ANIMAL = 40


def intention_of(key: str, what: str) -> str:
    """Return the intention of one act: the same form sent twice is the same act."""
    return TAP + hashlib.sha256(f"{key}\0{what}".encode()).hexdigest()[:20]


def intention_of_form(fields: Mapping[str, str]) -> str:
    """Return the intention of a filled-in form.

    The content belongs to it: a form gone back to and filled in anew is another act, not the same one.
    """
    said = sorted((name, text) for name, text in fields.items() if name not in ("key", "back", "sure"))
    return intention_of(fields["key"], repr(said))


@dataclass
class Evening:
    """One evening's report with the acts written since; `number` is the newest entry it takes in."""

    report: TonightReport
    number: int
    acts: dict[str, list[Act]] = field(default_factory=dict)
    rows: dict[str, TonightRow] = field(default_factory=dict)
    stale: bool = False
    log: list[tuple[list[int], Callable[[Evening], None]]] = field(default_factory=list)
    _cards: dict[str, Card] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def cards(self) -> list[tuple[str, list[Card]]]:
        """Return the cards by shelf, in walking order."""
        return [(shelf.place, [self.card(row.animal) for row in shelf.rows]) for shelf in self.report.shelves]

    def card(self, code: str) -> Card:
        """Return one animal's card. Raises KeyError when it is not in this round."""
        with self._lock:
            card = self._cards.get(code)
            if card is None:
                card = self._cards[code] = card_of(self.rows[code], self.acts.get(code, ()))
            return card

    def add(self, code: str, act: Act, answered: frozenset[int]) -> None:
        """Lay an act over the animal's card; `answered` are offers whose outcome it tells."""
        with self._lock:
            others = [old for old in self.acts.get(code, []) if old.intention != act.intention]
            self.acts[code] = [*(_without(old, answered) for old in others), act]
            self._cards.pop(code, None)

    def remove(self, code: str, intention: str) -> None:
        """Take an act off the animal's card."""
        with self._lock:
            self.acts[code] = [act for act in self.acts.get(code, []) if act.intention != intention]
            self._cards.pop(code, None)

    def follow(self, numbers: list[int], change: Callable[[Evening], None]) -> None:
        """Make the change that these new entries mean; if others came between, the evening is out of date."""
        change(self)
        self.log.append((numbers, change))
        if numbers[0] == self.number + 1:
            self.number, self.stale = numbers[-1], True

    def catch_up(self, older: Evening) -> None:
        """Make the changes that an older evening saw while this one was being worked out."""
        for numbers, change in older.log:
            if numbers[0] > self.number:
                self.follow(numbers, change)


class Rounds:
    """Evenings, worked out once and kept until something else than this page's own taps is written.

    In a large room a fold takes seconds: the page then shows the advice it has with the taps laid over it,
    and works the round out anew in the background. In a small one it always works it out at once.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._lock = threading.RLock()
        self._evenings: OrderedDict[date, Evening] = OrderedDict()
        self._working: dict[date, threading.Thread] = {}
        self._slowest = 0.0

    def evening(self, on: date) -> Evening:
        """Return the evening of a day, up to date as far as that takes no longer than a keeper would wait."""
        newest = self.desk.journal.last_number()
        with self._lock:
            kept = self._evenings.get(on)
            if kept is not None and kept.number == newest:
                if not kept.stale:
                    return kept
                if self._slowest > SLOW_ANSWER_SECONDS:
                    self._work_behind(on)
                    return kept
        return self._work(on)

    def evening_within(self, on: date, seconds: float) -> Evening | None:
        """Return the evening of a day, or None when it is still being worked out after so long."""
        if on not in self._evenings:
            worker = self._work_behind(on)
            worker.join(seconds)
            if worker.is_alive() and on not in self._evenings:
                return None
        return self.evening(on)

    def known(self, on: date) -> Evening:
        """Return the evening as it is held, whatever was written since; worked out only if there is none."""
        return self._evenings.get(on) or self._work(on)

    def lay_over(
        self, on: date, code: str, intention: str, drafts: Sequence[Any], numbers: Sequence[int]
    ) -> None:
        """Put an act just written over the evening; one that wrote nothing new changes nothing."""
        if len(numbers) != len(drafts):
            return
        at = f"{self.desk.journal.clock.now():%H:%M}"
        pairs = zip(drafts, numbers, strict=True)
        offers = tuple(number for draft, number in pairs if _is_open_offer(draft))
        act = replace(act_in_words(intention, list(drafts), on, at, offers), laid_over=True)
        answered = frozenset(number for draft in drafts if (number := getattr(draft.body, "offer", None)))
        with self._lock:
            kept = self._evenings.get(on)
            if kept is not None and code in kept.rows:
                kept.follow(sorted(numbers), partial(Evening.add, code=code, act=act, answered=answered))

    def take_off(self, on: date, code: str, intention: str, numbers: Sequence[int]) -> None:
        """Take an undone act off; the evening is worked out anew, at once or (where that is slow) behind."""
        with self._lock:
            kept = self._evenings.get(on)
            if kept is None or code not in kept.rows or self._slowest <= SLOW_ANSWER_SECONDS:
                self._evenings.pop(on, None)
            elif numbers:
                kept.follow(sorted(numbers), partial(Evening.remove, code=code, intention=intention))

    def forget(self) -> None:
        """Forget every evening: something that is no entry has changed the forecasts."""
        with self._lock:
            self._evenings.clear()

    def _work(self, on: date) -> Evening:
        begun = time.perf_counter()
        # Counted before asking: what is written meanwhile makes this evening out of date, never wrong.
        number = self.desk.journal.last_number()
        record = self.desk.record(on)
        report = self.desk.tonight(on)
        if on == self.desk.today():
            self.desk.keep_forecasts()
        made = Evening(report, number)
        made.rows = {row.animal: row for shelf in report.shelves for row in shelf.rows}
        made.acts = {code: acts for code in made.rows if (acts := acts_of(record, code, on))}
        self._slowest = max(self._slowest, time.perf_counter() - begun)
        with self._lock:
            if on in self._evenings:
                made.catch_up(self._evenings[on])
            self._evenings[on] = made
            self._evenings.move_to_end(on)
            while len(self._evenings) > _KEPT_ROUNDS:
                self._evenings.popitem(last=False)
        return made

    def _work_behind(self, on: date) -> threading.Thread:
        with self._lock:
            worker = self._working.get(on)
            if worker is None or not worker.is_alive():
                worker = threading.Thread(target=self._work, args=(on,), name="round", daemon=True)
                self._working[on] = worker
                worker.start()
            return worker


def _is_open_offer(draft: Any) -> bool:
    return _kind(draft) == "offered" and draft.body.outcome is None


def _without(act: Act, answered: frozenset[int]) -> Act:
    left = tuple(number for number in act.open_offers if number not in answered)
    return act if left == act.open_offers else replace(act, open_offers=left)


def acts_of(record: Any, code: str, on: date) -> list[Act]:
    """Return what was done for an animal on that evening, oldest first, from the standing entries."""
    animal = record.animals.get(code)
    if animal is None:
        return []
    grouped: OrderedDict[str, list[Any]] = OrderedDict()
    for number in animal.entries[-_NEWEST_OF_AN_ANIMAL:]:
        entry = record.entries.get(number)
        if entry is not None and _is_of(entry, on, record.clock):
            grouped.setdefault(entry.intention, []).append(entry)
    return [act_of(intention, entries, record) for intention, entries in grouped.items()]


def _is_of(entry: Any, on: date, clock: Any) -> bool:
    if entry.kind in ("offered", "offer_seen") and entry.when.last != on:
        return False
    written = clock.day_of(entry.recorded) == on and entry.intention.startswith(TAP)
    return bool(entry.when.last == on or written)


def act_of(intention: str, entries: list[Any], record: Any) -> Act:
    """Return one act in words from the standing entries that it wrote."""
    recorded = entries[0].recorded.astimezone(record.clock.zone)
    outcomes = _outcomes(entries, record)
    still_open = tuple(number for number, outcome in outcomes.items() if outcome is None)
    return act_in_words(intention, entries, record.on, f"{recorded:%H:%M}", still_open)


def act_in_words(
    intention: str, entries: list[Any], on: date, at: str, open_offers: tuple[int, ...] = ()
) -> Act:
    """Return one act in words from entries, or from the drafts just written."""
    return Act(
        intention=intention,
        words="; ".join(_said(entry, on) for entry in entries),
        kinds=frozenset(_kind(entry) for entry in entries),
        time=at,
        undoable=intention.startswith(TAP),
        open_offers=open_offers,
        uneaten=any(getattr(entry.body, "outcome", None) == "uneaten" for entry in entries),
    )


def _outcomes(entries: list[Any], record: Any) -> Mapping[int, str | None]:
    numbers = {entry.number for entry in entries if entry.kind == "offered"}
    if not numbers:
        return {}
    animal = record.animals[entries[0].about.code]
    return {offer.number: offer.outcome for offer in animal.offers if offer.number in numbers}


def _kind(entry: Any) -> str:
    return entry.kind if isinstance(entry.kind, str) else entry.kind.name


def _said(entry: Any, on: date) -> str:
    words = words_of(_kind(entry), entry.body)
    if entry.when.first != entry.when.last or (entry.when.last and entry.when.last != on):
        words += f", {when(entry.when, on).striptags()}"
    return f"{words} ({entry.body.note})" if entry.body.note else words
