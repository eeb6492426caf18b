"""Judging by photo: take photos in, mark them, read the verdict."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, File, Form, Query, Request, Response, UploadFile
from fastapi.responses import JSONResponse, RedirectResponse
from pydantic import BaseModel

from dyewright.errors import InputError
from dyewright.services import photos
from dyewright.services.judging import left_out, taking_in, verdict_page
from dyewright.services.judging import marks as judge_marks
from dyewright.services.judging import pages as judge_pages
from dyewright.services.judging import queue as judge_queue
from dyewright.web.door import Door, Entered, Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()
AFTER_MARKING = {"swatches": "/shelf/swatches/from-photo"}  # where one goes who marks for something else than a verdict
PART_OF = {"swatches": "/shelf"}  # the entry of the main navigation that such marking belongs to
FOREVER = {"Cache-Control": "private, max-age=31536000, immutable"}  # a verdict's picture never changes
Photos = Annotated[list[UploadFile | str] | None, File()]  # an empty field of files arrives as an empty text


class MarkingAsked(BaseModel):
    """What the address of a marking page may say."""

    then: str = ""  # where marking leads on to
    more: str = ""  # further photos of the lot
    verdict: UUID | None = None  # an earlier verdict to mark again
    at_once: bool = False  # the page comes before anything is looked for, and asks for that itself


@router.get("/judge")
def begin(request: Request, records: Opened) -> Response:
    with records.read() as session:
        return render(request, "judge/begin.html", judge_pages.begin_page(session, None))


@router.get("/runs/{run_id}/judge")
def begin_for_run(request: Request, records: Opened, run_id: UUID) -> Response:
    with records.read() as session:
        return render(request, "judge/begin.html", judge_pages.begin_page(session, run_id))


@router.post("/judge")
def take_in(request: Request, door: Entered, typed: Typed, photo: Photos = None) -> Response:
    return _take_in(request, door, typed, photo or [], None)


@router.post("/runs/{run_id}/judge")
def take_in_for_run(request: Request, door: Entered, run_id: UUID, typed: Typed, photo: Photos = None) -> Response:
    return _take_in(request, door, typed, photo or [], run_id)


@router.post("/judge/photos")
def take_in_one(
    records: Opened, photo: Annotated[UploadFile, File()], sent_as: Annotated[str, Form()] = "", run: UUID | None = None
) -> Response:
    seen = photos.look_at(photo.file.read(), name=photo.filename)
    with records.begin() as session:
        kept = taking_in.take_in_one(session, seen, sent_as, run, datetime.now(UTC))
    return JSONResponse({"id": str(kept.id)})


@router.get("/judge/waiting")
def show_waiting(request: Request, records: Opened, of: UUID | None = None) -> Response:
    with records.read() as session:
        view = judge_queue.waiting_page(session, of)
    if of is not None and view.verdict_id is not None:
        return _go_on(request, f"/verdicts/{view.verdict_id}")
    return render(request, "judge/waiting.html", fragment="judge/_waiting.html", waiting=view)


@router.get("/judge/{photo_id}")
def mark(request: Request, records: Opened, photo_id: UUID, asked: Annotated[MarkingAsked, Query()]) -> Response:
    with records.read() as session:
        view = judge_pages.marking_page(
            session, photo_id, more=asked.more, verdict_id=asked.verdict, is_looked_at=not asked.at_once
        )
    return _marking(request, view, asked.then)


@router.post("/judge/{photo_id}")
def decide(request: Request, door: Entered, photo_id: UUID, typed: Typed) -> Response:
    try:
        page = _judge_later(door, photo_id, typed) if typed.get("more", "").strip() else _judge(door, photo_id, typed)
    except InputError as error:
        with door.records().read() as session:
            view = judge_pages.marking_page(session, photo_id, typed)
        return _marking(request, view, typed.get("then", ""), error)
    return RedirectResponse(f"{base_path(request)}{page}", status_code=303)


@router.get("/verdicts/{judgement_id}")
def show_verdict(request: Request, records: Opened, judgement_id: UUID, orders: str = "") -> Response:
    with records.read() as session:
        view = verdict_page.verdict_page(session, judgement_id, orders)
    return render(request, "judge/verdict.html", view, status_code=422 if view["error"] else 200)


@router.get("/verdicts/{judgement_id}/overlay.png")
def show_overlay(records: Opened, judgement_id: UUID, photo: int = 1) -> Response:
    with records.read() as session:
        content = verdict_page.overlay_png(session, judgement_id, photo)
    return Response(content, media_type="image/png", headers=FOREVER)


@router.get("/verdicts/{judgement_id}/left-out.png")
def show_left_out(records: Opened, judgement_id: UUID, photo: Annotated[int, Query(ge=1)] = 1) -> Response:
    with records.read() as session:
        content = left_out.left_out_png(session, judgement_id, photo)
    return Response(content, media_type="image/png", headers=FOREVER)


def _take_in(
    request: Request, door: Door, typed: Mapping[str, str], files: Sequence[UploadFile | str], run_id: UUID | None
) -> Response:
    sent = [(file.filename, file.file.read()) for file in files if not isinstance(file, str)]
    try:
        seen = taking_in.look_at_all(sent)
        with door.records().begin() as session:
            taken = taking_in.take_in(session, seen, typed, run_id, datetime.now(UTC))
    except InputError as error:
        with door.records().read() as session:
            view = judge_pages.begin_page(session, run_id)
        return render(request, "judge/begin.html", view, error=error, how=typed.get("how", ""), status_code=422)
    if taken.is_waiting:
        door.judge_what_waits()
    where = f"{base_path(request)}{taken.page}"
    return JSONResponse({"page": where}) if taken.at_once else RedirectResponse(where, status_code=303)


def _judge(door: Door, photo_id: UUID, typed: Mapping[str, str]) -> str:
    """Judge one photo now, and return the page of its verdict."""
    marks = judge_marks.read_marks(typed)
    with door.records().read() as session:
        contents = judge_pages.photo_contents(session, [photo_id])
    result = judge_pages.judge_marked(contents, marks)
    with door.records().read() as session:
        result = judge_pages.with_ways_of(session, photo_id, result)
    with door.records().begin() as session:
        kept = judge_pages.keep_verdict(session, photo_id, result, typed, datetime.now(UTC))
    return f"{AFTER_MARKING.get(typed.get('then', ''), '/verdicts')}/{kept.id}"


def _judge_later(door: Door, photo_id: UUID, typed: Mapping[str, str]) -> str:
    """Let several photos of a lot be judged by the worker, and return the page that waits for it."""
    with door.records().begin() as session:
        work = judge_queue.ask(session, photo_id, typed, datetime.now(UTC))
    door.judge_what_waits()
    return f"/judge/waiting?of={work.id}"


def _go_on(request: Request, page: str) -> Response:
    """Lead on to a page, also where htmx asked for a fragment of this one."""
    where = f"{base_path(request)}{page}"
    if request.headers.get("hx-request") == "true":
        return Response(headers={"HX-Redirect": where})
    return RedirectResponse(where, status_code=303)


def _marking(request: Request, view: Mapping[str, object], then: str, error: InputError | None = None) -> Response:
    here = {"here": PART_OF[then]} if then in PART_OF else {}
    code = 422 if error else 200
    return render(
        request, "judge/mark.html", view, fragment="judge/_marks.html", error=error, then=then, status_code=code, **here
    )
