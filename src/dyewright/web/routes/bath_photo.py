"""The bath's clarity from a photo of glasses: mark them, read, keep the reading."""

from datetime import UTC, datetime
from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import photos as records_of
from dyewright.services import bath_photo
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()
PATH = "/runs/{run_id}/photos/{photo_id}/bath"


@router.get(PATH)
def mark_glasses(request: Request, records: Opened, run_id: UUID, photo_id: UUID) -> Response:
    with records.read() as session:
        view = bath_photo.marking_page(session, run_id, photo_id, {})
    return render(request, "runs/bath_photo.html", view, read=None, error=None)


@router.post(PATH)
def read_glasses(request: Request, records: Opened, run_id: UUID, photo_id: UUID, typed: Typed) -> Response:
    with records.read() as session:
        view = bath_photo.marking_page(session, run_id, photo_id, typed)
        content, before = records_of.photo_content(session, photo_id), bath_photo.bath_before(session, run_id)
    try:
        read = bath_photo.read_photo(content, typed, before)
    except InputError as error:
        return render(request, "runs/bath_photo.html", view, read=None, error=error, status_code=422)
    if "keep" not in typed:
        return render(request, "runs/bath_photo.html", view, read=read, error=None)
    with records.begin() as session:
        bath_photo.keep_reading(session, run_id, photo_id, read, event_id=typed.get("id", ""), now=datetime.now(UTC))
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}/pot", status_code=303)
