"""A Chromium page against a running demo room, on this machine only."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, sync_playwright

import bootstrap

SERVER_READY_WITHIN_S = 90.0
# Without these a headless Chromium asks for hosts outside at every start.
CHROMIUM_FLAGS = [
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
]
SIZES = {"phone": (390, 844), "laptop": (1280, 900)}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder as one that needs Chromium."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker("browser")


def chromium() -> str:
    """The Chromium to drive: installed, or Playwright's own.

    In CI, and under bootstrap.py, a missing one is a failure; by hand, a skip that says what to do.
    """
    try:
        found = bootstrap.installed_chromium() or bootstrap.chromium_from_playwright(download=False)
    except bootstrap.SetupError as refused:
        pytest.fail(str(refused))
    if found is None and os.environ.get("CI"):
        pytest.fail("no Chromium was found, and CI must not go without: run these tests by bootstrap.py test")
    if found is None:
        pytest.skip("no Chromium was found: run `python3 bootstrap.py test`, which brings one")
    return found


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Playwright]:
    """Playwright itself, started once."""
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def browser(playwright_driver: Playwright) -> Iterator[Browser]:
    """One Chromium for all tests; each test gets its own context."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    flags = [*CHROMIUM_FLAGS, *(["--no-sandbox"] if root else [])]
    launched = playwright_driver.chromium.launch(executable_path=chromium(), headless=True, args=flags)
    yield launched
    launched.close()


def free_port() -> int:
    """A loopback port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until_answering(address: str, server: "subprocess.Popen[bytes]", log: Path) -> None:
    """Return once the server answers; fail with what it said if it stops or takes too long."""
    until = time.monotonic() + SERVER_READY_WITHIN_S
    while time.monotonic() < until and server.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=5):
                return
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(
        f"the demo room did not answer at {address}; it said:\n{log.read_text(errors='replace')[-2000:]}"
    )


@pytest.fixture(scope="session")
def demo_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a demo room served for these tests, and stopped after them."""
    folder = tmp_path_factory.mktemp("demo-room")
    log = folder / "server.log"
    port = free_port()
    command = [sys.executable, "-m", "nightround", "demo", "--no-browser", "--port", str(port)]
    environment = {**os.environ, "NIGHTROUND_ROOM": str(folder / "never-used.sqlite")}
    environment |= {"XDG_DATA_HOME": str(folder), "PYTHONUNBUFFERED": "1"}
    address = f"http://127.0.0.1:{port}"
    with log.open("wb") as said:
        server = subprocess.Popen(
            command, env=environment, stdin=subprocess.DEVNULL, stdout=said, stderr=said
        )
        try:
            wait_until_answering(address, server, log)
            yield address
        finally:
            server.terminate()
            try:
                server.wait(timeout=15)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def is_fault(line: ConsoleMessage) -> bool:
    """Whether a console line is an error of the page's own (not an answer missing while the Wi-Fi is off)."""
    return line.type == "error" and not line.text.startswith("Failed to load resource")


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Page]:
    """An empty page of phone size; an error in a page's script, or one the console shows, fails the test."""
    width, height = SIZES["phone"]
    context = browser.new_context(viewport={"width": width, "height": height}, locale="en-GB")
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.on("console", lambda line: faults.append(line.text) if is_fault(line) else None)
    yield page
    context.close()
    assert [] == faults


@pytest.fixture(scope="session")
def serious_faults() -> Callable[[Page], list[str]]:
    """A function that lists what axe-core finds serious or critical on a page: rule, help and where."""
    from axe_playwright_python.sync_playwright import Axe

    axe = Axe()

    def listed(page: Page) -> list[str]:
        found = axe.run(page).response["violations"]
        return [
            f"{fault['id']}: {fault['help']} at {[node['target'] for node in fault['nodes']][:5]}"
            for fault in found
            if fault["impact"] in ("serious", "critical")
        ]

    return listed


@pytest.fixture
def demo_page(open_page: Page, demo_address: str) -> Page:
    """The demo room's first page, opened on a phone-sized screen."""
    answer = open_page.goto(demo_address, wait_until="load")
    assert answer is not None and answer.ok, f"{demo_address} answered {answer and answer.status}"
    return open_page
