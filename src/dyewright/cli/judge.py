"""`dyewright judge`: do these skeins match, are they even, what colour are they."""

from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import answering, emit_json
from dyewright.cli._verdict_lines import verdict_lines
from dyewright.cli.colour import Base
from dyewright.core.model import Settings
from dyewright.errors import InputError

__all__ = ["judge"]


def judge(
    photos: Annotated[list[Path], typer.Argument(help="Photos of the skeins; several need a chart in each.")],
    *,
    chart: Annotated[
        str,
        typer.Option(
            help='auto, none, corners "x1,y1 x2,y2 x3,y3 x4,y4" of a chart, clockwise from dark skin, or after "grey:" '
            'or "paper:" of a card or paper; paper: the ground.'
        ),
    ] = "auto",
    chart_values: Annotated[Path | None, typer.Option(help="CSV of the chart's own L, a, b, 24 rows.")] = None,
    older_chart: Annotated[bool, typer.Option("--older-chart", help="Chart made before November 2014.")] = False,
    linear: Annotated[bool, typer.Option("--linear", help="The files hold linear light.")] = False,
    box: Annotated[
        list[str] | None,
        typer.Option(help='A skein: "x,y,w,h" in pixels, or its outline "x,y x,y x,y …"; "2:…" on the second photo.'),
    ] = None,
    target: Annotated[str | None, typer.Option(help='The colour that was meant: "lab L a b" or "hex #rrggbb".')] = None,
    tolerance: Annotated[float, typer.Option(help="ΔE00 within which skeins match.")] = Settings.tolerance_de00,
    orders: Annotated[str | None, typer.Option(help='How many skeins that match each order needs: "3, 2".')] = None,
    dyed_with: Annotated[
        list[str] | None,
        typer.Option(help='A dye of the bath, "NAME" or "NAME=acid levelling": what heat does; may repeat.'),
    ] = None,
    shelf: Annotated[Path | None, typer.Option(help="The swatch table: the recipe of a top-up.")] = None,
    base: Base = None,
    dry: Annotated[str | None, typer.Option(help="Dry weight of one skein, such as '100 g', for the top-up.")] = None,
    chart_patches: Annotated[
        bool, typer.Option("--chart-patches", help="List every patch of the chart and how far it is missed.")
    ] = False,
    overlay_to: Annotated[
        Path | None, typer.Option("--overlay", help="Write the first photo with numbered outlines, as PNG.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """Judge skeins by photo: their colours, which of them match, and what to do now."""
    from dyewright.services.judging import asked
    from dyewright.services.judging import verdict as judging
    from dyewright.services.matching import target_from_text

    with answering():
        besides = asked.asked_from_text(orders, dyed_with or (), shelf, base, dry)
        result = judging.judge(
            photos,
            chart=judging.chart_from_text(chart),
            boxes=[judging.shape_from_text(text) for text in box or ()],
            target=None if target is None else target_from_text(target).lab,
            tolerance=tolerance,
            chart_values=chart_values,
            is_older_chart=older_chart,
            is_linear=linear,
        )
        result = asked.completed(result, besides)
        if overlay_to is not None:
            _write(overlay_to, judging.overlay(photos[0], result))
        if as_json:
            emit_json(result)
        else:
            typer.echo("\n".join(verdict_lines(result, has_patches=chart_patches)))


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(
            f"the overlay cannot be written to {path} ({error.strerror}): name a file in a folder that exists",
            field="overlay",
        ) from error
