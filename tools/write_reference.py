"""Write docs/commands.md from the commands themselves; `--check` only compares."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

COMMANDS_FILE = Path(__file__).resolve().parent.parent / "docs" / "commands.md"
HELP_WIDTH = 100
PREAMBLE = """# Commands

Written by `tools/write_reference.py` from the commands themselves: change those, then run it again.

Exit codes: 0 done, 1 refused with a clear message on standard error, 2 bad usage.
"""


def walk(command: click.Command, context: click.Context) -> Iterator[click.Context]:
    """A command's context, then those of its subcommands, as they are called."""
    yield context
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            if below is not None and not below.hidden:
                yield from walk(below, child_context(below, name, context))


def child_context(command: click.Command, name: str | None, parent: click.Context | None) -> click.Context:
    """A context in which a command's help comes out the same on every terminal."""
    return click.Context(
        command, info_name=name, parent=parent, terminal_width=HELP_WIDTH, max_content_width=HELP_WIDTH
    )


def commands_text(command: click.Command) -> str:
    """The text of the reference: each command's own help."""
    sections = [PREAMBLE]
    for context in walk(command, child_context(command, "nightround", None)):
        body = "\n".join(line.rstrip() for line in context.get_help().splitlines())
        sections.append(f"## {context.command_path}\n\n```text\n{body}\n```\n")
    return "\n".join(sections)


def main(arguments: list[str]) -> int:
    """Write the reference, or with --check compare it; exit code 1 when it is not up to date."""
    from nightround.cli.main import nightround

    text = commands_text(nightround)
    if "--check" in arguments:
        there = COMMANDS_FILE.read_text(encoding="utf-8") if COMMANDS_FILE.exists() else ""
        return 0 if there == text else 1
    COMMANDS_FILE.parent.mkdir(parents=True, exist_ok=True)
    COMMANDS_FILE.write_text(text, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
