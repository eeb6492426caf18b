"""`dyewright palette`: colours out of a picture, and the nearest that the shelf's dyes reach."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyewright.cli._output import answering, emit_json
from dyewright.cli.colour import Base, Json

if TYPE_CHECKING:
    from dyewright.services.picture.answer import PaletteAnswer, PaletteColour

__all__ = ["palette"]


def palette(
    photo: Annotated[Path, typer.Argument(help="The picture: JPEG, HEIC, PNG, TIFF or raw.")],
    shelf: Annotated[
        Path | None, typer.Option("--shelf", help="The swatch table, CSV or CGATS text: what the dyes reach.")
    ] = None,
    base: Base = None,
    colours: Annotated[str, typer.Option("--colours", help="How many colours, 3 to 8.")] = "5",
    *,
    harmony: Annotated[
        bool, typer.Option("--harmony", help="Keep the colours' relations where some are out of reach.")
    ] = False,
    json: Json = False,
) -> None:
    """Take a palette out of a picture, with the nearest colour and recipe of the shelf for each."""
    from dyewright.services import matching
    from dyewright.services.picture import answer as picture_answer

    with answering():
        swatches = [] if shelf is None else matching.swatches_from_file(shelf)
        result = picture_answer.palette_answer(photo, swatches, base=base, colours=colours, is_in_harmony=harmony)
        if json:
            emit_json(result)
        else:
            typer.echo("\n".join(_lines(result)))


def _lines(result: "PaletteAnswer") -> list[str]:
    return [*(line for colour in result.colours for line in _colour_lines(colour)), "", *result.notes]


def _colour_lines(colour: "PaletteColour") -> list[str]:
    lab = "  ".join(f"{value:6.1f}" for value in colour.lab)
    lines = [f"{100 * colour.area_frac:3.0f} %  Lab {lab}  {colour.hex}  {colour.words}"]
    if colour.nearest is not None:
        dyes = ", ".join(f"{dye.name} {dye.depth_percent:.2g} %" for dye in colour.nearest.dyes) or "the undyed yarn"
        off = f"off by ΔE00 {colour.nearest.de00:.1f}: {colour.nearest.words}"
        lines.append(f"       {dyes}: {off}; ± {colour.nearest.de00_95:.1f} in 19 of 20 pots")
    return lines
