"""Colours: choose a target, see which recipes reach it, move the mix, keep it as a colourway."""

from datetime import UTC, date, datetime
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, File, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.services import colour_targets
from dyewright.services.colour_pages import colours
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/colours")
def show_colourways(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "colours/index.html", colours.colourways_view(session))


@router.get("/colours/new")
def new_colour(request: Request, records: Opened) -> Response:
    asked = colours.asked_of(request.query_params)
    if not asked.get("target", "").strip():
        return _choose(request, records, asked, None)
    return _page(request, records, asked, None)


@router.get("/colours/mixture")
def show_mixture(request: Request, records: Opened) -> Response:
    """Answer a moved slider with the parts of the page that it changes."""
    asked = dict(request.query_params)
    with records.read() as session:
        view = colours.mixture_view(session, asked)
    kept_id = asked.get("colourway", "") if asked.get("colourway", "").isdecimal() else ""
    return render(request, "colours/parts.html", view, kept_id=kept_id)


@router.post("/colours/sample")
def bring_sample(
    request: Request, records: Opened, typed: Typed, sample: Annotated[UploadFile | None, File()] = None
) -> Response:
    """Take the one sample of a measured file as the target of the page that follows."""
    try:
        query = colour_targets.sample_query(*((sample.file.read(), str(sample.filename)) if sample else (b"", "")))
    except InputError as error:
        return _choose(request, records, typed, error)
    return RedirectResponse(f"{base_path(request)}/colours/new?{urlencode(query)}", status_code=303)


@router.get("/colours/{colourway_id}")
def show_colourway(request: Request, records: Opened, colourway_id: int) -> Response:
    return _page(request, records, dict(request.query_params), colourway_id)


@router.post("/colours")
def keep_colour(request: Request, records: Opened, typed: Typed) -> Response:
    return _keep(request, records, typed, None)


@router.post("/colours/snip")
def take_snip(request: Request, records: Opened, typed: Typed) -> Response:
    return _take_snip(request, records, typed, None)


@router.post("/colours/{colourway_id}")
def change_colour(request: Request, records: Opened, colourway_id: int, typed: Typed) -> Response:
    return _keep(request, records, typed, colourway_id)


@router.post("/colours/{colourway_id}/snip")
def take_snip_of(request: Request, records: Opened, colourway_id: int, typed: Typed) -> Response:
    return _take_snip(request, records, typed, colourway_id)


@router.post("/colours/{colourway_id}/remove")
def remove_colour(request: Request, records: Opened, colourway_id: int) -> Response:
    with records.begin() as session:
        colourways_of.remove_colourway(session, colourway_id)
    return RedirectResponse(f"{base_path(request)}/colours", status_code=303)


def _choose(request: Request, records: Opened, asked: dict[str, str], error: InputError | None) -> Response:
    with records.read() as session:
        view = colour_targets.choose_view(session)
    return render(request, "colours/choose.html", view, status_code=422 if error else 200, typed=asked, error=error)


def _page(
    request: Request,
    records: Opened,
    asked: dict[str, str],
    colourway_id: int | None,
    error: InputError | None = None,
) -> Response:
    """Answer with the whole page of a target; what cannot be read goes back to the choice, with all that was typed."""
    try:
        with records.read() as session:
            kept = colourways_of.colourway(session, colourway_id) if colourway_id is not None else None
            page = colours.colour_page(session, asked, colourway_id=colourway_id)
    except InputError as wrong:
        return _choose(request, records, asked, wrong)
    view = {"page": page, "mixture": page.mixture, "kept": kept, "typed": asked, "error": error}
    return render(
        request, "colours/show.html", view, status_code=422 if error or page.limit_error or page.snip_error else 200
    )


def _keep(request: Request, records: Opened, typed: dict[str, str], colourway_id: int | None) -> Response:
    try:
        with records.read() as session:
            chosen = colours.chosen_colourway(session, typed, today=_today(), colourway_id=colourway_id)
        with records.begin() as session:
            kept = colourways_of.save_colourway(session, chosen)
    except InputError as error:
        return _page(request, records, typed, colourway_id, error)
    return RedirectResponse(f"{base_path(request)}/colours/{kept.id}?{colours.kept_query(typed)}", status_code=303)


def _take_snip(request: Request, records: Opened, typed: dict[str, str], colourway_id: int | None) -> Response:
    """Go on with the recipe as a snip moves it, the snip kept as a swatch where that is ticked."""
    try:
        with records.begin() as session:
            query = colours.take_snip(session, typed, today=_today(), colourway_id=colourway_id)
    except InputError as error:
        return _page(request, records, typed, colourway_id, error)
    return RedirectResponse(f"{base_path(request)}/colours/{colourway_id or 'new'}?{query}", status_code=303)


def _today() -> date:
    return datetime.now(UTC).astimezone().date()
