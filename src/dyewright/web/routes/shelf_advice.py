"""Shelf advice: which dyes to add for a palette, and which swatch to dye next."""

from typing import Annotated

from fastapi import APIRouter, File, Request, Response, UploadFile

from dyewright.errors import InputError
from dyewright.services.colour_pages import advice_page as shelf_advice
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/shelf/advice")
def ask_advice(request: Request, records: Opened) -> Response:
    with records.read() as session:
        view = shelf_advice.advice_view(session)
    return render(request, "shelf/advice.html", {**view, "page": None}, typed=dict(request.query_params))


@router.post("/shelf/advice")
def give_advice(
    request: Request, records: Opened, typed: Typed, table: Annotated[UploadFile | None, File()] = None
) -> Response:
    """Answer with advice; nothing is written."""
    data, name = (table.file.read(), str(table.filename)) if table and table.filename else (b"", "")
    error = None
    with records.read() as session:
        view = shelf_advice.advice_view(session)
        try:
            view["page"] = shelf_advice.advice_page(session, typed, data, name)
        except InputError as wrong:
            error, view["page"] = wrong, None
    return render(request, "shelf/advice.html", view, status_code=422 if error else 200, typed=typed, error=error)
