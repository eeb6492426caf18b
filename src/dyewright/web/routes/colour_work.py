"""Colours from what is dyed already: over-dyeing, and yarns plied or carded from dyed fibre."""

from fastapi import APIRouter, Request, Response

from dyewright.errors import InputError
from dyewright.services.colour_pages import blend_page, overdye_page
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/colours/overdye")
def show_overdye(request: Request, records: Opened) -> Response:
    asked, error = dict(request.query_params), None
    with records.read() as session:
        view = overdye_page.overdye_view(session)
        try:
            view["page"] = overdye_page.overdye_page(session, asked)
        except InputError as wrong:
            error, view["page"] = wrong, None
    return render(request, "colours/overdye.html", view, status_code=422 if error else 200, typed=asked, error=error)


@router.get("/colours/blend")
def show_blend(request: Request, records: Opened) -> Response:
    asked, error = dict(request.query_params), None
    with records.read() as session:
        view = blend_page.blend_view(session, asked)
        try:
            view["blend"] = blend_page.blend_of(session, asked)
        except InputError as wrong:
            error, view["blend"] = wrong, None
    return render(request, "colours/blend.html", view, status_code=422 if error else 200, error=error)
