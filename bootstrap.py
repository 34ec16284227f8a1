"""Set Nightround up, show its demo room, or run its checks: standard library only, Python 3.11 or newer.

    python3 bootstrap.py                   make .venv, so that .venv/bin/nightround works
    python3 bootstrap.py demo              set up and open the invented demo room in the browser
    python3 bootstrap.py test [--long]     install what the tests need, Chromium included, and run every check

Whatever follows `demo` or `test` is handed on, to `nightround demo` or to pytest.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections import deque
from collections.abc import Iterable, Iterator
from pathlib import Path
from subprocess import DEVNULL, PIPE, STDOUT

OLDEST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "nightround-setup.json"
LOCKS = {
    "use": ROOT / "requirements.lock",
    "test": ROOT / "requirements-test.lock",
    # For `test --long` alone: what the moult clock's fit is held against weighs 390 MB.
    "reference": ROOT / "requirements-reference.lock",
}
CHROMIUM_VARIABLE = "NIGHTROUND_CHROMIUM"
CHROMIUM_COMMANDS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
CHROMIUM_PLACES = {
    "darwin": (
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    ),
    "win32": (
        r"%ProgramFiles%\Google\Chrome\Application\chrome.exe",
        r"%ProgramFiles(x86)%\Google\Chrome\Application\chrome.exe",
        r"%LocalAppData%\Google\Chrome\Application\chrome.exe",
        r"%LocalAppData%\Chromium\Application\chrome.exe",
    ),
}


class SetupError(Exception):
    """Setting up cannot go on; the message says what was wanted, what came, and what to do."""


def say(message: str) -> None:
    """Print one line of progress at once, so that a long step is never silent."""
    print(f"nightround: {message}", flush=True)


def require_python(version: tuple[int, ...]) -> None:
    """Refuse an older Python before anything is made."""
    if version < OLDEST_PYTHON:
        wanted, came = (".".join(str(part) for part in found[:2]) for found in (OLDEST_PYTHON, version))
        raise SetupError(
            f"Nightround needs Python {wanted} or newer, and this is Python {came}. "
            f"Install a newer Python and call it by name, for example: python{wanted} bootstrap.py"
        )


def venv_command(name: str) -> Path:
    """Where the environment keeps a command, on Windows and elsewhere."""
    return VENV / "Scripts" / f"{name}.exe" if os.name == "nt" else VENV / "bin" / name


def run(arguments: list[str], wanted: str) -> str:
    """Run a command quietly and return its output; a failure shows the last of what it said."""
    done = subprocess.run(arguments, cwd=ROOT, stdin=DEVNULL, stdout=PIPE, stderr=STDOUT, text=True)
    if done.returncode != 0:
        said = "\n".join(done.stdout.splitlines()[-25:])
        raise SetupError(f"{wanted} failed (exit code {done.returncode}). The command said:\n{said}")
    return done.stdout


# ---- the environment -------------------------------------------------------------------------------------


def fingerprint(kind: str) -> str:
    """What an environment of this kind was made from: Python, folder, lock and project."""
    digest = hashlib.sha256(f"{sys.version}\n{sys.base_prefix}\n{ROOT}\n".encode())
    for path in (LOCKS[kind], ROOT / "pyproject.toml"):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def stamped() -> dict[str, str]:
    """The fingerprints the environment was made with; empty if it was never finished."""
    try:
        found = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def environment_works() -> bool:
    """Whether .venv holds the Python that is running now and its pip; else it is made anew."""
    try:
        found = subprocess.run(
            [str(venv_command("python")), "-c", "import pip, sys; print(sys.version)"],
            capture_output=True,
            text=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        return False
    return found.stdout.strip() == sys.version.strip()


def make_environment() -> None:
    """Make an empty .venv, saying what to install where Python comes without ensurepip."""
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError as missing:
        raise SetupError(
            f"This Python cannot make a virtual environment: its module '{missing.name}' is missing. "
            "On Debian and Ubuntu: sudo apt-get install python3-venv   then run this command again."
        ) from missing
    say("making the virtual environment .venv")
    try:
        venv.EnvBuilder(with_pip=True, clear=VENV.exists(), symlinks=os.name != "nt").create(VENV)
    except (OSError, subprocess.CalledProcessError) as fault:
        raise SetupError(f"Could not make {VENV}: {fault}. Can the folder be written to?") from fault


def packages_in(lock: Path) -> int:
    """How many packages a lock pins, at most: one per line that does not hold a hash."""
    return sum(1 for line in lock.read_text(encoding="utf-8").splitlines() if line[:1].isalnum())


def pip_install() -> list[str]:
    """The environment's own pip, asked to install."""
    return [str(venv_command("python")), "-m", "pip", "install", "--disable-pip-version-check"]


