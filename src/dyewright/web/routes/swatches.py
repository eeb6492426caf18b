"""Swatches on the shelf: bring in a table, type one, take one away, save the table."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import swatches as swatches_of
from dyewright.services import swatch_table
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/shelf/swatches")
def show_swatches(request: Request, records: Opened) -> Response:
    return _page(request, records, {}, None)


@router.get("/shelf/swatches.csv")
def save_table(records: Opened) -> Response:
    with records.read() as session:
        text = swatch_table.table_text(session)
    headers = {"Content-Disposition": 'attachment; filename="swatches.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/shelf/swatches")
def bring_table(
    request: Request,
    records: Opened,
    file: Annotated[UploadFile | None, File()] = None,
    table: Annotated[str, Form()] = "",
) -> Response:
    is_file = file is not None and bool(file.filename)
    data, name = (file.file.read(), str(file.filename)) if file and is_file else (table.encode(), "the table")
    try:
        with records.begin() as session:
            swatch_table.bring_table(session, data, name)
    except InputError as error:  # what was sent stands in the text field, so that the one wrong cell can be put right
        return _page(request, records, {"table": data.decode("utf-8", errors="replace")[:200_000]}, error)
    return RedirectResponse(f"{base_path(request)}/shelf/swatches", status_code=303)


@router.post("/shelf/swatches/typed")
def bring_typed(request: Request, records: Opened, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            swatch_table.bring_typed(session, typed)
    except InputError as error:
        return _page(request, records, typed, error)
    return RedirectResponse(f"{base_path(request)}/shelf/swatches", status_code=303)


@router.post("/shelf/swatches/{swatch_id}/remove")
def remove_swatch(request: Request, records: Opened, swatch_id: int) -> Response:
    with records.begin() as session:
        swatches_of.remove_swatch(session, swatch_id)
    return RedirectResponse(f"{base_path(request)}/shelf/swatches", status_code=303)


def _page(request: Request, records: Opened, typed: dict[str, str], error: InputError | None) -> Response:
    with records.read() as session:
        view = swatch_table.swatches_view(session)
    status = 422 if error else 200
    return render(request, "colours/swatches.html", view, status_code=status, typed=typed, error=error)
