"""`dyewright series`: skeins between two colours, or over a triangle of three dyes, even to the eye."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyewright.cli._output import answering, emit_json
from dyewright.errors import InputError

if TYPE_CHECKING:
    from dyewright.services.series import SkeinSeries

__all__ = ["series"]


def series(
    shelf: Annotated[Path, typer.Option("--shelf", help="The swatch table, CSV or CGATS text.")],
    start: Annotated[
        str | None,
        typer.Option(
            "--from", help="The first skein: Lagoon=0.5+Soot=0.1, undyed, lab L a b, hex #rrggbb, swatch FILE."
        ),
    ] = None,
    end: Annotated[str | None, typer.Option("--to", help="The last skein, in the same forms.")] = None,
    skeins: Annotated[int, typer.Option("--skeins", help="How many skeins, both ends counted; a side of a grid.")] = 7,
    grid: Annotated[
        str | None, typer.Option("--grid", help="Three dyes instead of two ends: A,B,C or A=1,B=0.5,C=2 in per cent.")
    ] = None,
    base: Annotated[
        str | None, typer.Option("--base", help="The base to dye on; the one with most swatches if left out.")
    ] = None,
    *,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Find recipes for skeins that lie evenly, to the eye, between two colours or three dyes."""
    with answering():
        result = _found(shelf, start, end, skeins, grid, base)
        if json:
            emit_json(result)
        else:
            typer.echo("\n".join(_lines(result)))


def _found(
    shelf: Path, start: str | None, end: str | None, skeins: int, grid: str | None, base: str | None
) -> "SkeinSeries":
    from dyewright.services import matching
    from dyewright.services import series as of

    if grid is not None and (start is not None or end is not None):
        raise InputError(
            "a series has two ends or a grid of three dyes: leave --grid out, or --from and --to", field="grid"
        )
    swatches = matching.swatches_from_file(shelf)
    if grid is not None:
        return of.grid(swatches, of.corners_from_text(grid), skeins, base=base)
    if start is None or end is None:
        missing = "--from" if start is None else "--to"
        raise InputError(f"{missing} is missing: a series goes from one colour to another", field=missing[2:])
    ends = of.end_from_text(start, "from"), of.end_from_text(end, "to")
    return of.series(swatches, *ends, skeins, base=base)


def _lines(result: "SkeinSeries") -> list[str]:
    lines = [f"{len(result.skeins)} skeins on {result.base}, {_steps(result)}"]
    for skein in result.skeins:
        dyes = ", ".join(f"{dye.name} {dye.depth_percent:.3g} %" for dye in skein.dyes) or "undyed"
        lines.append(f"  {skein.number}. {dyes}: {skein.words}, sure to {skein.de00_95:.1f}")
    return [*lines, *(f"- {note}" for note in result.notes)]


def _steps(result: "SkeinSeries") -> str:
    least, most = f"{result.least_step_de00:.1f}", f"{result.most_step_de00:.1f}"
    return f"each ΔE00 {least} from the next" if least == most else f"neighbours ΔE00 {least} to {most} apart"
