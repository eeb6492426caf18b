"""The colour pages: a target, the recipes that reach it, one mix in hand, and the colourways that are kept."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import urlencode

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.matching import Target
from dyewright.core.mixing import depth_vector, lab_of_mix
from dyewright.core.model import Base, Colourway, Match, Recipe, Settings, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, NoMatchError
from dyewright.records import colourways as colourways_of
from dyewright.records import lots as lots_of
from dyewright.records import shelf as shelf_of
from dyewright.records import swatches as swatches_of
from dyewright.services.matching import Search, colour_from_text, match_on, target_from_swatch
from dyewright.services.mixture import Mixture, mixture_of
from dyewright.services.shelf_model import StudioShelf, studio_shelf
from dyewright.services.shown import shown_hex, shown_words, swatch_lab

__all__ = [
    "ColourPage",
    "asked_of",
    "choose_view",
    "chosen_colourway",
    "colour_page",
    "colourways_view",
    "mixture_view",
]

Asked = Mapping[str, str]
"""What the page's form holds, as text: target, base, weight, from, add, and depth.NAME, top.NAME for each dye."""

DEFAULT_G = 100.0
FIRST_DEPTH_PERCENT = "0.1"
SHOWN_SLIPS = 4
LATEST_LOTS = 12
KIND_WORDS = {
    "closest": "Closest",
    "steadiest": "Steadiest",
    "fewest dyes": "Fewest dyes",
    "cheapest": "Cheapest",
}


@dataclass(frozen=True)
class Slip:
    """One recipe as a slip: its title, its dyes in words, what stands below, and the page's address with its mix."""

    title: str
    dyes: str
    below: str
    hex: str
    query: str
    is_shown: bool


@dataclass(frozen=True)
class ColourPage:
    """A target with its recipes and the mix in hand."""

    target_text: str
    target_from: str
    base_name: str
    weight: str
    match: Match | None
    trouble: str | None
    slips: tuple[Slip, ...]
    mixture: Mixture
    more_dyes: tuple[str, ...]


def colourways_view(session: Session) -> dict[str, object]:
    """Return the colourways that are kept, with the names of their bases."""
    names = {base.id: base.name for base in shelf_of.bases(session)}
    return {
        "colourways": [(colourway, names.get(colourway.base_id)) for colourway in colourways_of.colourways(session)]
    }


def choose_view(session: Session) -> dict[str, object]:
    """Return what a target can be taken from: the bases, the lots kept last, measured swatches."""
    chips = [
        (f"{line.run_title}, lot {line.lot.name}", _lab_text(skein.lab), shown_hex(skein.lab), shown_words(skein.lab))
        for line in lots_of.search_lots(session, limit=LATEST_LOTS)
        for skein in line.lot.skeins[:1]
        if skein.lab
    ]
    swatches = [
        (_swatch_name(swatch), f"swatch {swatch.id}", shown_hex(swatch_lab(swatch)), shown_words(swatch_lab(swatch)))
        for swatch in swatches_of.swatches(session)
        if swatch.depths_owf and (swatch.reflectance is not None or swatch_lab(swatch))
    ]
    return {
        "bases": [base.name for base in shelf_of.bases(session)],
        "lot_colours": chips,
        "swatch_colours": swatches,
    }


def _swatch_name(swatch: Swatch) -> str:
    parts = [f"{name} {units.show_percent(depth)}" for name, depth in swatch.depths_owf.items()]
    return f"{' + '.join(parts)} on {swatch.base}"


def _lab_text(lab: tuple[float, float, float] | None) -> str:
    return "" if lab is None else "lab " + " ".join(f"{value:.2f}" for value in lab)


def asked_of(query: Asked) -> dict[str, str]:
    """Return what a page's address asks, with the picked colour as target where its button was used."""
    asked = dict(query)
    if asked.pop("use", "") == "picked" and asked.get("picked"):
        asked["target"] = asked["picked"]
    return asked


