"""The page on water: what the acid does in it."""

from fastapi import APIRouter, Request, Response

from dyewright.errors import InputError
from dyewright.services.water_bench import ADDITION_ROWS, assistant_names, blank_form, water_bench
from dyewright.web.door import Entered, Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/water")
def show_water(request: Request, _: Opened, door: Entered) -> Response:
    settings = door.settings()
    typed = dict(request.query_params)
    view = {"typed": typed or blank_form(settings), "rows": ADDITION_ROWS, "names": assistant_names(), "answer": None}
    try:
        view["answer"] = water_bench(typed, settings) if typed else None
    except InputError as error:
        return render(request, "water/index.html", view, fragment="water/_bench.html", status_code=422, error=error)
    return render(request, "water/index.html", view, fragment="water/_bench.html")
