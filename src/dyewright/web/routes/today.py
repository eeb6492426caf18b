"""Today's page: what is at the pot, what waits, and the quickest way to the next sheet."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.services.today import today_view
from dyewright.web.door import Entered, Opened
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.post("/anew")
def make_anew(request: Request, door: Entered) -> Response:
    door.renew()
    return RedirectResponse(f"{base_path(request)}/", status_code=303)


@router.get("/")
def show_today(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "today.html", today_view(session))
