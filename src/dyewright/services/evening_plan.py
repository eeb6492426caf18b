"""Planning a swatch evening: which jars are worth dyeing, and the plan as it is typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from enum import StrEnum

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.mixing import ShelfModel, depth_vector
from dyewright.core.mixing.ladder import MIDDLE_OWF, ladders, sharpening
from dyewright.core.model import Base, Colourway, Dye, Evening, Jar, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.records import evenings as records_of
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.evening_amounts import jar_amounts
from dyewright.services.recipes import UNDYED, recipe_from_text, recipe_text
from dyewright.services.shelf_model import studio_shelf
from dyewright.services.tubs import bridging_depth, unbridged

__all__ = ["MOST_JARS", "Purpose", "keep_plan", "planning_page"]

MOST_JARS = 24
USUAL_JARS, USUAL_MASS, USUAL_LIQUOR, USUAL_STOCK = "8", "5 g", "40:1", "1 %"  # common practice, no source
LEAST_SKEIN_G, MOST_SKEIN_G = 1.0, 50.0  # below, a tag weighs as much; above, it is a pot (estimate)
LADDER_JARS = 3  # a dye that was not ticked gets about so many, where none was
SPARE_ROWS = 2  # empty rows for jars of one's own, for a page without script

Form = Mapping[str, str]


class Purpose(StrEnum):
    """What an evening is for, as the form's values."""

    LADDERS = "ladders"
    SHARPEN = "sharpen"
    OWN = "own"

    @property
    def words(self) -> str:
        """What the form calls it."""
        return {
            Purpose.LADDERS: "Depth ladders of these dyes",
            Purpose.SHARPEN: "What sharpens my colourways most",
            Purpose.OWN: "Recipes of my own",
        }[self]


@dataclass(frozen=True)
class Proposal:
    """One proposed jar and why it is worth dyeing."""

    recipe_owf: Mapping[str, float]
    why: str


@dataclass(frozen=True)
class _Known:
    """What the shelf knows on a base: its swatches there, the dyes that may be dyed, the colourways."""

    base: Base
    swatches: Sequence[Swatch]
    dyes: Sequence[Dye]
    colourways: Sequence[Colourway]

    def depths_owf(self, dye: str) -> list[float]:
        """Return the depths at which a dye was dyed alone on this base."""
        return [one.depths_owf[dye] for one in self.swatches if set(one.depths_owf) == {dye}]

    @property
    def has_undyed(self) -> bool:
        """Whether the undyed yarn was measured."""
        return self.base.undyed_lab is not None or any(not one.depths_owf for one in self.swatches)


def planning_page(session: Session, typed: Form, *, today: date) -> dict[str, object]:
    """Return the form for planning: as typed, with jars proposed where that was asked for or nothing is typed yet.

    An error of the proposal stands in `error`, at its field.
    """
    bases = shelf.bases(session)
    filled = {**_usual(session, bases, today), **typed}
    view: dict[str, object] = {
        "bases": [(str(base.id), base.name) for base in bases],
        "dyes": [dye for dye in shelf.dyes(session) if not dye.is_fluorescent],
        "palettes": _palette_options(session),
        "purposes": [(purpose.value, purpose.words) for purpose in Purpose],
        "typed": filled,
        "why": {},
        "error": None,
    }
    if bases and (not typed or "propose" in typed):
        try:
            proposals = _proposed(session, filled)
        except InputError as error:
            view["error"] = error
        else:
            kept = {key: text for key, text in filled.items() if not _is_jar_field(key)}
            view["typed"] = {**kept, **_rows_of(proposals, filled)}
            view["why"] = {str(number): one.why for number, one in enumerate(proposals, start=1)}
    view["rows"] = _row_numbers(view["typed"])  # type: ignore[arg-type]
    return view


