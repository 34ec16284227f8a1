"""The layers import only downward, and the check that says so catches what it should."""

import ast
import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

CLOCK = Path("foundation/clock.py")
DAY_CALLS = {
    ("date", "today"), ("datetime", "today"), ("datetime", "now"), ("datetime", "utcnow"),
    ("time", "time"), ("time", "time_ns"), ("time", "localtime"), ("time", "gmtime"),
}  # fmt: skip


def lint(project: Path) -> subprocess.CompletedProcess[str]:
    """Run the project's import contracts over the sources in a folder."""
    command = Path(sysconfig.get_path("scripts")) / "lint-imports"
    return subprocess.run(
        [str(command), "--no-cache"],
        cwd=project,
        env={**os.environ, "PYTHONPATH": str(project / "src")},
        capture_output=True,
        text=True,
    )


@pytest.fixture
def copied(project: Path, tmp_path: Path) -> Path:
    """A copy of the sources and their contracts, to be spoilt."""
    copy = tmp_path / "copy"
    shutil.copytree(
        project / "src", copy / "src", ignore=shutil.ignore_patterns("__pycache__", "static", "templates")
    )
    shutil.copy(project / "pyproject.toml", copy)
    return copy


def modules(project: Path) -> list[tuple[Path, ast.Module]]:
    """Every module of the package: its path inside the package, and its parsed text."""
    package = project / "src" / "nightround"
    return [
        (path.relative_to(package), ast.parse(path.read_text(encoding="utf-8")))
        for path in sorted(package.rglob("*.py"))
    ]


def test_the_contracts_are_kept(project: Path) -> None:
    """Every contract of pyproject.toml holds for the sources as they are."""
    done = lint(project)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("module", "line", "broken"),
    [
        ("foundation/planted.py", "import nightround.desk", "Each layer imports only downward"),
        (
            "journal/planted.py",
            "def late() -> None:\n    import nightround.record",
            "Each layer imports only",
        ),
        ("cli/planted.py", "from nightround import web", "siblings never import each other"),
        ("science/planted.py", "import nightround.record", "siblings never import each other"),
        ("web/planted.py", "import nightround.science", "Faces ask the desk"),
        ("science/planted.py", "import nightround.journal", "Science knows no animal"),
        ("reports/planted.py", "import nightround.science", "Reports are frozen data"),
        ("stray.py", "", "Each layer imports only downward"),
    ],
)
def test_a_planted_violation_is_caught(copied: Path, module: str, line: str, broken: str) -> None:
    """An import upward, sideways or past the desk, and a module of no layer, break their contract."""
    (copied / "src" / "nightround" / module).write_text(f"{line}\n", encoding="utf-8")
    done = lint(copied)
    assert done.returncode == 1, done.stdout + done.stderr
    kept = [entry for entry in done.stdout.splitlines() if broken in entry and "KEPT" in entry]
    assert kept == []
    assert broken in done.stdout


def test_only_the_clock_module_asks_what_day_it_is(project: Path) -> None:
    """`foundation/clock.py` alone reads the machine's clock; the rest asks it, so any day can be set."""
    asked = [
        f"{path}:{node.lineno}"
        for path, tree in modules(project)
        if path != CLOCK
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and day_call(node)
    ]
    assert [] == asked


def day_call(node: ast.Attribute) -> bool:
    """Whether an attribute is one of the calls that ask for the day or the time of day."""
    owner = node.value
    name = owner.id if isinstance(owner, ast.Name) else owner.attr if isinstance(owner, ast.Attribute) else ""
    return (name.removeprefix("_").removesuffix("_module"), node.attr) in DAY_CALLS


def test_the_database_is_not_asked_what_day_it_is(project: Path) -> None:
    """No SQL asks the database for the present moment: a correction of the clock would not reach it."""
    asked = [
        f"{path}:{node.lineno}"
        for path, tree in modules(project)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and any(word in node.value for word in ("CURRENT_TIMESTAMP", "CURRENT_DATE", "'now'", "func.now"))
    ]
    assert [] == asked


def test_an_import_by_name_stays_in_its_own_layer(project: Path) -> None:
    """The contracts cannot see an import whose name is a string, so it names only its own layer."""
    strays = [
        f"{path}:{node.lineno}"
        for path, tree in modules(project)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and imports_by_name(node)
        if not leading_text(node).startswith(f"nightround.{path.parts[0].removesuffix('.py')}")
    ]
    assert [] == strays


def imports_by_name(call: ast.Call) -> bool:
    """Whether a call is import_module(…) or __import__(…)."""
    function = call.func
    name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    return name in ("import_module", "__import__")


def leading_text(call: ast.Call) -> str:
    """The text a call's first argument begins with, as far as it is written out."""
    argument = call.args[0] if call.args else None
    if isinstance(argument, ast.JoinedStr) and argument.values:
        argument = argument.values[0]  # type: ignore[assignment]
    return str(argument.value) if isinstance(argument, ast.Constant) else ""


def test_importing_the_package_is_nearly_free() -> None:
    """`import nightround` loads none of the heavy libraries, nor any layer."""
    code = "import sys, nightround; print(*sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert set() == loaded & {"numpy", "scipy", "sqlalchemy", "starlette", "altair", "msgspec", "click"}
    assert ["nightround"] == sorted(name for name in loaded if name.startswith("nightround"))


def test_the_help_loads_nothing_heavy() -> None:
    """`nightround --help` answers without NumPy, SciPy, the database or the server: it stays quick."""
    code = (
        "import sys\nsys.argv = ['nightround', '--help']\nfrom nightround.launch import main\n"
        "try: main()\nexcept SystemExit: pass\nprint('LOADED', *sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.rpartition("LOADED")[2].split())
    assert set() == loaded & {"numpy", "scipy", "sqlalchemy", "starlette", "altair", "uvicorn", "rich"}
