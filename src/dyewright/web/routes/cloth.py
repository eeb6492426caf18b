"""The cloth that a verdict's skeins would make, and how even each is."""

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from dyewright.services.judging import cloth_page
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a verdict's picture never changes


@router.get("/verdicts/{judgement_id}/cloth")
def show_cloth(request: Request, records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        view = cloth_page.cloth_page(session, judgement_id, _typed(request))
    return render(
        request, "judge/cloth.html", view, fragment="judge/_cloth.html", status_code=422 if view["error"] else 200
    )


@router.get("/verdicts/{judgement_id}/cloth.png")
def show_cloth_picture(request: Request, records: Opened, judgement_id: UUID) -> Response:
    with records.read() as session:
        return _png(cloth_page.cloth_picture(session, judgement_id, _typed(request)))


@router.get("/verdicts/{judgement_id}/even/{skein_id}.png")
def show_evenness(
    records: Opened, judgement_id: UUID, skein_id: int, stretch: Annotated[float, Query(ge=1, le=8)] = 1.0
) -> Response:
    with records.read() as session:
        return _png(cloth_page.even_picture(session, judgement_id, skein_id, stretch))


@router.get("/verdicts/{judgement_id}/ways/{way_number}.png")
def show_way(records: Opened, judgement_id: UUID, way_number: int) -> Response:
    with records.read() as session:
        return _png(cloth_page.way_preview(session, judgement_id, way_number))


def _typed(request: Request) -> dict[str, str]:
    """Return the query as one text a field; ticked skeins are sent one by one."""
    asked = request.query_params
    return {**asked, "skeins": ",".join(asked.getlist("skeins"))}


def _png(content: bytes) -> Response:
    return Response(content, media_type="image/png", headers=FOREVER)