def progress(lines: Iterable[str]) -> Iterator[str]:
    """What a person waiting for pip wants to know: every tenth package, large downloads, trouble, the end."""
    seen = 0
    for line in map(str.strip, lines):
        if line.startswith(("Collecting ", "Requirement already satisfied")):
            seen += 1
            if seen % 10 == 0:
                yield f"  {seen} packages found"
        elif re.match(r"Downloading .*\(\d{2,}\.\d MB\)", line):
            yield (
                "  downloading "
                + line.split()[1].rpartition("/")[2].split("-")[0]
                + line[line.rindex(" (") :]
            )
        elif line.startswith("WARNING: Retrying"):
            yield "  the package index does not answer; trying again"
        elif line.startswith("Installing collected packages"):
            yield "  unpacking them"


def install_lock(lock: Path) -> None:
    """Install a lock, hash by hash, with lines of progress."""
    total = packages_in(lock)
    say(f"installing up to {total} packages from {lock.name}, checked by hash (a minute or two at first)")
    # Ready-made packages only: building one would fetch its build tools, which no lock pins.
    command = [*pip_install(), "--no-input", "--progress-bar", "off", "--only-binary", ":all:"]
    command += ["--require-hashes", "-r", str(lock)]
    said: deque[str] = deque(maxlen=25)
    with subprocess.Popen(command, cwd=ROOT, stdin=DEVNULL, stdout=PIPE, stderr=STDOUT, text=True) as pip:
        assert pip.stdout is not None
        for step in progress(noting(pip.stdout, said)):
            say(step)
    if pip.returncode != 0:
        raise SetupError(
            f"Installing from {lock.name} failed (exit code {pip.returncode}). "
            "Is the network there? pip said:\n" + "".join(said)
        )


def noting(lines: Iterable[str], last: deque[str]) -> Iterator[str]:
    """Pass lines on, keeping the last of them for a message of failure."""
    for line in lines:
        last.append(line)
        yield line


def install_project() -> None:
    """Put the project itself into .venv, as it lies here, so that edits take effect at once."""
    command = [*pip_install(), "--quiet", "--no-deps", "--no-build-isolation", "--editable", str(ROOT)]
    run(command, "Installing Nightround itself")


def set_up(kind: str = "use") -> None:
    """Make or complete .venv for use or for the tests; nothing is done when it is as the locks say."""
    require_python(sys.version_info[:2])
    wanted = fingerprint(kind)
    known = stamped()
    if known.get(kind) == wanted and venv_command("nightround").exists():
        return
    begun = time.monotonic()
    # The commands inside name the folder they were made in, so a moved environment is made anew.
    if known.get("folder", str(ROOT)) != str(ROOT) or not environment_works():
        make_environment()
        known = {}
    STAMP.unlink(missing_ok=True)
    install_lock(LOCKS[kind])
    install_project()
    # Each lock holds the whole of those before it, at the same versions.
    kinds = tuple(LOCKS)[: tuple(LOCKS).index(kind) + 1]
    known = {
        each: fingerprint(each) for each in LOCKS if each in kinds or known.get(each) == fingerprint(each)
    }
    known["folder"] = str(ROOT)
    STAMP.write_text(json.dumps(known), encoding="utf-8")
    say(f"ready in {time.monotonic() - begun:.0f} s")


# ---- Chromium for the browser tests ----------------------------------------------------------------------


def starts(program: str) -> bool:
    """Whether a browser answers to --version (not asked on Windows, where that opens a window)."""
    if os.name == "nt":
        return Path(program).is_file()
    try:
        return subprocess.run([program, "--version"], capture_output=True, timeout=60).returncode == 0
    except (OSError, subprocess.TimeoutExpired):
        return False


