"""bootstrap.py sets up from hashed locks, does nothing twice, and refuses clearly."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import bootstrap

LOCKS = ("requirements.lock", "requirements-test.lock", "requirements-reference.lock")
KINDS = ("use", "test", "reference")


def pins(lock: Path) -> list[Requirement]:
    """What a lock pins, with the marker that says for which Pythons and systems."""
    lines = lock.read_text(encoding="utf-8").splitlines()
    return [Requirement(line.removesuffix("\\").strip()) for line in lines if line[:1].isalnum()]


def wanted(project: Path, *extras: str) -> list[Requirement]:
    """What pyproject.toml asks for, with these extras."""
    table = tomllib.loads((project / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = list(table["dependencies"])
    for extra in extras:
        asked += table["optional-dependencies"][extra]
    return [Requirement(text) for text in asked]


@pytest.fixture
def elsewhere(tmp_path: Path, project: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """bootstrap.py told that the project lies in an empty folder, with the real locks beside it."""
    for name in (*LOCKS, "pyproject.toml"):
        (tmp_path / name).write_bytes((project / name).read_bytes())
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "STAMP", tmp_path / ".venv" / "nightround-setup.json")
    monkeypatch.setattr(
        bootstrap, "LOCKS", {kind: tmp_path / name for kind, name in zip(KINDS, LOCKS, strict=True)}
    )
    return tmp_path


@pytest.fixture
def steps(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The steps of setting up, written down in place of being done (but the command appears at the end)."""
    taken: list[str] = []

    def make() -> None:
        taken.append("make")
        bootstrap.venv_command("x").parent.mkdir(parents=True, exist_ok=True)

    def install() -> None:
        taken.append("project")
        bootstrap.venv_command("nightround").touch()

    monkeypatch.setattr(bootstrap, "make_environment", make)
    monkeypatch.setattr(bootstrap, "environment_works", lambda: bootstrap.venv_command("nightround").exists())
    monkeypatch.setattr(bootstrap, "install_lock", lambda lock: taken.append(lock.name))
    monkeypatch.setattr(bootstrap, "install_project", install)
    return taken


def test_it_needs_the_standard_library_only(project: Path) -> None:
    """Everything bootstrap.py imports comes with Python."""
    tree = ast.parse((project / "bootstrap.py").read_text(encoding="utf-8"))
    named = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    named |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert set() == {name.partition(".")[0] for name in named} - sys.stdlib_module_names


def test_an_older_python_is_told_so(project: Path) -> None:
    """Python 3.8 can read the file, and is refused with the version wanted and the one that came."""
    ast.parse((project / "bootstrap.py").read_text(encoding="utf-8"), feature_version=(3, 8))
    with pytest.raises(bootstrap.SetupError, match=r"needs Python 3\.11 or newer, and this is Python 3\.8"):
        bootstrap.require_python((3, 8))
    bootstrap.require_python((3, 11))


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_holds_hashes_and_no_address(project: Path, name: str) -> None:
    """Every package is pinned to one version by hash, and no address or option stands in the lock."""
    lock = project / name
    blocks = lock.read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    assert [] == [block for block in blocks if "==" not in block or "--hash=sha256:" not in block]
    assert [] == [block for block in blocks if "://" in block or block.startswith("-")]
    assert len(blocks) == len(pins(lock))


@pytest.mark.parametrize(
    ("name", "extras"),
    [(LOCKS[0], ("build",)), (LOCKS[1], ("build", "test")), (LOCKS[2], ("build", "test", "reference"))],
)
def test_a_lock_holds_what_the_project_asks_for(project: Path, name: str, extras: tuple[str, ...]) -> None:
    """Each dependency of pyproject.toml is pinned, at a version that it allows."""
    pinned = {}
    for pin in pins(project / name):
        pinned.setdefault(canonicalize_name(pin.name), []).append(next(iter(pin.specifier)).version)
    for asked in wanted(project, *extras):
        versions = pinned.get(canonicalize_name(asked.name), [])
        assert versions, f"{asked.name} is not in {name}"
        assert all(asked.specifier.contains(version) for version in versions), asked.name


