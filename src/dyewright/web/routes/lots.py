"""The lot book."""

from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.services import lot_page, lot_papers
from dyewright.services.swatches import from_lot as swatch_lot
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
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
        return render(request, "lots/lot.html", lot_page.lot_page(session, lot_id), typed={})


@router.post("/lots/{lot_id}/swatch")
def keep_as_swatch(request: Request, records: Opened, lot_id: UUID) -> Response:
    with records.begin() as session:
        kept = swatch_lot.keep_lot_as_swatch(session, lot_id)
    return RedirectResponse(f"{base_path(request)}/shelf/swatches/{kept.id}", status_code=303)


@router.post("/lots/{lot_id}/skeins/{number}/caution")
def write_caution(request: Request, records: Opened, lot_id: UUID, number: int, typed: Typed) -> Response:
    """Write the sentence for the buyer onto the label of one skein."""
    try:
        with records.begin() as session:
            lot_papers.write_caution(session, lot_id, number, typed.get(f"caution_{number}", ""))
    except InputError as error:
        with records.read() as session:
            view = lot_page.lot_page(session, lot_id)
        return render(request, "lots/lot.html", view, typed=typed, error=error, status_code=422)
    return RedirectResponse(f"{base_path(request)}/lots/{lot_id}#labels", status_code=303)


@router.get("/lots/{lot_id}/snip-card.pdf")
def print_snip_card(request: Request, records: Opened, lot_id: UUID) -> Response:
    page_url = f"{str(request.base_url).rstrip('/')}/lots/{lot_id}"
    with records.read() as session:
        return _pdf(lot_papers.print_snip_card(session, lot_id, page_url=page_url), "snip-card.pdf")


@router.get("/lots/{lot_id}/labels.pdf")
def print_labels(records: Opened, lot_id: UUID) -> Response:
    with records.read() as session:
        return _pdf(lot_papers.print_labels(session, lot_id), "labels.pdf")


def _pdf(content: bytes, name: str) -> Response:
    return Response(
        content, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )
