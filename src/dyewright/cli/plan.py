"""The command `dyewright plan`: from a card to the sheet of a dyeing."""

from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import answering, card_text, emit_json
from dyewright.core.model import Sheet

__all__ = ["plan_card"]


def plan_card(
    card: Annotated[Path, typer.Argument(help="The card: a TOML file.")],
    pdf: Annotated[Path | None, typer.Option(help="Write the sheet as PDF to this file.")] = None,
    *,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Work out weights, water, acid, heat and the order of work from a card."""
    from dyewright.services import paper
    from dyewright.services.foreseen import foreseen_plan
    from dyewright.services.planning import read_card

    with answering():
        sheet = foreseen_plan(read_card(card_text(card)))
        if pdf is not None:
            paper.write_pdf(sheet, pdf)
        if json:
            emit_json(sheet)
        elif pdf is None:
            typer.echo(_text(sheet))


def _text(sheet: Sheet) -> str:
    """Return the sheet as lines to read: figures, weights, steps with their cautions, notes."""
    from dyewright.services import paper

    lines = [sheet.title, paper.yarn_words(sheet), ""]
    lines += [f"{figure.label}: {figure.value} ({figure.detail})" for figure in paper.figures_of(sheet)]
    lines += ["", "Weights"]
    for row in paper.weights_of(sheet):
        other = f" or {row.other}" if row.other else ""
        words = ", ".join(text for text in (row.detail, row.when, *row.pots) if text)
        lines.append(f"  {row.name}: {row.amount}{other}" + (f" ({words})" if words else ""))
    lines += ["", "Steps"]
    for step in sheet.steps:
        lines.append(f"  {paper.step_clock(step):>7}  {step.title}: {step.text}")
        lines += [f"           Caution: {step.caution}"] if step.caution else []
    lines += ["", "Notes", *(f"  {note}" for note in sheet.notes)]
    return "\n".join(lines)
