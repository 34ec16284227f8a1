"""The fixed room, served on this machine."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import httpx
import pytest

from nightround.foundation import clock
from web.fixed_room import EVENING, FixedDesk, client_of, make_room, served


@pytest.fixture
def evening(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """The clock stands at 20:30 on a Tuesday, in every thread."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    return EVENING


@pytest.fixture
def desk(evening: datetime, tmp_path: Path) -> Iterator[FixedDesk]:
    """The fixed room's desk."""
    with make_room(tmp_path / "room.sqlite") as desk:
        yield desk  # type: ignore[misc]


@pytest.fixture
def client(desk: FixedDesk) -> Iterator[httpx.Client]:
    """A client of the fixed room's pages."""
    with served(desk) as address, client_of(address) as client:
        yield client
