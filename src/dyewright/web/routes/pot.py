"""The pot screen, and the ways in which what happens there reaches the record."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Body, File, Form, Request, Response, UploadFile
from fastapi.responses import JSONResponse, RedirectResponse

from dyewright.core.model import Outcome, Receipt
from dyewright.errors import InputError
from dyewright.services import photos, pot_screen, pot_taps, running
from dyewright.services.plain import plain
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


def _now() -> datetime:
    return datetime.now(UTC)


def _receipts(receipts: list[Receipt]) -> dict[str, object]:
    return {"results": plain(receipts)}


@router.get("/runs/{run_id}/pot")
def show_pot(request: Request, records: Opened, run_id: UUID) -> Response:
    with records.read() as session:
        return render(request, "runs/pot.html", pot_screen.pot_screen(session, run_id, now=_now()))


@router.post("/runs/{run_id}/events")
def take_events(
    records: Opened, run_id: UUID, events: Annotated[list[dict[str, object]], Body(embed=True, max_length=500)]
) -> dict[str, object]:
    with records.begin() as session:
        return _receipts(running.record_events(session, run_id, events, now=_now()))


@router.post("/runs/{run_id}/events/photo")
def take_photo(
    request: Request,
    records: Opened,
    run_id: UUID,
    photo: Annotated[UploadFile, File()],
    id: Annotated[str, Form()],  # noqa: A002 - the event's own identifier, as everywhere in the queue
    happened_at: Annotated[str, Form()] = "",
) -> Response:
    is_from_queue = "application/json" in request.headers.get("accept", "")
    now = _now()
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            receipt = photos.record_photo(
                session, run_id, seen, event_id=id, happened_at=happened_at or now.isoformat(), now=now
            )
    except InputError as error:
        if not is_from_queue:
            raise
        receipt = Receipt(id, Outcome.REFUSED, error.message)
    if is_from_queue:
        return JSONResponse(_receipts([receipt]))
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}/pot", status_code=303)


@router.post("/runs/{run_id}/observe")
def observe(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    with records.begin() as session:
        question = pot_taps.observe(session, run_id, typed, now=_now())
    if question is not None:
        return render(request, "runs/pot_question.html", question=question, run_id=run_id, status_code=422)
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}{pot_taps.place_to_go_on(typed)}", status_code=303)
