"""Serving the pages of a room on this machine until stopped."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import webbrowser
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nightround.desk.desk import Desk
    from nightround.web.rounds import Rounds

USUAL_PORT = 8466
LOOPBACK = "127.0.0.1"
_GRACE_SECONDS = 3


def serve(desk: Desk, *, port: int | None = None, open_browser: bool = True) -> None:
    """Serve the pages of an open desk on the loopback address until Ctrl-C.

    Without a `port`, the usual one, or a free one when it is busy. Raises Refusal when a named port is busy.
    """
    import uvicorn

    from nightround.web.app import make_app

    listening = listen(port)
    address = f"http://{LOOPBACK}:{listening.getsockname()[1]}/"
    app = make_app(desk)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        lifespan="off",
        server_header=False,
        timeout_graceful_shutdown=_GRACE_SECONDS,
    )
    server = uvicorn.Server(config)
    threading.Thread(target=_warm, args=(app.state.room.rounds,), name="warm", daemon=True).start()
    print(f"Nightround shows '{desk.name}' at {address}  (stop with Ctrl-C)", flush=True)
    if open_browser:
        threading.Thread(target=_open, args=(server, address), name="browser", daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    listening.close()
    print("Nightround has stopped. Everything written is kept.", flush=True)


def listen(port: int | None) -> socket.socket:
    """Return a listening socket: the named port, or the usual one, or a free one. Raises Refusal."""
    from nightround.foundation.refusal import Refusal

    for wanted in (USUAL_PORT, 0) if port is None else (port,):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if sys.platform != "win32":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((LOOPBACK, wanted))
            listening.listen(128)
            return listening
        except OSError as fault:
            listening.close()
            reason = fault.strerror or str(fault)
    raise Refusal(
        f"a free port on {LOOPBACK}",
        got=f"port {USUAL_PORT if port is None else port}: {reason}",
        todo="Give another --port, or none",
    )


def _open(server: object, address: str) -> None:
    import time

    while not getattr(server, "started", False):
        time.sleep(0.05)
    webbrowser.open(address)


def _warm(rounds: Rounds) -> None:
    from nightround.foundation.refusal import Refusal
    from nightround.web import figure

    # Whatever stands against working the round out is told on the page, where the keeper sees it.
    with contextlib.suppress(Refusal):
        if rounds.desk.journal.last_number():
            rounds.evening(rounds.desk.today())
    figure.warm()
