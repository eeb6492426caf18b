"""Experiments: planned, printed, dyed, read, and what they taught."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, File, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from dyewright.errors import InputError
from dyewright.records import Records
from dyewright.records import experiments as records_of
from dyewright.services import photos
from dyewright.services.experiments import colours as experiment_colours
from dyewright.services.experiments import doing
from dyewright.services.experiments import page as experiment_pages
from dyewright.services.experiments import plan as experiment_plan
from dyewright.services.experiments import sheet as experiment_sheet
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/experiments")
def show_experiments(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "experiments/index.html", experiment_pages.experiments_page(session))


@router.get("/experiments/new")
def plan(request: Request, records: Opened) -> Response:
    return _planning(request, records, dict(request.query_params))


@router.post("/experiments/new")
def keep_plan(request: Request, records: Opened, typed: Typed) -> Response:
    if "keep" not in typed:
        return _planning(request, records, typed)
    try:
        with records.begin() as session:
            kept = experiment_plan.keep_plan(session, typed, today=_now().date())
    except InputError as error:
        return _planning(request, records, typed, error)
    return RedirectResponse(f"{base_path(request)}/experiments/{kept.id}", status_code=303)


@router.get("/experiments/{experiment_id}")
def show_experiment(request: Request, records: Opened, experiment_id: int) -> Response:
    return _showing(request, records, experiment_id)


@router.get("/experiments/{experiment_id}/sheet.pdf")
def print_sheet(records: Opened, experiment_id: int) -> Response:
    with records.read() as session:
        content = experiment_sheet.print_sheet(session, experiment_id)
    return _pdf(content, "experiment.pdf")


@router.get("/experiments/{experiment_id}/labels.pdf")
def print_labels(request: Request, records: Opened, experiment_id: int) -> Response:
    page_url = f"{str(request.base_url).rstrip('/')}/experiments/{experiment_id}"
    with records.read() as session:
        content = experiment_sheet.print_labels(session, experiment_id, page_url=page_url)
    return _pdf(content, "labels.pdf")


@router.get("/experiments/{experiment_id}/cards.pdf")
def print_cards(records: Opened, experiment_id: int) -> Response:
    with records.read() as session:
        content = experiment_pages.print_cards(session, experiment_id)
    return _pdf(content, "cards.pdf")


@router.post("/experiments/{experiment_id}/runs")
def make_runs(request: Request, records: Opened, experiment_id: int) -> Response:
    with records.begin() as session:
        doing.make_runs(session, experiment_id, now=_now())
    return RedirectResponse(f"{base_path(request)}/experiments/{experiment_id}#samples", status_code=303)


@router.post("/experiments/{experiment_id}/readings")
def keep_readings(request: Request, records: Opened, experiment_id: int, typed: Typed) -> Response:
    try:
        with records.begin() as session:
            doing.keep_readings(session, experiment_id, typed, now=_now())
    except InputError as error:
        return _showing(request, records, experiment_id, typed, error)
    return RedirectResponse(f"{base_path(request)}/experiments/{experiment_id}", status_code=303)


@router.post("/experiments/{experiment_id}/photo")
def take_in(request: Request, records: Opened, experiment_id: int, photo: Annotated[UploadFile, File()]) -> Response:
    try:
        seen = photos.look_at(photo.file.read(), name=photo.filename)
        with records.begin() as session:
            kept = photos.keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=_now())
    except InputError as error:
        return _assigning(request, records, experiment_id, None, error=error)
    return RedirectResponse(f"{base_path(request)}/judge/{kept.id}", status_code=303)


@router.get("/experiments/{experiment_id}/colours")
def assign(request: Request, records: Opened, experiment_id: int, judgement: UUID | None = None) -> Response:
    return _assigning(request, records, experiment_id, judgement)


@router.post("/experiments/{experiment_id}/colours")
def keep_colours(
    request: Request, records: Opened, experiment_id: int, typed: Typed, judgement: UUID | None = None
) -> Response:
    try:
        with records.begin() as session:
            experiment_colours.keep_colours(session, experiment_id, judgement, typed)
    except InputError as error:
        return _assigning(request, records, experiment_id, judgement, typed=typed, error=error)
    return RedirectResponse(f"{base_path(request)}/experiments/{experiment_id}", status_code=303)


@router.post("/experiments/{experiment_id}/remove")
def remove(request: Request, records: Opened, experiment_id: int) -> Response:
    with records.begin() as session:
        records_of.remove_experiment(session, experiment_id)
    return RedirectResponse(f"{base_path(request)}/experiments", status_code=303)


def _now() -> datetime:
    return datetime.now(UTC)


def _planning(request: Request, records: Records, typed: dict[str, str], error: InputError | None = None) -> Response:
    with records.read() as session:
        view = experiment_plan.planning_page(session, typed, today=_now().date())
    wrong = error or view["error"]
    return render(request, "experiments/plan.html", {**view, "error": wrong}, status_code=422 if wrong else 200)


def _showing(
    request: Request,
    records: Records,
    experiment_id: int,
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
) -> Response:
    with records.read() as session:
        view = experiment_pages.experiment_page(session, experiment_id, typed, now=_now())
    wrong = error or view["error"]
    return render(request, "experiments/show.html", {**view, "error": wrong}, status_code=422 if wrong else 200)


def _assigning(
    request: Request,
    records: Records,
    experiment_id: int,
    judgement_id: UUID | None,
    *,
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
) -> Response:
    with records.read() as session:
        view = experiment_colours.assign_page(session, experiment_id, judgement_id, typed)
    home = f"/experiments/{experiment_id}"
    status = 422 if error else 200
    return render(
        request, "tagged/which.html", view, thing="sample", home=home, part="colours", error=error, status_code=status
    )


def _pdf(content: bytes, name: str) -> Response:
    return Response(
        content, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )
