"""Run the pages of docs/gallery and write into them what they print and draw; `--check` only compares.

The ```python blocks of a page run in order in one namespace, from the project's folder. What a block prints
goes into the ```text block after it; where an image under `figures/` follows, the chart that the block named
`figure` is drawn there. A page that starts with `<!-- needs FOLDER -->` stays as it is where there is no
such folder.

Usage: python tools/write_gallery.py [--check] [PAGE ...]
"""

from __future__ import annotations

import io
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import chdir, contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parent.parent
GALLERY: Final = ROOT / "docs" / "gallery"
NEEDS: Final = re.compile(r"\A<!-- needs (\S+) -->")
_BLOCK: Final = re.compile(r"^```python\n(.*?)^```\n", re.MULTILINE | re.DOTALL)
_TOLD: Final = re.compile(r"\s*^```text\n(.*?)^```\n", re.MULTILINE | re.DOTALL)
IMAGE: Final = re.compile(r"!\[([^\]]*)\]\((figures/[\w-]+\.svg)\)")


@dataclass(frozen=True)
class Ran:
    """A page as it reads after a run, its figures as SVG by their path, and its names."""

    text: str
    figures: dict[str, str]
    names: dict[str, Any]


def pages() -> list[Path]:
    """Return the pages in reading order; the index is none."""
    return sorted(path for path in GALLERY.glob("*.md") if path.name != "README.md")


def blocks(text: str) -> list[str]:
    """Return the code of a page's blocks."""
    return [match[1] for match in _BLOCK.finditer(text)]


def missing(page: Path) -> str:
    """Return the folder that a page needs and that is not here, '' when nothing is missing."""
    needs = NEEDS.match(page.read_text(encoding="utf-8"))
    return needs[1] if needs and not (ROOT / needs[1]).is_dir() else ""


def run(page: Path) -> Ran:
    """Run a page; nothing is written. Errors in a block come through with the page's name and line."""
    text = page.read_text(encoding="utf-8")
    names: dict[str, Any] = {"__name__": "gallery"}
    parts, figures, end = [], {}, 0
    found = list(_BLOCK.finditer(text))
    with _at_home():
        for number, block in enumerate(found):
            line = text.count("\n", 0, block.start(1))
            told = _told(block[1], names, page.name, line)
            parts.append(text[end : block.end()])
            old = _TOLD.match(text, block.end())
            end = old.end() if old else block.end()
            if told:
                parts.append(f"\n```text\n{told.rstrip()}\n```\n")
            last = found[number + 1].start() if number + 1 < len(found) else len(text)
            for image in IMAGE.finditer(text, end, last):
                figures[image[2]] = drawn(names["figure"])
    return Ran("".join(parts) + text[end:], figures, names)


@contextmanager
def _at_home() -> Iterator[None]:
    """Work from the project's folder, with answers kept in a folder of their own."""
    before = os.environ.get("XDG_CACHE_HOME")
    with TemporaryDirectory() as cache, chdir(ROOT):
        os.environ["XDG_CACHE_HOME"] = cache
        try:
            yield
        finally:
            if before is None:
                del os.environ["XDG_CACHE_HOME"]
            else:
                os.environ["XDG_CACHE_HOME"] = before


def _told(code: str, names: dict[str, Any], page: str, line: int) -> str:
    """Run one block and return what it printed."""
    out = io.StringIO()
    with redirect_stdout(out):
        exec(compile("\n" * line + code, page, "exec"), names)
    return "".join(f"{each.rstrip()}\n" for each in out.getvalue().splitlines())


def drawn(figure: Any) -> str:
    """Return a chart, or SVG text drawn in the light colours, as SVG that follows the reader's light."""
    import vl_convert

    from nightround.web.figure import COLOURS, configured

    if not isinstance(figure, str):
        light = COLOURS["light"]
        legend = {"labelColor": light.ink, "titleColor": light.ink, "labelFontSize": 12}
        chart = figure.configure(**configured(light), legend=legend)
        figure = str(vl_convert.vegalite_to_svg(chart.to_dict()))
    return _in_both_lights(figure)


def _in_both_lights(svg: str) -> str:
    """Add a style that turns the light colours into the dark ones where the reader's screen is dark."""
    from nightround.web.figure import COLOURS

    light, dark = vars(COLOURS["light"]), vars(COLOURS["dark"])
    rules = [
        f'[{part}="{light[name]}"]{{{part}:{dark[name]}}}' for name in light for part in ("fill", "stroke")
    ]
    style = f"<style>@media (prefers-color-scheme:dark){{{''.join(rules)}}}</style>"
    opening = svg.index(">") + 1
    return f"{svg[:opening]}{style}{svg[opening:]}\n"


def main(arguments: Sequence[str]) -> int:
    """Write the pages named, or all; with --check only compare, exit code 1 where one would change."""
    chosen = [GALLERY / name for name in arguments if not name.startswith("-")] or pages()
    stale = 0
    for page in chosen:
        lacking = missing(page)
        if lacking:
            print(f"{page.name}: left as recorded, {lacking} is not here")
            continue
        ran = run(page)
        new = {page: ran.text} | {GALLERY / name: svg for name, svg in ran.figures.items()}
        for path, text in new.items():
            if path.is_file() and path.read_text(encoding="utf-8") == text:
                continue
            stale += 1
            print(f"{path.relative_to(ROOT)}: {'differs' if '--check' in arguments else 'written'}")
            if "--check" not in arguments:
                path.parent.mkdir(exist_ok=True)
                path.write_text(text, encoding="utf-8", newline="\n")
    return 1 if stale and "--check" in arguments else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