def _usual(session: Session, bases: Sequence[Base], today: date) -> dict[str, str]:
    name = f"Swatch evening of {today.day} {today:%B %Y}"
    taken = {one.name for one in records_of.evenings(session)}
    number = next((n for n in range(2, 100) if f"{name}, {n}" not in taken), 100)
    counts = {base.name: 0 for base in bases}
    for swatch in swatches_of.swatches(session):
        counts[swatch.base] = counts.get(swatch.base, 0) + 1
    most = max(bases, key=lambda base: counts[base.name], default=None)
    return {
        "name": f"{name}, {number}" if name in taken else name,
        "held_on": today.isoformat(),
        "base": "" if most is None else str(most.id),
        "mass": USUAL_MASS,
        "jars": USUAL_JARS,
        "purpose": Purpose.LADDERS if most is None else _usual_purpose(session, most),
        "palette": "",
        "liquor": USUAL_LIQUOR,
        "stock": USUAL_STOCK,
    }


def _usual_purpose(session: Session, base: Base) -> Purpose:
    """Return what an evening is for at first sight: to sharpen colourways where there are any, else ladders."""
    is_kept = any(one.recipe_owf and one.base_id == base.id for one in colourways_of.colourways(session))
    is_known = any(one.base == base.name and one.depths_owf for one in swatches_of.swatches(session))
    return Purpose.SHARPEN if is_kept and is_known else Purpose.LADDERS


def _palette_options(session: Session) -> list[tuple[str, str]]:
    palettes = [(str(one.id), f"the palette {one.name}") for one in colourways_of.palettes(session)]
    return [("", "all colourways on this base"), *palettes]


def _is_jar_field(key: str) -> bool:
    return key.startswith("jar.")


def _rows_of(proposals: Sequence[Proposal], typed: Form) -> dict[str, str]:
    """Return the jar rows of some proposals; seats that were typed stay with their numbers."""
    rows = {f"jar.{number}.recipe": recipe_text(one.recipe_owf) for number, one in enumerate(proposals, start=1)}
    seats = {key: text for key, text in typed.items() if _is_jar_field(key) and key.endswith(".seat")}
    return {**rows, **seats}


def _row_numbers(typed: Form) -> list[int]:
    """Return the numbers of the rows to show: those filled, and two more."""
    filled = [number for number in range(1, MOST_JARS + 1) if typed.get(f"jar.{number}.recipe", "").strip()]
    return list(range(1, min(MOST_JARS, max([0, *filled]) + SPARE_ROWS) + 1))


def _proposed(session: Session, typed: Form) -> list[Proposal]:
    """Return the jars worth dyeing: the undyed skein, bridging swatches, then what the evening is for."""
    count, base = _jar_count(typed), _base(session, typed)
    known = _Known(
        base,
        [one for one in swatches_of.swatches(session) if one.base == base.name],
        [dye for dye in shelf.dyes(session) if not dye.is_fluorescent],
        _wanted(session, typed, base),
    )
    chosen = [] if known.has_undyed else [Proposal({}, "the undyed yarn is not measured yet")]
    if typed.get("purpose") != Purpose.OWN:
        chosen += _bridging(session, known)
    if typed.get("purpose") == Purpose.SHARPEN:
        chosen += _sharpening(session, known, count - len(chosen))
    if typed.get("purpose") == Purpose.LADDERS:
        chosen += _ladders(known, [key.removeprefix("dye.") for key in typed if key.startswith("dye.")], count, chosen)
    return chosen[:count]


def _jar_count(typed: Form) -> int:
    text = typed.get("jars", "").strip()
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_JARS):
        raise InputError(
            f"how many jars? {text!r} is no number from 1 to {MOST_JARS}; six to ten fit one pot",
            field="jars",
            value=text,
            limit=MOST_JARS,
        )
    return int(text)


def _base(session: Session, typed: Form) -> Base:
    text = typed.get("base", "")
    chosen = next((base for base in shelf.bases(session) if str(base.id) == text), None)
    if chosen is None:
        raise InputError("which yarn is dyed? Put a base on the shelf, and choose it here", field="base", value=text)
    return chosen


