"""The shelf: dyes, bases and pots at hand, and what the studio says of itself."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from sqlalchemy.orm import Session

from dyewright.core.model import DyeClass, Heating, Spoons
from dyewright.errors import InputError, NotFoundError
from dyewright.records import shelf as records_of
from dyewright.services import heat_ups, shelf
from dyewright.services.swatches import tubs
from dyewright.web.door import Entered, Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@dataclass(frozen=True)
class _Kind:
    """One kind of thing on the shelf: how it is named, fetched, read from a form, saved and taken away.

    `save` gets the form too; `about` gathers what its page shows beside the form.
    """

    words: str
    page: str
    fetch: Callable[[Session, int], Any]
    read: Callable[[dict[str, str], int | None], Any]
    save: Callable[[Session, Any, dict[str, str]], Any]
    remove: Callable[[Session, int], None]
    about: Callable[[Session, int], Mapping[str, object]] = lambda _session, _id: {}


def _as_it_is(save: Callable[[Session, Any], Any]) -> Callable[[Session, Any, dict[str, str]], Any]:
    return lambda session, item, _form: save(session, item)


KINDS = {
    "dyes": _Kind(
        "dye",
        "shelf/dye.html",
        records_of.dye,
        shelf.dye_from_form,
        tubs.save_tub,
        records_of.remove_dye,
        tubs.dye_page,
    ),
    "bases": _Kind(
        "base",
        "shelf/base.html",
        records_of.base,
        shelf.base_from_form,
        _as_it_is(records_of.save_base),
        records_of.remove_base,
    ),
    "pots": _Kind(
        "pot",
        "shelf/pot.html",
        records_of.vessel,
        shelf.vessel_from_form,
        _as_it_is(records_of.save_vessel),
        records_of.remove_vessel,
        heat_ups.pot_page,
    ),
}
OPTIONS: dict[str, object] = {"classes": list(DyeClass), "heatings": list(Heating), "spoon_systems": list(Spoons)}


def _kind(name: str) -> _Kind:
    if name not in KINDS:
        raise NotFoundError(f"the shelf holds dyes, bases and pots, no '{name}'")
    return KINDS[name]


@router.get("/shelf")
def show_shelf(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "shelf/index.html", shelf.shelf_view(session))


@router.get("/shelf/settings")
def show_settings(request: Request, door: Entered) -> Response:
    settings = door.settings()
    return render(request, "shelf/settings.html", OPTIONS, typed=shelf.form_of(settings) if settings else {})


@router.post("/shelf/settings")
def save_settings(request: Request, records: Opened, door: Entered, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            shelf.change_settings(session, typed)
    except InputError as error:
        return render(request, "shelf/settings.html", OPTIONS, status_code=422, typed=typed, error=error)
    door.forget_settings()
    return RedirectResponse(f"{base_path(request)}/shelf", status_code=303)


@router.get("/shelf/{kind}/new")
def new_item(request: Request, _: Opened, kind: str) -> Response:
    return render(request, _kind(kind).page, OPTIONS, typed={"has_lid": "on"}, item_id=None, kind=kind)


@router.get("/shelf/{kind}/{item_id}")
def show_item(request: Request, records: Opened, kind: str, item_id: int) -> Response:
    with records.read() as session:
        item, about = _kind(kind).fetch(session, item_id), _kind(kind).about(session, item_id)
    view = {**OPTIONS, **about}
    return render(request, _kind(kind).page, view, typed=shelf.form_of(item), item_id=item_id, kind=kind)


@router.post("/shelf/{kind}/new")
def add_item(request: Request, records: Opened, kind: str, typed: Typed) -> Response:
    return _save(request, records, kind, None, typed)


@router.post("/shelf/{kind}/{item_id}")
def change_item(request: Request, records: Opened, kind: str, item_id: int, typed: Typed) -> Response:
    return _save(request, records, kind, item_id, typed)


def _save(request: Request, records: Opened, kind: str, item_id: int | None, typed: dict[str, str]) -> Response:
    try:
        with records.begin() as session:
            _kind(kind).save(session, _kind(kind).read(typed, item_id), typed)
    except InputError as error:
        with records.read() as session:
            about = {} if item_id is None else _kind(kind).about(session, item_id)
        more = {"typed": typed, "error": error, "item_id": item_id, "kind": kind}
        return render(request, _kind(kind).page, {**OPTIONS, **about, **more}, status_code=422)
    return RedirectResponse(f"{base_path(request)}/shelf#{kind}", status_code=303)


@router.post("/shelf/{kind}/{item_id}/remove")
def remove_item(request: Request, records: Opened, kind: str, item_id: int) -> Response:
    with records.begin() as session:
        _kind(kind).remove(session, item_id)
    return RedirectResponse(f"{base_path(request)}/shelf#{kind}", status_code=303)
