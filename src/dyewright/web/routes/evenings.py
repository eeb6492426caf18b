"""Swatch evenings: plan the jars, print the sheet, tell the skeins of a photo apart, keep them as swatches."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import Records
from dyewright.records import evenings as records_of
from dyewright.services import photos
from dyewright.services.evening import judging as evening_judging
from dyewright.services.evening import page as evening_page
from dyewright.services.evening import plan as evening_plan
from dyewright.services.evening import sheet as evening_sheet
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/evenings")
def show_evenings(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "evenings/index.html", evening_page.evenings_page(session))


@router.get("/evenings/new")
def plan(request: Request, records: Opened) -> Response:
    return _planning(request, records, dict(request.query_params), None)


@router.post("/evenings/new")
def keep_plan(request: Request, records: Opened, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            kept = evening_plan.keep_plan(session, typed)
    except InputError as error:
        return _planning(request, records, typed, error)
    return RedirectResponse(f"{base_path(request)}/evenings/{kept.id}", status_code=303)


@router.get("/evenings/{evening_id}")
def show_evening(request: Request, records: Opened, evening_id: int) -> Response:
    return _showing(request, records, evening_id, None, None)


@router.post("/evenings/{evening_id}/set-up")
def keep_set_up(request: Request, records: Opened, evening_id: int, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            evening_sheet.keep_set_up(session, evening_id, typed)
    except InputError as error:
        return _showing(request, records, evening_id, typed, error)
    return RedirectResponse(f"{base_path(request)}/evenings/{evening_id}", status_code=303)


@router.get("/evenings/{evening_id}/sheet.pdf")
def print_sheet(records: Opened, evening_id: int) -> Response:
    with records.read() as session:
        content = evening_sheet.print_evening(session, evening_id)
    return _pdf(content, "evening.pdf")


@router.get("/evenings/{evening_id}/cards.pdf")
def print_cards(records: Opened, evening_id: int) -> Response:
    with records.read() as session:
        content = evening_page.print_cards(session, evening_id)
    return _pdf(content, "cards.pdf")


@router.post("/evenings/{evening_id}/photo")
def take_in(request: Request, records: Opened, evening_id: int, photo: Annotated[UploadFile, File()]) -> Response:
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            kept = photos.keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=datetime.now(UTC))
    except InputError as error:
        return _assigning(request, records, evening_id, None, error=error)
    return RedirectResponse(f"{base_path(request)}/judge/{kept.id}", status_code=303)


@router.get("/evenings/{evening_id}/jars")
def assign(request: Request, records: Opened, evening_id: int, judgement: UUID | None = None) -> Response:
    return _assigning(request, records, evening_id, judgement)


@router.post("/evenings/{evening_id}/jars")
def keep_swatches(
    request: Request, records: Opened, evening_id: int, typed: Typed, judgement: UUID | None = None
) -> Response:
    try:
        with records.begin() as session:
            evening_judging.keep_swatches(session, evening_id, judgement, typed)
    except InputError as error:
        return _assigning(request, records, evening_id, judgement, typed=typed, error=error)
    return RedirectResponse(f"{base_path(request)}/evenings/{evening_id}", status_code=303)


@router.post("/evenings/{evening_id}/remove")
def remove(request: Request, records: Opened, evening_id: int) -> Response:
    with records.begin() as session:
        records_of.remove_evening(session, evening_id)
    return RedirectResponse(f"{base_path(request)}/evenings", status_code=303)


def _planning(request: Request, records: Records, typed: dict[str, str], error: InputError | None) -> Response:
    with records.read() as session:
        view = evening_plan.planning_page(session, typed, today=datetime.now(UTC).date())
    wrong = error or view["error"]
    return render(request, "evenings/plan.html", {**view, "error": wrong}, status_code=422 if wrong else 200)


def _showing(
    request: Request, records: Records, evening_id: int, typed: dict[str, str] | None, error: InputError | None
) -> Response:
    with records.read() as session:
        view = evening_page.evening_page(session, evening_id, typed)
    wrong = error or view["error"]
    return render(request, "evenings/show.html", {**view, "error": wrong}, status_code=422 if wrong else 200)


def _assigning(
    request: Request,
    records: Records,
    evening_id: int,
    judgement_id: UUID | None,
    *,
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
) -> Response:
    with records.read() as session:
        view = evening_judging.assign_page(session, evening_id, judgement_id, typed)
    home = f"/evenings/{evening_id}"
    status = 422 if error else 200
    return render(
        request, "tagged/which.html", view, thing="jar", home=home, part="jars", error=error, status_code=status
    )


def _pdf(content: bytes, name: str) -> Response:
    return Response(
        content, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )
