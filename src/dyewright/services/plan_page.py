"""The page that plans a pot: what was typed becomes a card, the card a sheet, the sheet words for the screen."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Base, Card, DyeClass, Heating, Pot, Run, Settings, Sheet
from dyewright.errors import InputError
from dyewright.files.cards import write_card
from dyewright.records import colourways, runs, shelf
from dyewright.services import paper, running
from dyewright.services.assistants import known_assistants
from dyewright.services.fibres import fibres_from_text
from dyewright.services.forecast_pages.view import ForecastBlock, plan_forecast
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.foreseen import foreseen_plan
from dyewright.services.heat_ups import knob_sentences, pots_as_learnt
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.planning import card_from_fields, read_card
from dyewright.services.shown import shown_hex
from dyewright.services.unplain import from_plain
from dyewright.sheets.charts import Theme
from dyewright.sheets.pdf import PaperSheet
from dyewright.units import show_percent

__all__ = [
    "plan_options",
    "plan_view",
    "planned_from_form",
    "printed_card",
    "printed_run",
    "typed_from_link",
]

MOST_DYES = 6
_FIRST_FIELDS = re.compile(r"yarn\.dry|dye\.\d+\.(name|depth)|assistant\.1\.(kind|amount)|pot\.1\.volume")
_QUICK_DYE = re.compile(r"^(?P<name>.*?)[\s:=]*(?P<depth>\d+(?:[.,]\d+)?)\s*%?$")
_QUICK_ACID = re.compile(r"^(?P<kind>.*?)(?:\s*=\s*|\s*,\s*(?:to\s+)?|\s+to\s+(?=pH))(?P<amount>[^=]+)$", re.IGNORECASE)


def plan_options(session: Session) -> dict[str, object]:
    """Return what the form offers: the shelf, the classes, the kinds of heat, the assistants known by name."""
    return {
        "bases": shelf.bases(session),
        "shelf_dyes": shelf.dyes(session),
        "vessels": shelf.vessels(session),
        "classes": list(DyeClass),
        "heatings": list(Heating),
        "assistants": known_assistants(),
    }


def typed_from_link(session: Session, query: Mapping[str, str]) -> dict[str, str]:
    """Return form fields from a link: fields as they are, the four quick ones taken apart, or a colourway's recipe."""
    typed = {key: text for key, text in query.items() if "." in key or key in {"base", "colourway", "tonal"}}
    if query.get("colourway"):
        typed |= _recipe(session, query["colourway"])
    if query.get("weight"):
        typed["yarn.dry"] = query["weight"]
    if query.get("pot"):
        typed["pot.1.volume"] = query["pot"]
    if query.get("acid"):
        match = _QUICK_ACID.match(query["acid"].strip())
        typed["assistant.1.kind"] = match["kind"] if match else query["acid"]
        typed["assistant.1.amount"] = match["amount"] if match else ""
    for i, part in enumerate(re.split(r"[;+\n]|,(?!\d)", query.get("dyes", "")), start=1):
        match = _QUICK_DYE.match(part.strip())
        if part.strip():
            typed[f"dye.{i}.name"] = match["name"] if match else part.strip()
            typed[f"dye.{i}.depth"] = f"{match['depth']} %" if match else ""
    return typed


def _recipe(session: Session, text: str) -> dict[str, str]:
    """Return the fields that a colourway fills: its title, its base, its dyes."""
    if not text.isdigit():
        raise InputError(f"colourway '{text}' is no number", field="colourway", value=text)
    colourway = colourways.colourway(session, int(text))
    typed = {"title": colourway.name}
    if colourway.base_id is not None:
        typed["base"] = str(colourway.base_id)
    for i, (name, depth) in enumerate(colourway.recipe_owf.items(), start=1):
        typed |= {f"dye.{i}.name": name, f"dye.{i}.depth": show_percent(depth)}
    return typed