def _wanted(session: Session, typed: Form, base: Base) -> list[Colourway]:
    """Return the colourways that an evening is to sharpen: those of a palette, or all on this base."""
    palette = typed.get("palette", "")
    every = [one for one in colourways_of.colourways(session) if one.recipe_owf]
    if palette:
        return [one for one in every if str(one.palette_id) == palette]
    return [one for one in every if one.base_id == base.id]


def _bridging(session: Session, known: _Known) -> list[Proposal]:
    """Return a swatch of each dye whose tub in use is another than those its swatches came from."""
    every = swatches_of.swatches(session)
    unsure = [dye for dye in known.dyes if unbridged(dye, every)]
    if not unsure:
        return []
    try:
        model = studio_shelf(session, known.base.name).model
    except InputError:  # nothing on this base can be fitted yet: the first swatches will be of the new tub anyway
        return []
    return [
        Proposal(
            {dye.name: bridging_depth(model, dye.name, every)[0]},
            f"a new tub ({dye.dye_lot}): one swatch tells how strong it is",
        )
        for dye in unsure
        if dye.name in model.dyes
    ]


def _sharpening(session: Session, known: _Known, count: int) -> list[Proposal]:
    """Return the swatches after which the wanted colourways are known best.

    Raises:
        InputError: no colourway to sharpen, or the shelf knows too little to say.
    """
    if not known.colourways:
        raise InputError(
            f"no colourway with a recipe is kept for {known.base.name}; keep one, or choose depth ladders",
            field="palette",
        )
    model = studio_shelf(session, known.base.name).model
    recipes = np.array([depth_vector(model, _known_part(one, model)) for one in known.colourways])
    unknown = sorted({name for one in known.colourways for name in one.recipe_owf} - set(model.dyes))
    first = [Proposal({name: MIDDLE_OWF}, f"no swatch of {name} yet") for name in unknown]
    best = sharpening(model, recipes, load_observer_tables(), max(0, count - len(first)))
    chosen = first + [
        Proposal(
            {one.dye: one.depth_owf},
            f"your colourways become sure to ± {one.band_after:.2f} from ± {one.band_now:.2f} ΔE00, on average",
        )
        for one in best
    ]
    names = sorted({name for one in known.colourways for name in one.recipe_owf})
    return chosen + _ladders_of(known, names, count - len(chosen), chosen)


def _known_part(colourway: Colourway, model: ShelfModel) -> dict[str, float]:
    """Return what of a recipe the shelf has swatches of: the rest is dyed for the first time anyway."""
    return {name: depth for name, depth in colourway.recipe_owf.items() if name in model.dyes}


def _ladders(known: _Known, ticked: Sequence[str], count: int, before: Sequence[Proposal]) -> list[Proposal]:
    """Return depths that fill the ladders of the ticked dyes; of those known least where none is ticked.

    Reactive dyes are then left out where there are others: they want a heat of their own.
    """
    names = [dye.name for dye in known.dyes if str(dye.id) in ticked]
    if not names:
        usual = max(1, count // LADDER_JARS)
        alike = [dye.name for dye in known.dyes if not dye.dye_class.is_reactive] or [dye.name for dye in known.dyes]
        names = sorted(alike, key=lambda name: len(known.depths_owf(name)))[:usual]
    return _ladders_of(known, names, count - len(before), before)


def _ladders_of(known: _Known, names: Sequence[str], count: int, before: Sequence[Proposal]) -> list[Proposal]:
    """Return jars that fill the ladders of some dyes, beside those that are proposed before."""
    there = {
        name: [*known.depths_owf(name), *(one.recipe_owf[name] for one in before if name in one.recipe_owf)]
        for name in names
    }
    return [Proposal({name: depth}, _ladder_words(name, len(there[name]))) for name, depth in ladders(there, count)]


def _ladder_words(name: str, there: int) -> str:
    return f"no swatch of {name} yet" if there == 0 else f"the widest gap in {name}'s ladder of {there}"


def keep_plan(session: Session, typed: Form) -> Evening:
    """Keep an evening as typed; rows without a recipe are left out, and the rest is numbered anew.

    Raises:
        InputError: a field cannot be worked with; it is named, and nothing is kept.
    """
    base = _base(session, typed)
    known = {dye.name.casefold(): dye.name for dye in shelf.dyes(session)}
    rows = _jars(typed, known)
    if not rows:
        raise InputError("no jar has a recipe; write for example Lagoon 0.5 %, or undyed", field="jar.1.recipe")
    planned = Evening(
        name=typed.get("name", "").strip(),
        held_on=_day(typed.get("held_on", "")),
        base_id=base.id or 0,
        liquor_l_kg=units.liquor_l_kg(typed.get("liquor", "") or USUAL_LIQUOR, field="liquor"),
        stock_g_l=_stock_g_l(typed),
        jars=tuple(rows.values()),
    )
    _check_jars(session, planned, base, rows)
    return records_of.save_evening(session, planned)


def _check_jars(session: Session, planned: Evening, base: Base, rows: Mapping[int, Jar]) -> None:
    """Refuse a jar that would overflow, at the row where it was typed."""
    settings, dyes = shelf.studio_settings(session), shelf.dyes(session)
    for row, jar in rows.items():
        try:
            jar_amounts(planned, jar, base, dyes, settings)
        except InputError as error:
            part = (error.field or "").rpartition(".")[2]
            field = f"jar.{row}.{part}" if (error.field or "").startswith("jar.") else "liquor"
            raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"the day {text!r} is none; write it as 2026-11-26", field="held_on", value=text) from None


