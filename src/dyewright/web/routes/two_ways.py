"""Two ways of dyeing beside each other."""

from collections.abc import Mapping

from fastapi import APIRouter, Request, Response

from dyewright.services.comparing.page import two_ways_view
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/two-ways")
def show_two_ways(request: Request, records: Opened) -> Response:
    return _page(request, records, request.query_params)


@router.post("/two-ways")
def set_beside(request: Request, records: Opened, typed: Typed) -> Response:
    return _page(request, records, typed)


def _page(request: Request, records: Opened, typed: Mapping[str, str]) -> Response:
    with records.read() as session:
        view = two_ways_view(session, typed)
    return render(request, "two_ways/show.html", view, status_code=422 if view["error"] else 200)
