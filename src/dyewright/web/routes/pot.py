"""The pot screen, and the ways in which what happens there reaches the record."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Body, File, Form, Request, Response, UploadFile
from fastapi.responses import JSONResponse, RedirectResponse

from dyewright.core.model import Receipt
from dyewright.services import photos, pot_screen, running
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
    with records.begin() as session:
        receipt = photos.record_photo(
            session, run_id, photo.file.read(), event_id=id, happened_at=happened_at or _now().isoformat(), now=_now()
        )
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse(_receipts([receipt]))
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}/pot", status_code=303)


@router.post("/runs/{run_id}/observe")
def observe(request: Request, records: Opened, run_id: UUID, typed: Typed) -> Response:
    with records.begin() as session:
        pot_screen.observe(session, run_id, typed, now=_now())
    return RedirectResponse(f"{base_path(request)}/runs/{run_id}/pot", status_code=303)
