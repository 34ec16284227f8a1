"""Pages with everything on them opened, and rooms that are filled before they are served."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Page

from nightround.foundation import clock
from web.fixed_room import EVENING, FixedDesk, make_room, served

WIDTHS = {"phone": 390, "laptop": 1280}


@contextmanager
def filled(room: Path, monkeypatch: pytest.MonkeyPatch, fill: Callable[[FixedDesk], None]) -> Iterator[str]:
    """Where the fixed room with what `fill` writes into it is served."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    with make_room(room) as desk:
        fill(desk)
        with served(desk) as address:
            yield address


def open_everything(page: Page, address: str) -> None:
    """Go there, open every part that folds, also those that close each other, and wait for all figures."""
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(each => each.removeAttribute('name'))")
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    page.evaluate("document.querySelectorAll('img').forEach(each => each.loading = 'eager')")
    page.wait_for_load_state("networkidle")