def plan_view(session: Session, typed: Mapping[str, str]) -> dict[str, object]:
    """Return the page for what was typed: the sheet in words where it can be planned, else the error at its field."""
    view: dict[str, object] = {
        **plan_options(session),
        "typed": typed,
        "dye_rows": _dye_rows(typed),
        "is_tonal_wanted": _is_tonal_wanted(typed, shelf.studio_settings(session)),
        "is_more_open": any(_is_more(key, text) for key, text in typed.items()),
        "answer": None,
        "error": None,
    }
    if not any(text.strip() for text in typed.values()):
        return view
    settings = shelf.studio_settings(session)
    try:
        card = _card_of(session, typed, settings)
        sheet = foreseen_plan(card, settings, learnt=partial(learnt_for, session))
        view["answer"] = _answer(session, sheet, card, typed)
    except InputError as error:
        place = _place_on_page(error.field, typed)
        view["error"] = InputError(error.message, field=place, value=error.value, limit=error.limit)
        view["is_more_open"] = view["is_more_open"] or not _FIRST_FIELDS.fullmatch(place)
    return view


def _is_tonal_wanted(typed: Mapping[str, str], settings: Settings | None) -> bool:
    """Return the form's own answer, level or tonal, or the studio's where it was not asked yet."""
    if typed.get("tonal"):
        return typed["tonal"] != "false"
    return settings is not None and settings.is_tonal_wanted


def _is_more(key: str, text: str) -> bool:
    """Tell whether a field of the folded part of the form was filled."""
    return bool(text.strip()) and "." in key and not _FIRST_FIELDS.fullmatch(key)


def _dye_rows(typed: Mapping[str, str]) -> list[int]:
    """Return the numbers of the dye rows to show: those filled, and one more, two at least."""
    filled = [i for i in range(1, MOST_DYES + 1) if typed.get(f"dye.{i}.name") or typed.get(f"dye.{i}.depth")]
    return list(range(1, min(MOST_DYES, max([1, *filled]) + 1) + 1))


def _place_on_page(field: str | None, typed: Mapping[str, str]) -> str:
    """Return the form field that an error is about: repeated tables are counted as filled, the page's as numbered."""
    place = field or ""
    if place in {"target_ph", "amount", "assistants"}:
        place = "assistant.1.amount"
    head, _, rest = place.partition(".")
    if head not in {"dye", "pot", "assistant", "stage"}:
        return place
    number, _, key = rest.partition(".") if rest.partition(".")[0].isdigit() else ("1", "", rest)
    filled = sorted({int(k.split(".")[1]) for k, text in typed.items() if k.startswith(f"{head}.") and text.strip()})
    on_page = filled[int(number) - 1] if 0 < int(number) <= len(filled) else int(number)
    usual = {"dye": "depth", "pot": "volume", "assistant": "kind", "stage": "to"}[head]
    return f"{head}.{on_page}.{key or usual}"


def _card_of(session: Session, typed: Mapping[str, str], settings: Settings | None) -> Card:
    """Return the card of the typed fields, with base, dyes and pots filled from the shelf where they are named."""
    pots = pots_as_learnt(session)
    fields = {key: text for key, text in typed.items() if "." in key or key in {"title", "tonal", "after_treatment"}}
    fields |= {key: text for i in range(1, 5) for key, text in _pot_fields(fields, pots, f"pot.{i}").items()}
    fields |= _dye_classes(session, fields) | _fibre_shares(fields.pop("yarn.fibre", ""))
    card = card_from_fields(fields, settings)
    base = _base(session, typed)
    if base is not None and not card.yarn.fibre_frac:
        yarn = replace(card.yarn, fibre_frac=base.fibre_frac, is_superwash=base.is_superwash or card.yarn.is_superwash)
        card = replace(card, yarn=yarn)
    if base is not None and card.rinse.kept_l_kg is None:
        card = replace(card, rinse=replace(card.rinse, kept_l_kg=base.kept_l_kg))
    return card


def _pot_fields(fields: Mapping[str, str], pots: Mapping[str, Pot], head: str) -> dict[str, str]:
    """Return the fields of a pot of the shelf where its name stands for the volume; what was typed beside it wins."""
    pot = pots.get(" ".join(fields.get(f"{head}.volume", "").split()).casefold())
    if pot is None:
        return {}
    if fields.get(f"{head}.power") or fields.get(f"{head}.heat"):  # another hob than the one that was measured
        pot = replace(pot, useful_w=None)
    own = {
        "name": pot.name or "",
        "volume": f"{pot.volume_l} L",
        "diameter": "" if pot.diameter_m is None else f"{pot.diameter_m} m",
        "lid": "true" if pot.has_lid else "false",
        "power": "" if pot.power_w is None else f"{pot.power_w} W",
        "heat": pot.heating.value,
        "turns_per_min": "" if pot.turns_per_min is None else str(pot.turns_per_min),
        "useful": "" if pot.useful_w is None else f"{pot.useful_w} W",
        "loss_factor": str(pot.loss_factor),
    }
    return {
        f"{head}.{key}": text for key, text in own.items() if key == "volume" or not fields.get(f"{head}.{key}", "")
    }


