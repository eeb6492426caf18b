"""`dyewright serve` and `dyewright demo`: the pages, served from this machine."""

import socket
import threading
import webbrowser
from typing import Annotated

import typer

from dyewright.cli._output import answering
from dyewright.cli._place import Studio, demo_place, own_place
from dyewright.errors import InputError

__all__ = ["demo", "serve"]

DEFAULT_PORT = 8000
_TRIES = 20

Port = Annotated[
    int | None, typer.Option("--port", min=1, max=65535, help="The port; the first free one from 8000 where not said.")
]
Quiet = Annotated[bool, typer.Option("--no-browser", help="Do not open a browser.")]


def serve(
    *,
    studio: Studio = None,
    port: Port = None,
    lan: bool = typer.Option(False, "--lan", help="Answer phones on the local network too."),
    no_browser: Quiet = False,
) -> None:
    """Serve your studio; on a fresh machine, offer to begin it or to look round the demo."""
    with answering():
        _serve(own_place(studio), port=port, is_lan=lan, opens="" if not no_browser else None)


def demo(*, studio: Studio = None, port: Port = None, no_browser: Quiet = False) -> None:
    """Serve the demo studio, whose dyes, yarns and lots are invented; one click from there begins your own."""
    with answering():
        _serve(own_place(studio), port=port, is_lan=False, opens="demo/" if not no_browser else None)


def _serve(own: str, *, port: int | None, is_lan: bool, opens: str | None) -> None:
    import uvicorn

    from dyewright.web.app import LOCAL_HOSTS, create_app

    listener = _listen("0.0.0.0" if is_lan else "127.0.0.1", port)  # noqa: S104 - only with --lan, said on the screen
    bound = listener.getsockname()[1]
    typer.echo(
        f"Dyewright is at http://127.0.0.1:{bound}/ (demo: http://127.0.0.1:{bound}/demo/). Stop it with Ctrl+C.",
        err=True,
    )
    if is_lan:
        typer.echo(
            f"Phones on this network: http://{_lan_address()}:{bound}/ . Whoever is on it can open the studio.",
            err=True,
        )
    if opens is not None:
        threading.Timer(1.0, webbrowser.open, [f"http://127.0.0.1:{bound}/{opens}"]).start()
    app = create_app(own, demo_place(), hosts=None if is_lan else LOCAL_HOSTS)
    config = uvicorn.Config(app, log_level="warning", server_header=False)
    uvicorn.Server(config).run(sockets=[listener])


def _listen(host: str, port: int | None) -> socket.socket:
    """Return a listening socket on the port asked for, or on the first free one from 8000."""
    for candidate in [port] if port else range(DEFAULT_PORT, DEFAULT_PORT + _TRIES):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, candidate))
        except OSError:
            listener.close()
        else:
            return listener
    wanted = f"port {port} is" if port else f"ports {DEFAULT_PORT} to {DEFAULT_PORT + _TRIES - 1} are"
    raise InputError(f"{wanted} in use; name a free one with --port", field="port", value=port)


def _lan_address() -> str:
    """Return this machine's address on the local network, as the route to a documentation address shows it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737; a UDP connect sends nothing
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])
