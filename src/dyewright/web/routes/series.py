"""Series of skeins: from one colour to another, or over a triangle of three dyes."""

from fastapi import APIRouter, Request, Response

from dyewright.errors import InputError, NoMatchError
from dyewright.services.colour_pages import series_page
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/colours/series")
def show_series(request: Request, records: Opened) -> Response:
    asked, error = dict(request.query_params), None
    with records.read() as session:
        view = series_page.series_view(session)
        try:
            view["page"] = series_page.series_page(session, asked)
        except (InputError, NoMatchError) as wrong:
            error, view["page"] = wrong, None
    return render(request, "series/show.html", view, status_code=422 if error else 200, typed=asked, error=error)