def test_each_lock_holds_the_one_before(project: Path) -> None:
    """What the tests run on is what is used, the long ones too: the same versions, and more packages."""
    used, tested, longest = ({str(pin) for pin in pins(project / name)} for name in LOCKS)
    assert set() == used - tested
    assert set() == tested - longest


def test_setting_up_twice_does_the_work_once(steps: list[str]) -> None:
    """The second time, the locks are as they were and nothing is done."""
    bootstrap.set_up()
    bootstrap.set_up()
    assert ["make", "requirements.lock", "project"] == steps


def test_a_changed_lock_is_installed(steps: list[str], elsewhere: Path) -> None:
    """A lock that changed is installed into the environment that is there."""
    bootstrap.set_up()
    with (elsewhere / "requirements.lock").open("a", encoding="utf-8") as lock:
        lock.write("\n")
    bootstrap.set_up()
    assert ["make", "requirements.lock", "project", "requirements.lock", "project"] == steps


def test_the_tests_need_more_and_leave_the_rest_ready(steps: list[str]) -> None:
    """Setting up for the tests adds to the environment, and covers ordinary use as well."""
    bootstrap.set_up()
    bootstrap.set_up("test")
    bootstrap.set_up()
    bootstrap.set_up("test")
    assert ["make", "requirements.lock", "project", "requirements-test.lock", "project"] == steps


def test_long_tests_need_most_and_leave_the_rest_ready(steps: list[str]) -> None:
    """The lock of the long tests covers the everyday ones and ordinary use as well."""
    bootstrap.set_up("reference")
    bootstrap.set_up("test")
    bootstrap.set_up()
    assert ["make", "requirements-reference.lock", "project"] == steps


