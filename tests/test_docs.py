"""What the documents say exists, and what exists is documented."""

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

import bootstrap
from nightround.cli.main import nightround
from tools import write_reference

ROOT = Path(__file__).resolve().parent.parent
FENCE = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
SOMEBODYS_FOLDER = re.compile(r"(?<![\w.])/(?:home|root|Users|work|tmp)/\w")
SHELLS = ("sh", "bash", "console")


def documents() -> list[Path]:
    """Every Markdown file that is part of the project."""
    folders = [ROOT, ROOT / "changelog.d", ROOT / "docs", *(ROOT / "docs").rglob("*/")]
    return sorted({path for folder in folders for path in folder.glob("*.md")})


def committed() -> list[Path]:
    """Every file that git knows, or skip where the project is not a git clone."""
    try:
        done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git clone: what is committed cannot be listed")
    return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]


def shell_lines(path: Path) -> list[str]:
    """The command lines of a document's shell blocks, without prompts and comments."""
    blocks = [
        body for language, body in FENCE.findall(path.read_text(encoding="utf-8")) if language in SHELLS
    ]
    lines = [line for block in blocks for line in block.replace("\\\n", " ").splitlines()]
    return [line.removeprefix("$ ").partition(" #")[0].strip() for line in lines]


def root_context() -> click.Context:
    return click.Context(nightround, info_name="nightround")


def test_the_readme_opens_with_the_two_commands() -> None:
    """README's first block holds `bootstrap.py demo` and `bootstrap.py test`, which bootstrap.py knows."""
    first = FENCE.search((ROOT / "README.md").read_text(encoding="utf-8"))
    assert first is not None
    told = re.findall(r"^python3 bootstrap\.py (\w+)", first[2], re.MULTILINE)
    assert ["demo", "test"] == told
    assert all(callable(getattr(bootstrap, name)) for name in told)


@pytest.mark.parametrize("path", documents(), ids=lambda path: str(path.relative_to(ROOT)))
def test_commands_in_a_document_exist(path: Path) -> None:
    """Every `nightround …` line of a shell block calls a subcommand, with options, that exist."""
    unknown = []
    for line in shell_lines(path):
        words = line.split()
        if not words or not words[0].endswith("nightround"):
            continue
        name = next((word for word in words[1:] if not word.startswith("-")), None)
        command = nightround.get_command(root_context(), name) if name else nightround
        options = {word.partition("=")[0] for word in words[1:] if word.startswith("--")} - {"--help"}
        if command is None or not options <= options_of(command) | options_of(nightround):
            unknown.append(line)
    assert [] == unknown


def options_of(command: click.Command) -> set[str]:
    """The long and short options a command takes."""
    return {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}


def test_the_reference_of_commands_is_up_to_date() -> None:
    """docs/commands.md is what tools/write_reference.py writes from the commands."""
    assert write_reference.commands_text(nightround) == write_reference.COMMANDS_FILE.read_text(
        encoding="utf-8"
    )


def test_every_command_and_option_says_what_it_does() -> None:
    """No subcommand, and no option of one, is without its help."""
    silent = []
    for context in write_reference.walk(nightround, root_context()):
        if not context.command.help:
            silent.append(context.command_path)
        silent += [
            f"{context.command_path} {parameter.opts[0]}"
            for parameter in context.command.params
            if isinstance(parameter, click.Option) and not parameter.help
        ]
    assert [] == silent


@pytest.mark.parametrize("path", documents(), ids=lambda path: str(path.relative_to(ROOT)))
def test_links_inside_the_project_lead_somewhere(path: Path) -> None:
    """Each relative link of a document names a file or folder that is there."""
    text = FENCE.sub("", path.read_text(encoding="utf-8"))
    targets = [link.partition("#")[0] for link in LINK.findall(text) if "://" not in link]
    assert [] == [target for target in targets if target and not (path.parent / target).exists()]


def test_decisions_are_numbered_and_listed() -> None:
    """Every record of docs/decisions has the next number, the three parts, and a line in the index."""
    folder = ROOT / "docs" / "decisions"
    records = sorted(path for path in folder.glob("*.md") if path.name != "README.md")
    assert [f"{number:04d}" for number in range(1, len(records) + 1)] == [path.name[:4] for path in records]
    index = (folder / "README.md").read_text(encoding="utf-8")
    for record in records:
        assert f"({record.name})" in index, record.name
        parts = re.findall(r"^\*\*(\w+)\.\*\*", record.read_text(encoding="utf-8"), re.MULTILINE)
        assert ["Choice", "Why", "Measured"] == parts, record.name


def test_changelog_fragments_are_of_a_known_kind() -> None:
    """Each file of changelog.d is a fragment that towncrier takes, and says something."""
    for path in (ROOT / "changelog.d").iterdir():
        if path.name == "README.md":
            continue
        assert re.fullmatch(r"\+[\w-]+\.(added|changed|fixed|removed)\.md", path.name), path.name
        assert path.read_text(encoding="utf-8").strip(), path.name


def test_no_committed_text_names_somebodys_folder() -> None:
    """No committed text holds an absolute path of one person's machine."""
    found = []
    for path in committed():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{path.relative_to(ROOT)}: {match[0]}" for match in SOMEBODYS_FOLDER.finditer(text)]
    assert [] == found


def test_the_licence_and_the_version_are_one() -> None:
    """pyproject.toml and the package tell the same version, and the licence is the one named."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    code = "import nightround; print(nightround.__version__)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert f'version = "{done.stdout.strip()}"' in text
    assert 'license = "MIT"' in text
    assert (ROOT / "LICENSE").read_text(encoding="utf-8").startswith("MIT License")
