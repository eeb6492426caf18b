"""Planning a pot: the form with its answer, keeping the plan, the printed sheet."""

from datetime import UTC, datetime
from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.services import plan_page, running
from dyewright.web.door import Opened
from dyewright.web.forms import Typed
from dyewright.web.render import base_path, render

__all__ = ["router"]

router = APIRouter()


@router.get("/plan")
def show_plan(request: Request, records: Opened) -> Response:
    with records.read() as session:
        typed = plan_page.typed_from_link(session, request.query_params)
        view = plan_page.plan_view(session, typed)
    return _page(request, view)


@router.post("/plan")
def work_out(request: Request, records: Opened, typed: Typed) -> Response:
    with records.read() as session:
        view = plan_page.plan_view(session, typed)
    return _page(request, view)


def _page(request: Request, view: dict[str, object]) -> Response:
    status = 422 if view["error"] else 200
    return render(request, "plan/index.html", view, fragment="plan/_plan.html", status_code=status)


@router.post("/plan/keep")
def keep(request: Request, records: Opened, typed: Typed) -> Response:
    with records.read() as session:
        planned = plan_page.planned_from_form(session, typed, now=datetime.now(UTC))
    with records.begin() as session:
        run = running.keep_run(session, planned)
    return RedirectResponse(f"{base_path(request)}/runs/{run.id}", status_code=303)


@router.post("/plan/sheet.pdf")
def print_plan(records: Opened, typed: Typed) -> Response:
    with records.read() as session:
        content = plan_page.printed_card(session, typed.get("card", ""))
    return _pdf(content)


@router.get("/runs/{run_id}/sheet.pdf")
def print_run(request: Request, records: Opened, run_id: UUID) -> Response:
    url = f"{request.url.scheme}://{request.url.netloc}{base_path(request)}/runs/{run_id}"
    with records.read() as session:
        content = plan_page.printed_run(session, run_id, run_url=url)
    return _pdf(content)


def _pdf(content: bytes) -> Response:
    return Response(
        content, media_type="application/pdf", headers={"Content-Disposition": 'inline; filename="sheet.pdf"'}
    )
