"""The page of two ways: where each comes from, how it may be changed, the table, the chart."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Card, Dye, DyeDose, Settings, Yarn
from dyewright.errors import InputError, NotFoundError
from dyewright.files.cards import write_card
from dyewright.records import runs, shelf
from dyewright.services.card_defaults import complete, programme_words
from dyewright.services.comparing.changes import Change, changed, offers, with_base, with_dye
from dyewright.services.comparing.compare import PER_KWH, TwoWays, ways_beside
from dyewright.services.comparing.drawing import dye_colour, two_ways_svg
from dyewright.services.comparing.editing import EditField, edit_fields, edited
from dyewright.services.comparing.measures import Prices
from dyewright.services.comparing.pair import ready_pair
from dyewright.services.forecast_pages.charts import NARROW_PX, WIDE_PX
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.planning import read_card
from dyewright.units import frac, mass_g, show_mass, show_percent, show_volume

__all__ = ["Side", "two_ways_view"]

SIDES = ("left", "right")
SHOWN_RUNS = 12
MOST_PER_KWH = Decimal(1000)  # in any currency
PAIR_DRY_G, PAIR_DEPTH_OWF = 200.0, 0.01


@dataclass(frozen=True)
class Side:
    """One way as the page shows it: its card to carry along, itself in a few lines, its fields, its dye's colour."""

    name: str
    title: str
    card_toml: str
    lines: tuple[tuple[str, str], ...]
    fields: tuple[EditField, ...]
    hex: str | None


@dataclass(frozen=True)
class Comparison:
    """The answer: figures and words, and the chart for a desk and for a phone, None where no curve is known."""

    ways: TwoWays
    svg: str | None
    svg_narrow: str | None


def two_ways_view(session: Session, typed: Mapping[str, str]) -> dict[str, object]:
    """Return the page for what was typed or linked; an error stands at its field, and both ways stay as they were."""
    settings = shelf.studio_settings(session)
    view: dict[str, object] = {
        "typed": typed,
        "error": None,
        "sides": (),
        "offers": (),
        "answer": None,
        "per_kwh": typed.get("price") or f"{PER_KWH}",
        **_to_choose(session),
    }
    cards: dict[str, Card] = {}
    try:
        _gather(session, typed, settings, cards)
        if len(cards) == len(SIDES):
            view["answer"] = _answer(session, cards, settings, _price(typed))
    except (InputError, NotFoundError) as error:
        view["error"] = error
    view["sides"] = tuple(_side(session, name, card, settings) for name, card in cards.items())
    if "left" in cards:
        view["offers"] = offers(cards["left"], settings)
    return view


def _to_choose(session: Session) -> dict[str, object]:
    """Return what the page offers from the studio: runs, dyes, bases, and a pair worth looking at."""
    return {
        "runs": runs.list_runs(session, limit=SHOWN_RUNS),
        "shelf_dyes": shelf.dyes(session),
        "bases": shelf.bases(session),
        "pair": ready_pair(session),
    }


def _gather(session: Session, typed: Mapping[str, str], settings: Settings | None, cards: dict[str, Card]) -> None:
    """Put each way that is said into `cards`, each as far as it can be read, so that an error loses none of them."""
    left = _left(session, typed, settings)
    if left is None:
        return
    cards["left"] = left
    kept = typed.get("right", "")
    if kept:
        cards["right"] = read_card(kept, settings)
    cards["left"] = _edited(session, "left", left, typed, settings)
    other = _other_way(session, cards["left"], typed, settings)
    if other is not None:
        cards["right"] = other
    elif kept:
        cards["right"] = _edited(session, "right", cards["right"], typed, settings)


def _left(session: Session, typed: Mapping[str, str], settings: Settings | None) -> Card | None:
    """Return the way one starts from: a card carried along, a run's, or one dye of the shelf on one base."""
    text = typed.get("left") or typed.get("card")
    if text:
        return read_card(text, settings)
    if typed.get("run"):
        return _of_run(session, typed["run"], settings)
    return _of_dye(session, typed, "dye") if typed.get("dye") else None


def _other_way(session: Session, left: Card, typed: Mapping[str, str], settings: Settings | None) -> Card | None:
    """Return the way to set beside the left one that was asked for just now; None where none was."""
    if typed.get("change"):
        dyes = {dye.dye_class: dye for dye in reversed(shelf.dyes(session))}
        return changed(left, _change(typed["change"]), settings, dyes)
    match typed.get("take"):
        case "dye":
            return with_dye(left, _dye(session, typed.get("other_dye", ""), "other_dye"))
        case "base":
            return with_base(left, shelf.base(session, _number(typed.get("other_base", ""), "other_base")))
        case "run":
            return _of_run(session, typed.get("other_run", ""), settings)
    return _of_dye(session, typed, "other") if typed.get("other") else None


def _change(text: str) -> Change:
    if text not in set(Change):
        raise InputError(f"'{text}' is no change that this page knows", field="change", value=text)
    return Change(text)


