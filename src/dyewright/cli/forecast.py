"""`dyewright forecast`: what a card's bath is expected to do."""

from pathlib import Path
from typing import Annotated

import typer

from dyewright.cli._output import answering, card_text, emit_json
from dyewright.core.model import Band, ClearTime, Forecast
from dyewright.services.plain import plain

__all__ = ["forecast_card"]


def forecast_card(
    card: Annotated[Path, typer.Argument(help="The card, a TOML file.")],
    observe: Annotated[
        list[str] | None,
        typer.Option(
            help="What was seen: '21 min: 0.87', '21 min: 7/8', '68 C: 1/2', '25 min: 82 C', '5 min: pH 4.4' or "
            "'rinses: 3'. May repeat."
        ),
    ] = None,
    beside: Annotated[Path | None, typer.Option(help="A second card to compare with.")] = None,
    *,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Foretell exhaustion, time to clear and levelness along the heating programme, as bands."""
    from dyewright.services.forecasting.foretell import forecast, forecast_from
    from dyewright.services.forecasting.seen import observed_in_words
    from dyewright.services.planning import plan, read_card
    from dyewright.services.questions import sure_limits

    with answering():
        sheet = plan(read_card(card_text(card)))
        told = forecast_from(sheet, observed_in_words(observe or [], limits=sure_limits(sheet.ph_closed)))
        other = forecast(read_card(card_text(beside))) if beside else None
        if json:
            both = {"beside": plain(other)} if other else {}
            emit_json({**_keys(told), **both})
            return
        typer.echo("\n\n".join(_readable(one) for one in (told, other) if one))


def _keys(told: Forecast) -> dict[str, object]:
    keys = plain(told)
    return keys if isinstance(keys, dict) else {}


def _readable(told: Forecast) -> str:
    """Return a forecast in a few lines: the answer first, then each dye, then what it rests on."""
    from dyewright.services.forecasting.words import clear_words

    clear = clear_words(told)
    answer = ", ".join(part for part in (f"{clear.headline} {clear.span}".rstrip(), clear.pots) if part)
    lines = [told.title, f"{answer}.", f"Mostly clear: {_minutes(told.mostly_clear_at_min)}."]
    lines.append(f"In at the end: {_share(told.final_exhaustion)}.")
    for dye in told.dyes:
        if dye.exhaustion is None or dye.low is None or dye.high is None:
            lines.append(f"  {dye.name}: not foretold")
        else:
            lines.append(f"  {dye.name}: {_share(Band(dye.exhaustion[-1], dye.low[-1], dye.high[-1]))}")
    if told.level:
        level = told.level
        lines.append(
            f"Levelness: {level.rating} (fastest {level.peak_pct_per_min:.1f} % a minute, the pot evens out "
            f"{level.limit_pct_per_min:.1f})."
        )
    if told.breaking:
        lines.append(f"Dyes: {told.breaking.rating} (widest gap {told.breaking.max_gap:.0%}).")
    return "\n".join([*lines, *told.notes])


def _minutes(clear: ClearTime) -> str:
    if clear.mid is None:
        return "not known" if clear.never_frac is None else "not in this time"
    high = "or later" if clear.high is None else f"to {clear.high:.0f}"
    return f"at {clear.mid:.0f} min ({clear.low:.0f} {high})"


def _share(band: Band) -> str:
    if band.mid is None or band.low is None or band.high is None:
        return "not known"
    return f"{band.mid:.0%} ({band.low:.0%} to {band.high:.0%})"
