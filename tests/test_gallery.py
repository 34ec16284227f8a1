"""The gallery runs, prints what its pages say, and uses only what is public and documented."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import ModuleType
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from tools.write_gallery import GALLERY, IMAGE, Ran, blocks, main, missing, pages, run

# Numbers on a page may differ from machine to machine by 2 %, or by one and a half of their last digit.
SHARE, LAST_DIGITS = 0.02, 1.5
LARGEST_FIGURE = 40_000
NUMBER = re.compile(r"(?<![\w.-])[-+]?\d+(?:\.\d+)?(?![\w-]|\.\d)")
SVG_TEXT = "{http://www.w3.org/2000/svg}text"
ARRAYS = re.compile(r"FloatArray|IntArray|BoolArray|Floats|Integers|NDArray|ndarray")
SHAPE = re.compile(r"\[[A-Z\d][^\]]*\]|any shape")
_RAN: dict[str, Ran] = {}


def page_names() -> list[str]:
    return [page.name for page in pages()]


def ran(name: str) -> Ran:
    """A page's run, once for all tests; skips where its records are not here."""
    if lacking := missing(GALLERY / name):
        pytest.skip(f"{name} stays as recorded: the folder {lacking} is not here")
    if name not in _RAN:
        _RAN[name] = run(GALLERY / name)
    return _RAN[name]


def differences(told: str, now: str) -> list[str]:
    """Where two texts differ: words must be equal, numbers near."""
    words = [NUMBER.sub("0", text).split() for text in (told, now)]
    if words[0] != words[1]:
        at = next((i for i, pair in enumerate(zip(*words, strict=False)) if pair[0] != pair[1]), -1)
        return [f"words: {' '.join(text[max(at - 4, 0) : at + 4])!r}" for text in words]
    pairs = zip(NUMBER.findall(told), NUMBER.findall(now), strict=True)
    return [f"{old} is now {new}" for old, new in pairs if not near(old, new)]


def near(old: str, new: str) -> bool:
    """Whether two printed numbers are one, up to the tolerance."""
    digit = 10.0 ** -len(old.partition(".")[2])
    return abs(float(old) - float(new)) <= max(SHARE * abs(float(old)), LAST_DIGITS * digit) + 1e-9


def code_of(name: str) -> list[ast.Module]:
    return [ast.parse(block) for block in blocks((GALLERY / name).read_text(encoding="utf-8"))]


def imported(name: str) -> Iterator[tuple[str, str]]:
    """(module, name) of everything that a page imports from nightround."""
    for tree in code_of(name):
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] == "nightround":
                yield from ((node.module or "", alias.name) for alias in node.names)


@pytest.mark.parametrize("name", page_names())
def test_a_page_prints_what_it_says(name: str) -> None:
    """A fresh run prints the recorded words exactly and the recorded numbers within the tolerance."""
    told = (GALLERY / name).read_text(encoding="utf-8")
    assert [] == differences(told, ran(name).text), "run tools/write_gallery.py and read what changed"


@pytest.mark.parametrize("name", page_names())
def test_figures_say_what_a_fresh_run_draws(name: str) -> None:
    """Every figure is small, has the words and ticks of a fresh run, and follows the reader's light."""
    found = ran(name).figures
    for path, svg in found.items():
        kept = (GALLERY / path).read_text(encoding="utf-8")
        assert len(kept.encode()) < LARGEST_FIGURE, path
        written = [
            [each.text for each in ElementTree.fromstring(text).iter(SVG_TEXT)] for text in (kept, svg)
        ]
        assert written[0] == written[1], path
        assert len(written[0]) > 4, path
        assert "prefers-color-scheme:dark" in kept, path
    assert set(found) == {match[2] for match in IMAGE.finditer((GALLERY / name).read_text(encoding="utf-8"))}


@pytest.mark.parametrize("name", page_names())
def test_a_page_is_short_and_its_figures_are_told_in_words(name: str) -> None:
    """Under 170 lines; figures have alternative texts of a sentence or more, and are there."""
    text = (GALLERY / name).read_text(encoding="utf-8")
    assert len(text.splitlines()) < 170
    for image in IMAGE.finditer(text):
        assert len(image[1].split()) >= 12, image[2]
        assert (GALLERY / image[2]).is_file()


@pytest.mark.parametrize("name", page_names())
def test_a_page_uses_public_names_only(name: str) -> None:
    """No name or attribute that begins with one underscore is used or imported."""
    found = [
        node.attr for tree in code_of(name) for node in ast.walk(tree) if isinstance(node, ast.Attribute)
    ]
    found += [part for module, each in imported(name) for part in (*module.split("."), each)]
    assert [] == [each for each in found if each.startswith("_") and not each.startswith("__")]


