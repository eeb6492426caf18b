"""Colours out of a picture: take a photo in, move its picks, keep the palette; the palettes that are kept."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import colourways as records_of
from dyewright.services import photos
from dyewright.services.picture import frame as picture_frame
from dyewright.services.picture import page as picture
from dyewright.services.picture import palettes as picture_palettes
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a kept photo never changes


@router.get("/colours/picture")
def begin(request: Request, records: Opened) -> Response:
    return _begin(request, records)


@router.post("/colours/picture")
def take_in(request: Request, records: Opened, photo: Annotated[UploadFile, File()]) -> Response:
    now = datetime.now(UTC)
    try:
        seen = picture_frame.look_at_picture(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            kept = photos.keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=now)
    except InputError as error:
        return _begin(request, records, error)
    return RedirectResponse(f"{base_path(request)}/colours/picture/{kept.id}", status_code=303)


@router.get("/colours/picture/{photo_id}")
def show_picture(request: Request, records: Opened, photo_id: UUID) -> Response:
    return _picture(request, records, photo_id, picture.asked_of(request.query_params))


@router.get("/colours/picture/{photo_id}/seen.jpg")
def show_seen(records: Opened, photo_id: UUID) -> Response:
    with records.read() as session:
        content = picture_frame.frame_jpeg(picture_frame.kept_frame(session, photo_id))
    return Response(content, media_type="image/jpeg", headers=FOREVER)


@router.post("/colours/picture/{photo_id}")
def keep(request: Request, records: Opened, photo_id: UUID, typed: Typed) -> Response:
    try:
        with records.read() as session:
            today = datetime.now(UTC).astimezone().date()
            palette, ways = picture_palettes.chosen_palette(session, photo_id, typed, today=today)
        with records.begin() as session:
            kept = picture_palettes.keep_palette(session, palette, ways)
    except InputError as error:
        return _picture(request, records, photo_id, typed, error)
    return RedirectResponse(f"{base_path(request)}/palettes/{kept.id}", status_code=303)


@router.get("/palettes/{palette_id}")
def show_palette(request: Request, records: Opened, palette_id: int) -> Response:
    with records.read() as session:
        view = picture_palettes.palette_page(session, palette_id, dict(request.query_params))
    return render(request, "pictures/palette.html", view, status_code=422 if view["error"] else 200)


@router.post("/palettes/{palette_id}/remove")
def remove_palette(request: Request, records: Opened, palette_id: int) -> Response:
    with records.begin() as session:
        records_of.remove_palette(session, palette_id)
    return RedirectResponse(f"{base_path(request)}/colours", status_code=303)


def _begin(request: Request, records: Opened, error: InputError | None = None) -> Response:
    with records.read() as session:
        view = picture_palettes.palettes_view(session)
    return render(request, "pictures/begin.html", view, error=error, status_code=422 if error else 200)


def _picture(
    request: Request, records: Opened, photo_id: UUID, asked: dict[str, str], error: InputError | None = None
) -> Response:
    with records.read() as session:
        view, wrong = picture.picture_view(session, photo_id, asked)
    error = error or wrong
    return render(
        request,
        "pictures/picture.html",
        fragment="pictures/parts.html",
        status_code=422 if error else 200,
        picture=view,
        typed=asked,
        error=error,
        pick_width_px=picture.PICK_WIDTH_PX,
    )
