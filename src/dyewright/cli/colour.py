"""`dyewright shade`, `match`, `overdye`, `difference`: the colour of a mix, recipes for a colour, how two differ."""

from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import answering, emit_json
from dyewright.core.model import Match, Recipe, Shade

__all__ = ["difference", "match", "overdye", "shade"]

Shelf = Annotated[Path, typer.Option("--shelf", help="The swatch table, CSV or CGATS text.")]
Base = Annotated[str | None, typer.Option("--base", help="The base to dye on; the one with most swatches if left out.")]
Wanted = Annotated[str, typer.Option("--target", help="lab L a b, hex #rrggbb or swatch FILE")]
MaxDyes = Annotated[int, typer.Option("--max-dyes", help="Dyes in a recipe, 1 to 4.")]
Best = Annotated[int, typer.Option("--best", help="How many recipes to show at most.")]
Must = Annotated[list[str] | None, typer.Option("--must", help="A dye that has to be in the recipe; may repeat.")]
Never = Annotated[list[str] | None, typer.Option("--never", help="A dye that must not be in it; may repeat.")]
Deepest = Annotated[str | None, typer.Option("--deepest", help="The deepest that one dye may go, such as '3 %'.")]
Dry = Annotated[str | None, typer.Option("--dry", help="The dry yarn, such as '100 g': what its doses weigh.")]
Scale = Annotated[str | None, typer.Option("--scale", help="The scale's smallest step, such as '0.1 g'.")]
Every = Annotated[
    bool,
    typer.Option("--every-combination", help="Try all combinations, also of four dyes: slow, to check the search."),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]


def shade(
    shelf: Shelf,
    mix: Annotated[str, typer.Option("--mix", help="Depths in per cent: Blue=0.5,Yellow=0.2")],
    base: Base = None,
    *,
    json: Json = False,
) -> None:
    """Foretell the colour of a mix of dyes, from swatches."""
    from dyewright.services import matching

    with answering():
        result = matching.shade(matching.swatches_from_file(shelf), matching.mix_from_text(mix), base=base)
        if json:
            emit_json(result)
        else:
            typer.echo("\n".join(_shade_lines(result)))


def match(
    shelf: Shelf,
    target: Wanted,
    base: Base = None,
    max_dyes: MaxDyes = 3,
    best: Best = 10,
    must: Must = None,
    never: Never = None,
    deepest: Deepest = None,
    dry: Dry = None,
    scale: Scale = None,
    *,
    every_combination: Every = False,
    json: Json = False,
) -> None:
    """Find recipes for a colour among all small combinations of the dyes on the shelf."""
    from dyewright.services import matching, search_text

    with answering():
        swatches = matching.swatches_from_file(shelf)
        how = search_text.search_from_text(
            swatches,
            max_dyes,
            best,
            must or (),
            never or (),
            deepest,
            dry,
            scale,
            is_every_combination=every_combination,
        )
        result = matching.match(swatches, matching.target_from_text(target), base=base, how=how)
        if json:
            emit_json(result)
        else:
            typer.echo("\n".join(_match_lines(result)))


def overdye(
    shelf: Shelf,
    yarn: Annotated[str, typer.Option("--from", help="The yarn as it is: lab L a b, hex #rrggbb or swatch FILE")],
    target: Wanted,
    base: Base = None,
    max_dyes: MaxDyes = 3,
    best: Best = 10,
    must: Must = None,
    never: Never = None,
    deepest: Deepest = None,
    dry: Dry = None,
    scale: Scale = None,
    *,
    json: Json = False,
) -> None:
    """Find what to add to yarn already dyed so that it becomes another colour, or why that cannot be."""
    from dyewright.services import matching, overdyeing, search_text

    with answering():
        swatches = matching.swatches_from_file(shelf)
        how = search_text.search_from_text(swatches, max_dyes, best, must or (), never or (), deepest, dry, scale)
        colours = (matching.target_from_text(yarn), matching.target_from_text(target))
        result = overdyeing.overdye(swatches, *colours, base=base, how=how)
        if json:
            emit_json(result)
        else:
            typer.echo("\n".join([*_match_lines(result), *(f"* {sentence}" for sentence in result.advice)]))


def difference(
    standard: Annotated[
        str, typer.Argument(help='The colour that was meant: "lab L a b", "hex #rrggbb", "swatch FILE".')
    ],
    sample: Annotated[str, typer.Argument(help="The colour that came out, in the same forms.")],
    *,
    json: Json = False,
) -> None:
    """Say how a sample differs from its standard."""
    from dyewright.services import matching

    with answering():
        result = matching.difference(matching.target_from_text(standard).lab, matching.target_from_text(sample).lab)
        if json:
            emit_json(result)
        else:
            typer.echo(f"{result.words}: {result.visible}")
            typer.echo(f"ΔE00 {result.de00:.2f}, CMC(2:1) {result.decmc21:.2f}, CMC(1:1) {result.decmc11:.2f}")
            typer.echo(f"CIE94 {result.de94:.2f}, CIELAB {result.de76:.2f}, grey scale {result.grey_scale_change}")


def _shade_lines(result: Shade) -> list[str]:
    lightness, a, b = result.lab
    return [
        f"{result.words} on {result.base}: L* {lightness:.1f}, a* {a:.1f}, b* {b:.1f}, on a screen {result.hex}",
        f"In 19 of 20 pots within {result.de00_95:.1f} ΔE00 of it.",
        *(f"- {note}" for note in result.notes),
    ]


def _match_lines(result: Match) -> list[str]:
    return [
        f"{result.target_words} on {result.base}",
        result.verdict,
        *(line for recipe in result.recipes for line in _recipe_lines(recipe)),
        f"{result.combinations} combinations tried.",
        *(f"- {note}" for note in result.notes),
    ]


def _recipe_lines(recipe: Recipe) -> list[str]:
    dyes = ", ".join(f"{dye.name} {dye.depth_percent:.3g} %" for dye in recipe.dyes)
    why = f" ({', '.join(recipe.why)})" if recipe.why else ""
    lights = ", ".join(f"{name} {de00:.1f}" for name, de00 in (recipe.other_light or {}).items())
    return [
        f"  {dyes}{why}",
        f"    {recipe.because}",
        *([f"    ΔE00 under other light: {lights}."] if lights else []),
        *([f"    From stock: {', '.join(recipe.from_stock)}."] if recipe.from_stock else []),
    ]
