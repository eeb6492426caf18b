"""Planning a swatch evening: the form with its proposed jars, and the plan as it is typed."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from difflib import get_close_matches

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Base, Evening, Jar
from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.records import evenings as records_of
from dyewright.records import shelf
from dyewright.records import swatches as swatches_of
from dyewright.services.evening.amounts import jar_amounts
from dyewright.services.evening.proposals import Proposal, Purpose, proposed_jars
from dyewright.services.recipes import UNDYED, recipe_from_text, recipe_text

__all__ = ["MOST_JARS", "keep_plan", "planning_page"]

MOST_JARS = 24
USUAL_JARS, USUAL_MASS, USUAL_LIQUOR, USUAL_STOCK = "8", "5 g", "40:1", "1 %"  # common practice, no source
LEAST_SKEIN_G, MOST_SKEIN_G = 1.0, 50.0  # below, a tag weighs as much; above, it is a pot (estimate)
LONGEST_NAME = 200  # of an evening or a seat, as the tables hold it
SPARE_ROWS = 2  # empty rows for jars of one's own, for a page without script

Form = Mapping[str, str]


def planning_page(session: Session, typed: Form, *, today: date) -> dict[str, object]:
    """Return the form for planning: as typed, with jars proposed where that was asked for or none is typed yet.

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
    is_blank = not any(_is_jar_field(key) and text.strip() for key, text in typed.items())
    if bases and (is_blank or "propose" in typed):
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
    text = typed.get("purpose", "")
    if text not in list(Purpose):
        raise InputError(f"an evening is for {', '.join(Purpose)}; {text!r} is none", field="purpose", value=text)
    return proposed_jars(
        session,
        _base(session, typed),
        _jar_count(typed),
        Purpose(text),
        ticked=[key.removeprefix("dye.") for key in typed if key.startswith("dye.")],
        palette=typed.get("palette", ""),
    )


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
        name=_short(typed, "name"),
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


def _short(typed: Form, field: str) -> str:
    """Return a name as typed; one that fits neither a card nor a column is refused."""
    text = typed.get(field, "").strip()
    if len(text) > LONGEST_NAME:
        raise InputError(
            f"a name of {len(text)} letters is too long; {LONGEST_NAME} are the most",
            field=field,
            value=len(text),
            limit=LONGEST_NAME,
        )
    return text


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
                seat=_short(typed, f"jar.{row}.seat"),
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
