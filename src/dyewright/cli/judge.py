"""`dyewright judge`: do these skeins match, are they even, what colour are they."""

from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import answering, emit_json
from dyewright.core.model import ChartReading, JudgeResult, Settings, SkeinColour
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
        list[str] | None, typer.Option(help='A skein: "x,y,w,h" in pixels; "2:x,y,w,h" on the second photo.')
    ] = None,
    target: Annotated[str | None, typer.Option(help='The colour that was meant: "lab L a b" or "hex #rrggbb".')] = None,
    tolerance: Annotated[float, typer.Option(help="ΔE00 within which skeins match.")] = Settings.tolerance_de00,
    overlay_to: Annotated[
        Path | None, typer.Option("--overlay", help="Write the first photo with numbered outlines, as PNG.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """Judge skeins by photo: their colours, which of them match, and what to do now."""
    from dyewright.services.judging import verdict as judging
    from dyewright.services.matching import target_from_text

    with answering():
        result = judging.judge(
            photos,
            chart=judging.chart_from_text(chart),
            boxes=[judging.box_from_text(text) for text in box or ()],
            target=None if target is None else target_from_text(target).lab,
            tolerance=tolerance,
            chart_values=chart_values,
            is_older_chart=older_chart,
            is_linear=linear,
        )
        if overlay_to is not None:
            _write(overlay_to, judging.overlay(photos[0], result))
        if as_json:
            emit_json(result)
        else:
            typer.echo("\n".join(_lines(result)))


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(
            f"the overlay cannot be written to {path} ({error.strerror}): name a file in a folder that exists",
            field="overlay",
        ) from error


def _lines(result: JudgeResult) -> list[str]:
    return [
        result.verdict,
        "",
        *(_skein_line(skein) for skein in result.skeins),
        "",
        *(f"{pair.words} ({pair.de00:.1f}, {pair.low:.1f} to {pair.high:.1f} ΔE00)" for pair in result.pairs),
        "",
        *result.advice,
        "",
        *(_chart_line(chart) for chart in result.charts),
        *dict.fromkeys(line for chart in result.charts for line in (*chart.warnings, chart.light)),
        *result.notes,
    ]


def _skein_line(skein: SkeinColour) -> str:
    lab = "  ".join(f"{value:6.1f}" for value in skein.lab)
    line = f"{skein.id:>2}  Lab {lab}  {skein.colour_words}; {skein.evenness.rating} inside"
    return line if skein.to_target is None else f"{line}; {skein.to_target.de00:.1f} from the target"


def _chart_line(chart: ChartReading) -> str:
    if not chart.found:
        return f"Photo {chart.photo}: read without a chart."
    if chart.left_out_de00_median is None:
        return f"Photo {chart.photo}: read by a {chart.kind}."
    return f"Photo {chart.photo}: chart read, left-out error {chart.left_out_de00_median:.1f} ΔE00 (median)."