def installed_chromium() -> str | None:
    """An installed Chromium or Chrome: named in NIGHTROUND_CHROMIUM, on the path or in its usual place.

    Raises SetupError when NIGHTROUND_CHROMIUM names something that does not start.
    """
    named = os.environ.get(CHROMIUM_VARIABLE)
    if named:
        if not starts(named):
            raise SetupError(
                f"{CHROMIUM_VARIABLE} names '{named}', which does not start. Correct or unset it."
            )
        return named
    on_path = [found for found in map(shutil.which, CHROMIUM_COMMANDS) if found]
    in_place = [os.path.expandvars(place) for place in CHROMIUM_PLACES.get(sys.platform, ())]
    there = (program for program in on_path + in_place if Path(program).is_file())
    return next(filter(starts, there), None)


def chromium_from_system() -> str | None:
    """Chromium from the system's own package, where that can be installed without asking (root on Debian)."""
    if not shutil.which("apt-get") or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return None
    say("installing Chromium from the system's packages (a minute or two)")
    quietly = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q", "-y"]
    try:
        run(quietly + ["update"], "apt-get update")
        run(quietly + ["install", "--no-install-recommends", "chromium"], "apt-get install chromium")
    except SetupError as fault:
        say(f"that did not work: {fault}")
        return None
    return installed_chromium()


def chromium_from_playwright(download: bool) -> str | None:
    """Playwright's own Chromium, if it is there or can be downloaded."""
    python = str(venv_command("python"))
    if download:
        say("downloading Playwright's own Chromium (a minute or two)")
        try:
            run([python, "-m", "playwright", "install", "chromium"], "playwright install chromium")
        except SetupError as fault:
            say(f"that did not work: {fault}")
            return None
    ask = (
        "from playwright.sync_api import sync_playwright\n"
        "with sync_playwright() as it: print(it.chromium.executable_path)"
    )
    program = run([python, "-c", ask], "Asking Playwright for its Chromium").strip()
    return program if Path(program).is_file() and starts(program) else None


def find_chromium() -> str:
    """A Chromium that starts: installed, else Playwright's, else from the system's packages, else downloaded.

    Raises SetupError when there is none to be had: the browser tests are never skipped in silence.
    """
    found = (
        installed_chromium()
        or chromium_from_playwright(download=False)
        or chromium_from_system()
        or chromium_from_playwright(download=True)
    )
    if found is None:
        raise SetupError(
            "The browser tests need Chromium, and none was found, installed or downloaded. "
            "Install Chromium or Chrome (Debian: apt-get install chromium), "
            f"or set {CHROMIUM_VARIABLE} to the program, then run this again."
        )
    return found


# ---- commands --------------------------------------------------------------------------------------------


def demo(arguments: list[str]) -> int:
    """Set up, then become `nightround demo`."""
    set_up()
    command = [str(venv_command("nightround")), "demo", *arguments]
    if os.name == "posix":
        # Signals then reach the server itself, and stopping this command stops it.
        sys.stdout.flush()
        os.execv(command[0], command)
    try:
        return subprocess.call(command)
    except KeyboardInterrupt:
        return 130


def test(arguments: list[str]) -> int:
    """Set up for the tests and run every check; pytest's closing line comes last."""
    set_up("reference" if "--long" in arguments else "test")
    chromium = find_chromium()
    say(f"browser tests use {chromium}")
    environment = {**os.environ, CHROMIUM_VARIABLE: chromium}
    python = str(venv_command("python"))
    failed: list[str] = []
    for name, command in (
        ("ruff", [python, "-m", "ruff", "check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("import-linter", [str(venv_command("lint-imports")), "--no-logo"]),
        ("pytest", [python, "-m", "pytest", *arguments]),
    ):
        if name == "pytest" and failed:
            print(f"nightround: failed: {', '.join(failed)}", file=sys.stderr, flush=True)
        say(f"running {name}")
        if subprocess.call(command, cwd=ROOT, env=environment) != 0:
            failed.append(name)
    return 1 if failed else 0


def main(arguments: list[str]) -> int:
    """Do what the arguments ask; 0 done, 1 refused or failed, 2 bad usage."""
    command, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    if command in ("-h", "--help"):
        print(__doc__)
        return 0
    if command not in ("", "demo", "test"):
        print(f"bootstrap.py knows 'demo' and 'test', not '{command}'.\n\n{__doc__}", file=sys.stderr)
        return 2
    try:
        if command == "demo":
            return demo(rest)
        if command == "test":
            return test(rest)
        set_up()
    except SetupError as refused:
        print(f"nightround: {refused}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    say(f"run it with {venv_command('nightround').relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
