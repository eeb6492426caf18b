"""Heat-ups of a pot: entered on its page, and taken away again."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.core.model import Heating
from dyewright.errors import InputError
from dyewright.records import heat_ups as records_of
from dyewright.records import shelf as shelf_of
from dyewright.services import heat_ups, shelf
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.post("/shelf/pots/{vessel_id}/heat-ups")
def keep(request: Request, records: Opened, vessel_id: int, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            heat_ups.keep_heat_up(session, typed, vessel_id)
    except InputError as error:
        with records.read() as session:
            view = {**heat_ups.pot_page(session, vessel_id), "heatings": list(Heating), "heat_error": error}
            pot = shelf.form_of(shelf_of.vessel(session, vessel_id))
        more = {"typed": pot, "heat_typed": typed, "item_id": vessel_id, "kind": "pots"}
        return render(request, "shelf/pot.html", {**view, **more}, status_code=422)
    return RedirectResponse(f"{base_path(request)}/shelf/pots/{vessel_id}#heat-ups", status_code=303)


@router.post("/shelf/pots/{vessel_id}/heat-ups/{heat_up_id}/remove")
def remove(request: Request, records: Opened, vessel_id: int, heat_up_id: int) -> Response:
    with records.begin() as session:
        records_of.remove_heat_up(session, heat_up_id)
    return RedirectResponse(f"{base_path(request)}/shelf/pots/{vessel_id}#heat-ups", status_code=303)
