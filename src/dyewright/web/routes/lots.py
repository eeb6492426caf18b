"""The lot book."""

from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.services import lot_page
from dyewright.services.swatches import from_lot as swatch_lot
from dyewright.web.door import Opened
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/lots")
def show_lots(request: Request, records: Opened) -> Response:
    with records.read() as session:
        view = lot_page.lots_page(session, dict(request.query_params))
        status = 422 if view["error"] else 200
        return render(request, "lots/index.html", view, fragment="lots/_found.html", status_code=status)


@router.get("/lots/{lot_id}")
def show_lot(request: Request, records: Opened, lot_id: UUID) -> Response:
    with records.read() as session:
        return render(request, "lots/lot.html", lot_page.lot_page(session, lot_id))


@router.post("/lots/{lot_id}/swatch")
def keep_as_swatch(request: Request, records: Opened, lot_id: UUID) -> Response:
    with records.begin() as session:
        kept = swatch_lot.keep_lot_as_swatch(session, lot_id)
    return RedirectResponse(f"{base_path(request)}/shelf/swatches/{kept.id}", status_code=303)