def _dye_classes(session: Session, fields: Mapping[str, str]) -> dict[str, str]:
    """Return the class of each dye that the shelf knows, where none was typed."""
    known = {dye.name.casefold(): dye.dye_class.value for dye in shelf.dyes(session)}
    found = {}
    for i in range(1, MOST_DYES + 1):
        name = " ".join(fields.get(f"dye.{i}.name", "").split()).casefold()
        if name in known and not fields.get(f"dye.{i}.class"):
            found[f"dye.{i}.class"] = known[name]
    return found


def _fibre_shares(text: str) -> dict[str, str]:
    """Return the share of each fibre as fields, from "wool 80, silk 20"."""
    if not text.strip():
        return {}
    shares = fibres_from_text(text, field="yarn.fibre")
    return {f"yarn.fibre.{fibre.value}": f"{share * 100:.12g}" for fibre, share in shares.items()}


def _base(session: Session, typed: Mapping[str, str]) -> Base | None:
    number = typed.get("base", "")
    return shelf.base(session, int(number)) if number.isdigit() else None


@dataclass(frozen=True)
class Answer:
    """A planned sheet as the page shows it, and the card to keep it by."""

    sheet: Sheet
    card_toml: str
    page: PaperSheet
    swatch_hex: str | None
    forecast: ForecastBlock
    knobs: tuple[str, ...]


def _answer(session: Session, sheet: Sheet, card: Card, typed: Mapping[str, str]) -> Answer:
    number = typed.get("colourway", "")
    return Answer(
        sheet=sheet,
        card_toml=write_card(card),
        page=paper.paper_of(sheet, theme=Theme.LIGHT),
        swatch_hex=_swatch_hex(session, int(number) if number.isdigit() else None),
        forecast=plan_forecast(session, sheet),
        knobs=knob_sentences(session, sheet),
    )


def _swatch_hex(session: Session, colourway_id: int | None) -> str | None:
    """Return the colour that a colourway's recipe is expected to give; None where none is known."""
    if colourway_id is None:
        return None
    lab = colourways.colourway(session, colourway_id).predicted_lab
    return None if lab is None else shown_hex(lab)


def planned_from_form(session: Session, typed: Mapping[str, str], *, now: datetime) -> Run:
    """Return the run that the form's card plans, not kept yet; the form's own identifier keeps it from being two.

    Raises:
        InputError: the identifier is none.
    """
    try:
        run_id = UUID(typed.get("run_id", ""))
    except ValueError as error:
        raise InputError("the form's identifier is damaged: load the page again", field="run_id") from error
    base, colourway = typed.get("base", ""), typed.get("colourway", "")
    return running.planned_run(
        session,
        card_toml=typed.get("card", ""),
        now=now,
        run_id=run_id,
        base_id=int(base) if base.isdigit() else None,
        colourway_id=int(colourway) if colourway.isdigit() else None,
    )


def printed_card(session: Session, card_toml: str) -> bytes:
    """Return the sheet of a card that is not kept as PDF."""
    settings = shelf.studio_settings(session)
    sheet = foreseen_plan(read_card(card_toml, settings), settings, learnt=partial(learnt_for, session))
    return paper.print_sheet(sheet, told=forecast_from(sheet, learnt=learnt_for(session, sheet)))


def printed_run(session: Session, run_id: UUID, *, run_url: str) -> bytes:
    """Return a run's sheet as PDF: as it was planned that day, with the way back to the run."""
    run = runs.run(session, run_id)
    sheet = from_plain(Sheet, run.sheet)
    swatch = _swatch_hex(session, run.colourway_id)
    return paper.print_sheet(
        sheet,
        told=forecast_from(sheet, learnt=learnt_for(session, sheet, before_number=run.number)),
        run_url=run_url,
        swatch_hex=swatch,
        swatch_words="Predicted colour." if swatch else "",
    )
