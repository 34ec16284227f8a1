"""Serving: the address, busy ports, and stopping with Ctrl-C."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from nightround.foundation.refusal import Refusal
from nightround.web.serve import USUAL_PORT, listen
from web.fixed_room import make_room

CODE = """
import sys
from nightround.desk.desk import Desk
from nightround.web.serve import serve
with Desk.open(sys.argv[1]) as desk:
    serve(desk, port=None, open_browser=False)
"""
START_SECONDS = 3.0


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGINT for another process")
def test_it_prints_its_address_answers_and_stops_with_ctrl_c(tmp_path: Path) -> None:
    """The pages answer on the loopback address that is printed; Ctrl-C ends them with exit code 0."""
    room = tmp_path / "room.sqlite"
    make_room(room, filled=False).close()
    with subprocess.Popen(
        [sys.executable, "-c", CODE, str(room)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        said = server.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/", said)
        assert found is not None, said
        assert 200 == httpx.get(found[0], timeout=20).status_code
        server.send_signal(signal.SIGINT)
        rest, faults = server.communicate(timeout=20)
    assert (0, "") == (server.returncode, faults)
    assert "Everything written is kept" in rest


def test_importing_the_pages_is_quick() -> None:
    """What the pages load before they answer takes little of the three seconds that a start may take."""
    code = "import time; t = time.process_time(); import nightround.web.app; print(time.process_time() - t)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert float(done.stdout) < START_SECONDS / 2
    code = "import sys, nightround.web.app; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set() == set(done.stdout.split()) & {"scipy", "altair", "vl_convert", "numpy"}


def test_a_named_port_that_is_busy_is_refused_and_the_usual_one_gives_way() -> None:
    """A port the keeper names is never changed silently; the usual one may be."""
    with listen(0) as first:
        busy = first.getsockname()[1]
        with pytest.raises(Refusal, match="free port"):
            listen(busy)
    with socket.socket() as taken:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            taken.bind(("127.0.0.1", USUAL_PORT))
            taken.listen()
        except OSError:
            time.sleep(0)  # Somebody else holds it, which serves as well.
        with listen(None) as second:
            assert USUAL_PORT != second.getsockname()[1]
            assert "127.0.0.1" == second.getsockname()[0]
