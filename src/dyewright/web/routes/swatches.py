"""Swatches on the shelf: bring in a photo, a table, type one, put one right, take one away, save the table."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import swatches as swatches_of
from dyewright.services import photos
from dyewright.services.swatches import from_photo as swatch_photo
from dyewright.services.swatches import health as swatch_health
from dyewright.services.swatches import page as swatch_page
from dyewright.services.swatches import table as swatch_table
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/shelf/swatches")
def show_swatches(request: Request, records: Opened, kept: int = 0) -> Response:
    return _page(request, records, {}, None, kept=kept)


@router.get("/shelf/swatches/checked")
def show_checked(request: Request, records: Opened) -> Response:
    with records.read() as session:
        view = {**swatch_page.swatches_page(session), "health": swatch_health.health(session)}
    return render(request, "swatches/index.html", view, fragment="swatches/_record.html", typed={}, kept=0)


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
    table_base: Annotated[str, Form()] = "",
) -> Response:
    is_file = file is not None and bool(file.filename)
    data, name = (file.file.read(), str(file.filename)) if file and is_file else (table.encode(), "the table")
    try:
        with records.begin() as session:
            kept = swatch_table.bring_table(session, data, name, base=table_base)
    except InputError as error:  # what was sent stands in the text field, so that the one wrong cell can be put right
        sent = data.decode("utf-8", errors="replace")[:200_000]
        return _page(request, records, {"table": sent, "table_base": table_base}, error)
    return _to(request, f"?kept={len(kept)}")


@router.post("/shelf/swatches/typed")
def bring_typed(request: Request, records: Opened, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            swatch_table.bring_typed(session, typed)
    except InputError as error:
        return _page(request, records, typed, error)
    return _to(request, "?kept=1")


@router.post("/shelf/swatches/photo")
def bring_photo(request: Request, records: Opened, photo: Annotated[UploadFile, File()]) -> Response:
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            kept = photos.keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=datetime.now(UTC))
    except InputError as error:
        return _page(request, records, {}, InputError(error.message, field="photo"))
    return RedirectResponse(f"{base_path(request)}/judge/{kept.id}?then=swatches", status_code=303)


@router.get("/shelf/swatches/from-photo/{judgement_id}")
def show_photo(request: Request, records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        return render(request, "swatches/from_photo.html", swatch_photo.from_photo_page(session, judgement_id))


@router.post("/shelf/swatches/from-photo/{judgement_id}")
def keep_from_photo(request: Request, records: Opened, judgement_id: UUID, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            kept = swatch_photo.keep_from_photo(session, judgement_id, typed)
    except InputError as error:
        with records.read() as session:
            view = swatch_photo.from_photo_page(session, judgement_id, typed)
        return render(request, "swatches/from_photo.html", view, status_code=422, error=error)
    return _to(request, f"?kept={len(kept)}")


@router.get("/shelf/swatches/{swatch_id}")
def show_swatch(request: Request, records: Opened, swatch_id: int) -> Response:
    return _swatch(request, records, swatch_id)


@router.get("/shelf/swatches/{swatch_id}/check")
def check_swatch(request: Request, records: Opened, swatch_id: int) -> Response:
    with records.read() as session:
        view = swatch_page.swatch_page(session, swatch_id)
        check = swatch_health.swatch_check(session, swatch_id)
    return render(request, "swatches/swatch.html", view, fragment="swatches/_check.html", check=check)


@router.post("/shelf/swatches/{swatch_id}")
def change_swatch(request: Request, records: Opened, swatch_id: int, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            swatch_table.change_typed(session, swatch_id, typed)
    except InputError as error:
        return _swatch(request, records, swatch_id, typed, error)
    return _to(request, f"/{swatch_id}")


@router.post("/shelf/swatches/{swatch_id}/remove")
def remove_swatch(request: Request, records: Opened, swatch_id: int) -> Response:
    with records.begin() as session:
        swatches_of.remove_swatch(session, swatch_id)
    return _to(request)


def _swatch(
    request: Request,
    records: Opened,
    swatch_id: int,
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
) -> Response:
    with records.read() as session:
        view = swatch_page.swatch_page(session, swatch_id)
    shown = view if typed is None else {**view, "typed": typed}
    return render(request, "swatches/swatch.html", shown, status_code=422 if error else 200, check=None, error=error)


def _to(request: Request, place: str = "") -> Response:
    return RedirectResponse(f"{base_path(request)}/shelf/swatches{place}", status_code=303)


def _page(
    request: Request, records: Opened, typed: dict[str, str], error: InputError | None, *, kept: int = 0
) -> Response:
    with records.read() as session:
        view = {**swatch_page.swatches_page(session), "health": None}
    status = 422 if error else 200
    return render(request, "swatches/index.html", view, status_code=status, typed=typed, error=error, kept=kept)
