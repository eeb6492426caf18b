"""A judged photo as a picture for the shop: seen beside what the camera made of it, and taken along."""

from uuid import UUID

from fastapi import APIRouter, Request, Response

from dyewright.services.judging import shop_picture
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a verdict's picture never changes


@router.get("/verdicts/{judgement_id}/shop")
def show_shop_picture(request: Request, records: Opened, judgement_id: UUID) -> Response:
    wanted = shop_picture.wish(request.query_params)
    with records.read() as session:
        at = shop_picture.sitting(session, judgement_id, wanted.photo)
    return render(request, "judge/shop.html", shop_picture.shop_page(at, wanted))


@router.get("/verdicts/{judgement_id}/shop.jpg")
def send_shop_picture(request: Request, records: Opened, judgement_id: UUID) -> Response:
    """Answer with the picture, or with the same part `as=taken` by the camera."""
    wanted = shop_picture.wish(request.query_params)
    with records.read() as session:
        at = shop_picture.sitting(session, judgement_id, wanted.photo)
    is_taken = request.query_params.get("as") == "taken"
    content = shop_picture.as_taken(at, wanted) if is_taken else shop_picture.shop_picture(at, wanted).jpeg
    return Response(content, media_type="image/jpeg", headers=FOREVER)