@pytest.mark.parametrize(
    ("module", "name"), sorted({pair for page in page_names() for pair in imported(page)})
)
def test_what_a_page_imports_is_documented(module: str, name: str) -> None:
    """Functions and classes have a docstring; where arrays go in or out it tells their shapes."""
    assert [] == undocumented(getattr(__import__(module, fromlist=[name]), name), f"{module}.{name}")


@pytest.mark.parametrize("name", page_names())
def test_what_a_page_asks_of_answers_is_documented(name: str) -> None:
    """Methods that a page calls on Nightround's objects have docstrings, arrays that it reads have shapes."""
    names, found = ran(name).names, []
    for tree in code_of(name):
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute):
                found += told_poorly(node, names)
    assert [] == sorted(set(found))


def told_poorly(node: ast.Attribute, names: dict[str, Any]) -> list[str]:
    """What is missing of the documents of `x.y.z`, where x is one of a page's names."""
    chain = [node.attr]
    inner = node.value
    while isinstance(inner, ast.Attribute):
        chain.append(inner.attr)
        inner = inner.value
    if not isinstance(inner, ast.Name) or inner.id not in names:
        return []
    owner = names[inner.id]
    for part in reversed(chain):
        # A name that a later block uses for something else cannot be looked up any more.
        if not hasattr(owner, part):
            return []
        owner = owner if part is chain[0] else getattr(owner, part)
    if isinstance(owner, ModuleType) or not type(owner).__module__.startswith("nightround"):
        return []
    value, where = getattr(owner, chain[0]), f"{type(owner).__name__}.{chain[0]}"
    if callable(value):
        return undocumented(value, where)
    if isinstance(value, np.ndarray) and not shaped(type(owner), chain[0]):
        return [f"{where}: no shape in the docstring"]
    return []


def undocumented(thing: Any, where: str) -> list[str]:
    """What the documents of a function or class leave out; constants have none."""
    if not callable(thing):
        return []
    text = inspect.getdoc(thing) or ""
    if not text or text.startswith(f"{getattr(thing, '__name__', '')}("):
        return [f"{where}: no docstring"]
    if inspect.isclass(thing):
        arrays = (
            [part.name for part in fields(thing) if ARRAYS.search(str(part.type))]
            if is_dataclass(thing)
            else []
        )
        return [f"{where}.{name}: no shape in the docstring" for name in arrays if not shaped(thing, name)]
    signature = inspect.signature(thing)
    given = [str(each.annotation) for each in signature.parameters.values()] + [
        str(signature.return_annotation)
    ]
    if any(ARRAYS.search(each) for each in given) and not SHAPE.search(text):
        return [f"{where}: no shape in the docstring"]
    return []


def shaped(owner: type, name: str) -> bool:
    """Whether a class's docstring tells a shape after the name of one of its arrays."""
    lines = (inspect.getdoc(owner) or "").splitlines()
    return any(re.search(rf"\b{name}\b", line) and SHAPE.search(line) for line in lines)


def test_words_that_change_and_numbers_that_move_are_told() -> None:
    """The comparison lets a last digit pass, and neither another word, nor another code, nor 5 %."""
    assert [] == differences("K12: 28% by day 150, 0.062", "K12: 29% by day 152, 0.063")
    assert ["150 is now 160"] == differences("by day 150", "by day 160")
    assert 2 == len(differences("K12: 28%", "K13: 28%"))
    assert 2 == len(differences("2026-10-31", "2026-11-01"))
    assert 2 == len(differences("one two", "one two three"))


def test_every_page_is_in_the_index() -> None:
    """The index links each page, in reading order."""
    index = (GALLERY / "README.md").read_text(encoding="utf-8")
    places = [index.index(f"({name})") for name in page_names()]
    assert sorted(places) == places and len(places) >= 6


def test_a_page_without_its_records_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A page that needs a folder that is not here is not run, and the writer says so."""
    page = tmp_path / "1-needs.md"
    page.write_text("<!-- needs ../no/such/folder -->\n```python\nprint(1)\n```\n", encoding="utf-8")
    monkeypatch.setattr("tools.write_gallery.GALLERY", tmp_path)
    assert 0 == main([])
    assert "1-needs.md: left as recorded, ../no/such/folder is not here\n" == capsys.readouterr().out
    assert "print(1)\n```\n" == page.read_text(encoding="utf-8")[-13:]
