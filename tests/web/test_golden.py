"""Golden pages: the whole HTML of the fixed room, so that no change of a page goes unseen.

After a change that is meant: NIGHTROUND_WRITE_GOLDEN=yes, run these tests once, and read the difference.
"""

import os
import re
from pathlib import Path

import httpx
import pytest

from nightround.web import assets

GOLDEN = Path(__file__).parent / "golden"
PAGES = {
    "tonight": "/",
    "alone": "/?show=alone",
    "another-day": "/?on=2026-11-20",
    "animals": "/animals",
    "animal": "/animal/K02",
    "ahead": "/ahead/K02?span=3+in&day=2027-06-01",
    "write": "/write/K02",
    "shelves": "/shelves",
    "journal": "/journal",
    "climate": "/climate",
    "track": "/track",
    "keys": "/keys",
    "paste": "/paste",
    "no-such-animal": "/animal/NOBODY",
}


def settled(page: str) -> str:
    """A page without its random keys and without the names that the static files have today."""
    page = re.sub(r'(name="key" value=|data-form-key=)"\w+"', r'\1"KEY"', page)
    return page.replace(assets.build(), "BUILD").rstrip() + "\n"


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_as_it_was_reviewed(client: httpx.Client, name: str) -> None:
    """The HTML of a page of the fixed room equals the reviewed copy, character by character."""
    path = GOLDEN / f"{name}.html"
    shown = settled(client.get(PAGES[name]).text)
    if os.environ.get("NIGHTROUND_WRITE_GOLDEN") == "yes":
        path.write_text(shown, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == shown
