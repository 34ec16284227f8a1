"""What stands before every page: the Host and Origin checks, a limit on bodies, and the security headers."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
MAX_BODY_BYTES = 4_000_000
MAX_FILE_BYTES = 20_000_000
# Pages that take a file, with what a form around it needs.
LARGER = {"/logger": MAX_FILE_BYTES + 100_000}
# So much of a file that is too large is still read, and thrown away: else a browser shows no answer.
THROWN_AWAY_BYTES = 500_000_000
TOO_LARGE = "nightround.too_large"
"""Key of a request's scope: its body is over the limit, and the page answers that it is."""

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# A figure is a picture: it may style itself and reach nothing.
FIGURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"

HEADERS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


def host_name(host: str) -> str:
    """Return the name of a Host header without its port: '127.0.0.1:8100' is '127.0.0.1'."""
    return host[: host.rfind("]") + 1] if host.startswith("[") else host.partition(":")[0]


def _authority(address: str) -> str:
    try:
        return urlsplit(address).netloc.lower()
    except ValueError:  # such as 'http://[': no address of ours
        return ""


class Guards:
    """Refuse foreign hosts (DNS rebinding), foreign origins on POST, and bodies over 4 MB; add headers.

    A page that takes a file has a limit of its own, and says itself when that is passed (`TOO_LARGE`).

    `hosts` are the names this server answers to; the port does not matter, the name does.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = LOOPBACK_NAMES) -> None:
        self.app = app
        self.hosts = frozenset(name.lower() for name in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it with why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        own = LARGER.get(scope["path"])
        most = MAX_BODY_BYTES if own is None else THROWN_AWAY_BYTES
        refused = self._refusal(scope["method"], headers, most)
        app: ASGIApp = PlainTextResponse(refused[1], refused[0]) if refused else self.app
        if own is not None:
            scope[TOO_LARGE] = _length(headers) > own
            most = most if scope[TOO_LARGE] else own
        await app(scope, _limited(receive, most), _with_headers(send))

    def _refusal(self, method: str, headers: Headers, most: int) -> tuple[int, str] | None:
        host = headers.get("host", "").lower()
        if host_name(host) not in self.hosts:
            return 400, f"This page answers to {', '.join(sorted(self.hosts))} only; got {host or 'nothing'}."
        if method in ("GET", "HEAD", "OPTIONS"):
            return None
        if not 0 <= _length(headers) <= most:
            size = f"{most // 1_000_000} MB"
            return 413, f"That is more than this page takes at once ({size}). Import large files by command."
        origin = headers.get("origin") or headers.get("referer", "")
        if _authority(origin) != host:
            return 403, "Only this page itself may write here. Open it again from its own address."
        return None


def _length(headers: Headers) -> int:
    """The length that a request says it has: 0 where it says none, -1 where that is no number."""
    length = headers.get("content-length", "0")
    return int(length) if length.isascii() and length.isdigit() and len(length) < 12 else -1


def _limited(receive: Receive, most: int) -> Receive:
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        # A body without a length that grows past the limit is cut off as if the sender had gone.
        return {"type": "http.disconnect"} if taken > most else message

    return limited


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