def colour_page(session: Session, asked: Asked, *, colourway_id: int | None = None) -> ColourPage:
    """Return the whole page of a target, from what its form holds and, where one is named, a colourway's record.

    Raises:
        InputError: a field cannot be worked with; it is named.
        NotFoundError: no such colourway or swatch.
    """
    asked = _with_kept(session, asked, colourway_id)
    target, dry_g, shelf, settings = _read(session, asked)
    found, trouble = None, None
    try:
        found = match_on(shelf.model, target, how=Search(price_per_g=_prices(session)))
    except NoMatchError as error:
        trouble = error.message
    mix = _mix(asked, found)
    mixture = _mixture(session, asked, mix, target, dry_g, shelf, settings)
    return ColourPage(
        target_text=asked["target"].strip(),
        target_from=asked.get("from", "").strip() or asked["target"].strip(),
        base_name=shelf.model.base,
        weight=asked.get("weight", "").strip() or units.show_mass(dry_g),
        match=found,
        trouble=trouble,
        slips=_slips(found, mix, dry_g, asked),
        mixture=mixture,
        more_dyes=tuple(sorted(set(shelf.model.dyes) - set(mix))),
    )


def mixture_view(session: Session, asked: Asked) -> Mixture:
    """Return only the mix in hand: what a moved slider asks for."""
    target, dry_g, shelf, settings = _read(session, asked)
    return _mixture(session, asked, _mix(asked, None), target, dry_g, shelf, settings)


def _with_kept(session: Session, asked: Asked, colourway_id: int | None) -> Asked:
    """Return what was asked, filled from a colourway's record where the form says nothing."""
    if colourway_id is None:
        return asked
    kept = colourways_of.colourway(session, colourway_id)
    lab = kept.target_lab or kept.predicted_lab
    from_record = {"target": _lab_text(lab), "from": kept.target_from}
    if kept.base_id is not None:
        from_record["base"] = shelf_of.base(session, kept.base_id).name
    if not any(key.startswith("depth.") for key in asked):
        from_record |= {f"depth.{name}": f"{100 * depth:.4g}" for name, depth in kept.recipe_owf.items()}
    return {**from_record, **{key: value for key, value in asked.items() if value.strip()}}


def _read(session: Session, asked: Asked) -> tuple[Target, float, StudioShelf, Settings]:
    target = _target(session, asked.get("target", ""))
    base = asked.get("base", "").strip() or None
    shelf = studio_shelf(session, base)
    record = shelf_of.base_named(session, shelf.model.base)
    settings = shelf_of.studio_settings(session) or Settings(name="")
    return target, _dry_g(asked.get("weight", ""), record), shelf, settings


def _target(session: Session, text: str) -> Target:
    """Return the target of a page: Lab, hex or a swatch on record; never a file's name."""
    text = text.strip()
    kind, _, rest = text.partition(" ")
    if kind.lower() == "swatch":
        wanted = next((one for one in swatches_of.swatches(session) if str(one.id) == rest.strip()), None)
        if wanted is None:
            raise InputError(f"there is no swatch {rest.strip()} on record", field="target", value=rest)
        return target_from_swatch(wanted)
    return colour_from_text(text)


def _dry_g(text: str, base: Base | None) -> float:
    if not text.strip():
        return base.skein_g if base and base.skein_g else DEFAULT_G
    dry_g = units.mass_g(text, field="weight", thing="dry yarn", default_unit="g")
    if dry_g <= 0:
        raise InputError(f"the dry yarn weighs {dry_g:g} g; it must be above 0 g", field="weight", value=dry_g, limit=0)
    return dry_g


def _prices(session: Session) -> dict[str, float]:
    return {dye.name: float(dye.price_per_g) for dye in shelf_of.dyes(session) if dye.price_per_g is not None}


def _mix(asked: Asked, found: Match | None) -> dict[str, float]:
    """Return the mix in hand: as the form has it, otherwise the recommended recipe."""
    typed = {key.removeprefix("depth."): text for key, text in asked.items() if key.startswith("depth.")}
    if asked.get("add", "").strip():
        typed.setdefault(asked["add"].strip(), FIRST_DEPTH_PERCENT)
    if not typed and found is not None and found.recipes:
        return _depths(found.recipes[0])
    return {name: _depth(name, text) for name, text in typed.items() if text.strip()}


def _depth(name: str, text: str) -> float:
    try:
        percent = float(text.strip().removesuffix("%").replace(",", "."))
    except ValueError:
        raise InputError(
            f"the depth of {name} is {text.strip()!r}; write a number of per cent such as 0.6",
            field=f"depth.{name}",
            value=text,
        ) from None
    if not 0 <= percent <= 100:
        raise InputError(
            f"the depth of {name} is {percent:g} %; it lies between 0 % and 100 %",
            field=f"depth.{name}",
            value=percent,
            limit=0,
        )
    return percent / 100


