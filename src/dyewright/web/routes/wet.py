"""Wet and dry: a snip judged at the pot, and what the yarn of a base does as it dries."""

from datetime import UTC, datetime
from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.services.judging import snip_photo, wet
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/verdicts/{judgement_id}/snip")
def show_snip(request: Request, records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        view = snip_photo.snip_page(session, judgement_id, dict(request.query_params))
    return render(request, "judge/snip.html", view)


@router.get("/shelf/bases/{base_id}/wet")
def show_wet(request: Request, records: Opened, base_id: int) -> Response:
    with records.read() as session:
        return render(request, "shelf/wet.html", wet.wet_page(session, base_id), typed={})


@router.post("/shelf/bases/{base_id}/wet")
def add_pair(request: Request, records: Opened, base_id: int, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            wet.add_pair(session, base_id, typed, today=datetime.now(UTC).date())
    except InputError as error:
        with records.read() as session:
            view = wet.wet_page(session, base_id)
        return render(request, "shelf/wet.html", view, typed=typed, error=error, status_code=422)
    return RedirectResponse(f"{base_path(request)}/shelf/bases/{base_id}/wet", status_code=303)


@router.post("/shelf/bases/{base_id}/wet/{pair_id}/remove")
def remove_pair(request: Request, records: Opened, base_id: int, pair_id: int) -> Response:
    with records.begin() as session:
        wet.remove_pair(session, base_id, pair_id)
    return RedirectResponse(f"{base_path(request)}/shelf/bases/{base_id}/wet", status_code=303)
