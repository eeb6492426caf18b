"""`dyewright forecast`: what a card's bath is expected to do."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyewright.cli._output import answering, card_text, emit_json
from dyewright.core.model import Band, ClearTime, Doubt, Forecast

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from dyewright.services.comparing.compare import TwoWays

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
    studio: Annotated[
        str | None,
        typer.Option(
            metavar="PATH|URL",
            help="The studio whose pots and settings it leans on. Class defaults where left out, so that a script "
            "gets the same answer everywhere.",
        ),
    ] = None,
    *,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Foretell when the bath clears, how level, what washes out and how it felts, as bands."""
    from dyewright.services.card_forecast import forecast_of_cards

    with answering(), _reading(studio) as session:
        other = None if beside is None else card_text(beside)
        answer = forecast_of_cards(card_text(card), observe or [], beside_toml=other, session=session)
        if json:
            emit_json({**_keys(answer.told, answer.beside, answer.two_ways), "taught": answer.taught})
            return
        typer.echo("\n".join(_readable(answer.told)))
        for words in answer.taught:
            typer.echo(f"This pot teaches, {words}.")
        if answer.two_ways is not None and answer.beside is not None:
            typer.echo("\n" + "\n".join([*_readable(answer.beside), "", *_two_ways(answer.two_ways)]))


@contextmanager
def _reading(studio: str | None) -> Iterator["Session | None"]:
    """Yield a studio to read from; None where none is named."""
    if studio is None:
        yield None
        return
    from dyewright.services.studios import enter_studio

    with closing(enter_studio(studio)) as records, records.read() as session:
        yield session


def _keys(told: Forecast, beside: Forecast | None, two_ways: "TwoWays | None") -> dict[str, object]:
    from dyewright.services.plain import plain

    keys = plain(told)
    found = keys if isinstance(keys, dict) else {}
    return found if beside is None else {**found, "beside": plain(beside), "two_ways": plain(two_ways)}


def _readable(told: Forecast) -> Iterator[str]:
    """Yield a forecast line by line: the answer first, then its parts, questions, and what it rests on."""
    from dyewright.services.forecast_pages.facts import before_words, dye_lines, facts
    from dyewright.services.forecasting.words import clear_words

    clear = clear_words(told)
    yield told.title
    yield ", ".join(part for part in (f"{clear.headline} {clear.span}".rstrip(), clear.pots) if part) + "."
    if before := before_words(told):
        yield before
    for doubt in told.doubts:
        yield _question(doubt)
    yield f"Mostly clear: {_minutes(told.mostly_clear_at_min)}."
    yield f"In at the end: {_share(told.final_exhaustion)}."
    yield from (f"  {dye.name}: {dye.words}" for dye in dye_lines(told))
    for fact in facts(told):
        yield f"{fact.label}: {fact.answer}. {fact.line}".rstrip()
        yield from (f"  {line}" for line in fact.more)
    yield from (f"{part.thing}: {part.words}." for part in told.rests_on)
    yield from told.notes


def _question(doubt: Doubt) -> str:
    """Return a doubt as a sentence that asks."""
    ways = f" ({'; '.join(doubt.ways)}?)" if doubt.ways else ""
    return f"To ask: {doubt.reading}? {doubt.question}{ways}"


def _two_ways(compared: "TwoWays") -> Iterator[str]:
    yield f"{compared.left_title} beside {compared.right_title}: {compared.verdict}"
    for row in compared.rows:
        yield f"  {row.label}: {row.left.words} | {row.right.words} ({row.words})"


def _minutes(clear: ClearTime) -> str:
    if clear.mid is None:
        return "not known" if clear.never_frac is None else "not in this time"
    high = "or later" if clear.high is None else f"to {clear.high:.0f}"
    return f"at {clear.mid:.0f} min ({clear.low:.0f} {high})"


def _share(band: Band) -> str:
    if band.mid is None or band.low is None or band.high is None:
        return "not known"
    return f"{band.mid:.0%} ({band.low:.0%} to {band.high:.0%})"