def test_an_interrupted_set_up_is_taken_up_again(steps: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A set-up that broke off counts as not done, though the environment's command may be there."""
    bootstrap.set_up()
    with monkeypatch.context() as broken:
        broken.setattr(bootstrap, "install_lock", refusing(bootstrap.SetupError("no network")))
        with pytest.raises(bootstrap.SetupError):
            bootstrap.set_up("test")
    steps.clear()
    bootstrap.set_up()
    assert ["requirements.lock", "project"] == steps


def test_a_moved_environment_is_made_anew(
    steps: list[str], elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The commands in an environment name their folder: in another folder it is made again, not mended."""
    bootstrap.set_up()
    moved = elsewhere / "moved"
    moved.mkdir()
    (elsewhere / "pyproject.toml").rename(moved / "pyproject.toml")
    monkeypatch.setattr(bootstrap, "ROOT", moved)
    steps.clear()
    bootstrap.set_up()
    assert ["make", "requirements.lock", "project"] == steps


def refusing(fault: Exception) -> Callable[..., NoReturn]:
    """A function that fails however it is called."""

    def fail(*_: object, **__: object) -> NoReturn:
        raise fault

    return fail


def test_a_python_without_ensurepip_is_told_what_to_install(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Debian's Python may come without ensurepip: the refusal names the package, and nothing is made."""
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(bootstrap.SetupError, match="apt-get install python3-venv"):
        bootstrap.make_environment()
    assert not (elsewhere / ".venv").exists()


def test_a_package_that_is_not_as_hashed_is_refused(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that differs from its hash in the lock is not installed, and pip's reason is shown."""
    package = elsewhere / "found" / "spoilt-1.0-py3-none-any.whl"
    package.parent.mkdir()
    package.write_bytes(b"not what was pinned")
    lock = elsewhere / "spoilt.lock"
    lock.write_text(f"spoilt==1.0 --hash=sha256:{'0' * 64}\n", encoding="utf-8")
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(package.parent))
    monkeypatch.setattr(bootstrap, "venv_command", lambda name: Path(sys.executable))
    with pytest.raises(bootstrap.SetupError, match="DO NOT MATCH THE HASHES"):
        bootstrap.install_lock(lock)


def test_long_steps_are_never_silent() -> None:
    """Every tenth package, a download of 10 MB or more, an index that does not answer, and the last step."""
    said = [f"Collecting thing{number}==1.0\n" for number in range(12)]
    said += [
        "  Downloading scipy-1.17.1-cp311-manylinux.whl (35.0 MB)\n",
        "  Downloading six-1.whl (11 kB)\n",
    ]
    said += [
        "WARNING: Retrying (Retry(total=4)) after connection broken\n",
        "Installing collected packages: x\n",
    ]
    assert [
        "  10 packages found",
        "  downloading scipy (35.0 MB)",
        "  the package index does not answer; trying again",
        "  unpacking them",
    ] == list(bootstrap.progress(said))


@pytest.mark.parametrize("arguments", [["dmeo"], ["--long"]])
def test_an_unknown_command_is_bad_usage(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A command it does not know is named and nothing is set up; exit code 2."""
    assert 2 == bootstrap.main(arguments)
    assert arguments[0] in capsys.readouterr().err


def test_a_named_chromium_that_does_not_start_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """NIGHTROUND_CHROMIUM is believed or refused, never passed over."""
    monkeypatch.setenv("NIGHTROUND_CHROMIUM", "no-such-browser")
    with pytest.raises(bootstrap.SetupError, match="'no-such-browser', which does not start"):
        bootstrap.find_chromium()


def test_no_chromium_is_a_refusal_not_a_skip(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where no Chromium can be had, `bootstrap.py test` refuses with what to install, and runs no test."""
    ran: list[str] = []
    monkeypatch.setattr(bootstrap, "set_up", lambda kind="use": None)
    monkeypatch.setattr(bootstrap, "installed_chromium", lambda: None)
    monkeypatch.setattr(bootstrap, "chromium_from_playwright", lambda download: None)
    monkeypatch.setattr(bootstrap, "chromium_from_system", lambda: None)
    monkeypatch.setattr(subprocess, "call", lambda command, **_: ran.append(command))
    assert 1 == bootstrap.main(["test"])
    assert "need Chromium" in capsys.readouterr().err
    assert [] == ran


def test_chromium_is_sought_where_it_costs_least_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Installed, Playwright's own, the system's package, a download: the first found is used."""
    tried: list[str] = []

    def trying(name: str, found: str | None = None) -> str | None:
        tried.append(name)
        return found

    monkeypatch.setattr(bootstrap, "installed_chromium", lambda: trying("installed"))
    monkeypatch.setattr(
        bootstrap, "chromium_from_playwright", lambda download: trying("download" if download else "there")
    )
    monkeypatch.setattr(bootstrap, "chromium_from_system", lambda: trying("system", "/usr/bin/chromium"))
    assert "/usr/bin/chromium" == bootstrap.find_chromium()
    assert ["installed", "there", "system"] == tried


def test_a_failed_check_fails_the_whole_though_the_tests_pass(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """All four checks run, pytest last; one that fails is named and makes exit code 1."""
    ran: list[list[str]] = []

    def call(command: list[str], **_: object) -> int:
        ran.append(command)
        return 1 if "mypy" in command else 0

    monkeypatch.setattr(bootstrap, "set_up", lambda kind="use": None)
    monkeypatch.setattr(bootstrap, "find_chromium", lambda: "/usr/bin/chromium")
    monkeypatch.setattr(subprocess, "call", call)
    assert 1 == bootstrap.main(["test", "--long", "tests/test_layers.py"])
    assert "failed: mypy" in capsys.readouterr().err
    assert 4 == len(ran)
    assert ["pytest", "--long", "tests/test_layers.py"] == ran[-1][-3:]


def test_continuous_integration_runs_the_same_command(project: Path) -> None:
    """.ci/run is `bootstrap.py test`, so that what is checked there can be checked anywhere."""
    script = (project / ".ci" / "run").read_text(encoding="utf-8")
    assert 'python3 bootstrap.py test "$@"' in script