def _depths(recipe: Recipe) -> dict[str, float]:
    return {dye.name: dye.depth_percent / 100 for dye in recipe.dyes}


def _mixture(
    session: Session,
    asked: Asked,
    mix: Mapping[str, float],
    target: Target,
    dry_g: float,
    shelf: StudioShelf,
    settings: Settings,
) -> Mixture:
    tops = {key.removeprefix("top."): _top(text) for key, text in asked.items() if key.startswith("top.")}
    base = shelf_of.base_named(session, shelf.model.base)
    return mixture_of(
        shelf.model,
        mix,
        target,
        dyes=shelf_of.dyes(session),
        dry_g=dry_g,
        scale_resolution_g=settings.scale_resolution_g,
        tops_percent=tops,
        base_id=base.id if base else None,
        notes=shelf.left_out,
    )


def _top(text: str) -> float:
    try:
        return min(max(float(text), 0.0), 4.0)
    except ValueError:
        return 0.0


def _slips(found: Match | None, mix: Mapping[str, float], dry_g: float, asked: Asked) -> tuple[Slip, ...]:
    """Return the recommended recipe and the best of each kind as slips, each recipe once."""
    if found is None:
        return ()
    named = [recipe for recipe in found.recipes if recipe.why][:SHOWN_SLIPS]
    stays = {key: asked[key] for key in ("target", "from", "base", "weight") if asked.get(key, "").strip()}
    return tuple(_slip(recipe, mix, dry_g, stays) for recipe in named)


def _slip(recipe: Recipe, mix: Mapping[str, float], dry_g: float, stays: Asked) -> Slip:
    kinds = [KIND_WORDS[kind] for kind in recipe.why]
    title = kinds[0] + "".join(f", {kind.lower()}" for kind in kinds[1:])
    below = [f"ΔE {recipe.de00:.1f}", f"± {recipe.de00_95:.1f}"]
    if recipe.other_light:
        below.append(f"lamp {recipe.other_light['A']:.1f}")
    if recipe.cost_per_kg is not None:
        below.append(f"{recipe.cost_per_kg * dry_g / 1000:.2f} for {units.show_mass(dry_g)}")
    depths = {name: f"{100 * depth:.3g}" for name, depth in _depths(recipe).items()}
    shown = {name: f"{100 * depth:.3g}" for name, depth in mix.items() if depth > 0}
    return Slip(
        title=title,
        dyes=", ".join(f"{name} {percent}\u00a0%" for name, percent in depths.items()),
        below=" · ".join(below),
        hex=recipe.hex,
        query=urlencode({**stays, **{f"depth.{name}": percent for name, percent in depths.items()}}),
        is_shown=depths == shown,
    )


def chosen_colourway(session: Session, asked: Asked, *, today: date, colourway_id: int | None = None) -> Colourway:
    """Return the mix in hand as a colourway to be kept, or in place of the one with this id; nothing is written.

    Raises:
        InputError: no name, an empty mix, or a field that cannot be worked with.
    """
    asked = _with_kept(session, asked, colourway_id)
    name = asked.get("name", "").strip()
    if not name:
        raise InputError("give the colourway a name to find it again", field="name")
    mix = {dye: depth for dye, depth in _mix(asked, None).items() if depth > 0}
    if not mix:
        raise InputError("there is no dye in this mix: choose a recipe first", field="depth")
    target, _, shelf, _ = _read(session, asked)
    lightness, a, b = lab_of_mix(shelf.model, depth_vector(shelf.model, mix), load_observer_tables())
    base = shelf_of.base_named(session, shelf.model.base)
    chosen = Colourway(
        name=name,
        target_lab=target.lab,
        target_from=asked.get("from", "").strip() or asked["target"].strip(),
        recipe_owf=mix,
        predicted_lab=(float(lightness), float(a), float(b)),
        base_id=base.id if base else None,
        created_on=today,
        note=asked.get("note", "").strip(),
    )
    if colourway_id is not None:
        before = colourways_of.colourway(session, colourway_id)
        return replace(chosen, id=colourway_id, created_on=before.created_on, note=chosen.note or before.note)
    return chosen
