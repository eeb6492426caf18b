"""Judging by photo: take a photo in, mark it, read the verdict."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import Records
from dyewright.records import photos as records_of
from dyewright.records import runs as runs_of
from dyewright.services import photos
from dyewright.services.judging import pages as judge_pages
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()
AFTER_MARKING = {"swatches": "/shelf/swatches/from-photo"}  # where one goes who marks for something else than a verdict
PART_OF = {"swatches": "/shelf"}  # the entry of the main navigation that such marking belongs to
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a verdict's picture never changes


@router.get("/judge")
def begin(request: Request, _: Opened) -> Response:
    return render(request, "judge/begin.html", run=None, photos=[])


@router.get("/runs/{run_id}/judge")
def begin_for_run(request: Request, records: Opened, run_id: UUID) -> Response:
    return _begin(request, records, run_id)


@router.post("/judge")
def take_in(request: Request, records: Opened, photo: Annotated[UploadFile, File()]) -> Response:
    return _take_in(request, records, photo, None)


@router.post("/runs/{run_id}/judge")
def take_in_for_run(request: Request, records: Opened, run_id: UUID, photo: Annotated[UploadFile, File()]) -> Response:
    return _take_in(request, records, photo, run_id)


@router.get("/judge/{photo_id}")
def mark(request: Request, records: Opened, photo_id: UUID, then: str = "") -> Response:
    with records.read() as session:
        return _marking(request, judge_pages.marking_page(session, photo_id), then)


@router.post("/judge/{photo_id}")
def decide(request: Request, records: Opened, photo_id: UUID, typed: Typed) -> Response:
    with records.read() as session:
        content = records_of.photo_content(session, photo_id)
    try:
        result = judge_pages.judge_marked(content, judge_pages.read_marks(typed))
    except InputError as error:
        with records.read() as session:
            view = judge_pages.marking_page(session, photo_id, typed)
        return _marking(request, view, typed.get("then", ""), error)
    with records.begin() as session:
        kept = judge_pages.keep_verdict(session, photo_id, result, datetime.now(UTC))
    page = AFTER_MARKING.get(typed.get("then", ""), "/verdicts")
    return RedirectResponse(f"{base_path(request)}{page}/{kept.id}", status_code=303)


@router.get("/verdicts/{judgement_id}")
def show_verdict(request: Request, records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        return render(request, "judge/verdict.html", judge_pages.verdict_page(session, judgement_id))


@router.get("/verdicts/{judgement_id}/overlay.png")
def show_overlay(records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        content = judge_pages.overlay_png(session, judgement_id)
    return Response(content, media_type="image/png", headers=FOREVER)


def _marking(request: Request, view: Mapping[str, object], then: str, error: InputError | None = None) -> Response:
    here = {"here": PART_OF[then]} if then in PART_OF else {}
    code = 422 if error else 200
    return render(request, "judge/mark.html", view, error=error, then=then, status_code=code, **here)


def _begin(request: Request, records: Records, run_id: UUID | None, error: InputError | None = None) -> Response:
    run, kept = None, []
    if run_id is not None:
        with records.read() as session:
            run, kept = runs_of.run(session, run_id), records_of.photos_of_run(session, run_id)
    return render(request, "judge/begin.html", run=run, photos=kept, error=error, status_code=422 if error else 200)


def _take_in(request: Request, records: Records, photo: UploadFile, run_id: UUID | None) -> Response:
    now = datetime.now(UTC)
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            kept = photos.keep_photo(session, seen, photo_id=uuid4(), run_id=run_id, taken_at=now)
    except InputError as error:
        return _begin(request, records, run_id, error)
    return RedirectResponse(f"{base_path(request)}/judge/{kept.id}", status_code=303)
