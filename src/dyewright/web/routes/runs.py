"""The runs: their list, and one run's page with its forms."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Query, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import Records
from dyewright.records import photos as records_of
from dyewright.services import photos, run_forms, run_page, running
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a photo's bytes never change


def _now() -> datetime:
    return datetime.now(UTC)


@router.get("/runs")
def show_runs(request: Request, records: Opened, below: Annotated[int | None, Query(le=2**31 - 1)] = None) -> Response:
    with records.read() as session:
        return render(request, "runs/index.html", run_page.runs_page(session, below_number=below))


@router.get("/runs/{run_id}")
def show_run(request: Request, records: Opened, run_id: UUID, label: str = "") -> Response:
    return _page(request, records, run_id, label=label)


@router.post("/runs/{run_id}/late")
def enter_late(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    return _done(request, records, run_id, typed, "late", run_forms.enter_late)


@router.post("/runs/{run_id}/undo")
def take_back(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    return _done(request, records, run_id, typed, "log", run_forms.take_back)


@router.post("/runs/{run_id}/keep")
def keep(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    return _done(request, records, run_id, typed, "keep", run_forms.keep)


@router.post("/runs/{run_id}/repeat")
def repeat(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    try:
        with records.read() as session:
            planned = run_forms.repeated(session, run_id, typed, now=_now())
        with records.begin() as session:
            again = running.keep_run(session, planned)
    except InputError as error:
        return _page(request, records, run_id, form="repeat", typed=typed, error=error)
    return RedirectResponse(f"{base_path(request)}/runs/{again.id}", status_code=303)


@router.post("/runs/{run_id}/photo")
def take_photo(
    request: Request, records: Opened, run_id: UUID, photo: Annotated[UploadFile, File()], typed: Typed
) -> Response:
    now, sent = _now(), typed.get("id") or str(uuid4())
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            photos.record_photo(session, run_id, seen, event_id=sent, happened_at=now.isoformat(), now=now)
    except InputError as error:
        return _page(request, records, run_id, form="photo", typed={}, error=error)
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}#photos", status_code=303)


@router.get("/photos/{photo_id}.jpg")
def show_photo(records: Opened, photo_id: UUID) -> Response:
    with records.read() as session:
        content = run_page.photo_as_shown(session, photo_id)
    return Response(content, media_type="image/jpeg", headers=FOREVER)


@router.get("/photos/{photo_id}/original")
def download_photo(records: Opened, photo_id: UUID) -> Response:
    with records.read() as session:
        kept, content = records_of.photo(session, photo_id), records_of.photo_content(session, photo_id)
    return Response(content, media_type=kept.media_type, headers={**FOREVER, "Content-Disposition": "attachment"})


def _done(
    request: Request,
    records: Records,
    run_id: UUID,
    typed: dict[str, str],
    form: str,
    task: Callable[..., object],
) -> Response:
    """Do what a form asks, and go back to the page; show the page with what was typed where it is refused."""
    try:
        with records.begin() as session:
            task(session, run_id, typed, now=_now())
    except InputError as error:
        return _page(request, records, run_id, form=form, typed=typed, error=error)
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}#{form}", status_code=303)


def _page(
    request: Request,
    records: Records,
    run_id: UUID,
    *,
    form: str = "",
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
    label: str = "",
) -> Response:
    """The page of a run; `form` is the one that was refused, to be shown open with what was typed."""
    sent = typed or {}
    with records.read() as session:
        view = run_page.run_page(session, run_id, now=_now(), typed=sent, label=label)
        status = 422 if error else 200
        return render(request, "runs/run.html", view, form=form, typed=sent, error=error, status_code=status)
