"""What every test gets: its own room, no network, seeded numbers, and the shared material if it is there."""

import socket
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

PROJECT = Path(__file__).resolve().parent.parent
SHARED = PROJECT.parent / "shared"

# Several people share the machine: a slow moment is no fault, and the same examples come every time.
settings.register_profile(
    "nightround", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("nightround")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="also run calibrations and crash trials of minutes")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--long"):
        return
    for item in items:
        if "long" in item.keywords:
            item.add_marker(pytest.mark.skip(reason="takes minutes: run with --long"))


@pytest.fixture(autouse=True)
def own_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A room file that does not exist yet, named in NIGHTROUND_ROOM: no test touches a keeper's own."""
    room = tmp_path / "own-room.sqlite"
    monkeypatch.setenv("NIGHTROUND_ROOM", str(room))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return room


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse every connection that leaves this machine."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: object) -> None:
        host = address[0] if isinstance(address, tuple) else ""
        if self.family in (socket.AF_INET, socket.AF_INET6) and host not in ("127.0.0.1", "localhost", "::1"):
            raise AssertionError(f"a test wanted to reach {address!r}; tests stay on this machine")
        connect(self, address)  # type: ignore[arg-type]

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture
def rng() -> np.random.Generator:
    """A generator that gives the same numbers every time."""
    return np.random.default_rng(20260301)


@pytest.fixture(scope="session")
def project() -> Path:
    """The project's folder."""
    return PROJECT


def _shared(name: str) -> Path:
    folder = SHARED / name
    if not folder.is_dir():
        pytest.skip(f"the shared folder '{name}' is not beside the project")
    return folder


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of recorded data sets beside the project; skips where it is absent."""
    return _shared("data")


@pytest.fixture(scope="session")
def shared_checks() -> Path:
    """The folder of published numbers beside the project; skips where it is absent."""
    return _shared("checks")
