"""Today's page: what is at the pot, what waits, and the quickest way to the next sheet."""

from fastapi import APIRouter, Request, Response

from dyewright.services.today import today_view
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/")
def show_today(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "today.html", today_view(session))