def _stock_g_l(typed: Form) -> float:
    text = typed.get("stock", "").strip() or USUAL_STOCK
    strength = units.concentration_g_l(text, field="stock", thing="strength of the stocks", default_unit="%")
    if not 0.1 <= strength <= 50:
        raise InputError(
            f"stocks of {strength / 10:g} % cannot be used: from 0.01 % on they can be drawn, up to 5 % they dissolve; "
            "1 % is usual",
            field="stock",
            value=strength / 10,
            limit=5,
        )
    return strength


def _jars(typed: Form, known: Mapping[str, str]) -> dict[int, Jar]:
    """Return the jars by the row that each was typed in, numbered one after another."""
    jars: dict[int, Jar] = {}
    for row in range(1, MOST_JARS + 1):
        text = typed.get(f"jar.{row}.recipe", "").strip()
        if text:
            jars[row] = Jar(
                number=len(jars) + 1,
                recipe_owf=_recipe(text, known, f"jar.{row}.recipe"),
                mass_g=_skein_g(typed, row),
                seat=typed.get(f"jar.{row}.seat", "").strip(),
            )
    return jars


def _skein_g(typed: Form, row: int) -> Decimal:
    """Return what a row's mini-skein weighs: as typed there, else as typed for all."""
    field = f"jar.{row}.mass" if typed.get(f"jar.{row}.mass", "").strip() else "mass"
    mass_g = units.mass_g(
        typed.get(field, "").strip() or USUAL_MASS, field=field, thing="a mini-skein", default_unit="g"
    )
    if not LEAST_SKEIN_G <= mass_g <= MOST_SKEIN_G:
        raise InputError(
            f"a mini-skein weighs {LEAST_SKEIN_G:g} to {MOST_SKEIN_G:g} g, got {mass_g:g} g; 5 to 10 g is usual",
            field=field,
            value=mass_g,
            limit=(LEAST_SKEIN_G, MOST_SKEIN_G),
        )
    return Decimal(str(round(mass_g, 3)))


def _recipe(text: str, known: Mapping[str, str], field: str) -> dict[str, float]:
    """Return a jar's recipe with the dyes' own names.

    Raises:
        InputError: a dye is not on the shelf.
    """
    recipe: dict[str, float] = {}
    for name, depth in recipe_from_text(text, field=field).items():
        own = known.get(name.casefold())
        if own is None:
            near = get_close_matches(name.casefold(), known, n=1)
            hint = f"did you mean {known[near[0]]}? Else put" if near else "put"
            raise InputError(
                f"{name} is not on the shelf; {hint} it there first, or write {UNDYED}", field=field, value=name
            )
        recipe[own] = recipe.get(own, 0.0) + depth
    return recipe
