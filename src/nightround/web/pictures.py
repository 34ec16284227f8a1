"""Figures on pages: the addresses they are fetched from, and the answer that carries one."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from starlette.responses import Response

from nightround.web import assets, figure
from nightround.web.page import Page


def addresses(page: Page, path: str, state: object, **asked: str) -> dict[str, Any]:
    """Return a figure's addresses for a phone and a laptop, and the width that the page reserves.

    state   what the figure rests on besides program, day and light: another state, another address
    asked   what else tells it apart
    """

    def address(width: int) -> str:
        query = {**asked, "width": str(width), "light": page.light, "state": f"{state}.{assets.build()}",
                 "on": page.on.isoformat()}  # fmt: skip
        return f"{path}?{urlencode(query)}"

    return {"narrow": address(figure.NARROW), "wide": address(figure.WIDE), "width": figure.NARROW}


def svg(drawn: str) -> Response:
    """Answer a figure that is asked for anew each time."""
    from nightround.web.guards import FIGURE_POLICY

    headers = {"cache-control": "no-cache", "content-security-policy": FIGURE_POLICY}
    return Response(drawn, media_type="image/svg+xml", headers=headers)
