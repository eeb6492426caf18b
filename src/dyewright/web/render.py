"""Pages from templates: whole, or the page's own fragment where htmx asks for it."""

import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from dyewright.web import wording
from dyewright.web.door import Door

__all__ = ["STATIC", "base_path", "render"]

PART_OF = {
    "/evenings": "/shelf",
    "/experiments": "/runs",
    "/water": "/shelf",
    "/palettes": "/colours",
    "/reach": "/colours",
    "/plan": "/",
    "/two-ways": "/",
}
"""The entry of the main navigation that leads to pages whose address begins otherwise."""

STATIC = Path(str(files("dyewright.web") / "static"))


@cache
def _asset(name: str) -> str:
    """Return the address of a shipped file, with a mark that changes when the file does."""
    mark = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:8]
    return f"/static/{name}?{mark}"


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=PackageLoader("dyewright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["asset"] = _asset
    environment.filters.update(wording.FILTERS)
    return environment


def base_path(request: Request) -> str:
    """Return the prefix of this studio's pages: empty for the dyer's own, "/demo" for the demo."""
    return str(request.scope.get("root_path", ""))


def render(
    request: Request,
    page: str,
    view: Mapping[str, object] | None = None,
    *,
    fragment: str | None = None,
    status_code: int = 200,
    **context: object,
) -> HTMLResponse:
    """Return a page, or only its `fragment` where the request comes from htmx and one is named.

    `view` is what a service gathered for the page, `context` what the route adds. Every template gets `base` (prefix
    for links), `here` (which part of the studio) and `studio` (its settings, None where no studio has begun; they are
    not read where the route passes its own).
    """
    is_partial = fragment is not None and request.headers.get("hx-request") == "true"
    template = _templates().get_template(fragment if is_partial and fragment else page)
    door: Door | None = getattr(request.app.state, "door", None)
    base = base_path(request)
    common: dict[str, object] = {
        "base": base,
        "here": _part_of_studio(request.url.path.removeprefix(base)),
        "error": None,
    }
    if "studio" not in context:
        common["studio"] = door.settings() if door else None
    html = template.render({**common, **(view or {}), **context})
    return HTMLResponse(html, status_code=status_code, headers={"Vary": "HX-Request", "Cache-Control": "no-store"})


def _part_of_studio(path: str) -> str:
    """Return which entry of the main navigation a page belongs to."""
    part = "/" + path.strip("/").split("/")[0]
    return PART_OF.get(part, part)
