"""Where the shelf reaches: a map of its colours on a base."""

from fastapi import APIRouter, Request, Response

from dyewright.errors import InputError
from dyewright.services.colour_pages import reach_page as reach
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/reach")
def show_reach(request: Request, records: Opened) -> Response:
    asked, error = dict(request.query_params), None
    with records.read() as session:
        view = reach.reach_view(session)
        try:
            view["page"] = reach.reach_page(session, asked)
        except InputError as wrong:
            error, view["page"] = wrong, None
    return render(request, "reach/show.html", view, status_code=422 if error else 200, typed=asked, error=error)
