"""The forecast of a run: as a page, as the block that other pages fetch, and as a drawing."""

from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from dyewright.errors import NotFoundError
from dyewright.services.forecast_pages import charts
from dyewright.services.forecast_pages import view as forecast_view
from dyewright.sheets.charts import Theme
from dyewright.web.door import Opened
from dyewright.web.render import render

__all__ = ["router"]

router = APIRouter()


@router.get("/runs/{run_id}/forecast")
def show_forecast(request: Request, records: Opened, run_id: UUID) -> Response:
    with records.read() as session:
        title, block = forecast_view.run_block(session, run_id, now=datetime.now(UTC))
    return render(
        request,
        "forecast/page.html",
        fragment="forecast/_forecast.html",
        forecast=block,
        title=title,
        run_id=run_id,
    )


@router.get("/runs/{run_id}/forecast.svg")
def draw_forecast(
    records: Opened,
    run_id: UUID,
    theme: Theme = Theme.LIGHT,
    width_px: Annotated[int, Query(ge=160, le=1600)] = charts.WIDE_PX,
) -> Response:
    with records.read() as session:
        of_run = forecast_view.run_forecast(session, run_id, now=datetime.now(UTC))
    svg = charts.forecast_svg(
        of_run.told, colours=of_run.colours, now_min=of_run.now_min, theme=theme, width_px=width_px
    )
    if svg is None:
        raise NotFoundError("no dye of this run has an uptake model, so there is no curve to draw")
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})
