"""The command `dyewright water`: what acids and alkalis do in this water."""

from typing import Annotated

import typer

from dyewright import units
from dyewright.cli._output import answering, emit_json
from dyewright.core.model import Spoons, Water
from dyewright.core.model.acidity import WaterAnswer

__all__ = ["water"]


def water(
    volume_l: Annotated[float, typer.Option(help="Litres of bath, additions included.")],
    alkalinity_mg_l: Annotated[
        str, typer.Option(help="mg/L as CaCO3, or with its unit ('6 °dH'), or 'unknown'.")
    ] = "unknown",
    ph: Annotated[float | None, typer.Option(help="The tap water's own pH.")] = None,
    temperature_c: Annotated[float | None, typer.Option(help="The tap water's temperature, °C.")] = None,
    fibre: Annotated[str | None, typer.Option(help="Yarn in the bath: 'wool', or 'wool=80,nylon=20'.")] = None,
    dry_g: Annotated[float | None, typer.Option(help="Dry weight of the yarn, g.")] = None,
    add: Annotated[list[str] | None, typer.Option(help="'white vinegar 5 %=25 mL'; may be repeated.")] = None,
    target_ph: Annotated[float | None, typer.Option(help="The pH to reach.")] = None,
    with_: Annotated[str | None, typer.Option("--with", help="What is to reach it: 'white vinegar 5 %'.")] = None,
    spoons: Annotated[Spoons, typer.Option(help="Whose spoons and cups.")] = Spoons.METRIC,
    *,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Say what pH acids and alkalis give in this water, with or without yarn."""
    from dyewright.services.water import bath_acidity, parse_yarn

    with answering():
        alkalinity = units.alkalinity_mg_l(alkalinity_mg_l, field="alkalinity_mg_l", default_unit="mg/L")
        answer = bath_acidity(
            volume_l=volume_l,
            water=Water(alkalinity, ph, temperature_c),
            additions=add or [],
            yarn=parse_yarn(fibre, dry_g),
            target_ph=target_ph,
            target_with=with_,
            spoons=spoons,
        )
        if json:
            emit_json(answer)
        else:
            typer.echo(_text(answer, spoons))


def _text(answer: WaterAnswer, spoons: str) -> str:
    """Return the answer as lines to read."""
    lines = [
        _ph_line("pH just mixed:      ", answer.ph_closed, answer.ph_closed_low, answer.ph_closed_high),
        _ph_line("pH hot and stirred: ", answer.ph_stripped, answer.ph_stripped_low, answer.ph_stripped_high),
        f"pH of the water:    {answer.ph_before:.1f}",
        "As a meter reads a cooled sample at 25 °C.",
    ]
    if answer.needed:
        kitchen = f" ({answer.needed.kitchen})" if answer.needed.kitchen else ""
        lines.append(f"Needed: {answer.needed.amount:.3g} {answer.needed.unit}{kitchen}")
    for dose in answer.additions:
        amount = units.show_mass(dose.mass_g) if dose.volume_l is None else units.show_volume(dose.volume_l)
        kitchen = "" if dose.volume_l is None else f" ({units.kitchen(dose.volume_l, spoons)})"
        lines.append(f"In the bath: {dose.label}, {amount}{kitchen}")
    return "\n".join([*lines, *answer.notes])


def _ph_line(words: str, ph: float, low: float, high: float) -> str:
    """Return a pH as text, with its range where the water is not known."""
    return f"{words}{ph:.2f}" if low == high else f"{words}{ph:.1f} ({low:.1f} to {high:.1f})"
