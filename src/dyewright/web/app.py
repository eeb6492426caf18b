"""The application: the dyer's own studio at the root, the demo beside it, what both share."""

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import Annotated

from fastapi import FastAPI, Form, Request
from fastapi.responses import RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

import dyewright
from dyewright.errors import InputError
from dyewright.services import demo
from dyewright.web.door import Door
from dyewright.web.failures import handle_failures
from dyewright.web.guard import Guard
from dyewright.web.render import STATIC, render
from dyewright.web.routing import ROUTERS

__all__ = ["LOCAL_HOSTS", "create_app"]

LOCAL_HOSTS = frozenset({"127.0.0.1", "localhost", "::1", "testserver"})


def create_app(own_place: str, demo_place: str, hosts: Collection[str] | None = LOCAL_HOSTS) -> FastAPI:
    """Return the whole application: `/` is the dyer's own studio, `/demo` the invented one.

    `hosts` are the names it answers to; None accepts every name, for phones on the local network.
    """
    own = Door(own_place)
    shown = Door(demo_place, make=lambda place: demo.make_demo(place, now=datetime.now(UTC)))

    @asynccontextmanager
    async def closing(_: FastAPI) -> AsyncIterator[None]:
        yield
        own.close()
        shown.close()

    app = FastAPI(title="Dyewright", version=dyewright.__version__, docs_url=None, redoc_url=None, lifespan=closing)
    app.add_middleware(Guard, hosts=hosts)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.mount("/demo", _studio_app(shown))
    _add_welcome(app, own)
    app.mount("/", _studio_app(own))
    return app


def _studio_app(door: Door) -> FastAPI:
    """Return the pages of one studio."""
    app = FastAPI(title="Dyewright studio", version=dyewright.__version__, docs_url=None, redoc_url=None)
    app.state.door = door
    for router in ROUTERS:
        app.include_router(router)
    handle_failures(app)
    return app


def _add_welcome(app: FastAPI, own: Door) -> None:
    """Add the page that a fresh machine shows: look round the demo, or begin one's own studio."""

    @app.get("/welcome")
    def welcome(request: Request) -> Response:
        if own.settings():
            return RedirectResponse("/", status_code=303)
        return render(request, "welcome.html", place=own.place, name="")

    @app.post("/begin")
    def begin(request: Request, name: Annotated[str, Form()] = "") -> Response:
        try:
            own.begin(name)
        except InputError as error:
            return render(request, "welcome.html", status_code=422, place=own.place, name=name, error=error)
        return RedirectResponse("/", status_code=303)
