"""A dish dries as open water, and no faster than its home lets water out."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from nightround.findings.water.air import RoomAir, room_air
from nightround.findings.water.dish import dry_by
from nightround.foundation.estimate import Estimate

FILLED = date(2026, 3, 1)


@pytest.fixture
def air() -> RoomAir:
    """A room that nobody reads: 22 C and 50 %."""
    return room_air({}, [], FILLED, 30, 10)


def loss(ml_a_day: float) -> Estimate:
    """What a home loses in a day."""
    return Estimate(ml_a_day, ml_a_day / 2, ml_a_day * 2, "", 1, 0, "")


def test_in_an_airy_home_it_dries_as_open_water(air: RoomAir) -> None:
    """10 mm at 2.06 mm a day (Shah at 22 C, 50 %): four whole days."""
    assert FILLED + timedelta(days=4) == dry_by(20.0, FILLED, "", air, loss(500.0))


def test_under_a_tight_lid_it_lasts_as_long_as_the_home_keeps_water(air: RoomAir) -> None:
    """20 ml at 0.63 ml a day at most: not before 31 days."""
    assert FILLED + timedelta(days=31) == dry_by(20.0, FILLED, "", air, loss(0.63))


@pytest.mark.parametrize(
    ("millilitres", "filled", "lost"),
    [(None, FILLED, loss(1.0)), (20.0, None, loss(1.0)), (20.0, FILLED, None)],
)
def test_what_is_unknown_stays_unknown(
    air: RoomAir, millilitres: float | None, filled: date | None, lost: Estimate | None
) -> None:
    """No size, no filling, or a home without figures: no day."""
    assert dry_by(millilitres, filled, "", air, lost) is None
