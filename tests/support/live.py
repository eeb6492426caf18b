"""A real server on a free port of this machine, and a real Chromium: what a browser test stands on."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from ready import place_demo

from dyewright.web.app import LOCAL_HOSTS, create_app

IS_CI = os.environ.get("CI", "").lower() == "true"
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def skip_or_fail(reason: str) -> None:
    """Skip a test whose means are missing on this machine; in CI that is a failure."""
    if IS_CI:
        pytest.fail(f"in CI this must not be missing: {reason}")
    pytest.skip(reason)


def chromium_path() -> str:
    """Return the installed Chromium, or skip."""
    found = next(
        (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
    )
    if found is None:
        skip_or_fail("Chromium is not installed")
    return str(found)


@contextmanager
def live_server(folder: Path, hosts: Collection[str] | None = LOCAL_HOSTS) -> Iterator[str]:
    """Serve the whole application from studios in a folder; yield its address."""
    app = create_app(str(folder / "own.sqlite"), place_demo(folder), hosts)
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    deadline = time.monotonic() + 20
    while not server.started and time.monotonic() < deadline:
        time.sleep(0.02)
    assert server.started, "the server did not start within 20 s"
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
        listener.close()
