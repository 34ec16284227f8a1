"""The page's own static files: read once, named by what they hold, and served as never changing."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

FOLDER = Path(__file__).parent / "static"
TYPES = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
FOR_EVER = "public, max-age=31536000, immutable"


@cache
def files() -> dict[str, bytes]:
    """Return every static file by its name."""
    return {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.suffix in TYPES}


@cache
def build() -> str:
    """Return one short name for the content of all static files; it changes when any of them does."""
    digest = hashlib.sha256()
    for name, content in files().items():
        digest.update(f"{name}\0{len(content)}\0".encode() + content)
    return digest.hexdigest()[:12]


def url(name: str) -> str:
    """Return the address of a static file; a KeyError names one that does not exist."""
    if name not in files():
        raise KeyError(name)
    return f"/static/{build()}/{name}"


def serve_asset(request: Request) -> Response:
    """Answer a static file; one asked for under an older build's name gets the present content, uncached."""
    name = request.path_params["name"]
    content = files().get(name)
    if content is None:
        return PlainTextResponse("No such file.", 404)
    current = request.path_params["build"] == build()
    headers = {"cache-control": FOR_EVER if current else "no-cache"}
    return Response(content, media_type=TYPES[Path(name).suffix], headers=headers)
