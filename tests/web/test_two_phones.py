"""Forms sent again, cards that change under a reader's eyes, and figures without made-up parts."""

import threading
from collections.abc import Sequence
from dataclasses import replace

import httpx
import pytest

from nightround.reports.tonight import TonightRow
from nightround.web import rounds
from nightround.web.cards import Act, Card
from nightround.web.figure import Ahead
from nightround.web.rounds import Rounds
from web.fixed_room import TUESDAY, FixedDesk


def test_a_form_filled_in_anew_is_another_act(client: httpx.Client, desk: FixedDesk) -> None:
    """Gone back to and changed, a form writes again; sent twice as it was, it writes once."""
    count = len(desk.entries())
    sent = {"key": "abc", "kind": "measured", "item": "mass", "value": "5", "unit": "g"}
    for value in ("5", "5", "6"):
        assert 303 == client.post("/write/K02", data={**sent, "value": value}).status_code
    assert [5.0, 6.0] == [entry.body.value for entry in desk.entries()[count:]]  # type: ignore[attr-defined]


def test_what_was_brought_back_can_be_undone_again_but_never_twice(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """Undone, brought back by its ID, undone again: it counts no more. A second tap writes nothing."""
    act = next(entry.intention for entry in desk.entries() if entry.kind == "offered")
    for again in range(2):
        counts = [len(desk.entries())]
        for _ in range(2):
            assert 303 == client.post("/undo", data={"undo": act, "sure": "yes"}).status_code
            counts.append(len(desk.entries()))
        assert counts[0] < counts[1] == counts[2]
        assert not any(entry.intention == act for entry in desk.record().entries.values())
        if not again:
            desk.undo(desk.entries()[-1].intention)
            assert any(entry.intention == act for entry in desk.record().entries.values())


def test_no_box_is_drawn_where_no_size_or_last_day_is_known(evening: object) -> None:
    """Where the next step falls is drawn when it is known, and never made up."""
    ahead = Ahead(TUESDAY, TUESDAY, None, 5.0, 6.0, 7.0)
    assert not ahead.boxed
    assert not replace(ahead, last=TUESDAY, low_mm=None).boxed
    assert replace(ahead, last=TUESDAY).boxed


def test_a_card_made_while_another_phone_taps_is_not_kept_without_the_tap(
    desk: FixedDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The card kept after an act is always the card with the act."""
    evening = Rounds(desk).evening(TUESDAY)
    code = next(iter(evening.rows))
    act = Act("tap-other", "seen", frozenset({"seen"}))
    phones: list[threading.Thread] = []
    make = rounds.card_of

    def make_while_another_phone_taps(row: TonightRow, acts: Sequence[Act]) -> Card:
        if not phones:
            phones.append(threading.Thread(target=evening.add, args=(code, act, frozenset())))
            phones[0].start()
            phones[0].join(0.2)
        return make(row, acts)

    monkeypatch.setattr(rounds, "card_of", make_while_another_phone_taps)
    evening.card(code)
    phones[0].join()
    assert act in evening.card(code).acts
