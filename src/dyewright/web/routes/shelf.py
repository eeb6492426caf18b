"""The shelf: dyes, bases and pots at hand, and what the studio says of itself."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from sqlalchemy.orm import Session

from dyewright.core.model import DyeClass, Heating, Spoons
from dyewright.errors import InputError, NotFoundError
from dyewright.records import shelf as records_of
from dyewright.services import shelf
from dyewright.web.door import Entered, Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@dataclass(frozen=True)
class _Kind:
    """One kind of thing on the shelf: how it is named, fetched, read from a form, saved and taken away."""

    words: str
    page: str
    fetch: Callable[[Session, int], Any]
    read: Callable[[dict[str, str], int | None], Any]
    save: Callable[[Session, Any], Any]
    remove: Callable[[Session, int], None]


KINDS = {
    "dyes": _Kind(
        "dye", "shelf/dye.html", records_of.dye, shelf.dye_from_form, records_of.save_dye, records_of.remove_dye
    ),
    "bases": _Kind(
        "base", "shelf/base.html", records_of.base, shelf.base_from_form, records_of.save_base, records_of.remove_base
    ),
    "pots": _Kind(
        "pot",
        "shelf/pot.html",
        records_of.vessel,
        shelf.vessel_from_form,
        records_of.save_vessel,
        records_of.remove_vessel,
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
        item = _kind(kind).fetch(session, item_id)
    return render(request, _kind(kind).page, OPTIONS, typed=shelf.form_of(item), item_id=item_id, kind=kind)


@router.post("/shelf/{kind}/new")
def add_item(request: Request, records: Opened, kind: str, typed: Typed) -> Response:
    return _save(request, records, kind, None, typed)


@router.post("/shelf/{kind}/{item_id}")
def change_item(request: Request, records: Opened, kind: str, item_id: int, typed: Typed) -> Response:
    return _save(request, records, kind, item_id, typed)


def _save(request: Request, records: Opened, kind: str, item_id: int | None, typed: dict[str, str]) -> Response:
    try:
        with records.begin() as session:
            _kind(kind).save(session, _kind(kind).read(typed, item_id))
    except InputError as error:
        more = {"typed": typed, "error": error, "item_id": item_id, "kind": kind}
        return render(request, _kind(kind).page, {**OPTIONS, **more}, status_code=422)
    return RedirectResponse(f"{base_path(request)}/shelf#{kind}", status_code=303)


@router.post("/shelf/{kind}/{item_id}/remove")
def remove_item(request: Request, records: Opened, kind: str, item_id: int) -> Response:
    with records.begin() as session:
        _kind(kind).remove(session, item_id)
    return RedirectResponse(f"{base_path(request)}/shelf#{kind}", status_code=303)