def _number(text: str, field: str) -> int:
    if not text.isdigit():
        raise InputError("choose one of the shelf", field=field, value=text)
    return int(text)


def _of_run(session: Session, text: str, settings: Settings | None) -> Card:
    try:
        run = runs.run(session, UUID(text))
    except ValueError as error:
        raise InputError("that is no run of this studio; choose one of the list", field="run", value=text) from error
    card = read_card(run.card_toml, settings)
    return card if card.title else replace(card, title=run.title)


def _of_dye(session: Session, typed: Mapping[str, str], key: str) -> Card:
    """Return the card of one dye of the shelf on a base, as the two-dye form asks; all else is left to defaults."""
    dye = _dye(session, typed[key], key)
    base = next((one for one in shelf.bases(session) if one.name == typed.get("base")), None)
    if base is None:
        raise InputError(f"no base '{typed.get('base', '')}' on the shelf; choose one", field="base")
    dry = mass_g(typed.get("dry") or show_mass(PAIR_DRY_G), field="dry", thing="dry yarn", default_unit="g")
    depth = frac(typed.get("depth") or show_percent(PAIR_DEPTH_OWF), field="depth", thing="depth", bare_percent=True)
    return Card(
        title=f"{dye.name} on {base.name}",
        yarn=Yarn(base.fibre_frac, dry_g=dry, is_superwash=base.is_superwash, is_scoured=True),
        dyes=(DyeDose(dye.name, dye.dye_class, depth),),
    )


def _dye(session: Session, name: str, field: str) -> Dye:
    found = _by_name(session).get(" ".join(name.split()).casefold())
    if found is None:
        raise InputError(f"no dye '{name}' on the shelf; choose one of its names", field=field, value=name)
    return found


def _by_name(session: Session) -> dict[str, Dye]:
    return {dye.name.casefold(): dye for dye in shelf.dyes(session)}


def _edited(session: Session, side: str, card: Card, typed: Mapping[str, str], settings: Settings | None) -> Card:
    """Return a way with what was typed in its fields; an error names the field as the page does."""
    head = f"{side}."
    fields = {key.removeprefix(head): text for key, text in typed.items() if key.startswith(head)}
    try:
        new = edited(card, fields, settings, _by_name(session))
        complete(new, settings)
    except InputError as error:
        raise InputError(error.message, field=f"{head}{error.field}", value=error.value, limit=error.limit) from error
    return new


def _price(typed: Mapping[str, str]) -> Decimal:
    text = (typed.get("price") or str(PER_KWH)).strip().replace(",", ".")
    try:
        price = Decimal(text)
    except InvalidOperation as error:
        raise InputError(f"the price '{text}' is no number; write 0.30", field="price", value=text) from error
    if not price.is_finite() or not 0 <= price <= MOST_PER_KWH:
        raise InputError(
            f"a kilowatt hour costs 0 to {MOST_PER_KWH}, got {text}", field="price", value=text, limit=MOST_PER_KWH
        )
    return price


def _answer(session: Session, cards: Mapping[str, Card], settings: Settings | None, price: Decimal) -> Comparison:
    prices = Prices(price, {dye.name: dye.price_per_g for dye in shelf.dyes(session)})

    left, right, ways = ways_beside(
        cards["left"],
        cards["right"],
        settings=settings,
        prices=prices,
        learnt_of=lambda sheet: learnt_for(session, sheet),
    )
    colours = dye_colour(session, cards["left"]), dye_colour(session, cards["right"])
    wide, narrow = (two_ways_svg((left, right), colours, width_px=width) for width in (WIDE_PX, NARROW_PX))
    return Comparison(ways, wide, narrow)


def _side(session: Session, name: str, card: Card, settings: Settings | None) -> Side:
    return Side(
        name=name,
        title=card.title or "A pot",
        card_toml=write_card(card),
        lines=tuple(_lines(complete(card, settings)[0])),
        fields=edit_fields(card, settings),
        hex=dye_colour(session, card),
    )


def _lines(full: Card) -> Iterator[tuple[str, str]]:
    """Yield a way in a few lines: what goes in, on what, in how much water, with which acid, and the programme."""
    yield "Dye", ", ".join(f"{dye.name} {show_percent(dye.depth_owf)} ({dye.dye_class.value})" for dye in full.dyes)
    fibres = ", ".join(f"{fibre.value} {show_percent(share)}" for fibre, share in full.yarn.fibre_frac.items())
    yield "Yarn", f"{show_mass(full.yarn.dry_g)}, {fibres}{', superwash' if full.yarn.is_superwash else ''}"
    liquor = full.water_l if full.water_l is not None else (full.liquor_l_kg or 0.0) * full.yarn.dry_g / 1000
    yield "Bath", f"{show_volume(liquor)}, {liquor / full.yarn.dry_g * 1000:.0f}:1"
    if full.assistants:
        yield "With", ", ".join(dose.label for dose in full.assistants)
    yield "Heat", programme_words(full.stages)
